"""One walk in the physics world, felt or blind: the loop between controller and world."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

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


BODY = 4
"""Place of the body's pose in a row of the log."""


@dataclass(slots=True, eq=False)
class _Log:
    """Rows kept of a run."""

    rows: list[tuple[Any, ...]] = field(default_factory=list)
    slowed: tuple[str, float] | None = None

    def note(self, controller: Controller, truth: Truth, slipped: NDArray[np.bool_]) -> None:
        """Keep one control step."""
        self.rows.append(
            (
                truth.force[:, 2].copy(),
                controller.contact,
                slipped,
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
            "force", "stance", "slipped", "feet", "body", "margin", "place", "peak", "others",
            "winding", "voltage", "energy",
        )  # fmt: skip
        columns = zip(*self.rows, strict=True)
        arrays = dict(zip(names, map(np.array, columns), strict=True))
        return WalkLog(**arrays, slowed=self.slowed)


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
    world, controller = set_out(robot, trip, seed=seed, felt=felt)
    log = _Log()
    opened = None if record is None else recorder_for(
        record, world, controller, trip, seed=seed, felt=felt
    )  # fmt: skip
    with opened or nullcontext() as recorder:
        stopped = _run(world, controller, trip, seed, log, recorder, progress)
    return Outing(
        log=log.done(), trip=trip, seed=seed, felt=felt, weight=controller.able.weight,
        notes=world.notes, stopped=stopped,
    )  # fmt: skip


def set_out(robot: Robot, trip: Trip, *, seed: int, felt: bool) -> tuple[World, Controller]:
    """The world of a trip and the controller that will walk it; nothing moves yet.

    Args:
        robot: The robot.
        trip: What to walk.
        seed: Of ground, noise and scatter.
        felt: Whether the feet feel the ground.
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
    return world, controller


def recorder_for(
    path: Path, world: World, controller: Controller, trip: Trip, *, seed: int, felt: bool
) -> Recorder:
    """A recorder for a trip, as docs/recording.md has it.

    Args:
        path: File to write.
        world: As `set_out` made it.
        controller: Likewise.
        trip: What will be walked.
        seed: That of `set_out`.
        felt: Likewise.

    Raises:
        RequestError: if the file cannot be written.
    """
    ground = world.ground
    return Recorder(
        path, world.robot, rate=trip.rate, seed=seed, ground=f"{ground.name}: {ground.about}",
        notes=world.notes, weight=controller.able.weight, mode="felt" if felt else "blind",
        gait=trip.gait.name, speed=trip.speed, distance=trip.distance,
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


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Step:
    """What one control step brought."""

    time: float
    """When it began [s]."""
    command: Command
    sensed: Sensed
    targets: Targets
    events: tuple[Event, ...]
    truth: Truth
    """After it."""


def _run(
    world: World, controller: Controller, trip: Trip, seed: int, log: _Log,
    recorder: Recorder | None, progress: Callable[[float], None],
) -> bool:  # fmt: skip
    """Step until the end is reached, the robot falls, or nothing moves on; True if stopped."""
    legs = tuple(world.robot.legs)
    keeper = None if recorder is None else Keeper(recorder, world, controller)
    try:
        for step in steps(world, controller, trip, seed):
            if keeper is not None:
                keeper.keep(step)
            if step.command.kind is not Kind.WALK:
                continue
            told = {event.leg for event in step.events if event.what == "slipped"}
            for event in step.events:
                if event.what == "slowed":
                    log.slowed = event.limit, event.share
            log.note(controller, step.truth, np.array([name in told for name in legs]))
            if len(log.rows) % max(round(0.5 * trip.rate), 1) == 1:
                progress(float(log.rows[-1][BODY][0] - log.rows[0][BODY][0]))
    except KeyboardInterrupt:
        if not log.rows:
            raise
        if keeper is not None:
            keeper.stopped(world.time)
        return True
    return False


def steps(world: World, controller: Controller, trip: Trip, seed: int) -> Iterator[Step]:
    """Walk a trip, one turn per control step; it ends where the walk does.

    Args:
        world: As `set_out` made it.
        controller: Likewise.
        trip: What to walk.
        seed: That of `set_out`: the drift of the gears' friction hangs on it.
    """
    dt = 1.0 / trip.rate
    walk = Command(kind=Kind.WALK, velocity=(trip.speed, 0.0), gait=trip.gait)
    stand = Command(kind=Kind.STAND)
    drift = 1.0 + DRIFT * np.random.default_rng(seed + 1000).uniform(
        -1.0, 1.0, len(world.robot.joint_names)
    )
    start: float | None = None
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
        if command is walk and start is None:
            world.drift_friction(drift)
            start = float(truth.body[0])
        yield Step(
            time=time, command=command, sensed=sensed, targets=targets, events=tuple(events),
            truth=truth,
        )  # fmt: skip
        if start is None:
            continue
        gone = float(truth.body[0]) - start
        if gone > best + 0.02:
            best, best_at = gone, time
        astray = abs(float(truth.body[1])) > ASTRAY
        if gone >= trip.distance or tilt(truth.body) > TIPPED or astray:
            return
        if time - best_at > NO_PROGRESS:
            return


class Keeper:
    """Puts each control step on record."""

    def __init__(self, recorder: Recorder, world: World, controller: Controller) -> None:
        """Record what is walked on."""
        self._out, self._controller = recorder, controller
        self._watcher = Watcher(recorder, world.robot, world.ground)
        self._command: Command | None = None

    def keep(self, step: Step) -> None:
        """One control step."""
        out = self._out
        if step.command is not self._command:
            out.command(step.time, step.command)
            self._command = step.command
        out.sensed(step.time, step.sensed)
        out.targets(step.time, step.targets)
        out.felt(step.time, self._controller)
        out.truth(step.truth)
        self._watcher.watch(step.truth)
        for event in step.events:
            out.event(step.time, event)

    def stopped(self, time: float) -> None:
        """The user ended it."""
        self._out.event(time, Event(what="stopped", text="The user stopped the walk."))
