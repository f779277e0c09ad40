"""Kernel: poses of a link seen from another one, for many positions of the joints between."""

from __future__ import annotations

import math

import numpy as np
from numba import njit


@njit(cache=True)
def chained(still, axes, slides, upward, share, rest, values, out, origin, way):  # type: ignore[no-untyped-def]
    """Poses of the last link in the first one's frame.

    Args:
        still: (S, 4, 4) placement of each joint in its parent link.
        axes: (S, 3) unit axes; zero for a joint that does not move.
        slides: (S,) whether it slides.
        upward: (S,) whether it is passed from child to parent.
        share: (S, D) what a drive adds to each joint.
        rest: (S,) joint positions with every drive at zero.
        values: (T, D) of the drives [rad or m].
        out: (T, 4, 4), filled.
        origin: (T, S, 3), filled: a point of each joint's axis, in the first link's frame [m].
        way: (T, S, 3), filled: direction of each axis there.

    Source: Rodrigues' formula; Lynch & Park, Modern Robotics (2017), eq. 3.51.
    """
    turn, place = np.empty(9), np.empty(3)
    here, at = np.empty(9), np.empty(3)
    for t in range(values.shape[0]):
        for i in range(9):
            turn[i] = 1.0 if i % 4 == 0 else 0.0
        for i in range(3):
            place[i] = 0.0
        for n in range(still.shape[0]):
            position = rest[n]
            for d in range(values.shape[1]):
                position += values[t, d] * share[n, d]
            x, y, z = axes[n, 0], axes[n, 1], axes[n, 2]
            for i in range(3):
                at[i] = still[n, i, 3]
                a, b, c = turn[3 * i], turn[3 * i + 1], turn[3 * i + 2]
                if not upward[n]:
                    a, b, c = (
                        a * still[n, 0, 0] + b * still[n, 1, 0] + c * still[n, 2, 0],
                        a * still[n, 0, 1] + b * still[n, 1, 1] + c * still[n, 2, 1],
                        a * still[n, 0, 2] + b * still[n, 1, 2] + c * still[n, 2, 2],
                    )
                way[t, n, i] = a * x + b * y + c * z
                origin[t, n, i] = place[i]
                if not upward[n]:
                    for k in range(3):
                        origin[t, n, i] += turn[3 * i + k] * still[n, k, 3]
            s, c = 0.0, 1.0
            if slides[n]:
                for i in range(3):
                    at[i] += position * (
                        still[n, i, 0] * x + still[n, i, 1] * y + still[n, i, 2] * z
                    )
            elif x != 0.0 or y != 0.0 or z != 0.0:
                s, c = math.sin(position), math.cos(position)
            v = 1.0 - c
            move = (
                c + v * x * x, v * x * y - s * z, v * x * z + s * y,
                v * x * y + s * z, c + v * y * y, v * y * z - s * x,
                v * x * z - s * y, v * y * z + s * x, c + v * z * z,
            )  # fmt: skip
            for i in range(3):
                for k in range(3):
                    here[3 * i + k] = (
                        still[n, i, 0] * move[k]
                        + still[n, i, 1] * move[3 + k]
                        + still[n, i, 2] * move[6 + k]
                    )
            if upward[n]:
                here[1], here[3] = here[3], here[1]
                here[2], here[6] = here[6], here[2]
                here[5], here[7] = here[7], here[5]
                x, y, z = at[0], at[1], at[2]
                for i in range(3):
                    at[i] = -(here[3 * i] * x + here[3 * i + 1] * y + here[3 * i + 2] * z)
            for i in range(3):
                a, b, c = turn[3 * i], turn[3 * i + 1], turn[3 * i + 2]
                place[i] += a * at[0] + b * at[1] + c * at[2]
                for k in range(3):
                    turn[3 * i + k] = a * here[k] + b * here[3 + k] + c * here[6 + k]
        for i in range(3):
            for k in range(3):
                out[t, i, k] = turn[3 * i + k]
            out[t, i, 3] = place[i]
            out[t, 3, i] = 0.0
        out[t, 3, 3] = 1.0


@njit(cache=True)
def swung(pose, origin, way, share, slides, half, point, girth, room, each):  # type: ignore[no-untyped-def]
    """How far what hangs on a link moves at most while drives stay near a pose.

    Joints move one after the other, the last first: each carries the points beyond it about
    its axis, at the distance that these have from it, or have come to since.

    Args:
        pose: (T, 4, 4) of the link.
        origin: (T, S, 3), see `chained`.
        way: (T, S, 3)
        share: (S, D)
        slides: (S,)
        half: (T, D) how far each drive may be from the pose [rad or m].
        point: (3,) middle of what hangs on the link, in its frame [m].
        girth: Distance of the farthest of its points from that [m].
        room: (T,), filled: no point moves farther [m].
        each: (T, D), filled: what each drive gives to that [m].
    """
    middle = np.empty(3)
    for t in range(pose.shape[0]):
        for i in range(3):
            middle[i] = pose[t, i, 3]
            for k in range(3):
                middle[i] += pose[t, i, k] * point[k]
        for d in range(half.shape[1]):
            each[t, d] = 0.0
        beyond = 0.0
        for n in range(share.shape[0] - 1, -1, -1):
            most = 0.0
            for d in range(half.shape[1]):
                most += half[t, d] * abs(share[n, d])
            if most == 0.0:
                continue
            arm = 1.0
            if not slides[n]:
                x, y, z = way[t, n, 0], way[t, n, 1], way[t, n, 2]
                u = middle[0] - origin[t, n, 0]
                v = middle[1] - origin[t, n, 1]
                w = middle[2] - origin[t, n, 2]
                a, b, c = v * z - w * y, w * x - u * z, u * y - v * x
                arm = math.sqrt(a * a + b * b + c * c) + girth + beyond
                most = min(most, 2.0)
            for d in range(half.shape[1]):
                each[t, d] += half[t, d] * abs(share[n, d]) * arm
            beyond += arm * most
        room[t] = beyond
