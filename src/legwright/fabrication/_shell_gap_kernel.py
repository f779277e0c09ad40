"""Kernel: distance between two surfaces of many triangles that move against each other.

Two trees of boxes are walked together, the larger box first opened (Gottschalk, Lin and Manocha,
SIGGRAPH 1996, sec. 5, from memory); a box of the moving surface counts as the upright box around
it, which is never nearer than the box itself.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from legwright.fabrication._gap_kernel import HULL, LEAF, triangle_gap
from legwright.kernel import within


@within
def _between(low, high, i, low2, high2, j, centre, turn):  # type: ignore[no-untyped-def]
    """No more than the distance of box i of the one tree from box j of the other, placed."""
    if low[i, 0] > high[i, 0] or low2[j, 0] > high2[j, 0]:
        return math.inf
    total = 0.0
    for k in range(3):
        middle, half = centre[k], 0.0
        for m in range(3):
            middle += turn[k, m] * 0.5 * (low2[j, m] + high2[j, m])
            half += abs(turn[k, m]) * 0.5 * (high2[j, m] - low2[j, m])
        gap = max(low[i, k] - middle - half, middle - half - high[i, k])
        if gap > 0.0:
            total += gap * gap
    return math.sqrt(total)


@within
def _size(low, high, i):  # type: ignore[no-untyped-def]
    """Square of a box's diagonal."""
    total = 0.0
    for k in range(3):
        total += (high[i, k] - low[i, k]) ** 2
    return total


@within
def _apart(t, hull):  # type: ignore[no-untyped-def]
    """No more than the distance of two triangles: of the upright boxes around them."""
    total = 0.0
    for k in range(3):
        gap = max(
            min(t[0, k], t[1, k], t[2, k]) - max(hull[0, k], hull[1, k], hull[2, k]),
            min(hull[0, k], hull[1, k], hull[2, k]) - max(t[0, k], t[1, k], t[2, k]),
        )
        if gap > 0.0:
            total += gap * gap
    return math.sqrt(total)


@njit(cache=True, error_model="numpy")
def least_shell_gaps(low, high, corners, low2, high2, corners2, centre, turn, most, each, best, at):  # type: ignore[no-untyped-def]
    """Distances of a moving surface from another.

    Poses ``centre`` (T, 3), ``turn`` (T, 3, 3) of the second in the first one's frame. With
    ``each`` 1, ``best`` (T,) and ``at`` (T, 3) tell of every pose, up to ``most``; with 0,
    ``best`` (1,) and ``at`` (1, 3) tell of the least over all poses: pose and both triangles.
    """
    first, second = low.shape[0] // 2, low2.shape[0] // 2
    stack = np.empty((256, 2), dtype=np.int64)
    size, hull = np.zeros(3), np.empty((3, 3))
    W, P, work = np.empty((4, 3)), np.empty((4, 3)), np.empty(3)
    known = most
    for t in range(centre.shape[0]):
        if each == 1:
            known = most
        slot = t if each == 1 else 0
        stack[0, 0] = stack[0, 1] = 0
        top = 1
        while top:
            top -= 1
            i, j = stack[top]
            if _between(low, high, i, low2, high2, j, centre[t], turn[t]) >= max(known, 1e-12):
                continue
            if i < first or j < second:
                open_first = j >= second or (
                    i < first and _size(low, high, i) >= _size(low2, high2, j)
                )
                if open_first:
                    a, b, c, d = 2 * i + 1, j, 2 * i + 2, j
                else:
                    a, b, c, d = i, 2 * j + 1, i, 2 * j + 2
                one = _between(low, high, a, low2, high2, b, centre[t], turn[t])
                two = _between(low, high, c, low2, high2, d, centre[t], turn[t])
                if one <= two:  # the nearer is looked at next
                    a, b, c, d = c, d, a, b
                stack[top, 0], stack[top, 1] = a, b
                stack[top + 1, 0], stack[top + 1, 1] = c, d
                top += 2
                continue
            begin, begin2 = (i - first) * LEAF, (j - second) * LEAF
            for n in range(begin2, min(begin2 + LEAF, corners2.shape[0])):
                for m in range(3):
                    for k in range(3):
                        hull[m, k] = centre[t, k]
                        for d in range(3):
                            hull[m, k] += turn[t, k, d] * corners2[n, m, d]
                for m in range(begin, min(begin + LEAF, corners.shape[0])):
                    if _apart(corners[m], hull) >= max(known, 1e-12):
                        continue
                    gap, _ = triangle_gap(corners[m], HULL, size, 0.0, hull, known, W, P, work)
                    if gap < known:
                        known = gap
                        best[slot] = max(gap, 0.0)
                        at[slot, 0], at[slot, 1], at[slot, 2] = t, m, n
        if each == 0 and known <= 0.0:
            break
