"""Round dimensions: which layout on a grid loses least, and what each rounding costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf
from pathlib import Path

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.build_tables import build_of
from legwright.fabrication.dimensions import Free, free_dimensions, gridded
from legwright.fabrication.grids import Grid
from legwright.fabrication.layout import ANGLE, X, Y, layout_of
from legwright.fabrication.layout_arrays import (
    CLEARANCE,
    GAP,
    HEAT,
    LOSS,
    MARGIN,
    REACH,
    SCORES,
    SPEED,
    TORQUE,
    Aim,
    Build,
)
from legwright.fabrication.layout_twins import places_of
from legwright.fabrication.round_folder import write_round
from legwright.fabrication.rounding import MOST, Progress, Shortlist, Task, scored, search
from legwright.locomotion.stance import Footing, footing
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only
from legwright.study.asked import Asked, asked_of
from legwright.study.on_grid import grids_of, pins_of
from legwright.study.rounding_cases import Cases, Inertia, cases_of, inertia_of, lift_of

CRITERIA = ("margin", "reach", "speed", "torque", "heat", "clearance")
"""What layouts are scored by, as the sheet names the weights."""
SENSES = (1.0, 1.0, 1.0, -1.0, -1.0, 1.0, 1.0)
BROKEN = 10.0
"""Added to the loss for each demand of the sheet that today's layout meets and another does not."""
LEAST = 5e-3
"""A margin, reserve or gap is compared with no less than this [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is looked for: the sheet's [rounding], overruled by what the user asks."""

    grid: str | None = None
    angle: str | None = None
    spread: int | None = None
    pins: Mapping[str, float | None] | None = None
    """Dimension -> value to hold [m or rad], None for today's; added to the sheet's."""
    top: int = 10
    most: int = MOST


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Candidate:
    """One layout."""

    values: Floats
    """(D,): of the free dimensions [m or rad]."""
    legs: Floats
    """(L, 7): the layout, columns as `fabrication.layout.KINDS`."""
    scores: Floats
    """(SCORES,): see `fabrication.layout_arrays.score`."""
    loss: float
    nearness: float
    """Part of the loss that is distance from today's layout."""
    broken: tuple[str, ...]
    """Demands of the sheet that today's layout meets and this does not."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Price:
    """What rounding one dimension alone costs."""

    key: str
    before: float
    after: float
    scores: Floats
    """(SCORES,) with this dimension alone rounded."""
    loss: float
    """Without the distance from today's."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Rounding:
    """A finished search."""

    robot: Robot
    stand: Footing
    asked: Asked
    cases: Cases
    free: Free
    task: Task
    today: Candidate
    shortlist: tuple[Candidate, ...]
    prices: tuple[Price, ...]
    """Of the best candidate, one for each dimension that changes."""
    found: Shortlist
    grids: Mapping[str, Grid]
    inertia: Inertia
    """What the scores of torque and heat leave out today."""
    notes: tuple[str, ...]


def rounding_of(
    robot: Robot, wish: Wish | None = None, progress: Progress | None = None
) -> Rounding:
    """Find round layouts of a robot.

    Args:
        robot: The robot; legs of three joints in closed form, left and right mirrored.
        wish: What overrules the sheet's [rounding].
        progress: Told what is done.

    Returns:
        The shortlist and what each rounding costs.

    Raises:
        RequestError: where robot or request do not allow it.
    """
    wish = wish or Wish()
    tell = progress or (lambda what, done, total: None)
    stand = footing(robot)
    asked = asked_of(robot, stand)
    if not asked.gaits:
        raise RequestError(
            "robot", robot.name, "one that can walk: of its gaits none fits its legs"
        )
    layout = layout_of(robot, stand.q)
    grids = grids_of(robot, grid=wish.grid, angle=wish.angle)
    pins, notes = pins_of(robot, wish.pins or {})
    plain = free_dimensions(layout)
    spread = robot.sheet.rounding.spread if wish.spread is None else wish.spread
    free = gridded(plain, grids, spread=spread, pins=pins)
    tell("gaits", 0, 1)
    cases = cases_of(robot, asked, stand)
    cases, now, said, build = _today(robot, asked, stand, cases, plain)
    notes += said
    if now[GAP] <= -10.0:
        raise RequestError(
            "robot", robot.name, "one whose feet reach their paths today; legwright check says "
            "which does not",
        )  # fmt: skip
    inertia = inertia_of(robot, asked, cases, build.peak, build.held)
    aim = _aim(robot, asked, cases, now, inertia)
    task = _task(robot, asked, stand, cases, free, aim)
    found = search(task, top=wish.top, most=wish.most, progress=progress)
    shortlist = tuple(
        _candidate(free, task, pick, row)
        for pick, row in zip(found.picks, found.scores, strict=True)
    )
    today = Candidate(
        values=read_only(plain.today()), legs=layout.values, scores=read_only(now[:SCORES]),
        loss=0.0, nearness=0.0, broken=(),
    )  # fmt: skip
    prices = _prices(robot, asked, stand, cases, free, aim, shortlist[0]) if shortlist else ()
    return Rounding(
        robot=robot, stand=stand, asked=asked, cases=cases, free=free, task=task, today=today,
        shortlist=shortlist, prices=prices, found=found, grids=grids, inertia=inertia,
        notes=notes,
    )  # fmt: skip


def _today(
    robot: Robot, asked: Asked, stand: Footing, cases: Cases, free: Free
) -> tuple[Cases, Floats, tuple[str, ...], Build]:
    """Today's scores; a limit that stops even the smallest step does not stop the top speed."""
    task = _task(robot, asked, stand, cases, free, None)
    pick = np.zeros((1, len(free.dimensions)), dtype=np.int64)
    said: tuple[str, ...] = ()
    now = scored(task, pick, threads=1)[0]
    free_of = (
        (cases.dash._replace(heat=inf), "heat"),
        (cases.dash._replace(heat=inf, margin=-inf), "heat and stability margin"),
        (cases.dash._replace(heat=inf, margin=-inf, gap=0.0), "heat, margin and joint reserve"),
    )
    for dash, what in free_of:
        if now[SPEED] > 0.0 or now[GAP] <= -10.0:
            break
        cases = replace(cases, dash=dash)
        now = scored(replace(task, dash=dash), pick, threads=1)[0]
        said = (f"Top speed is worked out without {what}, which today stop it at any speed.",)
    return cases, now, said, task.build


def _task(
    robot: Robot, asked: Asked, stand: Footing, cases: Cases, free: Free, aim: Aim | None
) -> Task:
    counts = tuple(len(each.values) for each in free.dimensions)
    values = np.zeros((len(counts), max(counts)))
    near = np.full(values.shape, inf)
    weight = robot.sheet.rounding.weights.nearness / len(counts)
    for d, each in enumerate(free.dimensions):
        row = np.array(each.values)
        values[d] = row[-1]
        values[d, : len(row)] = row
        near[d, : len(row)] = 0.0 if each.pinned else weight * np.abs(row - each.today) / each.unit
    build = build_of(
        robot, free, feet=stand.feet, q=stand.q, height=stand.height, payload=asked.payload,
        voltage=asked.voltage, ambient=asked.ambient,
        reserve=robot.sheet.requirements.torque_reserve, winding=cases.winding,
    )  # fmt: skip
    own = aim or _no_aim()
    return Task(
        build=build, walks=cases.tables,
        places=places_of(build, cases.tables, values, counts), dash=cases.dash,
        aim=own._replace(near=near), values=values, counts=counts,
    )  # fmt: skip


def _no_aim() -> Aim:
    senses = np.array(SENSES)
    return Aim(
        today=np.zeros(SCORES), sense=senses, scale=np.ones(SCORES), weight=np.zeros(SCORES),
        need=-inf * senses, fine=0.0, near=np.zeros((1, 1)),
    )  # fmt: skip


def _aim(robot: Robot, asked: Asked, cases: Cases, now: Floats, inertia: Inertia) -> Aim:
    """Losses as shares of today's figures; demands that are met today must stay met."""
    weights = robot.sheet.rounding.weights
    senses, today = np.array(SENSES), now[:SCORES].copy()
    least = np.array([LEAST, LEAST, 1e-3, 1e-2, 1e-2, LEAST, 1e-2])
    need = demands(robot, asked, cases, inertia)
    met = senses * (today - need) >= -1e-12
    return Aim(
        today=today,
        sense=senses,
        scale=np.maximum(np.abs(today), least),
        weight=np.array([*(getattr(weights, name) for name in CRITERIA), 0.0]),
        need=np.where(met, need, -inf * senses),
        fine=BROKEN,
        near=np.zeros((1, 1)),
    )


def demands(robot: Robot, asked: Asked, cases: Cases, inertia: Inertia) -> Floats:
    """What the sheet asks of each score, (SCORES,); -inf or inf where nothing.

    Torque and heat leave the room that motion takes today.
    """
    wants = robot.sheet.requirements
    speeds = asked.speeds[cases.dash_gait]
    need = -inf * np.array(SENSES)
    need[MARGIN] = wants.stability_margin or 0.0
    need[REACH] = wants.reach_reserve or 0.0
    need[SPEED] = speeds.forward if speeds.forward_asked else -inf
    if all(servo is not None for servo in robot.servos.values()):
        need[TORQUE] = 1.0 / (1.0 + max(inertia.torque, 0.0))
        need[HEAT] = 1.0 / (1.0 + max(inertia.heat, 0.0))
    need[CLEARANCE] = wants.link_clearance or 0.0
    need[GAP] = wants.joint_reserve
    return need


def _candidate(free: Free, task: Task, pick: np.ndarray, row: Floats) -> Candidate:
    values = np.array([task.values[d, at] for d, at in enumerate(pick)])
    near = float(sum(task.aim.near[d, at] for d, at in enumerate(pick)))
    return Candidate(
        values=read_only(values), legs=read_only(free.legs(values)),
        scores=read_only(row[:SCORES]), loss=float(row[LOSS]), nearness=near,
        broken=broken_by(task.aim, row),
    )  # fmt: skip


def broken_by(aim: Aim, row: Floats) -> tuple[str, ...]:
    """Names of the demands that a row of scores does not meet."""
    names = (*CRITERIA, "joint reserve")
    return tuple(
        name for k, name in enumerate(names) if aim.sense[k] * (row[k] - aim.need[k]) < 0.0
    )


def _prices(
    robot: Robot, asked: Asked, stand: Footing, cases: Cases, free: Free, aim: Aim, best: Candidate
) -> tuple[Price, ...]:
    """Each changed dimension alone, all others as today."""
    two = replace(
        free,
        dimensions=tuple(
            replace(each, values=(each.today, float(value)))
            for each, value in zip(free.dimensions, best.values, strict=True)
        ),
    )
    task = _task(robot, asked, stand, cases, two, aim)
    changed = [
        d for d, each in enumerate(two.dimensions) if abs(each.values[1] - each.today) > 1e-9
    ]
    picks = np.zeros((len(changed), len(two.dimensions)), dtype=np.int64)
    for row, d in enumerate(changed):
        picks[row, d] = 1
    rows = scored(task, picks)
    return tuple(
        Price(
            key=two.dimensions[d].key,
            before=two.dimensions[d].today,
            after=two.dimensions[d].values[1],
            scores=read_only(row[:SCORES]),
            loss=float(row[LOSS] - task.aim.near[d, 1]),
        )
        for d, row in zip(changed, rows, strict=True)
    )


def by_key(rounding: Rounding, values: Sequence[float] | Floats) -> dict[str, float]:
    """Values by the dimensions' names."""
    return {
        each.key: float(value) for each, value in zip(rounding.free.dimensions, values, strict=True)
    }


def written(rounding: Rounding, best: Candidate, folder: Path) -> Robot:
    """Write a candidate as a new robot folder and read it again.

    Args:
        rounding: The search.
        best: One of its candidates.
        folder: Folder to make.

    Returns:
        The new robot.

    Raises:
        RobotError: if the folder holds a robot already or cannot be written.
    """
    return write_round(
        folder, rounding.robot, best.legs, today=rounding.free.layout.values,
        feet=feet_of(rounding, best), height=rounding.stand.height,
        lift=lift_of(rounding.robot, rounding.stand),
    )  # fmt: skip


def feet_of(rounding: Rounding, one: Candidate) -> dict[str, Floats]:
    """Where a candidate's feet stand in the body frame: leg -> (3,) [m]."""
    foot, feet = rounding.task.build.foot, {}
    for index, name in enumerate(rounding.robot.legs):
        x, y, angle = (
            one.legs[index, X],
            one.legs[index, Y],
            one.legs[index, ANGLE] + foot[index, 1],
        )
        place = foot[index, 2:4]
        if foot[index, 0] >= 0.0:
            place = np.array([x, y]) + foot[index, 0] * np.array([np.cos(angle), np.sin(angle)])
        feet[name] = np.array([*place, -rounding.stand.height])
    return feet
