"""Kernel: nearest reachable foot point of any serial chain, by bounded damped Newton steps."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel
from legwright.mechanics._serial import carry, foot_at

STEPS = 60
"""Most Newton steps from one start."""
STARTS = 32
"""Starts from the table of samples, beside ``near`` itself."""
BESIDE = 0.5
"""A target reached within this much of ``near`` needs no other start [rad or m]."""
REACHED = 1e-10
"""A foot this near to its target is there [m]."""


@kernel
def _solve(A, b, n):  # type: ignore[no-untyped-def]
    """Cholesky solution of A x = b in place; False where A is not positive definite."""
    for i in range(n):
        for j in range(i + 1):
            total = A[i, j]
            for k in range(j):
                total -= A[i, k] * A[j, k]
            if i == j:
                if total <= 0.0:
                    return False
                A[i, i] = math.sqrt(total)
            else:
                A[i, j] = total / A[j, j]
    for i in range(n):
        for k in range(i):
            b[i] -= A[i, k] * b[k]
        b[i] /= A[i, i]
    for i in range(n - 1, -1, -1):
        for k in range(i + 1, n):
            b[i] -= A[k, i] * b[k]
        b[i] /= A[i, i]
    return True


@kernel
def _slope(screws, q, target, p, arm, axis, J, g, H):  # type: ignore[no-untyped-def]
    """Half squared distance, its gradient ``g`` and Hessian ``H`` by the drives."""
    m, n = screws.coupling.shape
    carry(screws, q, p, arm, axis)
    C = screws.coupling
    value = 0.0
    for k in range(3):
        value += 0.5 * (p[k] - target[k]) ** 2
        for j in range(n):
            J[k, j] = 0.0
            for i in range(m):
                J[k, j] += C[i, j] * arm[i, k]
    for a in range(n):
        g[a] = 0.0
        for k in range(3):
            g[a] += J[k, a] * (p[k] - target[k])
        for b in range(n):
            H[a, b] = J[0, a] * J[0, b] + J[1, a] * J[1, b] + J[2, a] * J[2, b]
    for i in range(m):
        if screws.slides[i]:
            continue
        for j in range(i, m):
            bend = (
                (p[0] - target[0]) * (axis[i, 1] * arm[j, 2] - axis[i, 2] * arm[j, 1])
                + (p[1] - target[1]) * (axis[i, 2] * arm[j, 0] - axis[i, 0] * arm[j, 2])
                + (p[2] - target[2]) * (axis[i, 0] * arm[j, 1] - axis[i, 1] * arm[j, 0])
            )
            for a in range(n):
                for b in range(n):
                    pair = C[i, a] * C[j, b]
                    if i != j:
                        pair += C[j, a] * C[i, b]
                    H[a, b] += pair * bend
    return value


@kernel
def descend(screws, lower, upper, target, q):  # type: ignore[no-untyped-def]
    """Walk ``q`` (n,) downhill inside its limits; returns the distance left."""
    m, n = screws.coupling.shape
    p, arm, axis = np.empty(3), np.empty((m, 3)), np.empty((m, 3))
    J, g, H = np.empty((3, n)), np.empty(n), np.empty((n, n))
    A, d, trial = np.empty((n, n)), np.empty(n), np.empty(n)
    value = _slope(screws, q, target, p, arm, axis, J, g, H)
    damp = 1e-9
    for _ in range(STEPS):
        if value <= 0.5 * REACHED * REACHED * 1e-6:
            break
        scale = 0.0
        for a in range(n):
            scale += J[0, a] ** 2 + J[1, a] ** 2 + J[2, a] ** 2
        moved = False
        for _ in range(30):
            for a in range(n):
                stuck_a = (q[a] <= lower[a] and g[a] > 0.0) or (q[a] >= upper[a] and g[a] < 0.0)
                d[a] = 0.0 if stuck_a else -g[a]
                for b in range(n):
                    A[a, b] = H[a, b]
                A[a, a] += damp * scale
                if stuck_a:
                    for b in range(n):
                        A[a, b] = 0.0
                        A[b, a] = 0.0
                    A[a, a] = 1.0
            for a in range(n):
                if d[a] == 0.0:
                    for b in range(a + 1, n):
                        A[b, a] = 0.0
                        A[a, b] = 0.0
            if not _solve(A, d, n):
                damp = max(damp * 10.0, 1e-6)
                continue
            step = 0.0
            for a in range(n):
                trial[a] = min(max(q[a] + d[a], lower[a]), upper[a])
                step = max(step, abs(trial[a] - q[a]))
            if step < 1e-15:
                break
            foot_at(screws, trial, p)
            new = 0.5 * (
                (p[0] - target[0]) ** 2 + (p[1] - target[1]) ** 2 + (p[2] - target[2]) ** 2
            )
            if new < value:
                moved = True
                break
            damp = max(damp * 10.0, 1e-6)
            if damp > 1e8:
                break
        if not moved:
            break
        damp = max(damp * 0.1, 1e-14)
        for a in range(n):
            q[a] = trial[a]
        value = _slope(screws, q, target, p, arm, axis, J, g, H)
    return math.sqrt(2.0 * value)


@kernel
def _home(q, low, high, near):  # type: ignore[no-untyped-def]
    """Whole turns added to ``q`` so that it lies inside its limits, nearest to ``near``."""
    tau = 2.0 * math.pi
    value = q + tau * math.floor((near - q) / tau + 0.5)
    if value > high:
        value -= tau * math.ceil((value - high) / tau)
    elif value < low:
        value += tau * math.ceil((low - value) / tau)
    return value if low <= value <= high else q


@kernel
def reach(screws, lower, upper, turns, table, places, groups, points, near, q, error):  # type: ignore[no-untyped-def]
    """Targets (N, 3), near (N, n) -> q (N, n), error (N,).

    ``table`` (S, n) holds sampled drive positions, ``places`` (S, 3) their foot points and
    ``groups`` (S,) the part of joint space each lies in: the best of every part is a start,
    unless the target is reached right beside ``near``.
    """
    n = lower.shape[0]
    start = np.empty(n)
    best_of = np.empty(STARTS, dtype=np.int64)
    gap_of = np.empty(STARTS)
    for k in range(points.shape[0]):
        error[k] = math.inf
        nearest = math.inf
        for s in range(-1, STARTS):
            if s == 0:
                if error[k] <= REACHED and nearest < BESIDE**2:
                    break
                _starts(table, places, groups, points[k], best_of, gap_of)
            if s >= 0 and best_of[s] < 0:
                continue
            for a in range(n):
                raw = near[k, a] if s < 0 else table[best_of[s], a]
                start[a] = min(max(raw, lower[a]), upper[a])
            miss = descend(screws, lower, upper, points[k], start)
            far = 0.0
            for a in range(n):
                if turns[a]:
                    start[a] = _home(start[a], lower[a], upper[a], near[k, a])
                far += (start[a] - near[k, a]) ** 2
            if miss < error[k] - 1e-9 or (miss < error[k] + 1e-9 and far < nearest):
                error[k], nearest = miss, far
                for a in range(n):
                    q[k, a] = start[a]


@kernel
def _starts(table, places, groups, point, best_of, gap_of):  # type: ignore[no-untyped-def]
    """Index of the sample nearest to a point in each part of joint space, -1 where none."""
    gap_of[:] = math.inf
    best_of[:] = -1
    for s in range(table.shape[0]):
        gap = 0.0
        for i in range(3):
            gap += (places[s, i] - point[i]) ** 2
        if gap < gap_of[groups[s]]:
            gap_of[groups[s]], best_of[groups[s]] = gap, s


@kernel
def reserve(screws, lower, upper, points, q, directions, size, out):  # type: ignore[no-untyped-def]
    """Distances ``out`` (N,) from points (N, 3), held with ``q`` (N, n), to the edge.

    From every point the foot is led outward until it lags behind; the place where it stays
    is on the edge, and the next try aims through it. With three drives every joint limit is an
    edge of the region held by this bend, so the nearest point with it is weighed too.
    """
    n = lower.shape[0]
    low, high = lower.copy(), upper.copy()
    here, aim, spot = np.empty(n), np.empty(3), np.empty(3)
    for k in range(points.shape[0]):
        out[k] = size
        for face in range(2 * n if n == 3 else 0):
            joint = face // 2
            limit = lower[joint] if face % 2 == 0 else upper[joint]
            if math.isinf(limit):
                continue
            here[:] = q[k]
            here[joint] = low[joint] = high[joint] = limit
            out[k] = min(out[k], descend(screws, low, high, points[k], here))
            low[joint], high[joint] = lower[joint], upper[joint]
        for line in range(directions.shape[0]):
            way = directions[line].copy()
            for _ in range(3):
                here[:] = q[k]
                gone, pace = 0.0, 0.02 * size
                while gone < out[k]:
                    gone += pace
                    for i in range(3):
                        aim[i] = points[k, i] + gone * way[i]
                    if descend(screws, lower, upper, aim, here) > 1e-7:
                        break
                if gone >= out[k] + pace:
                    break
                foot_at(screws, here, spot)
                length = 0.0
                for i in range(3):
                    way[i] = spot[i] - points[k, i]
                    length += way[i] ** 2
                length = math.sqrt(length)
                out[k] = min(out[k], length)
                if length < 1e-9:
                    break
                for i in range(3):
                    way[i] /= length
