"""One walk in the physics world, felt or blind: the loop between controller and world."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.signals import Event, Sensed, Targets
from legwright.rig.ground_choice import ground_of
from legwright.rig.recorder import Recorder
from legwright.rig.scatter import Scatter
from legwright.rig.scenery import Watcher
from legwright.rig.truth import Truth
from legwright.rig.world import World
from legwright.robot.robot import Robot
from legwright.study.air_run import air_run
from legwright.study.trip import Trip
from legwright.study.walk_score import TIPPED, WalkLog, row_of, tilt

SETTLE = 1.5
"""Standing before the walk begins [s]."""
NO_PROGRESS = 40.0
"""A walk that gets nowhere for so long is over [s]."""
ASTRAY = 0.9
"""A walk this far to the side has left its track [m]."""
FRICTION_SPREAD, CONSTANT_SPREAD, DRIFT = 0.3, 0.1, 0.3
"""Half-widths: gear friction and motor constant of single servos; friction's drift."""


@dataclass(slots=True, eq=False)
class _Log:
    """Rows kept of a run."""

    rows: list[tuple[Any, ...]] = field(default_factory=list)

    def note(self, controller: Controller, truth: Truth) -> None:
        """Keep one control step."""
        self.rows.append(
            (
                truth.force[:, 2].copy(),
                controller.contact,
                truth.feet[:, :2].copy(),
                truth.body,
                controller.margin,
                np.array(controller.place[:3], dtype=np.float64),
                truth.peak.max(),
                truth.others,
                truth.winding.max(),
                truth.voltage.min(),
                truth.energy,
            )
        )

    def done(self) -> WalkLog:
        """All of it as arrays."""
        names = (
            "force", "stance", "feet", "body", "margin", "place", "peak", "others", "winding",
            "voltage", "energy",
        )  # fmt: skip
        columns = zip(*self.rows, strict=True)
        return WalkLog(**dict(zip(names, map(np.array, columns), strict=True)))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Outing:
    """A walk that was walked."""

    log: WalkLog
    trip: Trip
    seed: int
    felt: bool
    weight: float
    """Of robot and payload [N]."""
    notes: tuple[str, ...]
    """What was assumed."""
    stopped: bool
    """Whether the user interrupted it."""

    def row(self) -> dict[str, Any]:
        """The trial's row, SI units; see docs/json.md."""
        return row_of(
            self.log, rate=self.trip.rate, weight=self.weight, distance=self.trip.distance,
            speed=self.trip.speed, seed=self.seed, felt=self.felt, notes=self.notes,
            stopped=self.stopped,
        )  # fmt: skip


def outing(
    robot: Robot, trip: Trip, *, seed: int, felt: bool, record: Path | None = None,
    progress: Callable[[float], None] = lambda metres: None,
) -> Outing:  # fmt: skip
    """Walk one trip.

    Args:
        robot: The robot.
        trip: What to walk.
        seed: Of ground, noise and scatter.
        felt: Whether the feet feel the ground.
        record: File for an MCAP recording, or None.
        progress: Told how far the robot has come [m], about twice per simulated second.

    Returns:
        What happened.

    Raises:
        KeyboardInterrupt: if the user interrupts before the walk has begun.
    """
    ground = ground_of(
        robot, trip.ground, seed=seed, share=trip.share, length=trip.distance + 1.0,
        friction=trip.friction,
    )  # fmt: skip
    scatter = Scatter(friction=FRICTION_SPREAD, torque_constant=CONSTANT_SPREAD)
    world = World(
        robot, ground, seed=seed, rate=trip.rate, current_noise=trip.current_noise,
        scatter=scatter,
    )  # fmt: skip
    controller = Controller(robot, rate=trip.rate, feel=felt, gait=trip.gait)
    if felt and trip.calibrated:
        found = air_run(
            robot, seed=seed, rate=trip.rate, scatter=scatter, current_noise=trip.current_noise
        )
        controller.felt.calibrate(found)
    log = _Log()
    weight = controller.able.weight
    made = (
        Recorder(
            record, robot, rate=trip.rate, seed=seed, ground=f"{ground.name}: {ground.about}",
            notes=world.notes, weight=weight, mode="felt" if felt else "blind",
            gait=trip.gait.name, speed=trip.speed, distance=trip.distance,
        )
        if record
        else nullcontext()
    )  # fmt: skip
    with made as recorder:
        stopped = _run(world, controller, trip, seed, log, recorder, progress)
    return Outing(
        log=log.done(), trip=trip, seed=seed, felt=felt, weight=weight, notes=world.notes,
        stopped=stopped,
    )  # fmt: skip


def walk_once(
    robot: Robot, trip: Trip, *, seed: int, felt: bool, record: Path | None = None,
    progress: Callable[[float], None] = lambda metres: None,
) -> dict[str, Any]:  # fmt: skip
    """Walk one trip and score it; arguments as for `outing`.

    Returns:
        The trial's row, SI units; see docs/json.md. `stopped` is in it where the user
        interrupted the walk.
    """
    return outing(robot, trip, seed=seed, felt=felt, record=record, progress=progress).row()


def _run(
    world: World, controller: Controller, trip: Trip, seed: int, log: _Log, recorder: Any,
    progress: Callable[[float], None],
) -> bool:  # fmt: skip
    """Step until the end is reached, the robot falls, or nothing moves on; True if stopped."""
    try:
        for _ in _steps(world, controller, trip, seed, log, recorder):
            if len(log.rows) % max(round(0.5 * trip.rate), 1) == 1:
                progress(float(log.rows[-1][3][0] - log.rows[0][3][0]))
    except KeyboardInterrupt:
        if not log.rows:
            raise
        if recorder is not None:
            recorder.event(world.time, Event(what="stopped", text="The user stopped the walk."))
        return True
    return False


def _steps(
    world: World, controller: Controller, trip: Trip, seed: int, log: _Log, recorder: Any
) -> Iterator[None]:
    """One turn per control step."""
    dt = 1.0 / trip.rate
    walk = Command(kind=Kind.WALK, velocity=(trip.speed, 0.0), gait=trip.gait)
    stand = Command(kind=Kind.STAND)
    drift = 1.0 + DRIFT * np.random.default_rng(seed + 1000).uniform(
        -1.0, 1.0, len(world.robot.joint_names)
    )
    writer = None if recorder is None else _Writer(recorder, world)
    best, best_at = 0.0, SETTLE
    limit = SETTLE + 60.0 + 6.0 * trip.distance / trip.speed
    while world.time < limit:
        time = world.time
        command = walk if time >= SETTLE else stand
        sensed = world.sense()
        targets, events = controller.step(sensed, command, dt)
        world.apply(targets)
        world.advance()
        truth = world.truth()
        if writer is not None:
            writer.write(time, command, controller, sensed, targets, truth, events)
        if time < SETTLE:
            continue
        if not log.rows:
            world.drift_friction(drift)
        log.note(controller, truth)
        gone = float(truth.body[0] - log.rows[0][3][0])
        if gone > best + 0.02:
            best, best_at = gone, time
        yield
        astray = abs(float(truth.body[1])) > ASTRAY
        if gone >= trip.distance or tilt(truth.body) > TIPPED or astray:
            return
        if time - best_at > NO_PROGRESS:
            return


class _Writer:
    """Puts each control step on record."""

    def __init__(self, recorder: Recorder, world: World) -> None:
        self._out = recorder
        self._watcher = Watcher(recorder, world.robot, world.ground)
        self._command: Command | None = None

    def write(
        self, time: float, command: Command, controller: Controller, sensed: Sensed,
        targets: Targets, truth: Truth, events: Sequence[Event],
    ) -> None:  # fmt: skip
        """One control step."""
        out = self._out
        if command is not self._command:
            out.command(time, command)
            self._command = command
        out.sensed(time, sensed)
        out.targets(time, targets)
        out.felt(time, controller)
        out.truth(truth)
        self._watcher.watch(truth)
        for event in events:
            out.event(time, event)
