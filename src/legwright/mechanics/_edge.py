"""Kernel: nearest point on the edge of a leg's reachable region, face by face.

The edge lies where a joint is at a limit, the knee is straight or folded, or the foot is as
near to axis 1 as its plane allows. With joint 1 at a limit the leg is planar and every case is
closed; with joint 1 free the foot turns to the target's side and a profile curve is searched,
its local minima bracketed by samples. Rows of measures as in `_knee.py`.
"""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import within

TAU = 2.0 * math.pi
SAMPLES = 48
"""Samples of a profile curve over a full turn."""
GOLDEN = 0.6180339887498949
SHRINKS = 36
"""Golden-section steps inside a bracket."""
ALIKE = 1e-9
"""Distances nearer than this are equal; then the joint positions decide [m]."""


@within
def _put(angle, low, high, near):  # type: ignore[no-untyped-def]
    """The angle, whole turns added, inside its limits; else the limit nearest on the circle."""
    value = angle + TAU * math.floor((near - angle) / TAU + 0.5)
    if value > high:
        value -= TAU * math.ceil((value - high) / TAU)
    elif value < low:
        value += TAU * math.ceil((low - value) / TAU)
    if low <= value <= high:
        return value
    below = abs(low - angle - TAU * math.floor((low - angle) / TAU + 0.5))
    above = abs(high - angle - TAU * math.floor((high - angle) / TAU + 0.5))
    return low if below < above else high


@within
def _try(m, t, n, best, q1, q2, q3):  # type: ignore[no-untyped-def]
    """Weigh one set of joint positions; ``best`` (5,) = q, squared error, joint distance."""
    t2 = q2 + m[19]
    t3 = t2 + m[17] * q3 + m[21]
    u = m[15] + m[18] * math.cos(t2) + m[20] * math.cos(t3)
    v = m[16] + m[18] * math.sin(t2) + m[20] * math.sin(t3)
    fx = m[12] * m[14] - m[13] * v
    fz = m[13] * m[14] + m[12] * v
    s, c = math.sin(q1), math.cos(q1)
    miss = (c * fx - s * u - t[0]) ** 2 + (s * fx + c * u - t[1]) ** 2 + (fz - t[2]) ** 2
    far = (q1 - n[0]) ** 2 + (q2 - n[1]) ** 2 + (q3 - n[2]) ** 2
    old, new = math.sqrt(best[3]), math.sqrt(miss)
    if new < old - ALIKE or (new < old + ALIKE and far < best[4]):
        best[0], best[1], best[2], best[3], best[4] = q1, q2, q3, miss, far


@within
def _free(m, t, n, best, q2, q3):  # type: ignore[no-untyped-def]
    """Weigh a bend of the leg, turned to the target by joint 1."""
    q2 = _put(q2, m[23], m[26], n[1])
    q3 = _put(q3, m[24], m[27], n[2])
    t2 = q2 + m[19]
    t3 = t2 + m[17] * q3 + m[21]
    u = m[15] + m[18] * math.cos(t2) + m[20] * math.cos(t3)
    v = m[16] + m[18] * math.sin(t2) + m[20] * math.sin(t3)
    fx = m[12] * m[14] - m[13] * v
    q1 = n[0]
    if t[0] * t[0] + t[1] * t[1] > 1e-24 and fx * fx + u * u > 1e-24:
        q1 = math.atan2(t[1], t[0]) - math.atan2(u, fx)
    _try(m, t, n, best, _put(q1, m[22], m[25], n[0]), q2, q3)


@within
def _bends(m, u, v, n, out):  # type: ignore[no-untyped-def]
    """Candidates (q2, q3) for the plane target (u, v): ``out`` (10, 2), all inside limits."""
    u, v = u - m[15], v - m[16]
    femur, tibia = m[18], m[20]
    bend = (u * u + v * v - femur * femur - tibia * tibia) / 2.0
    area = femur * tibia
    rise = math.sqrt(max(area * area - bend * bend, 0.0))
    knee, reach = math.atan2(rise, bend), math.atan2(v, u)
    for k in range(6):
        q3 = m[17] * (knee - m[21]) if k == 0 else m[17] * (-knee - m[21])
        if k == 2:
            q3 = m[24] if m[24] > -math.inf else q3
        elif k == 3:
            q3 = m[27] if m[27] < math.inf else q3
        elif k >= 4:
            q3 = m[17] * ((k - 4) * math.pi - m[21])
        q3 = _put(q3, m[24], m[27], n[2])
        t3 = m[17] * q3 + m[21]
        lead = math.atan2(tibia * math.sin(t3), femur + tibia * math.cos(t3))
        out[k, 0] = _put(reach - lead - m[19], m[23], m[26], n[1])
        out[k, 1] = q3
    for k in range(6, 10):
        q2 = (m[23] if k % 2 == 0 else m[26]) if k < 8 else out[k - 8, 0]
        if math.isinf(q2):
            q2 = out[0, 0]
        t2 = q2 + m[19]
        aim = math.atan2(v - femur * math.sin(t2), u - femur * math.cos(t2))
        out[k, 0] = q2
        out[k, 1] = _put(m[17] * (aim - t2 - m[21]), m[24], m[27], n[2])


@within
def _gap(k, a, r, z):  # type: ignore[no-untyped-def]
    """Squared distance in the half plane of axis 1 between target and profile at ``a``."""
    s, c = math.sin(a), math.cos(a)
    s *= k[7]
    u = k[0] + k[1] * c - k[2] * s
    v = k[3] + k[1] * s + k[2] * c
    fx = k[4] * k[5] - k[6] * v
    across = math.sqrt(fx * fx + u * u) - r
    up = k[6] * k[5] + k[4] * v - z
    return across * across + up * up


@within
def _valley(k, left, right, r, z):  # type: ignore[no-untyped-def]
    """Place of the least gap inside a bracket: golden section, then a parabola."""
    one, two = right - GOLDEN * (right - left), left + GOLDEN * (right - left)
    f1, f2 = _gap(k, one, r, z), _gap(k, two, r, z)
    for _ in range(SHRINKS):
        if f1 <= f2:
            right, two, f2 = two, one, f1
            one = right - GOLDEN * (right - left)
            f1 = _gap(k, one, r, z)
        else:
            left, one, f1 = one, two, f2
            two = left + GOLDEN * (right - left)
            f2 = _gap(k, two, r, z)
    return (left + right) / 2.0


@within
def _profile(m, t, n, best, k, fixed, held, low, high):  # type: ignore[no-untyped-def]
    """Local minima along one profile: ``held`` names the joint (1 or 2) kept at ``fixed``."""
    if math.isinf(low) or math.isinf(high) or high - low > TAU:
        low = low if not math.isinf(low) else (high - TAU if not math.isinf(high) else -math.pi)
        high = low + TAU
    r = math.sqrt(t[0] * t[0] + t[1] * t[1])
    steps = 4 + int(SAMPLES * (high - low) / TAU)
    pace = (high - low) / steps
    stride = pace * math.sqrt(k[1] * k[1] + k[2] * k[2])  # no gap changes by more in one step
    i, known, before, here = 0, -1, 0.0, 0.0
    while i <= steps:
        if known != i:
            here = _gap(k, low + i * pace, r, t[2])
        spare = math.sqrt(here) - math.sqrt(best[3]) - stride - ALIKE
        if spare > 0.0:  # nothing near this sample is as near as what was found before
            i += 1 + int(min(spare / stride, float(steps)))
            continue
        if known != i:
            before = _gap(k, low + (i - 1) * pace, r, t[2]) if i > 0 else math.inf
        after = _gap(k, low + (i + 1) * pace, r, t[2]) if i < steps else math.inf
        if here <= before and here <= after:
            left, right = low + max(i - 1, 0) * pace, low + min(i + 1, steps) * pace
            a = _valley(k, left, right, r, t[2])
            for end in range(3):
                place = a if end == 0 else (low if end == 1 else high)
                if held == 2:
                    _free(m, t, n, best, place, fixed)
                else:
                    _free(m, t, n, best, fixed, place)
        before, here = here, after
        i += 1
        known = i


@within
def _profiles(m, t, n, best):  # type: ignore[no-untyped-def]
    """All profile curves: knee at a limit, straight or folded; femur at a limit."""
    k = np.empty(8)
    k[4], k[5], k[6] = m[12], m[14], m[13]
    for i in range(6):
        held = 2 if i < 4 else 1
        fixed = m[24 + i % 2 * 3] if i < 2 else m[23 + i % 2 * 3]
        if i in (2, 3):
            fixed = _put(m[17] * ((i - 2) * math.pi - m[21]), m[24], m[27], n[2])
        if math.isinf(fixed):
            continue
        if held == 2:
            t3 = m[17] * fixed + m[21]
            c, s = m[18] + m[20] * math.cos(t3), m[20] * math.sin(t3)
            co, si = math.cos(m[19]), math.sin(m[19])
            k[0], k[3], k[7] = m[15], m[16], 1.0
            k[1], k[2] = c * co - s * si, c * si + s * co
        else:
            t2 = fixed + m[19]
            k[0], k[3] = m[15] + m[18] * math.cos(t2), m[16] + m[18] * math.sin(t2)
            k[1], k[2] = m[20] * math.cos(t2 + m[21]), m[20] * math.sin(t2 + m[21])
            k[7] = m[17]
        _profile(m, t, n, best, k, fixed, held, m[25 - held], m[28 - held])


@within
def nearest(m, px, py, pz, n1, n2, n3, beyond):  # type: ignore[no-untyped-def]
    """Nearest point on the edge: (q1, q2, q3, squared distance).

    What is farther than ``beyond`` is not asked for: its squared distance is that of ``beyond``.
    A foot stays in a plane through joint 1, so that a face is no nearer than the plane.
    """
    t, n, best = np.empty(3), np.empty(3), np.empty(5)
    n[0], n[1], n[2] = n1, n2, n3
    px, py, pz = px - m[9], py - m[10], pz - m[11]
    for i in range(3):
        t[i] = m[3 * i] * px + m[3 * i + 1] * py + m[3 * i + 2] * pz
        best[i] = n[i]
    best[3], best[4] = beyond * beyond, math.inf
    bends, near = np.empty((10, 2)), math.inf
    for i in range(2):
        q1 = m[22 + 3 * i]
        if math.isinf(q1):
            continue
        s, c = math.sin(q1), math.cos(q1)
        x, y = c * t[0] + s * t[1], c * t[1] - s * t[0]
        off = abs(m[12] * x + m[13] * t[2] - m[14])
        near = min(near, off)
        if off > math.sqrt(best[3]) + ALIKE:
            continue
        _bends(m, y, m[12] * t[2] - m[13] * x, n, bends)
        for j in range(10):
            _try(m, t, n, best, q1, bends[j, 0], bends[j, 1])
    r = math.sqrt(t[0] * t[0] + t[1] * t[1])
    up = m[13] * t[2] - m[14]
    near = min(near, abs(up + m[12] * r), abs(up - m[12] * r))
    if near <= math.sqrt(best[3]) + ALIKE:  # else nothing that the profiles do not find
        for i in range(2):
            x = r if i == 0 else -r
            _bends(m, 0.0, m[12] * t[2] - m[13] * x, n, bends)
            for j in range(10):
                _free(m, t, n, best, bends[j, 0], bends[j, 1])
    _profiles(m, t, n, best)
    return best[0], best[1], best[2], best[3]
