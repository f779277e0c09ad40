"""What several test files share."""

from __future__ import annotations

import json
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

DATA = Path(__file__).parent / "data"

Cases = dict[str, dict[str, Any]]

settings.register_profile("any machine", deadline=None)  # a wall clock proves nothing on a busy one
settings.load_profile("any machine")


def pytest_configure() -> None:
    """Hear Ctrl-C, and let the programs that are started hear it, as at a terminal.

    A shell that starts a job in the background has it ignore that signal, and all below it.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(scope="session")
def reference() -> Callable[[str], Cases]:
    """Published check values: ``reference(topic)`` gives case id -> case.

    Each case holds inputs, expected, a tolerance and its source; the values belong to
    ``tests/data/reference_values.json``.
    """
    text = (DATA / "reference_values.json").read_text(encoding="utf-8")
    topics = json.loads(text)["topics"]

    def cases(topic: str) -> Cases:
        return {case["id"]: case for case in topics[topic]}

    return cases


@pytest.fixture(scope="session")
def walked(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """A short walk of wren over steps: the row that it gave, and its recording."""
    import legwright as lw
    from legwright.study.walking import Trip, walk_once

    path = tmp_path_factory.mktemp("walk") / "walk.mcap"
    robot = lw.load(DATA.parents[1] / "robots" / "wren")
    trip = Trip(gait=lw.gait("tripod", 6), ground="steps", speed=0.2, distance=0.08, rate=100.0)
    return walk_once(robot, trip, seed=2, felt=True, record=path), path
