"""Vectors of three numbers as tuples, for kernels: the compiler keeps them in registers."""

from __future__ import annotations

from numba import njit

from legwright.kernel import within


@njit(cache=True, inline="always")
def row(A, m):  # type: ignore[no-untyped-def]
    """Row ``m`` of an array (M, 3)."""
    return A[m, 0], A[m, 1], A[m, 2]


@within
def plus(a, b):  # type: ignore[no-untyped-def]
    """Sum of two vectors."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


@within
def times(a, s):  # type: ignore[no-untyped-def]
    """A vector made longer by a number."""
    return a[0] * s, a[1] * s, a[2] * s


@within
def dot(a, b):  # type: ignore[no-untyped-def]
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@within
def cross(a, b):  # type: ignore[no-untyped-def]
    """Vector product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@within
def turned(v, a, s, c):  # type: ignore[no-untyped-def]
    """A vector turned about the unit axis ``a``; sine and cosine of the angle (Rodrigues)."""
    along = times(a, dot(a, v) * (1.0 - c))
    return plus(plus(times(v, c), times(cross(a, v), s)), along)
