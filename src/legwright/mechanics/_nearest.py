"""Kernel: the foot point nearest to a target, inside the joint limits, for any chain.

Minimises ½|foot(q) - p|² over the box of joint limits by a damped Newton method with the exact
Hessian and an active set, from several starts. The exact second derivatives make it converge
quadratically both where the target is reached and where it is not: a stretched leg is
singular for Gauss-Newton, but not for Newton.

Source: Nocedal & Wright, Numerical Optimization (2006), sec. 16.7 (projected methods) and 3.4
(Hessian modification); second derivatives of a serial chain: d²f/dq_i dq_j = z_i × J_j, i <= j.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from legwright.mechanics._chain_kernels import columns, pose

ROUNDS = 60
"""Most Newton steps from one start."""


@njit(cache=True)
def _cholesky_step(H, g, free, damping, step):  # type: ignore[no-untyped-def]
    """Solve (H + damping I) step = -g on the free joints; False when not positive definite."""
    n = g.shape[0]
    L = np.zeros((n, n))
    for i in range(n):
        for j in range(i + 1):
            if not (free[i] and free[j]):
                L[i, j] = 1.0 if i == j else 0.0
                continue
            total = H[i, j] + (damping if i == j else 0.0)
            for k in range(j):
                total -= L[i, k] * L[j, k]
            if i == j:
                if total <= 1e-14:
                    return False
                L[i, i] = np.sqrt(total)
            else:
                L[i, j] = total / L[j, j]
    for i in range(n):
        total = -g[i] if free[i] else 0.0
        for k in range(i):
            total -= L[i, k] * step[k]
        step[i] = total / L[i, i]
    for i in range(n - 1, -1, -1):
        total = step[i]
        for k in range(i + 1, n):
            total -= L[k, i] * step[k]
        step[i] = total / L[i, i]
    return True


@njit(cache=True)
def _derivatives(links, axes, moving, residual, H, g):  # type: ignore[no-untyped-def]
    """Gradient g and Hessian H of ½|f - p|² by the drives; residual is f - p."""
    m, n = links.coupling.shape
    Hm = np.empty((m, m))
    for i in range(m):
        for j in range(i, m):
            value = 0.0
            for k in range(3):
                value += moving[i, k] * moving[j, k]
            if not links.slides[i]:
                cx = axes[i, 1] * moving[j, 2] - axes[i, 2] * moving[j, 1]
                cy = axes[i, 2] * moving[j, 0] - axes[i, 0] * moving[j, 2]
                cz = axes[i, 0] * moving[j, 1] - axes[i, 1] * moving[j, 0]
                value += residual[0] * cx + residual[1] * cy + residual[2] * cz
            Hm[i, j] = value
            Hm[j, i] = value
    for a in range(n):
        total = 0.0
        for j in range(m):
            dot = moving[j, 0] * residual[0] + moving[j, 1] * residual[1]
            total += links.coupling[j, a] * (dot + moving[j, 2] * residual[2])
        g[a] = total
        for b in range(n):
            total = 0.0
            for i in range(m):
                if links.coupling[i, a] != 0.0:
                    for j in range(m):
                        total += links.coupling[i, a] * Hm[i, j] * links.coupling[j, b]
            H[a, b] = total


@njit(cache=True)
def descend(links, p, q, lower, upper):  # type: ignore[no-untyped-def]
    """Improve q in place; return the remaining distance to p."""
    m, n = links.coupling.shape
    R, at = np.empty((3, 3)), np.empty(3)
    axes, origins, moving = np.empty((m, 3)), np.empty((m, 3)), np.empty((m, 3))
    H, g, step, trial = np.empty((n, n)), np.empty(n), np.empty(n), np.empty(n)
    free, residual = np.empty(n, np.bool_), np.empty(3)
    for k in range(n):
        q[k] = min(max(q[k], lower[k]), upper[k])
    fx, fy, fz = pose(links, q, R, at, axes, origins)
    residual[0], residual[1], residual[2] = fx - p[0], fy - p[1], fz - p[2]
    cost = residual[0] ** 2 + residual[1] ** 2 + residual[2] ** 2
    damping = 0.0
    for _ in range(ROUNDS):
        if cost < 1e-26:
            break
        columns(links, axes, origins, fx, fy, fz, moving)
        _derivatives(links, axes, moving, residual, H, g)
        size, slope = 0.0, 0.0
        for k in range(n):
            pushed = (q[k] <= lower[k] and g[k] > 0.0) or (q[k] >= upper[k] and g[k] < 0.0)
            free[k] = not pushed
            size = max(size, abs(H[k, k]))
            if free[k]:
                slope = max(slope, abs(g[k]))
        if slope < 1e-15:
            break
        better, new = False, cost
        for _ in range(25):
            if _cholesky_step(H, g, free, damping, step):
                for k in range(n):
                    move = min(max(step[k], -0.7), 0.7)
                    trial[k] = min(max(q[k] + move, lower[k]), upper[k])
                fx, fy, fz = pose(links, trial, R, at, axes, origins)
                new = (fx - p[0]) ** 2 + (fy - p[1]) ** 2 + (fz - p[2]) ** 2
                if new < cost:
                    better = True
                    break
            damping = max(4.0 * damping, 1e-4 * max(size, 1e-9))
        if not better:
            break
        gain = cost - new
        for k in range(n):
            q[k] = trial[k]
        residual[0], residual[1], residual[2] = fx - p[0], fy - p[1], fz - p[2]
        cost = new
        damping = 0.0 if damping < 1e-6 * size else damping * 0.1
        if gain < 1e-15 * cost:
            break
    return np.sqrt(cost)


@njit(cache=True)
def _better_start(points, p, taken, count, apart):  # type: ignore[no-untyped-def]
    """Lattice point nearest to p that is not near one taken already; -1 when none is left."""
    best, index = np.inf, -1
    for i in range(points.shape[0]):
        x, y, z = points[i, 0] - p[0], points[i, 1] - p[1], points[i, 2] - p[2]
        distance = x * x + y * y + z * z
        if distance >= best:
            continue
        fresh = True
        for k in range(count):
            if abs(i - taken[k]) <= apart:
                fresh = False
                break
        if fresh:
            best, index = distance, i
    return index


@njit(cache=True)
def nearest(links, targets, near, lower, upper, lattice, points, starts, q, error):  # type: ignore[no-untyped-def]
    """For targets (N, 3): best q (N, n) and its distance (N,).

    ``near`` (N, n) is tried first and kept when it leads to the target. Otherwise the best of
    ``starts`` starts from the lattice (K, n), whose foot points are ``points`` (K, 3).
    """
    n = near.shape[1]
    taken = np.empty(starts, np.int64)
    trial = np.empty(n)
    for i in range(targets.shape[0]):
        p = targets[i]
        for k in range(n):
            q[i, k] = near[i, k]
        error[i] = descend(links, p, q[i], lower, upper)
        if error[i] < 1e-9:
            continue
        best_move = 0.0
        for k in range(n):
            best_move += (q[i, k] - near[i, k]) ** 2
        for s in range(starts):
            index = _better_start(points, p, taken, s, 2)
            if index < 0:
                break
            taken[s] = index
            for k in range(n):
                trial[k] = lattice[index, k]
            distance = descend(links, p, trial, lower, upper)
            move = 0.0
            for k in range(n):
                move += (trial[k] - near[i, k]) ** 2
            closer = distance < error[i] - 1e-10
            if closer or (distance < error[i] + 1e-10 and move < best_move):
                best_move = move
                error[i] = distance
                for k in range(n):
                    q[i, k] = trial[k]
