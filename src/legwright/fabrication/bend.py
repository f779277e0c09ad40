"""Bends of sheet metal: allowance, setback, deduction."""

from __future__ import annotations

from math import pi, tan

from legwright.errors import RequestError


def allowance(angle: float, radius: float, thickness: float, k_factor: float) -> float:
    """Length of the neutral fibre through a bend.

    Args:
        angle: Turned, 0 to π [rad].
        radius: Inner radius [m].
        thickness: [m].
        k_factor: Place of the neutral fibre from the inside, over the thickness, 0 to 0.5.

    Returns:
        BA = A (R + K T) [m].

    Raises:
        RequestError: outside those ranges.

    Source: common workshop formula, e.g. Machinery's Handbook, section "Bending sheet metal"
    [from memory]; values of the tests from two published calculators.
    """
    if not 0.0 < angle < pi:
        raise RequestError("bend angle", angle, "between 0 and π")
    if not (radius >= 0.0 and thickness > 0.0 and 0.0 <= k_factor <= 0.5):
        raise RequestError(
            "bend", (radius, thickness, k_factor), "radius >= 0, thickness > 0, 0 <= K <= 0.5"
        )
    return angle * (radius + k_factor * thickness)


def setback(angle: float, radius: float, thickness: float) -> float:
    """Outside setback: from the mould line to the tangent of the bend, tan(A/2) (R + T) [m]."""
    return tan(angle / 2.0) * (radius + thickness)


def deduction(angle: float, radius: float, thickness: float, k_factor: float) -> float:
    """What two outside lengths that meet in a bend are longer than the flat sheet.

    Returns:
        BD = 2 OSSB − BA [m]; arguments and errors as `allowance`.
    """
    return 2.0 * setback(angle, radius, thickness) - allowance(angle, radius, thickness, k_factor)
