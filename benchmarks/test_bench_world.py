"""How fast the physics world walks, against bare stepping of the same bodies in the same run.

Run with ``pytest benchmarks/test_bench_world.py -o addopts="" -s``.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import mujoco
import numpy as np
import pytest

import legwright as lw
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.signals import Targets
from legwright.rig import grounds
from legwright.rig._foothold_kernel import lay_plates
from legwright.rig.ground import Ground
from legwright.rig.world import World

SECONDS = 3.0
SETTLE = 1.0
ROUNDS = 4

GROUNDS = [grounds.flat(), grounds.steps(0.02, seed=1)]
Driver = Callable[[World], Callable[[int], Targets]]


def _planned(world: World) -> Callable[[int], Targets]:
    """A planned ripple walk, played back."""
    walk = lw.Walk(lw.gait("ripple", legs=6), velocity=(0.08, 0.0))
    motion = lw.plan(world.robot, walk, samples=256)
    count = round((SECONDS + SETTLE) * world.rate)
    at = np.floor(np.arange(count) / world.rate / motion.cycle * 256).astype(int) % 256
    targets = [Targets(q=motion.q[index], qd=motion.qd[index]) for index in at]
    world.reset(motion.q[0])

    def drive(cycle: int) -> Targets:
        world.sense()
        return targets[cycle]

    return drive


def _controlled(world: World) -> Callable[[int], Targets]:
    """The controller, feeling its feet."""
    controller = Controller(world.robot, rate=world.rate, feel=True)
    orders = Command(kind=Kind.WALK, velocity=(0.06, 0.0))
    world.reset()
    return lambda _: controller.step(world.sense(), orders, 1.0 / world.rate)[0]


def _walk(world: World, driver: Driver) -> float:
    """Processor time of the walk after it has settled [s]."""
    drive = driver(world)
    settled = round(SETTLE * world.rate)
    start = 0.0
    for cycle in range(settled + round(SECONDS * world.rate)):
        if cycle == settled:
            start = time.process_time()
        world.apply(drive(cycle))
        world.advance()
    return time.process_time() - start


def _bare(world: World, driver: Driver) -> float:
    """The same bodies, contacts and joint forces: finding contacts and the engine's step alone."""
    model, data, step = world.model, world._data, world._step
    everything = mujoco.mjtState.mjSTATE_INTEGRATION
    state = np.empty(mujoco.mj_stateSize(model, everything))
    driver(world)
    mujoco.mj_getState(model, data, state, everything)
    forces: list[np.ndarray] = []

    def listen(m: mujoco.MjModel, d: mujoco.MjData) -> None:
        forces.append(d.qfrc_applied.copy())
        step(m, d)

    engine, world._engine = world._engine, (0, 0, 0)  # step by step, so that one can listen
    world._step = listen
    _walk(world, driver)
    world._step, world._engine = step, engine
    end = world.truth().body
    relief = np.ptp(world.ground.heights) > 0.0
    settled = round(SETTLE / world.timestep)

    def replay(whole: bool) -> float:
        mujoco.mj_setState(model, data, state, everything)
        mujoco.mj_kinematics(model, data)
        start = 0.0
        for index, force in enumerate(forces):
            if index == settled:
                start = time.process_time()
            data.qfrc_applied[:] = force
            if whole:
                if relief:
                    lay_plates(*world._plate_view)
                step(model, data)
        return time.process_time() - start

    total = replay(True)
    assert np.array_equal(end, world.truth().body)  # it was the very same walk
    return total - replay(False)


def _compared(world: World, driver: Driver) -> tuple[float, float]:
    """Times real time, and times bare stepping: the least of several by turns."""
    _walk(world, driver)  # compile
    bares, fulls = [], []
    for _ in range(ROUNDS):  # other work on the machine only adds
        bares.append(_bare(world, driver))
        fulls.append(_walk(world, driver))
    return SECONDS / min(fulls), min(fulls) / min(bares)


@pytest.mark.parametrize("ground", GROUNDS, ids=[ground.name for ground in GROUNDS])
def test_bench_walk(benchmark, ground: Ground) -> None:
    """Servos and battery: 12 times faster than real time, at most 1.6 times bare stepping."""
    world = World(lw.load("robots/rook"), ground, seed=1)
    speed, ratio = _compared(world, _planned)
    benchmark.extra_info.update(ratio=ratio, times_real_time=speed)
    print(f"\n{ground.name}: {speed:.1f} x real time, {ratio:.2f} x bare")
    benchmark.pedantic(lambda: _walk(world, _planned), rounds=2)
    assert speed >= 12.0
    assert ratio <= 1.6


@pytest.mark.parametrize("rate", [100.0, 200.0])
def test_bench_walk_with_the_controller(benchmark, rate: float) -> None:
    """The whole loop: 12 times faster than real time, at most 1.6 times bare stepping.

    On a machine left alone: other work empties the caches that a controller needs afresh every
    cycle, and 200 Hz come to 1.7 then.
    """
    world = World(lw.load("robots/rook"), grounds.flat(), seed=1, rate=rate)
    speed, ratio = _compared(world, _controlled)
    benchmark.extra_info.update(ratio=ratio, times_real_time=speed)
    print(f"\ncontroller at {rate:g} Hz: {speed:.1f} x real time, {ratio:.2f} x bare")
    benchmark.pedantic(lambda: _walk(world, _controlled), rounds=2)
    assert speed >= 12.0
    assert ratio <= 1.6
