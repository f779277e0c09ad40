"""The line to the verdict's process when that process dies."""

from __future__ import annotations

import asyncio
import os
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import pytest

from legwright.mechanics.opening import load
from legwright.views.desk import judging
from legwright.views.desk.judging import DEATHS, Judging
from legwright.views.desk.verdicts import verdict_without_study
from legwright.views.desk.worker import Job, Judged

ROOK = Path(__file__).parents[2] / "robots" / "rook"


def dies(line: Connection) -> None:
    """Dies at its first job."""
    line.recv()
    os._exit(3)


def dies_once(line: Connection) -> None:
    """Dies at its first job of all, answers every later one."""
    job = line.recv()
    mark: Path = job.file
    if not mark.exists():
        mark.touch()
        os._exit(3)
    line.send(Judged(id=job.id, verdict=verdict_without_study("answered")))
    line.recv()


def never_starts(line: Connection) -> None:
    """Dies before it is asked."""
    os._exit(3)


async def told(
    monkeypatch: pytest.MonkeyPatch, work: Any, path: Path, *, jobs: int = 1
) -> tuple[list[Judged], int]:
    """What comes of some jobs, one after the other, and the restarts that it took."""
    monkeypatch.setattr(judging, "work", work)
    heard: asyncio.Queue[Any] = asyncio.Queue()
    line = Judging(heard.put_nowait)
    line.start()
    try:
        answers, robot = [], load(ROOK)
        for number in range(jobs):
            line.judge(Job(id=number, file=path, robot=robot))
            answers.append(await asyncio.wait_for(heard.get(), 60.0))
        return answers, line.restarts
    finally:
        line.close()


@pytest.mark.parametrize("work", [dies, never_starts])
def test_a_process_that_always_dies_is_told_and_left(monkeypatch, tmp_path, work) -> None:
    answers, restarts = asyncio.run(told(monkeypatch, work, tmp_path / "mark", jobs=2))
    assert [one.id for one in answers] == [0, 1]
    for one in answers:
        assert one.verdict.whole
        assert [found.verdict for found in one.verdict.findings] == ["unknown"]
        assert "ended three times" in one.verdict.summary
    assert restarts <= 2 * DEATHS


def test_a_process_that_dies_once_is_asked_again(monkeypatch, tmp_path) -> None:
    (answer,), restarts = asyncio.run(told(monkeypatch, dies_once, tmp_path / "mark"))
    assert answer.verdict.summary == "answered"
    assert restarts == 1
