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
    ahead: NDArray[np.int64],
    series: Floats,
    fixed: Floats,
    efficiency: Floats,
    idle: Floats,
    which: NDArray[np.int64],
    starts: NDArray[np.int64],
    supply: Floats,
    place: NDArray[np.int64],
    current: Floats,
    power: Floats,
    conductance: Floats,
    voltage: Floats,
    through: Floats,
    solved: NDArray[np.bool_],
    sums: Floats,
    worst: NDArray[np.int64],
) -> None:
    """Solve the samples of some of C cases, T in all; see `flow.flow` and `together`.

    Args:
        ahead: (K,) place of the node that feeds each, which comes before it; see `joined`.
        series: (C, K) resistance from there [Ω].
        fixed: (K,) voltage that a regulator holds [V]; nan elsewhere.
        efficiency: (K,) of the regulator.
        idle: (K,) own power of regulators [W].
        which: Cases to solve.
        starts: (C + 1,) first sample of each case, and T.
        supply: (T,) voltage of the first node [V].
        place: (M,) nodes that something is drawn at.
        current: (T, M) drawn there, or (1, M) in all samples [A].
        power: (T, M) drawn there, at least 0 [W].
        conductance: (T, M) there, at least 0 [S]; (0, M): none.
        voltage: Out, (T, K) [V]; nan in samples without a solution.
        through: Out, (T, K) current into each node from what feeds it [A].
        solved: Out, (T,).
        sums: Out, (5, C, K) over the samples with a solution: root mean square, average, largest
            magnitude and largest of ``through`` [A], lowest voltage [V]; nan where none has.
        worst: Out, (C, K) sample of the largest magnitude, counted in its case.
    """
    count = ahead.size
    loads, work, drawn = np.empty((3, count)), np.empty((3, count)), np.empty(count)
    for c in which:
        for k in range(count):
            sums[0, c, k] = sums[1, c, k] = 0.0
            sums[2, c, k], sums[3, c, k], sums[4, c, k] = -1.0, -np.inf, np.inf
            worst[c, k] = 0
        ohms, begun, good = series[c], False, 0
        for t in range(starts[c], starts[c + 1]):
            v, flows = voltage[t], through[t]
            for k in range(count):
                loads[0, k] = loads[1, k] = loads[2, k] = 0.0
                if begun:
                    v[k] = voltage[t - 1, k]
            for m in range(place.size):
                k = place[m]
                loads[0, k] += current[t if current.shape[0] > 1 else 0, m]
                loads[1, k] += power[t, m]
                if conductance.shape[0] > 0:
                    loads[2, k] += conductance[t, m]
            v[0], done = supply[t], False
            while True:
                if not begun:
                    _highest(ahead, ohms, fixed, loads, v, work)
                done = _fallen(ahead, ohms, fixed, efficiency, idle, loads, v, work)
                if done or not begun:
                    break
                begun = False
            solved[t] = begun = done
            if not done:
                for k in range(count):
                    v[k] = flows[k] = np.nan
                continue
            good += 1
            _currents(ahead, fixed, efficiency, idle, loads, v, drawn, flows)
            for k in range(count):
                size = abs(flows[k])
                sums[0, c, k] += size * size
                sums[1, c, k] += flows[k]
                if size > sums[2, c, k]:
                    sums[2, c, k], worst[c, k] = size, t - starts[c]
                sums[3, c, k] = max(sums[3, c, k], flows[k])
                sums[4, c, k] = min(sums[4, c, k], v[k])
        for k in range(count):
            if good > 0:
                sums[0, c, k], sums[1, c, k] = np.sqrt(sums[0, c, k] / good), sums[1, c, k] / good
            else:
                for row in range(5):
                    sums[row, c, k] = np.nan
