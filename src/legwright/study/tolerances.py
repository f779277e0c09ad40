"""What the tolerances of a robot do to its feet and its stand, as one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite
from types import MappingProxyType
from typing import Any

import numpy as np

from legwright.errors import RequestError
from legwright.locomotion.stance import Footing
from legwright.mechanics.loads import standing
from legwright.mechanics.tolerance_sources import Sources, sources_of
from legwright.mechanics.tolerance_stack import SAMPLES, FootError, draws_of, foot_error
from legwright.mechanics.tolerance_stand import StandError, stand_error
from legwright.robot.robot import Robot

LEAST_FEET = 3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ToleranceStudy:
    """Foot errors leg by leg, and how the robot stands on them."""

    feet: Mapping[str, FootError]
    """Leg name -> its foot's error at the stance; empty where something is missing."""
    sources: Mapping[str, Sources]
    """Leg name -> what may deviate."""
    stand: StandError | None
    """None where feet are not known, or fewer than three."""
    missing: tuple[str, ...]
    """Keys of the sheet to fill in."""
    notes: tuple[str, ...]

    @property
    def worst_leg(self) -> str:
        """The leg whose foot is least exact; empty where none is known."""
        return max(self.feet, key=lambda name: self.feet[name].built, default="")


@lru_cache(maxsize=4)
def leg_sources(robot: Robot) -> Mapping[str, Sources]:
    """What may deviate in each leg; remembered, since robots are frozen.

    Args:
        robot: The robot.

    Returns:
        Leg name -> its deviations, and what is not stated of them.
    """
    stated = robot.sheet.making.tolerance
    legs = robot.legs.items()
    return MappingProxyType(
        {name: sources_of(leg.chain, stated, robot.servos) for name, leg in legs}
    )


def draw_ahead(robot: Robot) -> None:
    """Draw by chance what built legs are made of, for processes that part from this one.

    Args:
        robot: The robot.
    """
    for number, each in enumerate(leg_sources(robot).values()):
        if not each.missing:
            draws_of(tuple(one.shape for one in each.deviations), SAMPLES, number)


@lru_cache(maxsize=4)
def tolerances_of(robot: Robot, footing: Footing) -> ToleranceStudy:
    """Stack up the tolerances of a robot at its stance.

    Args:
        robot: The robot.
        footing: Where it stands.

    Returns:
        The study; feet and stand empty where the sheet does not say enough.
    """
    sources = leg_sources(robot)
    missing = tuple(dict.fromkeys(key for each in sources.values() for key in each.missing))
    notes = tuple(dict.fromkeys(note for each in sources.values() for note in each.notes))
    if missing:
        return ToleranceStudy(feet={}, sources=sources, stand=None, missing=missing, notes=notes)
    feet, reach = {}, []
    for number, (name, leg) in enumerate(robot.legs.items()):
        q = footing.q[robot.columns[name]]
        found = sources[name].deviations
        feet[name] = foot_error(leg.chain, q, found, samples=SAMPLES, seed=number)
        reach.append(feet[name].rise)
    stand = None
    if len(feet) >= LEAST_FEET:
        offsets = np.stack([error.offsets for error in feet.values()], axis=1)
        com = standing(robot, footing.q).com[0, :2]
        try:
            stand = stand_error(footing.feet, offsets, com, np.array(reach))
        except RequestError as error:
            notes = (*notes, f"How it stands is not known: {error}")
    return ToleranceStudy(feet=feet, sources=sources, stand=stand, missing=(), notes=notes)


def tolerances_as_json(found: ToleranceStudy) -> dict[str, Any]:
    """Tolerances as JSON-ready data, SI units; the shape is described in docs/json.md.

    Args:
        found: The study.
    """
    stand = found.stand
    return {
        "legs": {
            name: {
                "worst_case": error.worst,
                "rss": error.rss.tolist(),
                "sampled": error.sampled.tolist(),
                "built": error.built,
                "shares": dict(error.shares),
            }
            for name, error in found.feet.items()
        },
        "stand": None
        if stand is None
        else {
            "tilt": stand.tilt,
            "height": stand.height,
            "gap": stand.gap,
            "worst_tilt": stand.worst_tilt if isfinite(stand.worst_tilt) else None,
        },
        "deviations": [
            {"name": one.name, "kind": one.kind.value, "limit": one.limit,
             "shape": one.shape.value, "why": one.why}
            for each in list(found.sources.values())[:1]
            for one in each.deviations
        ],
        "missing": list(found.missing),
        "notes": list(found.notes),
    }  # fmt: skip
