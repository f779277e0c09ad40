"""The verdict's process: studies the newest robot it was given, and leaves an older one.

It is a process, not a thread, because a study is work for a whole core: pages, pulls and live
poses must not wait for it. A newer job ends the older one at its next step.
"""

from __future__ import annotations

import os
import signal
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from legwright.errors import LegwrightError
from legwright.robot.robot import Robot
from legwright.study.standby import CALM, MOST_UNTIDIED, Standby
from legwright.views.desk.said import Verdict
from legwright.views.desk.tidy import tidy
from legwright.views.desk.verdicts import verdict_of, verdict_without_study

if TYPE_CHECKING:
    from legwright.study.evidence import Study

PARTLY = 0.25
"""Least processor time between two verdicts on the way to the whole one [s]; the first comes at
once."""
QUICK = 0.4
"""Where the last whole verdicts took no longer, none is told on the way: writing and reading it
holds the whole one up by a twentieth [s]."""

Tell = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A robot to judge."""

    id: int
    file: Path
    """Its sheet: a robot that was judged before it is of the same file."""
    robot: Robot
    """As the desk has it, edits and all: what lies on disk may be newer."""
    keys: frozenset[str] = frozenset()
    """Keys of the sheet that can be edited."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a job is."""

    id: int
    area: str
    done: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What came of a job, or of a part of it: see `Verdict.whole`."""

    id: int
    verdict: Verdict
    """Its `rev` is 0: the desk knows which revision it is of."""

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle the verdict in one piece: finding by finding takes five times as long."""
        return _judged_of, (self.id, _PACK.encode(self.verdict))


def _judged_of(id: int, verdict: bytes) -> Judged:
    return Judged(id=id, verdict=_UNPACK.decode(verdict))


_PACK, _UNPACK = msgspec.msgpack.Encoder(), msgspec.msgpack.Decoder(Verdict)


class NewerJobError(Exception):
    """Another job waits: this one is not worth finishing."""


def work(line: Connection) -> None:
    """Judge whatever comes over a line until it closes.

    Args:
        line: Jobs in, `Progress` and `Judged` out.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's Ctrl-C is for the desk
    os.nice(2)  # pages come first
    with suppress(EOFError, OSError):  # the desk has gone
        untidied = 0
        while True:
            if untidied >= MOST_UNTIDIED or (untidied and not line.poll(CALM)):
                tidy()
                untidied = 0
            job = _newest(line)
            untidied += 1
            before = _studied.get(job.file)
            with suppress(NewerJobError):
                line.send(Judged(id=job.id, verdict=_judged(job, line)))
            del before  # let go when the verdict is on its way, not before


def _newest(line: Connection) -> Job:
    job: Job = line.recv()
    while line.poll():
        job = line.recv()
    return job


def _judged(job: Job, line: Connection) -> Verdict:
    def tell(area: str, done: int, of: int) -> None:
        if line.poll():
            raise NewerJobError
        line.send(Progress(id=job.id, area=area, done=done, of=of))

    told = -PARTLY

    def partly(found: Study) -> None:
        nonlocal told
        if time.process_time() - told > PARTLY:
            line.send(Judged(id=job.id, verdict=verdict_of(found, keys=job.keys, whole=False)))
            told = time.process_time()

    quick = bool(_took) and max(_took) < QUICK
    began = time.monotonic()
    verdict = judged(job, tell, None if quick else partly)
    _took.append(time.monotonic() - began)
    return verdict


def judged(job: Job, tell: Tell, partly: Callable[[Study], None] | None = None) -> Verdict:
    """The verdict on a job's robot.

    Args:
        job: The job.
        tell: Told what is being done, how many are done, of how many.
        partly: Given what has been found so far, now and then.
    """
    from legwright.study.check import study

    last, cores = _studied.get(job.file), os.cpu_count() or 1
    if last is not None and not _seconds:
        _seconds.append(Standby(tidy))  # a fork of this process as it is now: kernels and all
    try:
        found = study(
            job.robot, progress=tell, partly=partly, before=last, cores=cores,
            second=_seconds[0] if _seconds else None,
        )  # fmt: skip
    except LegwrightError as error:
        return verdict_without_study(str(error))
    _studied[job.file] = found
    return verdict_of(found, keys=job.keys)


_took: deque[float] = deque(maxlen=4)
"""How long the last whole verdicts took [s]."""
_seconds: list[Standby] = []
"""The second process of studies, once there has been one."""
_studied: dict[Path, Study] = {}
"""The last whole study of each robot: what a change does not touch is taken over from it."""
