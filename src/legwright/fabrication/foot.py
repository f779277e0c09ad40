"""The replaceable foot: its contact patch, how fast it wears, and the screw that holds it."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt
from types import MappingProxyType

from legwright.fabrication.screws import THREADS

ENGAGED = MappingProxyType({"steel": 1.0, "aluminium": 1.5, "insert": 1.5, "plastic": 2.0})
"""Engaged length of thread over its diameter; common practice, no published source."""

SMALL = 0.3
"""A patch up to this share of the rounding's radius counts as small, as the model asks; beyond
it the model is a guess. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """Where a ball of soft material rests on hard level ground."""

    radius: float
    """Of the patch [m]."""
    pressure: float
    """Mean [Pa]; the peak is half as much again."""
    sink: float
    """How far the ball flattens [m]."""
    stiffness: float
    """Of the next small push [N/m]."""

    @property
    def peak(self) -> float:
        """Highest pressure, in the middle [Pa]."""
        return 1.5 * self.pressure


def patch(force: float, radius: float, modulus: float, poisson: float) -> Patch:
    """The contact patch of a ball on a rigid plane, without friction.

    Holds for small patches on a thick sole of linear material. Rubber stiffens beyond some
    ten percent of strain, and a sole thinner than the patch is wide rests on what carries it:
    both make the true patch smaller and the pressure higher. Soft ground makes the patch larger.

    Args:
        force: Pressing it down [N].
        radius: Of the ball [m].
        modulus: Elastic [Pa].
        poisson: Lateral contraction.

    Returns:
        The patch.

    Source: Hertz, J. reine angew. Math. 92:156-171, 1882; Johnson, Contact Mechanics (1985),
    sec. 4.2 (from memory).
    """
    plane = modulus / (1.0 - poisson**2)
    wide = (0.75 * force * radius / plane) ** (1.0 / 3.0)
    return Patch(
        radius=wide,
        pressure=force / (pi * wide**2) if wide > 0.0 else 0.0,
        sink=wide**2 / radius,
        stiffness=2.0 * plane * wide,
    )


def cap_volume(depth: float, radius: float) -> float:
    """Volume of a ball worn flat to a depth [m³]."""
    return pi * depth**2 * (3.0 * radius - depth) / 3.0


def wear_distance(worn: float, radius: float, rate: float, load: float, slip: float) -> float:
    """How far a robot walks until a foot is worn flat to a depth.

    Args:
        worn: Depth [m].
        radius: Of the foot's rounding [m].
        rate: Volume worn per load and distance slid [m²/N].
        load: Mean of the foot's load over whole cycles [N].
        slip: Share of the way that it slides under that load.

    Returns:
        Distance walked [m]; inf where nothing wears.

    Source: Archard, J. Appl. Phys. 24:981-988, 1953 (V = k F s). Measured rates scatter tenfold
    with the ground; slip is an assumption.
    """
    per_metre = rate * load * slip
    return cap_volume(worn, radius) / per_metre if per_metre > 0.0 else float("inf")


def stress_area(screw: str) -> float:
    """Stress area of a coarse thread [m²].

    Args:
        screw: ``M3``.

    Raises:
        KeyError: for a thread not in `THREADS`.

    Source: ISO 898-1: the circle between pitch and root diameter, d − 0.9382 P.
    """
    thread = THREADS[screw]
    return 0.25 * pi * (thread.diameter - 0.938194 * thread.pitch) ** 2


def bending_stress(screw: str, force: float, lever: float) -> float:
    """Stress at the edge of a screw's core that a force bends [Pa].

    Args:
        screw: ``M3``.
        force: Across the screw [N].
        lever: From where the screw is held to the force [m].

    Source: 32 M / (π d³) of a round section, d that of the stress area.
    """
    core = sqrt(4.0 * stress_area(screw) / pi)
    return 32.0 * force * lever / (pi * core**3)
