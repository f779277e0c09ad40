"""The crossings that a campaign walks: rows of robot, trip and seeds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from legwright.errors import RequestError, did_you_mean
from legwright.locomotion.gait import gait as gait_named
from legwright.mechanics.opening import load
from legwright.study.outing import outing
from legwright.study.touchdowns import score
from legwright.study.trip import Trip

HEIGHTS = (0.10, 0.15, 0.20, 0.25, 0.40, 0.55, 0.70)
"""Heights of steps tried, over leg length."""

WAYS = {"rook": ("ripple", 0.05), "wren": ("ripple", 0.03), "heron": ("ripple", 0.06)}
"""Gait and asked speed in which each robot of the demo family is scored for contact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One row of a campaign: a trip that is walked with many seeds."""

    part: str
    """Which table it belongs to."""
    name: str
    robot: str
    """Folder of the robot inside the family's folder."""
    gait: str
    trip: dict[str, Any]
    """What `Trip` takes beside the gait."""
    seeds: int
    modes: tuple[str, ...] = ("felt", "blind")


def crossings(part: str, seeds: int, *, distance: float = 3.0) -> tuple[Crossing, ...]:
    """The rows of one part of the campaign.

    Args:
        part: ``grounds``, ``heights`` or ``contact``.
        seeds: Walks of each row and mode.
        distance: Of each walk; the contact rows walk half of it [m].

    Returns:
        The rows.

    Raises:
        RequestError: for an unknown part.
    """
    if part not in PARTS:
        raise RequestError("part", part, f"a known part. {did_you_mean(part, tuple(PARTS))}")
    return tuple(PARTS[part](seeds, distance))


def walk_crossing(family: Path, row: Crossing, seed: int, mode: str) -> dict[str, Any]:
    """Walk one seed of a row.

    Args:
        family: Folder of the robots.
        row: The row.
        seed: The seed.
        mode: ``felt`` or ``blind``.

    Returns:
        The trial's row, with the single touch-downs under ``touchdowns`` so that they can be
        pooled: hits, misses, false alarms, delays [s], forces over body weight.
    """
    robot = load(family / row.robot)
    trip = Trip(gait=gait_named(row.gait, legs=len(robot.legs)), **row.trip)
    done = outing(robot, trip, seed=seed, felt=mode == "felt")
    marks = score(done.log.force, done.log.stance, rate=trip.rate, weight=done.weight)
    return {
        **done.row(),
        "touchdowns": {
            "hits": marks.hits,
            "misses": marks.misses,
            "false": marks.false,
            "delays": [round(float(value), 5) for value in marks.delays],
            "forces": [round(float(value), 5) for value in marks.forces],
        },
    }


def _grounds(seeds: int, distance: float) -> Iterator[Crossing]:
    kinds: dict[str, dict[str, Any]] = {
        "steps 25 %": {"ground": "steps", "share": 0.25},
        "steps 40 %": {"ground": "steps", "share": 0.40},
        "ISO 8608 as steps 25 %": {"ground": "rough", "share": 0.25},
        "ramps 15°": {"ground": "ramps"},
        "steps 25 %, grip 0.4": {"ground": "steps", "share": 0.25, "friction": 0.4},
    }
    for gait, speed in (("ripple", 0.05), ("wave", 0.03)):
        for name, kind in kinds.items():
            yield Crossing(
                part="grounds", name=f"{gait}, {name}", robot="rook", gait=gait, seeds=seeds,
                trip={**kind, "speed": speed, "distance": distance},
            )  # fmt: skip


def _heights(seeds: int, distance: float) -> Iterator[Crossing]:
    for share in HEIGHTS:
        trip = {"ground": "steps", "share": share, "speed": 0.05, "distance": distance}
        yield Crossing(
            part="heights", name=f"ripple, steps {share:.0%}".replace("%", " %"), robot="rook",
            gait="ripple", trip=trip, seeds=seeds,
        )  # fmt: skip


def _contact(seeds: int, distance: float) -> Iterator[Crossing]:
    terms: dict[str, dict[str, Any]] = {
        "200 Hz": {},
        "100 Hz": {"rate": 100.0},
        "200 Hz, 30 mA": {"current_noise": 0.03},
    }
    for robot, (gait, speed) in WAYS.items():
        for ground, words in (("flat", "flat"), ("steps", "steps 25 %")):
            for said, extra in terms.items():
                trip = {"ground": ground, "speed": speed, "distance": 0.5 * distance, **extra}
                yield Crossing(
                    part="contact", name=f"{robot}, {words}, {said}", robot=robot, gait=gait,
                    trip=trip, seeds=seeds, modes=("felt",),
                )  # fmt: skip


PARTS = {"grounds": _grounds, "heights": _heights, "contact": _contact}
"""Part -> its rows."""
