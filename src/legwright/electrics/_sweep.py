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
from numpy.typing import NDArray

from legwright.kernel import kernel, within
from legwright.robot.tree import Floats

STEPS = 60
"""Newton steps before a sample is given up; beside the nose each step only halves the rest."""

CLOSE = 1e-13
"""Relative change of all voltages at which a sample is solved."""


@within
def _joined(parent, resistance, held, current, power, conductance):  # type: ignore[no-untyped-def]
    """The network without nodes that only pass on: most are joints between wires and contacts.

    Returns:
        feeder (N,): the next node towards the source that is kept; series (N,): resistance
        from there [Ω]; feeds (N,): of a node that only passes on, the one that it feeds; -1 of
        those that are kept.
    """
    samples, nodes = current.shape
    fed, feeds = np.zeros(nodes, np.int64), np.full(nodes, -1)
    busy = held.copy()
    for n in range(1, nodes):
        up = parent[n]
        fed[up] += 1
        feeds[up] = n
        busy[up] |= held[n]  # what a regulator takes
    for t in range(samples):
        for n in range(nodes):
            if current[t, n] != 0.0 or power[t, n] != 0.0 or conductance[t, n] != 0.0:
                busy[n] = True
    busy[0] = True
    feeder, series = parent.copy(), resistance.copy()
    for n in range(nodes):
        if busy[n] or fed[n] != 1:
            feeds[n] = -1
        if n > 0 and not held[n]:
            up = feeder[n]
            if feeds[up] >= 0:
                feeder[n], series[n] = feeder[up], series[n] + series[up]
    return feeder, series, feeds


@kernel
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
    drawn: Floats,
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
        drawn: Out, (T, N) current that the loads take at each node [A].
        solved: Out, (T,).
    """
    samples, nodes = current.shape
    a, g = np.empty(nodes), np.empty(nodes)
    v, own = np.empty(nodes), np.empty(nodes)
    held = ~np.isnan(fixed)
    feeder, series, feeds = _joined(parent, resistance, held, current, power, conductance)
    kept = np.flatnonzero(feeds < 0)
    for t in range(samples):
        # Highest voltages: nothing drawn but what is fed back.
        v[0] = supply[t]
        for n in kept[::-1]:
            a[n] = min(current[t, n], 0.0)
        for n in kept[:0:-1]:
            if not held[n]:
                a[feeder[n]] += a[n]
        for n in kept[1:]:
            v[n] = fixed[n] if held[n] else v[feeder[n]] - series[n] * a[n]
        good, done = True, False
        for _ in range(STEPS):
            for n in kept:
                own[n] = power[t, n]
                a[n], g[n] = current[t, n], conductance[t, n]
            for n in kept[::-1]:
                if v[n] <= 0.0:
                    good = False
                    break
                a[n] += 2.0 * own[n] / v[n]
                g[n] -= own[n] / (v[n] * v[n])
                if n == 0:
                    break
                up = feeder[n]
                if not held[n]:
                    pivot = 1.0 + g[n] * series[n]
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
            for n in kept[1:]:
                if held[n]:
                    continue
                up = v[feeder[n]]
                taken = (a[n] + g[n] * up) / (1.0 + g[n] * series[n])
                new = up - series[n] * taken
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
                drawn[t, n] = np.nan
            continue
        for n in kept:
            through[t, n] = current[t, n] + power[t, n] / v[n] + conductance[t, n] * v[n]
            drawn[t, n] = through[t, n]
        for n in kept[:0:-1]:
            up = feeder[n]
            if not held[n]:
                through[t, up] += through[t, n]
            else:
                taken = max(through[t, n] * v[n], 0.0)
                through[t, up] += (taken / efficiency[n] + idle[n]) / v[up]
        for n in range(nodes - 1, -1, -1):
            if feeds[n] >= 0:
                through[t, n] = through[t, feeds[n]]
                drawn[t, n] = 0.0
        for n in range(nodes):
            if feeds[n] >= 0:
                voltage[t, n] = voltage[t, parent[n]] - resistance[n] * through[t, n]
            else:
                voltage[t, n] = v[n]
