"""Kernel: least foot forces inside circular friction cones, by a dual proximal Newton method.

The problem: minimise ½ Σ|f_i|² with A f = b and every f_i inside its cone K_i. Its dual,
max bᵀλ - ½|P(Aᵀλ)|² with P the projection onto the cones, has six unknowns however many feet
there are. The proximal steps max bᵀλ - ½|P(Aᵀλ)|² - ε/2 |λ - λ'|² are strongly concave, are
solved by semismooth Newton steps with a line search, and leave the residual b - A f = ε(λ - λ').
It vanishes where forces inside the cones balance b; elsewhere it tends to the least residual
that any forces inside the cones can leave, while λ runs away.
"""

from __future__ import annotations

import numpy as np

from legwright.kernel import kernel, within

SETTLED = 1e-12
"""Relative residual at which a solution is final."""
ROUNDING = 1e-15
"""Rounding of a gradient, per size of the dual variables."""
PROXIMITY = 1e-6
"""First ε, for a wrench of size 1 and feet at a distance of about 1 from their centre."""
NEAREST = 1e-8
"""Last ε."""


@within
def _project(x, n, mu, f, D):  # type: ignore[no-untyped-def]
    """Nearest point of the cone |f_t| <= mu f_n to ``x``, and the projection's derivative."""
    height = x[0] * n[0] + x[1] * n[1] + x[2] * n[2]
    tx, ty, tz = x[0] - height * n[0], x[1] - height * n[1], x[2] - height * n[2]
    side = np.sqrt(tx * tx + ty * ty + tz * tz)
    inside, polar = side <= mu * height, mu * side <= -height
    if inside or polar:
        keep = 1.0 if inside else 0.0
        for i in range(3):
            f[i] = keep * x[i]
            for j in range(3):
                D[i, j] = keep if i == j else 0.0
        return
    scale = 1.0 / (1.0 + mu * mu)
    along = (height + mu * side) * scale
    t = (tx / side, ty / side, tz / side)
    bend = mu * along / side
    for i in range(3):
        f[i] = along * (n[i] + mu * t[i])
        for j in range(3):
            D[i, j] = scale * (n[i] + mu * t[i]) * (n[j] + mu * t[j]) - bend * (
                n[i] * n[j] + t[i] * t[j]
            )
        D[i, i] += bend


@within
def _merit(arms, normals, mu, b, near, eps, y, f, D, slope, H):  # type: ignore[no-untyped-def]
    """Negative proximal dual at ``y``; writes forces, its gradient and its Hessian."""
    value = 0.0
    for i in range(6):
        d = y[i] - near[i]
        value += 0.5 * eps * d * d - b[i] * y[i]
        slope[i] = eps * d - b[i]
        for j in range(6):
            H[i, j] = 0.0
        H[i, i] = eps
    x = np.empty(3)
    for k in range(arms.shape[0]):
        p, g = arms[k], f[k]
        for i in range(3):  # Aᵀy = y_force + y_moment × p
            j, m = (i + 1) % 3, (i + 2) % 3
            x[i] = y[i] + y[3 + j] * p[m] - y[3 + m] * p[j]
        _project(x, normals[k], mu[k], g, D)
        for i in range(3):
            j, m = (i + 1) % 3, (i + 2) % 3
            value += 0.5 * g[i] * g[i]
            slope[i] += g[i]
            slope[3 + i] += p[j] * g[m] - p[m] * g[j]
            for c in range(3):
                H[i, c] += D[i, c]
                H[3 + i, c] += p[j] * D[m, c] - p[m] * D[j, c]
        for i in range(3):  # the moment block: [p] D [p]ᵀ, row by row
            j, m = (i + 1) % 3, (i + 2) % 3
            r0 = p[j] * D[m, 0] - p[m] * D[j, 0]
            r1 = p[j] * D[m, 1] - p[m] * D[j, 1]
            r2 = p[j] * D[m, 2] - p[m] * D[j, 2]
            H[3 + i, 3] += p[1] * r2 - p[2] * r1
            H[3 + i, 4] += p[2] * r0 - p[0] * r2
            H[3 + i, 5] += p[0] * r1 - p[1] * r0
    return value


@within
def _solve(H, slope, step):  # type: ignore[no-untyped-def]
    """Step -H⁻¹ slope by Cholesky's method, in the lower triangle of ``H``."""
    for i in range(6):
        for j in range(i + 1):
            s = H[i, j]
            for k in range(j):
                s -= H[i, k] * H[j, k]
            if i == j:
                H[i, i] = np.sqrt(max(s, 1e-300))
            else:
                H[i, j] = s / H[j, j]
    for i in range(6):
        s = -slope[i]
        for k in range(i):
            s -= H[i, k] * step[k]
        step[i] = s / H[i, i]
    for i in range(5, -1, -1):
        s = step[i]
        for k in range(i + 1, 6):
            s -= H[k, i] * step[k]
        step[i] = s / H[i, i]


@within
def _size(v):  # type: ignore[no-untyped-def]
    total = 0.0
    for value in v:
        total += value * value
    return np.sqrt(total)


@within
def _newton(problem, near, eps, y, f, slope, work, limit):  # type: ignore[no-untyped-def]
    """Semismooth Newton steps on one proximal dual, from ``y`` in place; whether it settled."""
    arms, normals, mu, b = problem
    step, trial, H, D = work
    value = _merit(arms, normals, mu, b, near, eps, y, f, D, slope, H)
    for _ in range(limit):
        if _size(slope) < 0.1 * SETTLED + ROUNDING * _size(y):
            return True
        _solve(H, slope, step)
        gain = 0.0
        for i in range(6):
            gain += slope[i] * step[i]
        share, found = 1.0, np.inf
        while share > 1e-10:
            for i in range(6):
                trial[i] = y[i] + share * step[i]
            found = _merit(arms, normals, mu, b, near, eps, trial, f, D, slope, H)
            if found <= value + 1e-4 * share * gain + 1e-15 * abs(value):
                break
            share *= 0.5
        if share <= 1e-10:
            return True  # no number nearer than rounding
        settled = abs(found - value) <= 1e-15 * abs(value)
        for i in range(6):
            y[i] = trial[i]
        value = found
        if settled:
            return True
    return False


@within
def _balance(problem, f, dual, work):  # type: ignore[no-untyped-def]
    """Forces for one scaled problem; returns the size of the residual that they leave."""
    y, near, slope = dual
    y[:] = 0.0
    near[:] = 0.0
    eps, before, left = PROXIMITY, np.inf, np.inf
    if not _newton(problem, near, eps, y, f, slope, work, 8):
        y[:] = 0.0
        eps = 1.0  # busy or overcome cones: come from where the problem is easy
        _newton(problem, near, eps, y, f, slope, work, 60)
    for _ in range(60):
        total = 0.0
        for i in range(6):
            total += (eps * (y[i] - near[i]) - slope[i]) ** 2
        left = np.sqrt(total)
        if left < SETTLED or (eps == NEAREST and abs(left - before) <= 1e-6 * left):
            break
        after = max(0.05 * eps, NEAREST)
        ahead = eps / after if left > 0.5 * before else 0.0  # the dual runs away: run along
        for i in range(6):
            stride = y[i] - near[i]
            near[i] = y[i]
            y[i] += ahead * stride
        eps, before = after, left
        _newton(problem, near, eps, y, f, slope, work, 60)
    return left


@kernel
def distribution(feet, normals, wrench, friction, contact):  # type: ignore[no-untyped-def]
    """Foot forces sample by sample.

    Args:
        feet: (T, L, 3) foot points.
        normals: (T, L, 3) unit normals of the ground, pointing to the robot.
        wrench: (T, 6) force and moment about the origin that the forces shall sum to.
        friction: (L,) coefficient at each foot.
        contact: (T, L) feet that may push.

    Returns:
        forces (T, L, 3) and residual (T,): what is left of the wrench, over its size; NaN where
        a number is missing.
    """
    T, L = contact.shape
    forces, residual = np.zeros((T, L, 3)), np.zeros(T)
    arms, n, f = np.zeros((L, 3)), np.zeros((L, 3)), np.zeros((L, 3))
    mu, b, centre = np.zeros(L), np.zeros(6), np.zeros(3)
    dual = (np.zeros(6), np.zeros(6), np.zeros(6))
    work = (np.zeros(6), np.zeros(6), np.zeros((6, 6)), np.zeros((3, 3)))
    for t in range(T):
        count = 0
        centre[:] = 0.0
        for leg in range(L):
            if contact[t, leg]:
                for i in range(3):
                    arms[count, i], n[count, i] = feet[t, leg, i], normals[t, leg, i]
                    centre[i] += feet[t, leg, i]
                mu[count] = friction[leg]
                count += 1
        spread = 0.0
        for k in range(count):
            for i in range(3):
                arms[k, i] -= centre[i] / count
                spread += arms[k, i] ** 2
        length = np.sqrt(spread / count) if spread > 0.0 else 1.0
        for i in range(3):
            j, k = (i + 1) % 3, (i + 2) % 3
            moment = wrench[t, 3 + i]
            if count > 0:
                moment -= (centre[j] * wrench[t, k] - centre[k] * wrench[t, j]) / count
            b[i], b[3 + i] = wrench[t, i], moment / length
        size = _size(b)
        if size == 0.0:
            continue
        if count == 0 or not np.isfinite(size + spread):
            residual[t] = 1.0 if count == 0 else np.nan
            continue
        for k in range(count):
            for i in range(3):
                arms[k, i] /= length
        for i in range(6):
            b[i] /= size
        problem = (arms[:count], n[:count], mu[:count], b)
        residual[t] = _balance(problem, f[:count], dual, work)
        count = 0
        for leg in range(L):
            if contact[t, leg]:
                for i in range(3):
                    forces[t, leg, i] = size * f[count, i]
                count += 1
    return forces, residual
