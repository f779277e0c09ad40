"""Energy: what a walk costs per metre, and how far it goes."""

from __future__ import annotations

from math import inf, isfinite

from legwright.errors import RequestError

GRAVITY = 9.80665
"""[m/s²]"""


def _positive(what: str, value: float) -> None:
    if not (isfinite(value) and value > 0.0):
        raise RequestError(what, value, "finite and above 0")


def energy_per_metre(power: float, speed: float) -> float:
    """Energy taken per metre walked [J/m].

    Args:
        power: Average, from the battery [W].
        speed: Of the body over ground [m/s]; inf is returned at rest.
    """
    return inf if speed == 0.0 else power / abs(speed)


def cost_of_transport(power: float, mass: float, speed: float) -> float:
    """Energy per weight and distance, without unit.

    Args:
        power: Average, from the battery [W].
        mass: Of all that is moved [kg].
        speed: [m/s]

    Source: Gabrielli and von Kármán, Mechanical Engineering 72 (1950): P / (m g v).
    """
    _positive("mass", mass)
    return energy_per_metre(power, speed) / (mass * GRAVITY)


def distance(run_time: float, speed: float) -> float:
    """Way walked in a run time [m]."""
    return run_time * abs(speed)


def shared_run_time(energy: float, shares: dict[str, tuple[float, float]]) -> float:
    """Run time over a mix of doings, for a battery's usable energy.

    Args:
        energy: Usable [J].
        shares: Name -> (share of the time, average power [W]); shares add up to 1.

    Returns:
        Time [s]; inf where nothing draws.

    Raises:
        RequestError: where the shares do not add up to 1.
    """
    total = sum(share for share, _ in shares.values())
    if abs(total - 1.0) > 1e-9 or any(share < 0.0 for share, _ in shares.values()):
        raise RequestError("shares of time", total, "at least 0 and adding up to 1")
    mean = sum(share * power for share, power in shares.values())
    return inf if mean == 0.0 else energy / mean
