"""Kernel: how a coordinate comes from where it is, and moves, to where it is to be."""

from __future__ import annotations

from legwright.kernel import within


@within
def quintic(p, v, a, p1, v1, a1, left, h):  # type: ignore[no-untyped-def]
    """Position, velocity, acceleration after ``h`` of the quintic that ends after ``left``.

    Source: quintic Hermite interpolation, textbook (Craig, Introduction to Robotics, ch. 7).
    """
    if left <= h:
        return p1 + v1 * (h - left), v1, a1
    T = left
    d = p1 - p - v * T - 0.5 * a * T * T
    dv = (v1 - v - a * T) * T
    da = (a1 - a) * T * T
    c3 = 10.0 * d - 4.0 * dv + 0.5 * da
    c4 = -15.0 * d + 7.0 * dv - da
    c5 = 6.0 * d - 3.0 * dv + 0.5 * da
    s = h / T
    s2 = s * s
    s3 = s2 * s
    return (
        p + v * h + 0.5 * a * h * h + s3 * (c3 + s * (c4 + s * c5)),
        v + a * h + s2 * (3.0 * c3 + s * (4.0 * c4 + s * 5.0 * c5)) / T,
        a + s * (6.0 * c3 + s * (12.0 * c4 + s * 20.0 * c5)) / (T * T),
    )
