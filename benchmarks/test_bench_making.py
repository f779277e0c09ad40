"""What the made parts cost in a check: shells of a changed robot, plates, tolerances."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from time import process_time
from typing import Any

import pytest

import legwright as lw
from legwright.fabrication.plate_rules import measured
from legwright.locomotion.stance import footing
from legwright.study.asked import asked_of
from legwright.study.bench import Bench, lay_out
from legwright.study.checks.plates import check_plates
from legwright.study.checks.shells import check_shells
from legwright.study.checks.tolerance import check_tolerance
from legwright.study.finding import Finding

ROOK = Path(__file__).parents[1] / "robots" / "rook"


@pytest.fixture(scope="module")
def bench() -> Bench:
    """Rook, walked once."""
    robot = lw.load(ROOK)
    stand = footing(robot)
    return lay_out(robot, asked_of(robot, stand), stand, lambda *_: None)


@pytest.mark.benchmark(timer=process_time)
@pytest.mark.parametrize("question", [check_shells, check_plates, check_tolerance])
def test_made_parts(
    benchmark: Any,
    bench: Bench,
    question: Callable[[Bench], Iterator[Finding]],
    tmp_path_factory: pytest.TempPathFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No target in seconds; nothing is kept from one round to the next."""

    def fresh() -> tuple[tuple[Bench], dict[str, Any]]:
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        measured.cache_clear()
        return (replace(bench, robot=lw.load(ROOK)),), {}

    found = benchmark.pedantic(lambda one: list(question(one)), setup=fresh, rounds=5,
                               warmup_rounds=1)  # fmt: skip
    assert found
