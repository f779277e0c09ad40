"""Kernels: foot paths over one cycle, and the body's poses on the ground.

The heading frame is the body's place over the ground. A foot in stance is fixed to the ground,
seen from a body that moves with the exact exponential of a constant planar twist (Murray, Li
and Sastry 1994, sec. 2.3). The swing is the quintic that takes over position, velocity and
acceleration at lift-off and gives them back at touch-down (quintic Hermite interpolation,
textbook: Craig, Introduction to Robotics, ch. 7), plus the lift ``64 s³ (1 - s)³``, whose speed
and acceleration vanish at both ends.
"""

from __future__ import annotations

import math

from legwright.kernel import kernel, within


@within
def travelled(angle, time):  # type: ignore[no-untyped-def]
    """Way along and across the first heading per unit speed, after turning by ``angle``.

    ``sin(x)/x`` and ``(1 - cos(x))/x`` times ``time``, without cancellation.
    """
    half = 0.5 * angle
    if half == 0.0:  # also where it underflows
        return time, 0.0
    return time * math.sin(angle) / angle, time * math.sin(half) * math.sin(half) / half


@within
def planted(middle, twist, since):  # type: ignore[no-untyped-def]
    """A foot on the ground: x, y, their rates, their accelerations.

    ``middle`` (3,) is where it is at mid-stance, ``since`` the time since then.
    """
    vx, vy, w = twist
    angle = -w * since
    along, across = travelled(angle, since)
    c, s = math.cos(angle), math.sin(angle)
    x = c * middle[0] - s * middle[1] - (along * vx - across * vy)
    y = s * middle[0] + c * middle[1] - (across * vx + along * vy)
    xd, yd = -vx + w * y, -vy - w * x
    return x, y, xd, yd, w * yd, -w * xd


@within
def flown(s, duration, start, end):  # type: ignore[no-untyped-def]
    """Place, speed and acceleration of one coordinate at the share ``s`` of a swing.

    ``start`` and ``end``: place, speed and acceleration at lift-off and touch-down.
    """
    v0, v1 = start[1] * duration, end[1] * duration
    a0, a1 = start[2] * duration * duration, end[2] * duration * duration
    gap = end[0] - start[0]
    c3 = 10.0 * gap - 6.0 * v0 - 4.0 * v1 - 1.5 * a0 + 0.5 * a1
    c4 = -15.0 * gap + 8.0 * v0 + 7.0 * v1 + 1.5 * a0 - a1
    c5 = 6.0 * gap - 3.0 * (v0 + v1) - 0.5 * (a0 - a1)
    place = start[0] + s * (v0 + s * (0.5 * a0 + s * (c3 + s * (c4 + s * c5))))
    rate = v0 + s * (a0 + s * (3.0 * c3 + s * (4.0 * c4 + s * 5.0 * c5)))
    bend = a0 + s * (6.0 * c3 + s * (12.0 * c4 + s * 20.0 * c5))
    return place, rate / duration, bend / (duration * duration)


@within
def _turned(R, x, y, z, out):  # type: ignore[no-untyped-def]
    """Components along the body's axes, the columns of ``R``."""
    for k in range(3):
        out[k] = x * R[0, k] + y * R[1, k] + z * R[2, k]


@kernel
def cycle_path(middle, twist, local, timing, R, at, position, velocity, acceleration):  # type: ignore[no-untyped-def]
    """All feet through a cycle, in the body frame.

    Args:
        middle: (L, 3) feet at mid-stance, heading frame.
        twist: Forward, to the left, turning.
        local: (T, L) share of the cycle since each foot's touch-down, 0 to 1.
        timing: Duty factor, cycle time, height of the swing's top.
        R: (3, 3) body axes to heading axes.
        at: (3,) body origin in the heading frame.
        position: (T, L, 3), filled.
        velocity: (T, L, 3), filled.
        acceleration: (T, L, 3), filled.
    """
    duty, cycle, lift = timing
    half, duration = 0.5 * duty * cycle, (1.0 - duty) * cycle
    T, L = local.shape
    for leg in range(L):
        up, down = planted(middle[leg], twist, half), planted(middle[leg], twist, -half)
        for t in range(T):
            if local[t, leg] < duty:
                x, y, xd, yd, xdd, ydd = planted(middle[leg], twist, local[t, leg] * cycle - half)
                z, zd, zdd = middle[leg, 2], 0.0, 0.0
            else:
                s = (local[t, leg] - duty) / (1.0 - duty)
                x, xd, xdd = flown(s, duration, (up[0], up[2], up[4]), (down[0], down[2], down[4]))
                y, yd, ydd = flown(s, duration, (up[1], up[3], up[5]), (down[1], down[3], down[5]))
                u, d = s * (1.0 - s), 1.0 - 2.0 * s
                z = middle[leg, 2] + 64.0 * lift * u * u * u
                zd = 192.0 * lift * u * u * d / duration
                zdd = 384.0 * lift * (u * d * d - u * u) / (duration * duration)
            _turned(R, x - at[0], y - at[1], z - at[2], position[t, leg])
            _turned(R, xd, yd, zd, velocity[t, leg])
            _turned(R, xdd, ydd, zdd, acceleration[t, leg])


@kernel
def body_path(at, q, twist, t, out):  # type: ignore[no-untyped-def]
    """Poses ``out`` (T, 7) in the ground frame of a body held at ``at`` with quaternion ``q``."""
    vx, vy, w = twist
    for i in range(t.shape[0]):
        angle = w * t[i]
        along, across = travelled(angle, t[i])
        c, s = math.cos(angle), math.sin(angle)
        out[i, 0] = along * vx - across * vy + c * at[0] - s * at[1]
        out[i, 1] = across * vx + along * vy + s * at[0] + c * at[1]
        out[i, 2] = at[2]
        c, s = math.cos(0.5 * angle), math.sin(0.5 * angle)
        out[i, 3], out[i, 6] = c * q[0] - s * q[3], c * q[3] + s * q[0]
        out[i, 4], out[i, 5] = c * q[1] - s * q[2], c * q[2] + s * q[1]
