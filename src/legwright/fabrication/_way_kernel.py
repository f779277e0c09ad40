"""Kernels: poses of a link seen from another one, and how far what hangs on it can come."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within

STEP = 18
"""Columns of a joint before those of the drives, see `chain`."""
SEEN = 6
"""Numbers told of each joint, see `chain`."""


@within
def _turned(a, b, c, m0, m1, m2, m3, m4, m5, m6, m7, m8):  # type: ignore[no-untyped-def]
    """A row times a matrix, row by row."""
    return a * m0 + b * m3 + c * m6, a * m1 + b * m4 + c * m7, a * m2 + b * m5 + c * m8


@within
def chain(steps, values, seen):  # type: ignore[no-untyped-def]
    """The pose of the last link in the first one's frame, for one position of the drives.

    Args:
        steps: (S, 18 + D) joints on the way: placement in the parent link, 3 x 4 row by row;
            unit axis, zero for a joint that does not move; 1 where it slides; 1 where it is
            passed from child to parent; its position with every drive at zero; and what each
            drive adds to that.
        values: (D,) of the drives [rad or m].
        seen: (6 S + 12,), filled: of each joint a point of its axis and the axis' direction in
            the first link's frame; then place and orientation, row by row, of the last link.

    Source: Rodrigues' formula; Lynch & Park, Modern Robotics (2017), eq. 3.51.
    """
    S = steps.shape[0]
    r0 = r4 = r8 = 1.0
    r1 = r2 = r3 = r5 = r6 = r7 = 0.0
    px = py = pz = 0.0
    for n in range(S):
        position = steps[n, 17]
        for d in range(values.shape[0]):
            position += values[d] * steps[n, STEP + d]
        s0, s1, s2, ax = steps[n, 0], steps[n, 1], steps[n, 2], steps[n, 3]
        s3, s4, s5, ay = steps[n, 4], steps[n, 5], steps[n, 6], steps[n, 7]
        s6, s7, s8, az = steps[n, 8], steps[n, 9], steps[n, 10], steps[n, 11]
        x, y, z = steps[n, 12], steps[n, 13], steps[n, 14]
        upward = steps[n, 16] != 0.0
        u, v, w = s0 * x + s1 * y + s2 * z, s3 * x + s4 * y + s5 * z, s6 * x + s7 * y + s8 * z
        a, b, c = (x, y, z) if upward else (u, v, w)
        seen[SEEN * n + 3] = r0 * a + r1 * b + r2 * c
        seen[SEEN * n + 4] = r3 * a + r4 * b + r5 * c
        seen[SEEN * n + 5] = r6 * a + r7 * b + r8 * c
        a, b, c = (0.0, 0.0, 0.0) if upward else (ax, ay, az)
        seen[SEEN * n] = px + r0 * a + r1 * b + r2 * c
        seen[SEEN * n + 1] = py + r3 * a + r4 * b + r5 * c
        seen[SEEN * n + 2] = pz + r6 * a + r7 * b + r8 * c
        if steps[n, 15] != 0.0:
            ax, ay, az = ax + position * u, ay + position * v, az + position * w
        elif x != 0.0 or y != 0.0 or z != 0.0:
            s, c = math.sin(position), math.cos(position)
            v = 1.0 - c
            m0, m1, m2 = c + v * x * x, v * x * y - s * z, v * x * z + s * y
            m3, m4, m5 = v * x * y + s * z, c + v * y * y, v * y * z - s * x
            m6, m7, m8 = v * x * z - s * y, v * y * z + s * x, c + v * z * z
            s0, s1, s2 = _turned(s0, s1, s2, m0, m1, m2, m3, m4, m5, m6, m7, m8)
            s3, s4, s5 = _turned(s3, s4, s5, m0, m1, m2, m3, m4, m5, m6, m7, m8)
            s6, s7, s8 = _turned(s6, s7, s8, m0, m1, m2, m3, m4, m5, m6, m7, m8)
        if upward:
            s1, s2, s3, s5, s6, s7 = s3, s6, s1, s7, s2, s5
            ax, ay, az = (
                -(s0 * ax + s1 * ay + s2 * az),
                -(s3 * ax + s4 * ay + s5 * az),
                -(s6 * ax + s7 * ay + s8 * az),
            )
        px += r0 * ax + r1 * ay + r2 * az
        py += r3 * ax + r4 * ay + r5 * az
        pz += r6 * ax + r7 * ay + r8 * az
        r0, r1, r2 = _turned(r0, r1, r2, s0, s1, s2, s3, s4, s5, s6, s7, s8)
        r3, r4, r5 = _turned(r3, r4, r5, s0, s1, s2, s3, s4, s5, s6, s7, s8)
        r6, r7, r8 = _turned(r6, r7, r8, s0, s1, s2, s3, s4, s5, s6, s7, s8)
    n = SEEN * S
    seen[n], seen[n + 1], seen[n + 2] = px, py, pz
    seen[n + 3], seen[n + 4], seen[n + 5] = r0, r1, r2
    seen[n + 6], seen[n + 7], seen[n + 8] = r3, r4, r5
    seen[n + 9], seen[n + 10], seen[n + 11] = r6, r7, r8


@kernel
def chained(steps, values, out):  # type: ignore[no-untyped-def]
    """Poses ``out`` (T, 4, 4) for many positions (T, D) of the drives, as in `chain`."""
    last = SEEN * steps.shape[0]
    seen = np.empty(last + 12)
    for t in range(values.shape[0]):
        chain(steps, values[t], seen)
        for i in range(3):
            for k in range(3):
                out[t, i, k] = seen[last + 3 + 3 * i + k]
            out[t, i, 3] = seen[last + i]
            out[t, 3, i] = 0.0
        out[t, 3, 3] = 1.0


@within
def swing(steps, seen, half, ends, around, each):  # type: ignore[no-untyped-def]
    """How far a shape can be from where it is while drives stay near a pose.

    No point of it moves farther, or it looks the same as if none did: a ball that turns about
    its middle has not moved. Joints move one after the other, the last first, each about its
    axis as it lies in the pose: each carries the shape as it was there no farther than the
    arm of its farthest point, and what joints beyond have moved it before stays as much.

    Args:
        steps: (S, 18 + D), see `chain`.
        seen: (6 S + 12,) of the pose, see `chain`.
        half: (D,) how far each drive may be from the pose [rad or m].
        ends: (K, 3) points whose hull holds the shape, in the link's frame [m]; the middle
            of a ball; of a round rod, with ``around``, the middles of its two ends.
        around: Radius of the rod, else 0 [m].
        each: (D,), filled: what each drive gives to that [m].

    Returns:
        How far [m].
    """
    S, D = steps.shape[0], half.shape[0]
    last = SEEN * S
    for d in range(D):
        each[d] = 0.0
    total = 0.0
    for n in range(S):
        most = 0.0
        for d in range(D):
            most += half[d] * abs(steps[n, STEP + d])
        if most == 0.0:
            continue
        arm = 1.0
        if steps[n, 15] == 0.0:
            most = min(most, 2.0)
            first = SEEN * n
            x, y, z = seen[first + 3], seen[first + 4], seen[first + 5]
            far = p = q = r = tilt = 0.0
            for m in range(ends.shape[0]):
                a, b, c = ends[m, 0], ends[m, 1], ends[m, 2]
                u = seen[last] - seen[first]
                v = seen[last + 1] - seen[first + 1]
                w = seen[last + 2] - seen[first + 2]
                u += seen[last + 3] * a + seen[last + 4] * b + seen[last + 5] * c
                v += seen[last + 6] * a + seen[last + 7] * b + seen[last + 8] * c
                w += seen[last + 9] * a + seen[last + 10] * b + seen[last + 11] * c
                a, b, c = v * z - w * y, w * x - u * z, u * y - v * x
                far = max(far, a * a + b * b + c * c)
                # Of a rod, how its own axis leans against that of the joint.
                tilt = (a - p) * (a - p) + (b - q) * (b - q) + (c - r) * (c - r)
                p, q, r = a, b, c
            arm = math.sqrt(far)
            if around > 0.0:
                a, b, c = ends[1, 0] - ends[0, 0], ends[1, 1] - ends[0, 1], ends[1, 2] - ends[0, 2]
                arm += around * math.sqrt(tilt / (a * a + b * b + c * c))
        for d in range(D):
            each[d] += half[d] * abs(steps[n, STEP + d]) * arm
        total += arm * most
    return total
