"""Kernels: which points of a moving link come near a convex cover."""

from __future__ import annotations

import numpy as np

from legwright.kernel import kernel


@kernel
def reaching(boxes, poses, planes, within):  # type: ignore[no-untyped-def]
    """Poses in which boxes of a link may come near a convex cover.

    Args:
        boxes: (B, 2, 3) middles and half edges, in the link's frame [m].
        poses: (T, 4, 4) of the link.
        planes: (P, 4) of the cover: outward normals and offsets.
        within: How near [m].

    Returns:
        (T,): false where each box lies farther away than that from one plane of the cover.
    """
    found = np.zeros(poses.shape[0], dtype=np.bool_)
    for t in range(poses.shape[0]):
        for b in range(boxes.shape[0]):
            apart = False
            for i in range(planes.shape[0]):
                out = planes[i, 3]
                for k in range(3):
                    out += planes[i, k] * poses[t, k, 3]
                for j in range(3):
                    along = 0.0
                    for k in range(3):
                        along += planes[i, k] * poses[t, k, j]
                    out += along * boxes[b, 0, j] - abs(along) * boxes[b, 1, j]
                if out >= within:
                    apart = True
                    break
            if not apart:
                found[t] = True
                break
    return found


@kernel
def near_points(points, poses, low, high, planes, within):  # type: ignore[no-untyped-def]
    """Points of a link, moved, that lie less than a distance outside a convex cover.

    Args:
        points: (N, 3) in the link's frame [m].
        poses: (T, 4, 4) of the link.
        low: (3,) corner of the box around the cover [m].
        high: (3,) the other [m].
        planes: (P, 4) of the cover: outward normals and offsets.
        within: How far [m].

    Returns:
        (M, 3), pose by pose [m].
    """
    found, count = np.empty((256, 3)), 0
    p = np.empty(3)
    for t in range(poses.shape[0]):
        for n in range(points.shape[0]):
            near = True
            for k in range(3):
                p[k] = poses[t, k, 3]
                for j in range(3):
                    p[k] += poses[t, k, j] * points[n, j]
                if not (low[k] - p[k] < within and p[k] - high[k] < within):
                    near = False
                    break
            if not near:
                continue
            for i in range(planes.shape[0]):
                out = planes[i, 0] * p[0] + planes[i, 1] * p[1] + planes[i, 2] * p[2] + planes[i, 3]
                if not out < within:
                    near = False
                    break
            if not near:
                continue
            if count == found.shape[0]:
                wider = np.empty((2 * count, 3))
                for i in range(count):
                    for k in range(3):
                        wider[i, k] = found[i, k]
                found = wider
            for k in range(3):
                found[count, k] = p[k]
            count += 1
    return found[:count]
