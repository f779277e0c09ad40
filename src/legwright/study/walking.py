"""Walks in the physics world, felt and blind, and an honest score of each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass, field
from multiprocessing import get_context
from os import cpu_count
from pathlib import Path
from typing import Any

import numpy as np

from legwright.errors import RequestError
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.gait import Gait
from legwright.rig.ground_choice import ground_of
from legwright.rig.recorder import Recorder
from legwright.rig.truth import Truth
from legwright.rig.world import Scatter, World
from legwright.robot.robot import Robot
from legwright.study.touchdowns import Touchdowns, score

SETTLE = 1.5
"""Standing before the walk begins [s]."""
TIPPED = np.radians(40.0)
"""A body tilted farther has fallen [rad]."""
NO_PROGRESS = 40.0
"""A walk that gets nowhere for so long is over [s]."""
ASTRAY = 0.9
"""A walk this far to the side has left its track [m]."""
LOADED = 0.04
"""Share of body weight that makes a foot a loaded one."""
SLIP = 0.01
"""A loaded standing foot that moves farther than this has slipped [m]."""
FRICTION_SPREAD, CONSTANT_SPREAD, DRIFT = 0.3, 0.1, 0.3
"""Half-widths: gear friction and motor constant of single servos; friction's drift."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """What is to be walked."""

    gait: Gait
    ground: str
    speed: float
    """Asked, forward [m/s]."""
    share: float = 0.25
    """Height of the ground over leg length."""
    distance: float = 3.0
    """[m]"""
    rate: float = 200.0
    """Control steps per second [Hz]."""
    friction: float | None = None
    current_noise: float | None = None
    """[A]; the sheet's when None."""

    def __post_init__(self) -> None:
        """Refuse what is no trip."""
        for name in ("speed", "distance", "share"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0.0):
                raise RequestError(name, value, "finite and more than 0")


@dataclass(slots=True, eq=False)
class _Log:
    """Rows kept of a run."""

    force: list[Any] = field(default_factory=list)
    stance: list[Any] = field(default_factory=list)
    feet: list[Any] = field(default_factory=list)
    least_margin: float = np.inf
    peak: float = 0.0
    tilt: float = 0.0
    hottest: float = 0.0
    lowest: float = np.inf
    belly: int = 0


def walk_once(
    robot: Robot, trip: Trip, *, seed: int, felt: bool, record: Path | None = None
) -> dict[str, Any]:
    """Walk one trip.

    Args:
        robot: The robot.
        trip: What to walk.
        seed: Of ground, noise and scatter.
        felt: Whether the feet feel the ground.
        record: File for an MCAP recording, or None.

    Returns:
        The trial's row, SI units; see docs/rooms/locomotion-control.md.
    """
    ground = ground_of(
        robot, trip.ground, seed=seed, share=trip.share, length=trip.distance + 1.0,
        friction=trip.friction,
    )  # fmt: skip
    world = World(
        robot, ground, seed=seed, rate=trip.rate, current_noise=trip.current_noise,
        scatter=Scatter(friction=FRICTION_SPREAD, torque_constant=CONSTANT_SPREAD),
    )  # fmt: skip
    controller = Controller(robot, rate=trip.rate, feel=felt, gait=trip.gait)
    about = f"{ground.name}: {ground.about}"
    log = _Log()
    made = (
        Recorder(record, robot, rate=trip.rate, seed=seed, ground=about, notes=world.notes)
        if record
        else nullcontext()
    )
    with made as recorder:
        outcome = _run(world, controller, trip, seed, log, recorder)
    return _row(world, controller, trip, log, outcome, seed, felt)


def _run(
    world: World, controller: Controller, trip: Trip, seed: int, log: _Log, recorder: Any
) -> dict[str, Any]:
    """Step until the end is reached, the robot falls, or nothing moves on."""
    dt = 1.0 / trip.rate
    walk = Command(kind=Kind.WALK, velocity=(trip.speed, 0.0), gait=trip.gait)
    stand = Command(kind=Kind.STAND)
    drift = 1.0 + DRIFT * np.random.default_rng(seed + 1000).uniform(
        -1.0, 1.0, len(world.robot.joint_names)
    )
    best, best_at, fell, finished = 0.0, 0.0, False, False
    begin: dict[str, Any] = {}
    limit = SETTLE + 60.0 + 6.0 * trip.distance / trip.speed
    while world.time < limit:
        time = world.time
        sensed = world.sense()
        targets, events = controller.step(sensed, walk if time >= SETTLE else stand, dt)
        world.apply(targets)
        world.advance()
        truth = world.truth()
        if recorder is not None:
            _record(recorder, controller, trip, time, sensed, targets, truth, events)
        if time < SETTLE:
            continue
        if not begin:
            begin = {"truth": truth, "place": controller.place}
            world.drift_friction(drift)
        _note(log, controller, truth)
        gone = float(truth.body[0] - begin["truth"].body[0])
        if gone > best + 0.02:
            best, best_at = gone, time
        finished = gone >= trip.distance
        fell = _tilt(truth) > TIPPED
        astray = abs(float(truth.body[1])) > ASTRAY
        if finished or fell or astray or time - max(best_at, SETTLE) > NO_PROGRESS:
            break
    return {**begin, "end": truth, "finished": finished, "fell": fell}


def _record(
    recorder: Any, controller: Controller, trip: Trip, time: float, sensed: Any, targets: Any,
    truth: Truth, events: Sequence[Any],
) -> None:  # fmt: skip
    recorder.sensed(time, sensed)
    recorder.targets(time, targets)
    recorder.truth(truth)
    recorder.put(
        "/felt",
        time,
        {
            "contact": controller.contact,
            "force": controller.felt.force,
            "margin": controller.margin,
        },
    )
    recorder.put(
        "/command", time, {"velocity": [trip.speed, 0.0], "turn": 0.0, "gait": trip.gait.name}
    )
    for event in events:
        recorder.event(time, event)


def _tilt(truth: Truth) -> float:
    """Of the body's z axis against the vertical [rad]."""
    x, y = truth.body[4], truth.body[5]
    return float(2.0 * np.arcsin(min(1.0, np.hypot(x, y))))


def _note(log: _Log, controller: Controller, truth: Truth) -> None:
    log.force.append(truth.force[:, 2].copy())
    log.stance.append(controller.contact)
    log.feet.append(truth.feet[:, :2].copy())
    log.least_margin = min(log.least_margin, controller.margin)
    log.peak = max(log.peak, float(truth.peak.max()))
    log.tilt = max(log.tilt, _tilt(truth))
    log.hottest = max(log.hottest, float(truth.winding.max()))
    log.lowest = min(log.lowest, float(truth.voltage.min()))
    log.belly += truth.others > 0.5


def _row(
    world: World, controller: Controller, trip: Trip, log: _Log, outcome: dict[str, Any],
    seed: int, felt: bool,
) -> dict[str, Any]:  # fmt: skip
    start, end = outcome["truth"], outcome["end"]
    weight, rate = controller.able.weight, trip.rate
    force, stance = np.array(log.force), np.array(log.stance)
    distance = float(end.body[0] - start.body[0])
    seconds = len(force) / rate
    told = controller.place[:2] - outcome["place"][:2]
    metres = max(distance, 1e-3)
    marks = score(force, stance, rate=rate, weight=weight)
    return {
        "seed": seed,
        "mode": "felt" if felt else "blind",
        "finished": bool(outcome["finished"]),
        "fell": bool(outcome["fell"]),
        "distance": distance,
        "path_error": float(abs(end.body[1] - start.body[1])),
        "speed": distance / seconds,
        **_felt(marks, felt),
        "min_margin": float(log.least_margin),
        "energy_per_metre": float((end.energy - start.energy) / metres),
        "hottest": log.hottest,
        "lowest_voltage": log.lowest,
        "asked_speed": trip.speed,
        "odometry_error": float((np.hypot(*told) - distance) / metres),
        "slips_per_metre": _slips(np.array(log.feet), force, stance, weight) / metres,
        "peak_force": log.peak / weight,
        "worst_tilt": log.tilt,
        "unsupported": float(((force > LOADED * weight).sum(axis=1) < 3).mean()),
        "belly_contact": log.belly / len(force),
        "steps": int((stance[1:] & ~stance[:-1]).sum()),
        "notes": list(world.notes),
    }


def _felt(marks: Touchdowns, felt: bool) -> dict[str, float | None]:
    """Contact scores; null for a blind walk, whose feet are declared by the clock."""
    names = (
        "hit_rate", "false_per_100_steps", "delay_median", "delay_p95", "force_at_detection",
        "force_at_detection_p95",
    )  # fmt: skip
    if not felt or not len(marks.delays):
        return dict.fromkeys(names)
    values = (
        marks.hit_rate,
        marks.false_per_100_steps,
        *np.percentile(marks.delays, (50, 95)),
        *np.percentile(marks.forces, (50, 95)),
    )
    return {name: float(value) for name, value in zip(names, values, strict=True)}


def _slips(feet: Any, force: Any, stance: Any, weight: float) -> int:
    """Stances in which the loaded foot moved over the ground by more than `SLIP`."""
    count = 0
    for leg in range(force.shape[1]):
        firm = stance[:, leg] & (force[:, leg] > 2.0 * LOADED * weight)
        moved = np.zeros(len(firm))
        moved[1:] = np.linalg.norm(np.diff(feet[:, leg], axis=0), axis=1)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], stance[:, leg], [False]])))
        for start, stop in zip(edges[::2], edges[1::2], strict=True):
            count += moved[start:stop][firm[start:stop]].sum() > SLIP
    return int(count)


def trials(
    robot: Robot, trip: Trip, *, seed: int, count: int, blind: bool = True, path: Path,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> list[dict[str, Any]]:  # fmt: skip
    """Walk many seeds, felt and blind, on all cores.

    Args:
        robot: The robot.
        trip: What to walk.
        seed: The first seed.
        count: How many.
        blind: Whether to walk each seed blind too.
        path: Where the robot was read from; other processes read it again.
        progress: Told how many walks are done, of how many.

    Returns:
        One row per walk, by seed, felt before blind.
    """
    if count < 1:
        raise RequestError("trials", count, "1 or more")
    modes = (True, False) if blind else (True,)
    jobs = [(seed + k, felt) for k in range(count) for felt in modes]
    return list(_rows(robot, trip, jobs, path, progress))


def _rows(
    robot: Robot, trip: Trip, jobs: Sequence[tuple[int, bool]], path: Path,
    progress: Callable[[int, int], None],
) -> Iterator[dict[str, Any]]:  # fmt: skip
    cores = min(cpu_count() or 1, len(jobs))
    if cores == 1:
        for done, (seed, felt) in enumerate(jobs):
            yield walk_once(robot, trip, seed=seed, felt=felt)
            progress(done + 1, len(jobs))
        return
    with ProcessPoolExecutor(cores, mp_context=get_context("spawn")) as pool:
        waiting = [pool.submit(_job, path, trip, seed, felt) for seed, felt in jobs]
        for done, future in enumerate(waiting):
            yield future.result()
            progress(done + 1, len(jobs))


def _job(path: Path, trip: Trip, seed: int, felt: bool) -> dict[str, Any]:
    import legwright

    return walk_once(legwright.load(path), trip, seed=seed, felt=felt)
