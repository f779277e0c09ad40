"""Numbers as the sheets write them: one resolution with the limit, rounded against the robot."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from functools import lru_cache
from math import floor, isfinite, log10

from legwright.study.finding import Finding, Sense, Verdict

THIN = "\u202f"
"""Narrow no-break space: before units and between groups of three digits."""
MINUS = "−"
UNKNOWN = "not known"


def plain(value: float, decimals: int, *, rounding: str = ROUND_HALF_EVEN) -> str:
    """A number with a fixed count of decimals, grouped by three, with a true minus.

    Args:
        value: The number.
        decimals: Digits after the point.
        rounding: A rounding mode of `decimal`.

    Returns:
        For example ``−12 345.6`` with narrow spaces; ``∞`` where not finite.
    """
    if not isfinite(value):
        return "∞" if value > 0 else (MINUS + "∞" if value < 0 else "?")
    exact = Decimal(repr(float(f"{value:.12g}")))
    rounded = exact.quantize(Decimal(1).scaleb(-decimals), rounding=rounding)
    sign = MINUS if rounded < 0 else ""
    return sign + f"{abs(rounded):,.{decimals}f}".replace(",", THIN)


def with_unit(number: str, unit: str) -> str:
    """A number followed by its unit.

    Args:
        number: As `plain` writes it.
        unit: Empty for a bare number; ``°`` stands close.

    Returns:
        For example ``7.1 N·m`` with a narrow no-break space.
    """
    if not unit:
        return number
    return number + unit if unit in {"°", "′", "″"} else f"{number}{THIN}{unit}"


def significant(value: float, digits: int = 3) -> str:
    """A number to so many significant digits, trailing zeros dropped.

    Args:
        value: The number.
        digits: Significant digits.

    Returns:
        The text.
    """
    return plain(value, decimals_of(value, digits))


def decimals_of(value: float, digits: int = 3) -> int:
    """The fewest decimals that show a number to so many significant digits.

    Args:
        value: The number.
        digits: Significant digits.

    Returns:
        Digits after the point, 0 to 6.
    """
    if value == 0.0 or not isfinite(value):
        return 0
    most = max(0, min(6, digits - 1 - floor(log10(abs(value)))))
    shown = f"{abs(value):.{most}f}"
    return len(shown.rstrip("0").partition(".")[2]) if "." in shown else 0


def resolution(value: float | None, limit: float | None) -> int:
    """Decimals for a value and its limit together.

    The limit's own decimals, one more where the value is within 1 % of it or where rounding
    would shift the value by more than 5 % of the limit.

    Args:
        value: What is so.
        limit: What is allowed.

    Returns:
        Digits after the point.
    """
    if limit is None or not isfinite(limit):
        return 0 if value is None else decimals_of(value, 2)
    if limit == 0.0:
        return 0 if value is None else decimals_of(value, 2)
    decimals = _of_limit(limit)
    if value is None or not isfinite(value):
        return decimals
    near = abs(value - limit) <= 0.01 * abs(limit) and round(value, decimals) != value
    for _ in range(3):
        coarse = abs(round(value, decimals) - value) > 0.05 * abs(limit)
        if not (near or coarse):
            break
        decimals, near = decimals + 1, False
    return min(decimals, 6)


_of_limit = lru_cache(maxsize=512)(decimals_of)
"""Limits stay from check to check."""


def value_text(finding: Finding, *, unit: bool = True) -> str:
    """A finding's value, rounded against the robot, in brackets when assumed.

    Args:
        finding: The finding.
        unit: Whether the unit follows.

    Returns:
        For example ``9 mm``; ``not known`` without a value.
    """
    if finding.value is None:
        return UNKNOWN
    against = ROUND_CEILING if finding.sense is Sense.AT_MOST else ROUND_FLOOR
    decimals = resolution(finding.value, finding.limit)
    number = plain(finding.value, decimals, rounding=against)
    if finding.verdict is not Verdict.FAIL and _reads_outside(finding, number):
        number = plain(finding.value, decimals)
    if finding.assumed:
        number = f"({number})"
    return with_unit(number, finding.unit) if unit else number


def _reads_outside(finding: Finding, number: str) -> bool:
    """Whether a value inside its limit would read as one outside after rounding."""
    if finding.limit is None or finding.margin is None or not isfinite(finding.margin):
        return False
    read = float(number.replace(THIN, "").replace(MINUS, "-"))
    gap = finding.limit - read if finding.sense is Sense.AT_MOST else read - finding.limit
    return gap < 0.0 <= finding.margin + 1e-6 * max(1.0, abs(finding.limit))


def limit_text(finding: Finding) -> str:
    """A finding's limit with its sense.

    Args:
        finding: The finding.

    Returns:
        For example ``≤ 5.6 N·m``; empty without a limit.
    """
    if finding.limit is None:
        return ""
    return _limit_text(finding.limit, finding.unit, finding.sense.value)


@lru_cache(maxsize=512)
def _limit_text(limit: float, unit: str, sense: str) -> str:
    return f"{sense}{THIN}{with_unit(plain(limit, resolution(None, limit)), unit)}"


def margin_text(finding: Finding) -> str:
    """A finding's margin, rounded down.

    Args:
        finding: The finding.

    Returns:
        For example ``−1.5``, without unit; empty when there is none.
    """
    if finding.margin is None:
        return ""
    decimals = resolution(finding.value, finding.limit)
    return plain(finding.margin, decimals, rounding=ROUND_FLOOR)
