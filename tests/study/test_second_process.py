"""A second process answers as this one would, and may die."""

import os
import sys
import threading
from pathlib import Path

import pytest

from legwright.mechanics.opening import load
from legwright.study.check import study
from legwright.study.forked import forked

WREN = Path(__file__).parents[2] / "robots" / "wren"

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks on Linux only")


def test_findings_are_those_of_one_process() -> None:
    areas = ["tolerance", "plates", "envelope", "balance", "supply", "clash", "torque"]
    one, two = (study(load(WREN), only=areas, cores=cores) for cores in (1, 2))
    assert one.findings == two.findings
    assert list(one.cases) == list(two.cases)
    assert list(one.supplies) == list(two.supplies)
    assert repr(one.envelope) == repr(two.envelope)
    assert one.stages.keys() == two.stages.keys()
    assert [repr(plot) for plot in one.reach] == [repr(plot) for plot in two.reach]


def test_work_is_done_in_another_process() -> None:
    with forked({"a": os.getpid, "b": lambda: 2}, waiting=lambda: None) as given:
        assert given["b"]() == 2
        assert given["a"]() != os.getpid()


def test_an_answer_that_does_not_come_is_worked_out_here() -> None:
    own = os.getpid()

    def dies() -> int:
        if os.getpid() != own:
            os._exit(1)
        return 7

    with forked({"a": lambda: 1, "b": dies, "c": lambda: 3}, waiting=lambda: None) as given:
        assert [given[name]() for name in "cba"] == [3, 7, 1]


def test_what_fails_there_fails_here_with_its_words() -> None:
    def fails() -> int:
        raise ValueError("why")

    with (
        pytest.raises(ValueError, match="why"),
        forked({"a": fails}, waiting=lambda: None) as given,
    ):
        given["a"]()


def test_who_stops_waiting_leaves_no_process_behind() -> None:
    class NewerError(Exception):
        pass

    def newer() -> None:
        raise NewerError

    before = _children()
    with (
        pytest.raises(NewerError),
        forked({"a": lambda: _sleep(60)}, waiting=newer) as given,
    ):
        assert len(_children() - before) == 1
        given["a"]()
    assert _children() <= before


def _children() -> set[str]:
    """Processes that this one started and that are not gone."""
    return set(Path(f"/proc/self/task/{threading.get_native_id()}/children").read_text().split())


def _sleep(seconds: float) -> None:
    import time

    time.sleep(seconds)
