"""Walks in the physics world: many seeds, felt and blind, on all cores."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import active_children, get_context
from os import cpu_count
from pathlib import Path
from signal import SIG_IGN, SIGINT, signal
from typing import Any

from legwright.errors import RequestError
from legwright.mechanics.opening import load
from legwright.robot.robot import Robot
from legwright.study.outing import walk_once
from legwright.study.trip import Trip

__all__ = ["Trip", "trials", "walk_once"]


def trials(
    robot: Robot, trip: Trip, *, seed: int, count: int, blind: bool = True, path: Path,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> list[dict[str, Any]]:  # fmt: skip
    """Walk many seeds, felt and blind, on all cores.

    Args:
        robot: The robot.
        trip: What to walk.
        seed: The first seed.
        count: How many.
        blind: Whether to walk each seed blind too.
        path: Where the robot was read from; other processes read it again.
        progress: Told how many walks are done, of how many.

    Returns:
        One row per walk, by seed, felt before blind; fewer where the user interrupts.
    """
    if count < 1:
        raise RequestError("trials", count, "1 or more")
    modes = (True, False) if blind else (True,)
    jobs = [(seed + k, felt) for k in range(count) for felt in modes]
    return list(_rows(robot, trip, jobs, path, progress))


def _rows(
    robot: Robot, trip: Trip, jobs: Sequence[tuple[int, bool]], path: Path,
    progress: Callable[[int, int], None],
) -> Iterator[dict[str, Any]]:  # fmt: skip
    cores = min(cpu_count() or 1, len(jobs))
    if cores == 1:
        for done, (seed, felt) in enumerate(jobs):
            yield (row := walk_once(robot, trip, seed=seed, felt=felt))
            progress(done + 1, len(jobs))
            if row.get("stopped"):
                return
        return
    others = set(active_children())
    with ProcessPoolExecutor(cores, mp_context=get_context("spawn"), initializer=_deaf) as pool:
        waiting = [pool.submit(_job, path, trip, seed, felt) for seed, felt in jobs]
        try:
            for done, future in enumerate(waiting):
                yield future.result()
                progress(done + 1, len(jobs))
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
            for worker in set(active_children()) - others:
                worker.terminate()


def _deaf() -> None:
    """Workers leave Ctrl-C to the process that gathers their rows."""
    signal(SIGINT, SIG_IGN)


def _job(path: Path, trip: Trip, seed: int, felt: bool) -> dict[str, Any]:
    robot = load(path)
    return walk_once(robot, trip, seed=seed, felt=felt)
