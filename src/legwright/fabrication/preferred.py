"""Preferred numbers: the series R5 to R80 of ISO 3."""

from __future__ import annotations

from math import floor, log10

from legwright.errors import RequestError

R40 = (
    1.00, 1.06, 1.12, 1.18, 1.25, 1.32, 1.40, 1.50, 1.60, 1.70, 1.80, 1.90, 2.00, 2.12, 2.24,
    2.36, 2.50, 2.65, 2.80, 3.00, 3.15, 3.35, 3.55, 3.75, 4.00, 4.25, 4.50, 4.75, 5.00, 5.30,
    5.60, 6.00, 6.30, 6.70, 7.10, 7.50, 8.00, 8.50, 9.00, 9.50,
)  # fmt: skip
"""The basic series R40; R20, R10 and R5 are every second, fourth and eighth of it.

Source: ISO 3:1973, table 1 (from memory; each lies within 1.3 % of 10^(k/40), which a test
holds)."""

R80 = (
    1.00, 1.03, 1.06, 1.09, 1.12, 1.15, 1.18, 1.22, 1.25, 1.28, 1.32, 1.36, 1.40, 1.45, 1.50,
    1.55, 1.60, 1.65, 1.70, 1.75, 1.80, 1.85, 1.90, 1.95, 2.00, 2.06, 2.12, 2.18, 2.24, 2.30,
    2.36, 2.43, 2.50, 2.58, 2.65, 2.72, 2.80, 2.90, 3.00, 3.07, 3.15, 3.25, 3.35, 3.45, 3.55,
    3.65, 3.75, 3.87, 4.00, 4.12, 4.25, 4.37, 4.50, 4.62, 4.75, 4.87, 5.00, 5.15, 5.30, 5.45,
    5.60, 5.80, 6.00, 6.15, 6.30, 6.50, 6.70, 6.90, 7.10, 7.30, 7.50, 7.75, 8.00, 8.25, 8.50,
    8.75, 9.00, 9.25, 9.50, 9.75,
)  # fmt: skip
"""The exceptional series R80. Source: ISO 3:1973, table 2 (from memory)."""

SERIES: dict[str, tuple[float, ...]] = {
    "R5": R40[::8], "R10": R40[::4], "R20": R40[::2], "R40": R40, "R80": R80,
}  # fmt: skip
"""Name -> the numbers of one decade, from 1."""


def around(series: str, value: float, count: int) -> tuple[float, ...]:
    """Preferred numbers next to a value.

    Args:
        series: ``R5``, ``R10``, ``R20``, ``R40`` or ``R80``.
        value: More than 0, any unit; the answer is in the same.
        count: How many on either side.

    Returns:
        Ascending; one that equals the value stands between the two sides.

    Raises:
        RequestError: for an unknown series or a value that is not above 0.
    """
    if series not in SERIES:
        raise RequestError("series", series, "one of " + ", ".join(SERIES))
    if not value > 0.0:
        raise RequestError("value", value, "more than 0")
    decade = floor(log10(value))
    numbers = [
        float(f"{number * 10.0**k:.6g}")
        for k in range(decade - 2 - count // 5, decade + 3 + count // 5)
        for number in SERIES[series]
    ]
    same = 1e-6 * value
    below = [number for number in numbers if number < value - same][-count:]
    above = [number for number in numbers if number > value + same][:count]
    equal = [number for number in numbers if abs(number - value) <= same]
    return (*below, *equal, *above)
