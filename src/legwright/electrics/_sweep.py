"""Kernels: node voltages of a radial network, sample by sample, and what they come to.

Newton's method on the loads; each step is one sweep inward that makes of every branch a
straight line i = a + g v, and one sweep outward. With powers taken, not given, the first step
from anywhere with pivots above zero goes to or above the largest solution, and from there the
steps fall onto it and never pass it (monotone Newton convergence: Ortega and Rheinboldt,
Iterative Solution of Nonlinear Equations in Several Variables, 1970, 13.3). So a sample is
begun at the voltages of the one before it; where a pivot or voltage comes to zero or below, it
is begun again at the highest voltages that a solution could have, and there that proves that
there is none.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from legwright.kernel import kernel, within
from legwright.robot.tree import Floats

STEPS = 60
"""Newton steps before a sample is given up; beside the nose each step only halves the rest."""

CLOSE = 1e-13
"""Relative change of all voltages at which a sample is solved."""

NEAR = 1e-7
"""Below this change the next is foretold, each error going with the square of the last: it is
not made where it would be a hundredth of `CLOSE`."""


@within
def _joined(parent, fixed, at):  # type: ignore[no-untyped-def]
    """The network without nodes that only pass on: most are joints between wires and contacts.

    Returns:
        K; kept (N,): the K nodes that are kept, the first first; ahead (N,): places in it of the
        next toward the source; carries (N,): place of the kept node whose current goes into a
        node.
    """
    nodes = parent.size
    fed, feeds, busy = (
        np.zeros(nodes, np.int64),
        np.zeros(nodes, np.int64),
        np.zeros(nodes, np.int64),
    )
    busy[0] = 1
    for n in range(1, nodes):
        up = parent[n]
        fed[up] += 1
        feeds[up] = n
        if not math.isnan(fixed[n]):
            busy[n] = busy[up] = 1  # what a regulator gives, and takes
    for m in range(at.size):
        busy[at[m]] = 1
    count = 0
    carries, behind = np.empty(nodes, np.int64), np.zeros(nodes, np.int64)
    kept, ahead = np.empty(nodes, np.int64), np.zeros(nodes, np.int64)
    for n in range(nodes):
        behind[n] = behind[parent[n]] if n > 0 else 0
        carries[n] = -1
        if busy[n] == 1 or fed[n] != 1:
            carries[n], kept[count], ahead[count] = count, n, behind[n]
            behind[n] = count
            count += 1
    for n in range(nodes - 1, -1, -1):
        if carries[n] < 0:
            carries[n] = carries[feeds[n]]
    return count, kept, ahead, carries


@within
def _fallen(ahead, series, fixed, efficiency, idle, loads, v, work):  # type: ignore[no-untyped-def]
    """Newton steps from the voltages ``v`` (K,), which become the solution; whether they do."""
    kept, before = v.size, np.inf
    for _ in range(STEPS):
        for k in range(kept):
            work[0, k], work[1, k], work[2, k] = loads[0, k], loads[2, k], loads[1, k]
        for k in range(kept - 1, -1, -1):
            if not v[k] > 0.0:
                return False
            a, g, own = work[0, k], work[1, k], work[2, k]
            if own != 0.0:
                once = 1.0 / v[k]
                flat = own * once
                a, g = a + 2.0 * flat, g - flat * once
            if k == 0:
                break
            up = ahead[k]
            if not math.isnan(fixed[k]):
                taken = max((a + g * fixed[k]) * fixed[k], 0.0)
                work[2, up] += taken / efficiency[k] + idle[k]
                continue
            pivot = 1.0 + g * series[k]
            if not pivot > 0.0:
                return False
            ease = 1.0 / pivot
            a, g = a * ease, g * ease
            work[0, k], work[1, k] = a, g
            work[0, up] += a
            work[1, up] += g
        change = 0.0
        for k in range(1, kept):
            if not math.isnan(fixed[k]):
                continue
            up_v = v[ahead[k]]
            new = up_v - series[k] * (work[0, k] + work[1, k] * up_v)
            change = max(change, abs(new - v[k]))
            v[k] = new
        change /= v[0]
        if change <= CLOSE or (change <= NEAR and change * (change / before) ** 2 <= 0.01 * CLOSE):
            return True
        before = change
    return False


@within
def _highest(ahead, series, fixed, loads, v, work):  # type: ignore[no-untyped-def]
    """The highest voltages that a solution could have: nothing drawn but what is fed back."""
    kept = v.size
    for k in range(kept):
        work[0, k] = min(loads[0, k], 0.0)
    for k in range(kept - 1, 0, -1):
        if math.isnan(fixed[k]):
            work[0, ahead[k]] += work[0, k]
    for k in range(1, kept):
        v[k] = v[ahead[k]] - series[k] * work[0, k] if math.isnan(fixed[k]) else fixed[k]


@within
def _currents(ahead, fixed, efficiency, idle, loads, v, drawn, through):  # type: ignore[no-untyped-def]
    """Currents that the loads draw at the kept nodes, and into each from what feeds it, (K,)."""
    kept = v.size
    for k in range(kept):
        drawn[k] = loads[0, k] + loads[2, k] * v[k]
        if loads[1, k] != 0.0:
            drawn[k] += loads[1, k] / v[k]
        through[k] = drawn[k]
    for k in range(kept - 1, 0, -1):
        up = ahead[k]
        if not math.isnan(fixed[k]):
            taken = max(through[k] * v[k], 0.0)
            through[up] += (taken / efficiency[k] + idle[k]) / v[up]
        else:
            through[up] += through[k]


@kernel
def solve_samples(
    parent: NDArray[np.int64],
    resistance: Floats,
    fixed: Floats,
    efficiency: Floats,
    idle: Floats,
    which: NDArray[np.int64],
    starts: NDArray[np.int64],
    supply: Floats,
    at: NDArray[np.int64],
    current: Floats,
    power: Floats,
    conductance: Floats,
    whole: bool,
    voltage: Floats,
    through: Floats,
    drawn: Floats,
    solved: NDArray[np.bool_],
    rms: Floats,
    most: Floats,
    least: Floats,
) -> None:
    """Solve the samples of some of C cases, T in all; see `flow.flow` and `together`.

    Args:
        parent: (N,) feeding node, -1 for the first; parents come before their children.
        resistance: (C, N) of what feeds each node [Ω].
        fixed: (N,) voltage that a regulator holds [V]; nan elsewhere.
        efficiency: (N,) of the regulator.
        idle: (N,) own power of regulators [W].
        which: Cases to solve.
        starts: (C + 1,) first sample of each case, and T.
        supply: (T,) voltage of the first node [V].
        at: (M,) nodes that something is drawn at.
        current: (T, M) drawn there [A].
        power: (T, M) drawn there, at least 0 [W].
        conductance: (T, M) there, at least 0 [S]; (0, M): none.
        whole: Whether all nodes are asked for; else ``through`` and ``drawn`` are left alone and
            only voltages of nodes that do not merely pass on are written.
        voltage: Out, (T, N) [V]; nan in samples without a solution.
        through: Out, (T, N) current into each node from what feeds it [A].
        drawn: Out, (T, N) current that the loads take at each node [A].
        solved: Out, (T,).
        rms: Out, (C, N) of ``through`` over the samples with a solution [A].
        most: Out, (C, N) largest ``through`` [A]; 0 where none is above.
        least: Out, (C, N) lowest voltage [V]; at nodes that merely pass on, that of another.
    """
    nodes = parent.size
    count, kept, ahead, carries = _joined(parent, fixed, at)
    hold, gain, own = np.empty(count), np.empty(count), np.empty(count)
    for k in range(count):
        hold[k], gain[k], own[k] = fixed[kept[k]], efficiency[kept[k]], idle[kept[k]]
    along, series = np.empty(nodes), np.empty(count)
    v, loads, work = np.empty(count), np.empty((3, count)), np.empty((3, count))
    taken, flows = np.empty(count), np.empty(count)
    square, largest, lowest = np.empty(count), np.empty(count), np.empty(count)
    for c in which:
        for n in range(nodes):
            passes = n > 0 and kept[carries[parent[n]]] != parent[n]
            along[n] = resistance[c, n] + (along[parent[n]] if passes else 0.0)
        for k in range(count):
            series[k], square[k] = along[kept[k]], 0.0
            largest[k], lowest[k] = 0.0, np.inf
        begun, good = False, 0
        for t in range(starts[c], starts[c + 1]):
            for k in range(count):
                loads[0, k] = loads[1, k] = loads[2, k] = 0.0
            for m in range(at.size):
                k = carries[at[m]]
                loads[0, k] += current[t, m]
                loads[1, k] += power[t, m]
                if conductance.shape[0] > 0:
                    loads[2, k] += conductance[t, m]
            v[0], done = supply[t], False
            while True:
                if not begun:
                    _highest(ahead, series, hold, loads, v, work)
                done = _fallen(ahead, series, hold, gain, own, loads, v, work)
                if done or not begun:
                    break
                begun = False
            solved[t] = begun = done
            if not done:
                for n in range(nodes):
                    voltage[t, n] = np.nan
                    if whole:
                        through[t, n] = drawn[t, n] = np.nan
                continue
            good += 1
            _currents(ahead, hold, gain, own, loads, v, taken, flows)
            for k in range(count):
                square[k] += flows[k] * flows[k]
                largest[k], lowest[k] = max(largest[k], flows[k]), min(lowest[k], v[k])
                voltage[t, kept[k]] = v[k]
            if whole:
                for n in range(nodes):
                    k = carries[n]
                    through[t, n], drawn[t, n] = flows[k], 0.0
                    if kept[k] == n:
                        drawn[t, n] = taken[k]
                    else:
                        voltage[t, n] = voltage[t, parent[n]] - resistance[c, n] * flows[k]
        for n in range(nodes):
            k = carries[n]
            rms[c, n] = np.sqrt(square[k] / good) if good > 0 else np.nan
            most[c, n], least[c, n] = largest[k], lowest[k]


@kernel
def tallied(
    voltage: Floats,
    current: Floats,
    good: NDArray[np.bool_],
    starts: NDArray[np.int64],
    lowest: Floats,
    peak: Floats,
    rms: Floats,
    mean: Floats,
    worst: NDArray[np.int64],
) -> None:
    """What the good samples of C cases come to; nan where a case has none.

    Args:
        voltage: (T, N) [V].
        current: (T, N) [A].
        good: (T,).
        starts: (C + 1,) first sample of each case, and T.
        lowest: Out, (C, N) voltage [V].
        peak: Out, (C, N) largest current magnitude [A].
        rms: Out, (C, N) [A].
        mean: Out, (C, N) [A].
        worst: Out, (C, N) sample of the largest current magnitude, counted in its case.
    """
    cases, nodes = lowest.shape
    for c in range(cases):
        for n in range(nodes):
            lowest[c, n], peak[c, n], worst[c, n] = np.inf, -1.0, 0
            rms[c, n] = mean[c, n] = 0.0
        count = 0
        for t in range(starts[c], starts[c + 1]):
            if not good[t]:
                continue
            count += 1
            for n in range(nodes):
                size = abs(current[t, n])
                lowest[c, n] = min(lowest[c, n], voltage[t, n])
                rms[c, n] += size * size
                mean[c, n] += current[t, n]
                if size > peak[c, n]:
                    peak[c, n], worst[c, n] = size, t - starts[c]
        for n in range(nodes):
            if count == 0:
                lowest[c, n] = peak[c, n] = rms[c, n] = mean[c, n] = np.nan
            else:
                rms[c, n], mean[c, n] = np.sqrt(rms[c, n] / count), mean[c, n] / count
