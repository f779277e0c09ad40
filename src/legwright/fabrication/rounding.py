"""The search for round layouts: nearest first, until nothing farther away can lose less.

Distance from today's layout costs, and losses are never negative, so a layout whose distance
alone costs more than the last of the shortlist loses cannot enter it: there the search ends,
and its shortlist is that of an exhaustive one.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from time import perf_counter

import numpy as np

from legwright.fabrication._layout_kernel import score
from legwright.fabrication.lattice import Picks, between, shells, size_of
from legwright.fabrication.layout_arrays import LOSS, SCORES, Aim, Build, Dash, Places, Walks
from legwright.robot.tree import Floats

FIRST = 512
"""Layouts in the first band of the search."""
MOST = 4_000_000
"""Layouts looked at before the search gives up on a proof."""
CHUNK = 256
"""Layouts that a thread takes at a time."""

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Task:
    """What is searched."""

    build: Build
    walks: Walks
    places: Places
    dash: Dash
    aim: Aim
    values: Floats
    """(D, V): values of each dimension, filled up with its last."""
    counts: tuple[int, ...]
    """(D,): how many of them count."""

    @property
    def costs(self) -> list[Floats]:
        """Cost of each value for its distance from today's."""
        return [self.aim.near[d, :count] for d, count in enumerate(self.counts)]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shortlist:
    """The best layouts of a search."""

    picks: Picks
    """(N, D), best first."""
    scores: Floats
    """(N, SCORES + 1)"""
    size: int
    """Layouts on the lattice."""
    tried: int
    """Layouts scored, or given up as sure to lose more."""
    proved: bool
    """Whether it is certain that no layout of the lattice is better."""
    seconds: float


def scored(task: Task, picks: Picks, cutoff: float = np.inf, *, threads: int = 0) -> Floats:
    """Scores of layouts, in parallel.

    Args:
        task: What is searched.
        picks: (N, D)
        cutoff: Layouts that are sure to lose more are given up.
        threads: How many; as many as there are processors when 0.

    Returns:
        (N, SCORES + 1); see `_layout_kernel.score`.
    """
    out = np.empty((len(picks), SCORES + 1))
    picks = np.ascontiguousarray(picks, dtype=np.int64)

    def run(start: int) -> None:
        part = slice(start, start + CHUNK)
        score(task.build, task.walks, task.places, task.dash, task.aim, task.values, picks[part],
              cutoff, out[part])  # fmt: skip

    starts = range(0, len(picks), CHUNK)
    count = threads or os.cpu_count() or 1
    if count == 1 or len(starts) < 2:
        for start in starts:
            run(start)
        return out
    with ThreadPoolExecutor(count) as pool:
        list(pool.map(run, starts))
    return out


def search(
    task: Task, *, top: int = 10, most: int = MOST, progress: Progress | None = None
) -> Shortlist:
    """The layouts of a lattice that lose least.

    Args:
        task: What is searched.
        top: Length of the shortlist.
        most: Layouts looked at before the search gives up on a proof.
        progress: Told what is done.

    Returns:
        The shortlist; empty where no layout reaches its foot paths.
    """
    began = perf_counter()
    costs, size = task.costs, size_of(task.costs)
    best_picks = np.zeros((0, len(costs)), dtype=np.int64)
    best = np.zeros((0, SCORES + 1))
    tried, low, proved = 0, -1.0, False
    for high in shells(costs, min(FIRST, most), most):
        cutoff = float(best[top - 1, LOSS]) if len(best) >= top else np.inf
        if low > cutoff:
            proved = True
            break
        picks, _ = between(costs, low, min(high, cutoff))
        for start in range(0, len(picks), 32 * CHUNK):
            part = picks[start : start + 32 * CHUNK]
            if progress is not None:
                progress("layouts", tried, size)
            rows = scored(task, part, cutoff)
            best_picks, best = _merged(best_picks, best, part, rows, top)
            cutoff = float(best[top - 1, LOSS]) if len(best) >= top else np.inf
            tried += len(part)
        low = high
    else:
        proved = low == np.inf or (len(best) >= top and low > best[top - 1, LOSS])
    if not proved and len(best):
        best_picks, best, more = _descended(task, best_picks, best, top)
        tried += more
    return Shortlist(
        picks=best_picks, scores=best, size=size, tried=tried, proved=proved,
        seconds=perf_counter() - began,
    )  # fmt: skip


def _merged(picks: Picks, rows: Floats, more: Picks, new: Floats, top: int) -> tuple[Picks, Floats]:
    """The best of both, each layout once."""
    fine = np.isfinite(new[:, LOSS])
    everything = np.concatenate([picks, more[fine]])
    values = np.concatenate([rows, new[fine]])
    order = np.argsort(values[:, LOSS], kind="stable")[: top + len(picks)]
    _, first = np.unique(everything[order], axis=0, return_index=True)
    kept = order[np.sort(first)][:top]
    return everything[kept], values[kept]


def _descended(task: Task, picks: Picks, rows: Floats, top: int) -> tuple[Picks, Floats, int]:
    """From the best found so far to neighbours one and two steps away, while that helps."""
    tried = 0
    while True:
        around = _neighbours(picks[0], task.counts)
        cutoff = float(rows[-1, LOSS]) if len(rows) >= top else np.inf
        new = scored(task, around, cutoff)
        tried += len(around)
        before = float(rows[0, LOSS])
        picks, rows = _merged(picks, rows, around, new, top)
        if float(rows[0, LOSS]) >= before - 1e-12:
            return picks, rows, tried


def _neighbours(pick: Picks, counts: tuple[int, ...]) -> Picks:
    """All places that differ by one step in one or two dimensions, (N, D)."""
    D = len(counts)
    steps = [np.zeros(D, dtype=np.int64)]
    for a in range(D):
        for up in (-1, 1):
            one = np.zeros(D, dtype=np.int64)
            one[a] = up
            steps.append(one)
            for b in range(a + 1, D):
                for other in (-1, 1):
                    two = one.copy()
                    two[b] = other
                    steps.append(two)
    found = pick + np.array(steps[1:])
    fine = ((found >= 0) & (found < np.array(counts))).all(axis=1)
    return np.asarray(found[fine])
