"""The verdict's process: studies the newest robot it was given, and leaves an older one.

It is a process, not a thread, because a study is work for a whole core: pages, pulls and live
poses must not wait for it. A newer job ends the older one at its next step.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Collection
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from legwright.errors import LegwrightError
from legwright.mechanics.opening import load
from legwright.robot.robot import Robot
from legwright.views.desk.said import Verdict
from legwright.views.desk.verdicts import verdict_of, verdict_without_study


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A robot to judge."""

    rev: int
    path: Path
    keys: frozenset[str] = frozenset()
    """Keys of the sheet that can be edited."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a job is."""

    rev: int
    area: str
    done: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What came of a job."""

    rev: int
    verdict: Verdict


class _NewerJobError(Exception):
    """Another job waits: this one is not worth finishing."""


def work(line: Connection) -> None:
    """Judge whatever comes over a line until it closes.

    Args:
        line: Jobs in, `Progress` and `Judged` out.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's Ctrl-C is for the desk
    os.nice(2)  # pages come first
    try:
        job: Job | None = None
        while True:
            job = _newest(line) if line.poll() or job is None else job
            try:
                line.send(Judged(rev=job.rev, verdict=_judged(job, line)))
                job = None
            except _NewerJobError:
                continue
    except (EOFError, OSError):
        return


def _newest(line: Connection) -> Job:
    job: Job = line.recv()
    while line.poll():
        job = line.recv()
    return job


def _judged(job: Job, line: Connection) -> Verdict:
    def tell(area: str, done: int, of: int) -> None:
        if line.poll():
            raise _NewerJobError
        line.send(Progress(rev=job.rev, area=area, done=done, of=of))

    try:
        return _verdict(robot_of(job), job.rev, job.keys, tell)
    except LegwrightError as error:
        return verdict_without_study(str(error), rev=job.rev)


def robot_of(job: Job) -> Robot:
    """The robot of a job.

    Raises:
        RobotError: where its files make none.
    """
    return load(job.path)


def _verdict(robot: Robot, rev: int, keys: Collection[str], tell: object) -> Verdict:
    from legwright.study.check import study

    return verdict_of(study(robot, progress=tell), rev=rev, keys=keys)  # type: ignore[arg-type]
