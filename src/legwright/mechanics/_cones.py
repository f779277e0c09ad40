"""Kernel: least foot forces inside circular friction cones, by a dual proximal Newton method.

The problem: minimise ½ Σ|f_i|² with A f = b and every f_i inside its cone K_i. Its dual,
max bᵀλ - ½|P(Aᵀλ)|² with P the projection onto the cones, has six unknowns however many feet
there are. The proximal steps max bᵀλ - ½|P(Aᵀλ)|² - ε/2 |λ - λ'|² are strongly concave, are
solved by semismooth Newton steps with a line search, and leave the residual b - A f = ε(λ - λ').
It vanishes where forces inside the cones balance b; elsewhere it tends to the least residual
that any forces inside the cones can leave, while λ runs away.

Where the least forces of all lie inside the cones they are the answer: with the feet seen from
their centre they are Σf / n and those of a rigid body's turning, in closed form.
"""

from __future__ import annotations

import math

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
IN_LINE = 1e-6
"""Determinant, of feet at a distance of about 1, below which they are too nearly in a line."""


@within
def _project(x, y, z, a, b, c, mu):  # type: ignore[no-untyped-def]
    """Nearest point of the cone |f_t| <= mu f_n about (a, b, c) to (x, y, z).

    Returns the point, and the projection's derivative: xx, yx, yy, zx, zy, zz.
    """
    height = x * a + y * b + z * c
    x, y, z = x - height * a, y - height * b, z - height * c
    side = math.sqrt(x * x + y * y + z * z)
    if height >= 0.0 and side <= mu * height:
        point = (x + height * a, y + height * b, z + height * c)
        return point, (1.0, 0.0, 1.0, 0.0, 0.0, 1.0)
    if mu * side <= -height:
        return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    scale = 1.0 / (1.0 + mu * mu)
    along = (height + mu * side) * scale
    x, y, z = x / side, y / side, z / side
    bend = mu * along / side
    u, v, w = a + mu * x, b + mu * y, c + mu * z
    return (along * u, along * v, along * w), (
        scale * u * u - bend * (a * a + x * x) + bend,
        scale * v * u - bend * (b * a + y * x),
        scale * v * v - bend * (b * b + y * y) + bend,
        scale * w * u - bend * (c * a + z * x),
        scale * w * v - bend * (c * b + z * y),
        scale * w * w - bend * (c * c + z * z) + bend,
    )


@within
def _merit(arms, normals, mu, b, near, eps, y, f, slope, H):  # type: ignore[no-untyped-def]
    """Negative proximal dual at ``y``; writes forces, its gradient and its Hessian.

    Of the Hessian the lower triangle alone.
    """
    value = 0.0
    for i in range(6):
        d = y[i] - near[i]
        value += 0.5 * eps * d * d - b[i] * y[i]
        slope[i] = eps * d - b[i]
        for j in range(i):
            H[i, j] = 0.0
        H[i, i] = eps
    for k in range(arms.shape[0]):
        px, py, pz = arms[k, 0], arms[k, 1], arms[k, 2]
        (fx, fy, fz), (xx, yx, yy, zx, zy, zz) = _project(  # of Aᵀy = y_force + y_moment × p
            y[0] + y[4] * pz - y[5] * py,
            y[1] + y[5] * px - y[3] * pz,
            y[2] + y[3] * py - y[4] * px,
            normals[k, 0], normals[k, 1], normals[k, 2], mu[k],
        )  # fmt: skip
        f[k, 0], f[k, 1], f[k, 2] = fx, fy, fz
        value += 0.5 * (fx * fx + fy * fy + fz * fz)
        slope[0] += fx
        slope[1] += fy
        slope[2] += fz
        slope[3] += py * fz - pz * fy
        slope[4] += pz * fx - px * fz
        slope[5] += px * fy - py * fx
        H[0, 0] += xx
        H[1, 0] += yx
        H[1, 1] += yy
        H[2, 0] += zx
        H[2, 1] += zy
        H[2, 2] += zz
        ax, ay, az = py * zx - pz * yx, py * zy - pz * yy, py * zz - pz * zy  # rows of [p] D
        bx, by, bz = pz * xx - px * zx, pz * yx - px * zy, pz * zx - px * zz
        cx, cy, cz = px * yx - py * xx, px * yy - py * yx, px * zy - py * zx
        H[3, 0] += ax
        H[3, 1] += ay
        H[3, 2] += az
        H[4, 0] += bx
        H[4, 1] += by
        H[4, 2] += bz
        H[5, 0] += cx
        H[5, 1] += cy
        H[5, 2] += cz
        H[3, 3] += py * az - pz * ay  # [p] D [p]ᵀ
        H[4, 3] += py * bz - pz * by
        H[4, 4] += pz * bx - px * bz
        H[5, 3] += py * cz - pz * cy
        H[5, 4] += pz * cx - px * cz
        H[5, 5] += px * cy - py * cx
    return value


@within
def _solve(H, slope, step):  # type: ignore[no-untyped-def]
    """Step -H⁻¹ slope by Cholesky's method, in the lower triangle of ``H``.

    Its diagonal becomes the reciprocals: one division for each column.
    """
    for j in range(6):
        s = H[j, j]
        for k in range(j):
            s -= H[j, k] * H[j, k]
        over = 1.0 / math.sqrt(max(s, 1e-300))
        H[j, j] = over
        for i in range(j + 1, 6):
            s = H[i, j]
            for k in range(j):
                s -= H[i, k] * H[j, k]
            H[i, j] = s * over
    for i in range(6):
        s = -slope[i]
        for k in range(i):
            s -= H[i, k] * step[k]
        step[i] = s * H[i, i]
    for i in range(5, -1, -1):
        s = step[i]
        for k in range(i + 1, 6):
            s -= H[k, i] * step[k]
        step[i] = s * H[i, i]


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
    step, trial, H = work
    value = _merit(arms, normals, mu, b, near, eps, y, f, slope, H)
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
            found = _merit(arms, normals, mu, b, near, eps, trial, f, slope, H)
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
def _unbound(problem, f):  # type: ignore[no-untyped-def]
    """The least forces of all, written to ``f``; the size of the residual that they leave.

    Infinite where one of them lies outside its cone, or feet are nearly in a line.
    """
    arms, normals, mu, b = problem
    n = arms.shape[0]
    xx = yy = zz = yx = zx = zy = 0.0
    for k in range(n):
        px, py, pz = arms[k, 0], arms[k, 1], arms[k, 2]
        xx += py * py + pz * pz
        yy += px * px + pz * pz
        zz += px * px + py * py
        yx -= px * py
        zx -= px * pz
        zy -= py * pz
    ax, ay, az = yy * zz - zy * zy, zy * zx - yx * zz, yx * zy - yy * zx
    by, bz, cz = xx * zz - zx * zx, yx * zx - xx * zy, xx * yy - yx * yx
    det = xx * ax + yx * ay + zx * az
    if not det > IN_LINE:
        return math.inf
    u = (ax * b[3] + ay * b[4] + az * b[5]) / det
    v = (ay * b[3] + by * b[4] + bz * b[5]) / det
    w = (az * b[3] + bz * b[4] + cz * b[5]) / det
    x, y, z = b[0] / n, b[1] / n, b[2] / n
    rx, ry, rz, mx, my, mz = b[0], b[1], b[2], b[3], b[4], b[5]
    for k in range(n):
        px, py, pz = arms[k, 0], arms[k, 1], arms[k, 2]
        fx, fy, fz = x + v * pz - w * py, y + w * px - u * pz, z + u * py - v * px
        nx, ny, nz = normals[k, 0], normals[k, 1], normals[k, 2]
        height = fx * nx + fy * ny + fz * nz
        sx, sy, sz = fx - height * nx, fy - height * ny, fz - height * nz
        most = mu[k] * height
        if not (height >= 0.0 and sx * sx + sy * sy + sz * sz <= most * most):
            return math.inf
        f[k, 0], f[k, 1], f[k, 2] = fx, fy, fz
        rx, ry, rz = rx - fx, ry - fy, rz - fz
        mx -= py * fz - pz * fy
        my -= pz * fx - px * fz
        mz -= px * fy - py * fx
    return math.sqrt(rx * rx + ry * ry + rz * rz + mx * mx + my * my + mz * mz)


@within
def _balance(problem, f, dual, work):  # type: ignore[no-untyped-def]
    """Forces for one scaled problem; returns the size of the residual that they leave."""
    left = _unbound(problem, f)
    if left < SETTLED:
        return left
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
    work = (np.zeros(6), np.zeros(6), np.zeros((6, 6)))
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
