"""Control steps gathered into batches: what the pages see of a walk while it is walked."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion.command import Kind
from legwright.locomotion.controller import Controller
from legwright.rig.recorder import ROUTINE
from legwright.rig.scenery import BESIDE, GRID
from legwright.rig.world import World
from legwright.robot.tree import Floats
from legwright.study.outing import ASTRAY, Step
from legwright.study.touchdowns import ONSET
from legwright.study.walk_score import TIPPED, tilt
from legwright.views.desk.said import Happening
from legwright.views.desk.walk_poses import PERIOD, Pose, in_body
from legwright.views.desk.walk_rows import Readings, layout_of, rows_of
from legwright.views.desk.walk_story import About, Batch, Terrain
from legwright.views.symbols import short_names


class Gather:
    """Takes control steps and gives them back as batches."""

    def __init__(self, world: World, controller: Controller) -> None:
        """Nothing gathered yet; call it before the first step."""
        self._controller = controller
        self.about = about_of(world, controller)
        self._steps: list[Step] = []
        self._felt: list[tuple[Floats, NDArray[np.bool_], float, Floats]] = []
        self._poses: list[Pose] = []
        self._start: tuple[float, float] | None = None
        self.way = 0.0
        """Truly forward since it was told to walk [m]."""
        self.fell = self.astray = False

    def add(self, step: Step) -> None:
        """Take in the step that was just walked."""
        controller, body = self._controller, step.truth.body
        place = np.array(controller.place[:3], dtype=np.float64)
        if self._start is None and step.command.kind is Kind.WALK:
            self._start = float(body[0]), float(place[0])
        self._steps.append(step)
        felt = (controller.felt.force.copy(), controller.contact, controller.margin, place)
        self._felt.append(felt)
        if not self._poses or step.time >= self._poses[-1].time + PERIOD - 1e-6:
            self._poses.append(self._pose())
        if self._start is not None:
            self.way = float(body[0]) - self._start[0]
        self.fell = bool(tilt(body) > TIPPED)
        self.astray = abs(float(body[1])) > ASTRAY

    def take(self) -> Batch | None:
        """What was gathered since the last call; None where that is nothing."""
        if not self._steps:
            return None
        if self._poses[-1].time < self._steps[-1].time:
            self._poses.append(self._pose())
        steps, poses = self._steps, tuple(self._poses)
        truths = [step.truth for step in steps]
        force, contact, margin, place = (np.array(x) for x in zip(*self._felt, strict=True))
        body = np.array([truth.body for truth in truths])
        up = np.array([truth.force for truth in truths])[..., 2]
        readings = Readings(
            force=up,
            felt=force,
            current=np.array([step.sensed.current for step in steps]),
            supply=np.array([step.sensed.voltage for step in steps], dtype=np.float64),
            servo=np.array([truth.voltage for truth in truths]),
            winding=np.array([truth.winding for truth in truths]),
            margin=margin,
            tilt=tilt(body),
            way=self._since(body[:, 0], 0),
            believed=self._since(place[:, 0], 1),
        )
        events = tuple(
            Happening(time=step.time, what=event.what, leg=event.leg or "", text=event.text)
            for step in steps
            for event in step.events
            if event.what not in ROUTINE
        )
        self._steps, self._felt, self._poses = [], [], self._poses[-1:]
        return Batch(
            time=np.array([step.time for step in steps]),
            rows=rows_of(self.about.layout, readings),
            touch=up > ONSET,
            contact=contact,
            events=events,
            poses=poses,
        )

    def _since(self, x: Floats, which: int) -> Floats:
        if self._start is None:
            return np.full(len(x), np.nan)
        way = x - self._start[which]
        standing = [step.command.kind is not Kind.WALK for step in self._steps]
        way[standing] = np.nan
        return np.asarray(way)

    def _pose(self) -> Pose:
        """The step that was added last, as a moment."""
        step, (felt, contact, margin, _) = self._steps[-1], self._felt[-1]
        truth = step.truth
        return Pose(
            time=step.time, q=truth.q, body=truth.body, force=in_body(truth.body, truth.force),
            felt=felt, touch=(truth.force[:, 2] > ONSET).astype(np.float64),
            contact=np.asarray(contact, dtype=np.float64), current=step.sensed.current,
            winding=truth.winding, voltage=truth.voltage, margin=float(margin),
        )  # fmt: skip


def about_of(world: World, controller: Controller) -> About:
    """What a walk in a world is about."""
    robot, ground = world.robot, world.ground
    legs = tuple(robot.legs)
    hips = tuple((float(x), float(y)) for x, y, _ in robot.hips)
    rows, _ = ground.heights.shape
    far = max(ground.start[0] + ground.spacing * (rows - 1), 0.0)
    x = np.arange(-BESIDE, far + BESIDE + 0.5 * GRID, GRID)
    y = np.arange(-BESIDE, BESIDE + 0.5 * GRID, GRID)
    servos = [servo for servo in robot.servos.values() if servo is not None]
    return About(
        layout=layout_of(short_names(legs, list(hips)), len(robot.joint_names)),
        robot=robot.name,
        joints=robot.joint_names,
        hips=hips,
        weight=controller.able.weight,
        wanted_margin=robot.sheet.requirements.stability_margin,
        lowest_voltage=max(
            (s.lowest_voltage for s in servos if s.lowest_voltage is not None), default=None
        ),
        highest_winding=min(
            (s.highest_winding for s in servos if s.highest_winding is not None), default=None
        ),
        truth=True,
        terrain=Terrain(
            heights=np.asarray(ground.height(x[:, None], y[None, :])),
            spacing=GRID,
            start=(float(x[0]), float(y[0])),
        ),
        notes=world.notes,
    )
