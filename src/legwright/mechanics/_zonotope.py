"""Kernel: the longest sum of vectors, each taken from -1 to 1 times."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within


@within
def _cross(a, b):  # type: ignore[no-untyped-def]
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@within
def _size(a):  # type: ignore[no-untyped-def]
    return math.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])


@kernel
def merged(arms, parallel, kept):  # type: ignore[no-untyped-def]
    """Arms (P, 3) with parallel ones as one and those of no length left out.

    Fills ``kept`` (P, 3) and returns how many there are.
    """
    count = 0
    for p in range(arms.shape[0]):
        size = _size(arms[p])
        if not size > 0.0:
            continue
        joined = False
        for k in range(count):
            if _size(_cross(arms[p], kept[k])) <= parallel * size * _size(kept[k]):
                along = arms[p, 0] * kept[k, 0] + arms[p, 1] * kept[k, 1] + arms[p, 2] * kept[k, 2]
                sign = 1.0 if along > 0.0 else -1.0
                for i in range(3):
                    kept[k, i] += sign * arms[p, i]
                joined = True
                break
        if not joined:
            for i in range(3):
                kept[count, i] = arms[p, i]
            count += 1
    return count


@within
def _length(arms, signs):  # type: ignore[no-untyped-def]
    total = np.zeros(3)
    for k in range(arms.shape[0]):
        for i in range(3):
            total[i] += signs[k] * arms[k, i]
    return _size(total)


@kernel
def longest(arms, parallel):  # type: ignore[no-untyped-def]
    """Largest length over the vertices of the zonotope of arms (K, 3), no two parallel.

    Face by face: the faces have the normals aᵢ × aⱼ; the arms that lie in a face make its
    corners.
    """
    K = arms.shape[0]
    if K == 1:
        return _size(arms[0])
    best = 0.0
    signs, flat = np.empty(K), np.empty(K, dtype=np.int64)
    for one in range(K):
        for other in range(one + 1, K):
            normal = _cross(arms[one], arms[other])
            size = _size(normal)
            nx, ny, nz = normal[0] / size, normal[1] / size, normal[2] / size
            count = 0
            for k in range(K):
                along = nx * arms[k, 0] + ny * arms[k, 1] + nz * arms[k, 2]
                signs[k] = 1.0 if along >= 0.0 else -1.0
                if abs(along) <= parallel * _size(arms[k]):
                    flat[count] = k
                    count += 1
            for f in range(count):
                beside = _cross((nx, ny, nz), arms[flat[f]])
                for way in (1.0, -1.0):
                    for g in range(count):
                        arm = arms[flat[g]]
                        side = way * (beside[0] * arm[0] + beside[1] * arm[1] + beside[2] * arm[2])
                        signs[flat[g]] = 1.0 if side >= 0.0 else -1.0
                    for last in (1.0, -1.0):
                        signs[flat[f]] = last
                        best = max(best, _length(arms, signs))
    return best
