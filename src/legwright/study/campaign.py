"""A campaign: many jobs on all cores, each answer written at once, so that it can go on later.

The answers are lines of JSON in one file. A line belongs to the code that made it: answers of
other code are left in the file, but reckoned again.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from dataclasses import dataclass
from hashlib import sha256
from importlib.metadata import version
from itertools import islice
from math import inf
from multiprocessing import get_context
from os import cpu_count
from pathlib import Path
from time import monotonic
from typing import Any

from legwright.errors import LegwrightError, RobotError

ROOMS = ("robot", "mechanics", "electrics", "locomotion", "rig", "study")
"""Rooms whose code decides what a walk does."""

Answer = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One piece of work that another process can do."""

    part: str
    name: str
    seed: int
    mode: str
    do: Callable[..., Answer]
    """A function of a module, called with ``given``."""
    given: tuple[Any, ...]

    @property
    def key(self) -> str:
        """What tells it from all others, whatever it is given included."""
        settled = json.dumps([repr(one) for one in self.given])
        return "|".join((self.part, self.name, str(self.seed), self.mode, settled))


def code_mark(family: Path) -> str:
    """A short mark of the code and the robots that a campaign rests on.

    Args:
        family: Folder of the robots.
    """
    house = Path(__file__).parents[1]
    files = [file for room in ROOMS for file in sorted((house / room).rglob("*.py"))]
    files += sorted(file for file in family.rglob("*") if file.suffix in {".toml", ".urdf"})
    mark = sha256()
    for file in files:
        mark.update(file.read_bytes())
    return mark.hexdigest()[:12]


def answers(file: Path, *, code: str | None = None) -> list[Answer]:
    """What a campaign's file holds; a last line that was cut off does not count.

    Args:
        file: Lines of JSON; need not exist.
        code: Only answers of this code, see `code_mark`; all when None.

    Raises:
        RobotError: where a line in the middle is no JSON.
    """
    if not file.exists():
        return []
    found: list[Answer] = []
    lines = file.read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines, 1):
        try:
            found.append(json.loads(line))
        except json.JSONDecodeError:
            if number == len(lines):
                break
            cure = "Delete that line, or choose another file."
            raise RobotError(file, f"line {number}", "is no JSON", cure) from None
    return [one for one in found if code is None or one["code"] == code]


def run(
    jobs: Sequence[Job], file: Path, *, code: str, cores: int | None = None,
    seconds: float = inf,
    progress: Callable[[int, int, str], None] = lambda done, total, what: None,
) -> list[Answer]:  # fmt: skip
    """Do the jobs whose answers the file does not hold yet.

    Args:
        jobs: What is to be done.
        file: Takes one line per answer, as soon as it is known.
        code: Mark of the code, see `code_mark`.
        cores: Processes; all cores when None.
        seconds: After so long no further job is begun [s].
        progress: Told how many jobs are done, of how many, and the last one's name.

    Returns:
        The answers to these jobs, in their order, as far as there was time; a job that failed
        says so under ``error``.
    """
    known = {one["key"]: one for one in answers(file, code=code)}
    waiting = [job for job in jobs if job.key not in known]
    file.parent.mkdir(parents=True, exist_ok=True)
    _mend(file)
    with file.open("a", encoding="utf-8") as out:
        for job, answer in _done(waiting, cores or cpu_count() or 1, monotonic() + seconds):
            line = {
                "key": job.key, "part": job.part, "name": job.name, "seed": job.seed,
                "mode": job.mode, "version": version("legwright"), "code": code, **answer,
            }  # fmt: skip
            out.write(json.dumps(line, allow_nan=False, default=float) + "\n")
            out.flush()
            known[job.key] = line
            progress(len(jobs) - len(waiting) + _count(waiting, known), len(jobs), job.name)
    return [known[job.key] for job in jobs if job.key in known]


def _count(waiting: Iterable[Job], known: dict[str, Answer]) -> int:
    return sum(job.key in known for job in waiting)


def _mend(file: Path) -> None:
    """Cut off a last line that was not written to its end."""
    if not file.exists():
        return
    whole = file.read_bytes()
    if whole and not whole.endswith(b"\n"):
        file.write_bytes(whole[: whole.rfind(b"\n") + 1])


def _done(jobs: Sequence[Job], cores: int, end: float) -> Iterable[tuple[Job, Answer]]:
    """Answers as they come; nothing is begun after the end."""
    if min(cores, len(jobs)) <= 1:
        for job in jobs:
            if monotonic() < end:
                yield job, _do(job)
        return
    rest = iter(jobs)
    with ProcessPoolExecutor(min(cores, len(jobs)), mp_context=get_context("spawn")) as pool:
        sent = {
            pool.submit(_do, job): job for job in islice(rest, cores if monotonic() < end else 0)
        }
        while sent:
            ready, _ = wait(sent, return_when=FIRST_COMPLETED)
            for future in ready:
                yield sent.pop(future), future.result()
                for job in islice(rest, 1 if monotonic() < end else 0):
                    sent[pool.submit(_do, job)] = job


def _do(job: Job) -> Answer:
    try:
        return {"answer": job.do(*job.given)}
    except LegwrightError as error:
        return {"error": str(error)}
