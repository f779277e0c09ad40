"""A second process that stays answers study after study as this one would, and may die."""

from __future__ import annotations

import os
import signal
import sys
import threading
from functools import partial
from pathlib import Path

import pytest

from legwright.mechanics.opening import edited
from legwright.robot.editing import opened
from legwright.study.check import again, study
from legwright.study.evidence import Extent
from legwright.study.standby import Standby

WREN = Path(__file__).parents[2] / "robots" / "wren"

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks on Linux only")


@pytest.fixture
def second():
    before = _children()
    standing = Standby()
    yield standing
    standing.close()
    assert _children() <= before


@pytest.fixture(scope="module")
def wren():
    return edited(opened(WREN), {})


def test_findings_after_edits_are_those_of_one_process(second) -> None:
    text = opened(WREN)
    one = two = study(edited(text, {}))
    for edit in ({"dimensions.femur": "54 mm"}, {"battery.mass": "0.2 kg"}, {}):
        one = again(one, edited(text, edit))
        two = again(two, edited(text, edit), cores=2, second=second)
        assert one.findings == two.findings
        assert repr(one.envelope) == repr(two.envelope)
        assert list(one.supplies) == list(two.supplies)
        assert one.stages.keys() == two.stages.keys()


def test_one_process_answers_batch_after_batch_about_one_robot(second, wren) -> None:
    pids, robots = set(), set()
    for _ in range(3):
        work = {"a": os.getpid, "b": partial(id, wren)}
        with second.asked(work, robot=wren, waiting=_nothing) as given:
            pids.add(given["a"]())
            robots.add(given["b"]())
    assert len(pids) == 1
    assert os.getpid() not in pids
    assert len(robots) == 1  # what is remembered for a robot is found again


def test_two_batches_wait_for_each_other_and_for_nobody_else(second, wren) -> None:
    large = {"a": partial(bytes, 5_000_000), "b": partial(int, "2")}
    with (
        second.asked(large, robot=wren, waiting=_nothing) as first,
        second.asked({"c": partial(len, bytes(5_000_000))}, robot=wren, waiting=_nothing) as then,
    ):
        assert then["c"]() == 5_000_000
        assert first["b"]() == 2
        assert len(first["a"]()) == 5_000_000


def test_what_is_left_out_is_not_there(second, wren) -> None:
    held = ({"large": bytearray(10)}, 3)
    work = {"a": partial(repr, held)}
    with second.asked(work, robot=wren, waiting=_nothing, without=(bytearray,)) as given:
        assert given["a"]() == "({'large': None}, 3)"
    with second.asked(work, robot=wren, waiting=_nothing) as given:
        assert given["a"]() == repr(held)


def test_fields_that_are_not_asked_for_are_missing(second, wren) -> None:
    held = Extent(name="top speed", gait="tripod", value=0.2, unit="m/s", stopped_by="knee")
    work = {"a": partial(getattr, held, "value"), "b": partial(getattr, held, "unit", "missing")}
    parts = {Extent: ("name", "value")}
    with second.asked(work, robot=wren, waiting=_nothing, parts=parts) as given:
        assert given["a"]() == 0.2
        assert given["b"]() == "missing"


def test_nobody_waits_until_what_is_sent_has_been_heard(second, wren) -> None:
    with second.asked({"a": partial(_sleep, 0.0)}, robot=wren, waiting=_nothing) as given:
        given["a"]()
    os.kill(second._other.pid, signal.SIGSTOP)
    large = {"b": partial(len, bytes(5_000_000))}
    with second.asked(large, robot=wren, waiting=_nothing) as given:
        os.kill(second._other.pid, signal.SIGCONT)
        assert given["b"]() == 5_000_000


def test_what_either_may_do_is_done_once_by_whoever_is_free(second, wren) -> None:
    """The other process is stopped, so that this one does all that has not been begun."""
    names = [f"piece {at}" for at in range(40)]
    for stopped in (False, True, False):
        work = {"own": os.getpid} | {name: partial(_marked, name) for name in names}
        if stopped:
            os.kill(second._other.pid, signal.SIGSTOP)
        with second.asked(work, robot=wren, waiting=_nothing, either=names.__contains__) as given:
            found = [given[name]() for name in reversed(names)]
            os.kill(second._other.pid, signal.SIGCONT)
            assert given["own"]() == second._other.pid
        assert [name for name, _ in found] == names[::-1]
        pids = {pid for _, pid in found}
        assert pids == {os.getpid()} if stopped else pids <= {os.getpid(), second._other.pid}


def test_work_for_either_outlasts_a_batch_that_comes_between(second, wren) -> None:
    first = {"wait": partial(_sleep, 0.1), "a": os.getpid, "b": os.getpid}
    with second.asked(first, robot=wren, waiting=_nothing, either="ab".__contains__) as given:
        with second.asked({"c": os.getpid}, robot=wren, waiting=_nothing) as then:
            assert then["c"]() == second._other.pid
        assert {given["a"](), given["b"]()} <= {os.getpid(), second._other.pid}
        given["wait"]()


def test_work_for_either_that_was_lost_is_worked_out_here(second, wren) -> None:
    work = {"a": partial(_dies, os.getpid()), "b": partial(_dies, os.getpid())}
    with second.asked(work, robot=wren, waiting=partial(_sleep, 0.01), either="b".__eq__) as given:
        assert [given["a"](), given["b"]()] == [os.getpid()] * 2
    with second.asked({"a": os.getpid}, robot=wren, waiting=_nothing, either="a".__eq__) as given:
        assert given["a"]() in (os.getpid(), second._other.pid)


def test_what_does_not_come_is_worked_out_here_and_another_process_starts(second, wren) -> None:
    work = {"a": partial(_dies, os.getpid())}
    with second.asked(work, robot=wren, waiting=_nothing) as given:
        assert given["a"]() == os.getpid()
    with second.asked({"a": os.getpid}, robot=wren, waiting=_nothing) as given:
        assert given["a"]() != os.getpid()


def test_what_fails_there_fails_here_with_its_words(second, wren) -> None:
    work = {"a": partial(int, "many")}
    with (
        pytest.raises(ValueError, match="many"),
        second.asked(work, robot=wren, waiting=_nothing) as given,
    ):
        given["a"]()


def test_what_cannot_be_sent_is_worked_out_here(second, wren) -> None:
    def own() -> int:
        return os.getpid()

    with second.asked({"a": own}, robot=wren, waiting=_nothing) as given:
        assert given["a"]() == os.getpid()


def test_who_stops_waiting_leaves_no_process_behind(second, wren) -> None:
    class NewerError(Exception):
        pass

    def newer() -> None:
        raise NewerError

    before = _children()
    with (
        pytest.raises(NewerError),
        second.asked({"a": partial(_sleep, 60)}, robot=wren, waiting=newer) as given,
    ):
        assert len(_children() - before) == 1
        given["a"]()
    assert _children() <= before


def _nothing() -> None:
    pass


def _marked(name: str) -> tuple[str, int]:
    return name, os.getpid()


def _dies(own: int) -> int:
    if os.getpid() != own:
        os._exit(1)
    return own


def _children() -> set[str]:
    """Processes that this one started and that are not gone."""
    return set(Path(f"/proc/self/task/{threading.get_native_id()}/children").read_text().split())


def _sleep(seconds: float) -> None:
    import time

    time.sleep(seconds)
