"""Kernel: node voltages of a radial network, sample by sample.

Newton's method on the loads; each step is one sweep inward that makes of every branch a
straight line i = a + g v, and one sweep outward. With powers taken, not given, started from
the highest voltages a solution could have, the steps fall onto the largest solution and never
pass it (monotone Newton convergence: Ortega and Rheinboldt, Iterative Solution of Nonlinear
Equations in Several Variables, 1970, 13.3), so a pivot or voltage at or below zero proves
that there is none.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from legwright.robot.tree import Floats

STEPS = 60
"""Newton steps before a sample is given up; beside the nose each step only halves the rest."""

CLOSE = 1e-13
"""Relative change of all voltages at which a sample is solved."""


@njit(cache=True)  # type: ignore[untyped-decorator, unused-ignore]
def solve_samples(
    parent: NDArray[np.int64],
    resistance: Floats,
    fixed: Floats,
    efficiency: Floats,
    idle: Floats,
    supply: Floats,
    current: Floats,
    power: Floats,
    conductance: Floats,
    voltage: Floats,
    through: Floats,
    solved: NDArray[np.bool_],
) -> None:
    """Fill node voltages and element currents.

    Args:
        parent: (N,) feeding node, each before what it feeds; -1 for the first.
        resistance: (N,) of what feeds each node [Ω].
        fixed: (N,) held voltage at regulator outputs [V], nan elsewhere.
        efficiency: (N,) of regulators.
        idle: (N,) own power of regulators [W].
        supply: (T,) voltage of the first node [V].
        current: (T, N) drawn at each node [A].
        power: (T, N) drawn at each node, at least 0 [W].
        conductance: (T, N) at each node, at least 0 [S].
        voltage: Out, (T, N) [V]; nan in samples without a solution.
        through: Out, (T, N) current into each node from what feeds it [A].
        solved: Out, (T,).
    """
    samples, nodes = current.shape
    a, g = np.empty(nodes), np.empty(nodes)
    v, own = np.empty(nodes), np.empty(nodes)
    for t in range(samples):
        # Highest voltages: nothing drawn but what is fed back.
        v[0] = supply[t]
        for n in range(nodes - 1, -1, -1):
            a[n] = min(current[t, n], 0.0)
        for n in range(nodes - 1, 0, -1):
            if np.isnan(fixed[n]):
                a[parent[n]] += a[n]
        for n in range(1, nodes):
            high = v[parent[n]] - resistance[n] * a[n]
            v[n] = high if np.isnan(fixed[n]) else fixed[n]
        good, done = True, False
        for _ in range(STEPS):
            for n in range(nodes):
                own[n] = power[t, n]
                a[n], g[n] = current[t, n], conductance[t, n]
            for n in range(nodes - 1, -1, -1):
                if v[n] <= 0.0:
                    good = False
                    break
                a[n] += 2.0 * own[n] / v[n]
                g[n] -= own[n] / (v[n] * v[n])
                if n == 0:
                    break
                up = parent[n]
                if np.isnan(fixed[n]):
                    pivot = 1.0 + g[n] * resistance[n]
                    if pivot <= 0.0:
                        good = False
                        break
                    a[up] += a[n] / pivot
                    g[up] += g[n] / pivot
                else:
                    taken = max((a[n] + g[n] * fixed[n]) * fixed[n], 0.0)
                    own[up] += taken / efficiency[n] + idle[n]
            if not good:
                break
            change = 0.0
            for n in range(1, nodes):
                if not np.isnan(fixed[n]):
                    continue
                up = v[parent[n]]
                drawn = (a[n] + g[n] * up) / (1.0 + g[n] * resistance[n])
                new = up - resistance[n] * drawn
                change = max(change, abs(new - v[n]) / supply[t])
                v[n] = new
            if change <= CLOSE:
                done = True
                break
        solved[t] = good and done
        if not solved[t]:
            for n in range(nodes):
                voltage[t, n] = np.nan
                through[t, n] = np.nan
            continue
        for n in range(nodes):
            voltage[t, n] = v[n]
            through[t, n] = current[t, n] + power[t, n] / v[n] + conductance[t, n] * v[n]
        for n in range(nodes - 1, 0, -1):
            up = parent[n]
            if np.isnan(fixed[n]):
                through[t, up] += through[t, n]
            else:
                taken = max(through[t, n] * v[n], 0.0)
                through[t, up] += (taken / efficiency[n] + idle[n]) / v[up]
