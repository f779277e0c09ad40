"""Gaits: which foot stands when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from numbers import Integral
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError, did_you_mean, require_number, require_whole
from legwright.robot.tree import Floats

FEWEST_LEGS = 4
"""With three, lifting one leaves no support polygon."""

LIFTED = "walking lifts a leg, and three must stand"

EXCHANGE = 1e-12
"""Share of a cycle that counts as no time at all: far above rounding, far below a sample."""

NAMES = ("tripod", "ripple", "wave")


@dataclass(frozen=True, slots=True, eq=True, kw_only=True)
class Gait:
    """Duty factor and phases of a periodic gait.

    A leg with phase φ touches down at the fraction φ of the cycle, stands for the fraction
    ``duty``, and swings for the rest.
    """

    duty: float
    """Share of the cycle that each foot stands, 0 < duty < 1."""
    phases: Mapping[str | int, float]
    """Leg name, or ordinal in the robot's leg order, -> phase, any number; taken modulo 1."""
    name: str = "own"

    def __post_init__(self) -> None:
        """Refuse what is no gait."""
        require_number("duty", self.duty)
        if not 0.0 < self.duty < 1.0:
            raise RequestError("duty", self.duty, "more than 0 and less than 1")
        if not isinstance(self.phases, Mapping) or not self.phases:
            raise RequestError("phases", self.phases, "a phase for each leg: {name or ordinal: φ}")
        for leg, phase in self.phases.items():
            require_number(f"phase of leg {leg}", phase)
        clean = {_key(leg): float(phase) % 1.0 for leg, phase in self.phases.items()}
        object.__setattr__(self, "phases", MappingProxyType(clean))

    def __hash__(self) -> int:
        return hash((self.duty, self.name, frozenset(self.phases.items())))

    def __reduce__(self) -> tuple[object, ...]:
        return _restored, (self.duty, dict(self.phases), self.name)

    def phases_of(self, legs: Sequence[str]) -> Floats:
        """The phases of a robot's legs.

        Args:
            legs: Leg names in the robot's order.

        Returns:
            (L,) in [0, 1).

        Raises:
            RequestError: when legs and phases do not fit.
        """
        found = []
        for ordinal, leg in enumerate(legs):
            phase = self.phases.get(leg, self.phases.get(ordinal))
            if phase is None:
                raise RequestError("phases", list(self.phases), f"one phase for {leg} too")
            found.append(phase)
        for key in self.phases:
            if not (key in legs or (isinstance(key, int) and 0 <= key < len(legs))):
                raise RequestError(
                    "phases", key, f"a leg of this robot. {did_you_mean(str(key), legs)}"
                )
        return np.array(found)

    def reversed(self) -> Gait:
        """The same gait run backward in time, for walking backward."""
        phases = {leg: -phase - self.duty for leg, phase in self.phases.items()}
        return Gait(duty=self.duty, phases=phases, name=self.name)

    def stance_at(self, legs: Sequence[str], cycle_share: Floats) -> NDArray[np.bool_]:
        """Which feet stand at given fractions of the cycle: (T,) -> (T, L)."""
        return np.asarray(self.local(legs, cycle_share) < self.duty)

    def local(self, legs: Sequence[str], cycle_share: Floats) -> Floats:
        """Fraction of the cycle since each foot's touch-down: (T,) -> (T, L) in [0, 1).

        A foot within `EXCHANGE` of touch-down or lift-off is put on it, so that rounding
        never leaves a foot short or over where one sets down as another lifts.
        """
        local = (np.asarray(cycle_share)[:, None] - self.phases_of(legs)) % 1.0
        local[local > 1.0 - EXCHANGE] = 0.0
        local[local < EXCHANGE] = 0.0
        local[np.abs(local - self.duty) < EXCHANGE] = self.duty
        return np.asarray(local)


def _key(leg: str | int) -> str | int:
    """A leg's name or ordinal, whatever kind of whole number it comes as."""
    return int(leg) if isinstance(leg, Integral) else leg


def _restored(duty: float, phases: dict[str | int, float], name: str) -> Gait:
    return Gait(duty=duty, phases=phases, name=name)


def wave_family(legs: int, duty: float, *, name: str = "") -> Gait:
    """The wave gait of a duty factor: each side's swings run from rear to front.

    Args:
        legs: Number of legs, at least 4; the left side has the odd one.
        duty: Duty factor.
        name: Name of the gait.

    Returns:
        φ(left, row m) = frac(m·duty) from the front, right = left + 1/2.

    Raises:
        RequestError: for fewer than four legs or a duty factor outside (0, 1).

    Source: Song & Waldron, Int. J. Robotics Research 6(2):60-71, 1987 (formula from memory,
        verified by brute force).
    """
    require_whole("legs", legs, FEWEST_LEGS, LIFTED)
    left = (legs + 1) // 2
    phases: dict[str | int, float] = {row: (row * duty) % 1.0 for row in range(left)}
    phases |= {left + row: (row * duty + 0.5) % 1.0 for row in range(legs - left)}
    return Gait(duty=duty, phases=phases, name=name or f"wave family {duty:.3g}")


def star_family(legs: int, duty: float, *, name: str = "") -> Gait:
    """Our gait for an odd number of legs: touch-downs go round the body by every other leg.

    The touch-downs are evenly spaced in time, so the number of feet down never differs by
    more than one from duty·legs, and with half of the feet down or more no half-plane
    through the middle of a round layout is without a foot. The wave family, made for pairs
    of legs, gives neither.

    Args:
        legs: Odd number of legs, at least 5; the left side has the odd one.
        duty: Duty factor.
        name: Name of the gait.

    Returns:
        Phase frac(c (legs + 1) / (2 legs)) for the leg at place c, counted round the body
        from left-front over the rear to right-front.

    Raises:
        RequestError: for an even number of legs, fewer than five, or a wrong duty factor.

    Source: our own definition.
    """
    require_whole("legs", legs, FEWEST_LEGS)
    if legs % 2 == 0:
        raise RequestError("legs", legs, "odd and at least 5")
    left, step = (legs + 1) // 2, (legs + 1) // 2
    place = [*range(left), *range(legs - 1, left - 1, -1)]
    phases: dict[str | int, float] = {leg: (c * step % legs) / legs for leg, c in enumerate(place)}
    return Gait(duty=duty, phases=phases, name=name or f"star family {duty:.3g}")


def gait(name: str, legs: int = 6) -> Gait:
    """A named gait for a number of legs: of the wave family if even, the star family if odd.

    The literature uses these names for several gaits; here they are defined by duty factor:

    - ``tripod``: the fewest feet down that can balance: 1/2, but three feet at least (3/legs);
    - ``wave``: one leg in the air at a time: 1 - 1/legs; four legs pause in between: 11/12;
    - ``ripple``: halfway between the two; for six legs 2/3.

    Args:
        name: One of tripod, ripple, wave.
        legs: Number of legs, at least 4.

    Returns:
        The gait; its phases are keyed by leg ordinal.

    Raises:
        RequestError: for an unknown name or fewer than four legs.
    """
    if name not in NAMES:
        raise RequestError(
            "gait", name, f"one of {', '.join(NAMES)}. {did_you_mean(str(name), NAMES)}"
        )
    require_whole("legs", legs, FEWEST_LEGS, LIFTED)
    least = max(Fraction(1, 2), Fraction(3, legs))
    most = Fraction(11, 12) if legs == FEWEST_LEGS else 1 - Fraction(1, legs)
    duty = {"tripod": least, "ripple": (least + most) / 2, "wave": most}[name]
    family = star_family if legs % 2 else wave_family
    return family(legs, float(duty), name=name)


def longitudinal_margin(legs: int, duty: float, *, stroke: float, pitch: float) -> float:
    """Least longitudinal stability margin of a wave gait with evenly pitched legs.

    Args:
        legs: Even number of legs.
        duty: 3/legs <= duty < 1.
        stroke: R, travel of a foot against the body during stance, 0 < R <= pitch [m].
        pitch: P, distance between neighbouring stroke centres [m].

    Returns:
        S = (n/2 - 1) P + (1 - 3/(4 duty)) R with n legs a side [m].

    Raises:
        RequestError: outside the range in which the formula holds.

    Source: Song & Waldron, Int. J. Robotics Research 6(2):60-71, 1987 (from memory; verified
        by brute force for R <= P).
    """
    if legs % 2 or legs < FEWEST_LEGS:
        raise RequestError("legs", legs, "even and at least 4")
    if not 3.0 / legs <= duty < 1.0:
        raise RequestError("duty", duty, f"from {3.0 / legs:g} to less than 1")
    if not 0.0 < stroke <= pitch:
        raise RequestError("stroke", stroke, f"more than 0 and at most the pitch {pitch:g}")
    return (legs / 4 - 1) * pitch + (1 - 3 / (4 * duty)) * stroke
