"""What a layout is walked through when it is scored: the asked gaits as maps of foot places.

Every foot path of a walk is an affine map of where the foot stands, so one table serves all
layouts. The tables come from the planner's own paths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from legwright.fabrication.layout_arrays import Dash, Walks
from legwright.locomotion._feet import cycle_path
from legwright.locomotion.gait import Gait
from legwright.locomotion.room import LIFT_SHARE
from legwright.locomotion.stance import Footing
from legwright.locomotion.walk import Walk
from legwright.mechanics.loads import loads
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.asked import Asked
from legwright.study.evidence import Case
from legwright.study.trial import COARSE, SWING_TIMES, pace, trial

SAMPLES = 24
"""Samples a cycle: feet of tripod, ripple and wave gaits of six legs change on them exactly."""
DASH_SAMPLES = 12
"""The same for the search of the top speed."""
WAYS = ("forward", "backward", "left", "turning left")
"""Directions that are scored; the others mirror them."""


class Inertia(NamedTuple):
    """What motion adds to today's scores, as a share of them."""

    torque: float
    heat: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cases:
    """The walks that layouts are scored by."""

    names: tuple[str, ...]
    walks: tuple[Walk, ...]
    tables: Walks
    dash: Dash
    dash_gait: str
    winding: Floats
    """(J,): hottest that each winding is today at work [K]."""
    today: tuple[Case, ...]
    """The walks as today's robot walks them, one sample in several."""


def cases_of(robot: Robot, asked: Asked, stand: Footing) -> Cases:
    """The asked walks of a robot at the pace that suits it today.

    Args:
        robot: The robot.
        asked: What is asked.
        stand: Where it stands.

    Returns:
        The cases.
    """
    names, walks = [], []
    for gait in asked.gaits:
        for direction, (walked, twist) in asked.directions(gait).items():
            if direction in WAYS:
                walk = Walk(walked, velocity=twist[:2], turn=twist[2], footing=stand)
                names.append(f"{gait.name} {direction}")
                walks.append(pace(robot, asked, walk, payload=asked.payload))
    today = tuple(
        trial(robot, asked, walk, payload=asked.payload, samples=COARSE) for walk in walks
    )
    lift = lift_of(robot, stand)
    tables = [_table(walk, tuple(robot.legs), lift) for walk in walks]
    turn, shift, rise, stands = (np.stack(parts) for parts in zip(*tables, strict=True))
    fastest = min(asked.gaits, key=lambda gait: gait.duty)
    return Cases(
        names=tuple(names),
        walks=tuple(walks),
        tables=Walks(turn=turn, shift=shift, lift=rise, stands=stands),
        dash=_dash(robot, fastest, stand, lift),
        dash_gait=fastest.name,
        winding=np.asarray(np.max([case.draw.winding for case in today], axis=0)),
        today=today,
    )


def inertia_of(robot: Robot, asked: Asked, cases: Cases, peak: Floats, held: Floats) -> Inertia:
    """What motion adds to the torques of today's walks; scores are those of poses at rest.

    Args:
        robot: The robot.
        asked: What is asked.
        cases: Its walks.
        peak: (L, 3): largest torque of each drive [N·m].
        held: (L, 3): torque that each gives for ever [N·m].

    Returns:
        By how much the largest shares rise, by inverse dynamics of the same poses.
    """
    most = np.zeros((2, 2))
    for case in cases.today:
        motion, nothing = case.motion, np.zeros_like
        rest = replace(
            motion, qd=nothing(motion.qd), qdd=nothing(motion.qdd), twist=nothing(motion.twist),
            acceleration=nothing(motion.acceleration),
        )  # fmt: skip
        still = loads(robot, rest, payload=asked.payload, friction=case.friction)
        for row, torque in enumerate((still.torque, case.loads.torque)):
            each = np.abs(torque).reshape(len(torque), *peak.shape)
            share = (each / peak).max(), (np.sqrt((each**2).mean(axis=0)) / held).max()
            most[row] = np.maximum(most[row], share)
    more = most[1] / np.maximum(most[0], 1e-12) - 1.0
    return Inertia(float(more[0]), float(more[1]))


def lift_of(robot: Robot, stand: Footing) -> float:
    """Height of a swing's top, as the planner takes it [m]."""
    length = float(np.median(np.linalg.norm(stand.feet - robot.hips, axis=1)))
    return robot.sheet.stance.lift or LIFT_SHARE * length


def _path(
    middles: Floats, twist: Floats, gait: Gait, local: Floats, cycle: float, lift: float
) -> tuple[Floats, Floats]:
    """Foot places and their rates, (T, L, 3) each."""
    place, rate, bend = (np.empty((*local.shape, 3)) for _ in range(3))
    timing = (gait.duty, cycle, lift)
    cycle_path(middles, twist, local, timing, np.eye(3), np.zeros(3), place, rate, bend)
    return place, rate


def _table(
    walk: Walk, legs: tuple[str, ...], lift: float
) -> tuple[Floats, Floats, Floats, np.ndarray]:
    twist = np.array([*walk.velocity, walk.turn])
    cycle = walk.cycle or 1.0
    corners = [np.tile(corner, (len(legs), 1)) for corner in np.eye(3)[[2, 0, 1]] * [1, 1, 0]]
    local = walk.gait.local(legs, np.arange(SAMPLES) / SAMPLES)
    found = [_path(corner, twist, walk.gait, local, cycle, lift)[0] for corner in corners]
    shift = found[0][..., :2]
    turn = np.stack([found[1][..., :2] - shift, found[2][..., :2] - shift], axis=-1)
    return turn, shift, found[0][..., 2].copy(), local < walk.gait.duty


def _dash(robot: Robot, gait: Gait, stand: Footing, lift: float) -> Dash:
    """The gait of the top speed for one metre a cycle and one second a cycle."""
    wants, legs = robot.sheet.requirements, tuple(robot.legs)
    local = gait.local(legs, np.arange(DASH_SAMPLES) / DASH_SAMPLES)
    place, rate = _path(np.zeros((len(legs), 3)), np.array([1.0, 0.0, 0.0]), gait, local, 1.0, lift)
    length = float(np.median(np.linalg.norm(stand.feet - robot.hips, axis=1)))
    return Dash(
        along=place[..., 0].copy(),
        lift=place[..., 2].copy(),
        along_rate=rate[..., 0].copy(),
        lift_rate=rate[..., 2].copy(),
        stands=local < gait.duty,
        cycle=float(robot.sheet.stance.cycle or 0.0),
        shortest=SWING_TIMES[0] / (1.0 - gait.duty),
        margin=float(wants.stability_margin or 0.0),
        heat=1.0,
        gap=float(wants.joint_reserve),
        longest=3.0 * length,
    )
