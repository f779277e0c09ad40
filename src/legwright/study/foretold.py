"""What was planned against what the physics world shows: torque, current, battery, way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from legwright.electrics.circuit import circuit_of
from legwright.electrics.supply import supply
from legwright.locomotion.plan import plan
from legwright.locomotion.walk import Walk
from legwright.mechanics.drive import Drive, drives_of
from legwright.mechanics.heat import winding_heat
from legwright.mechanics.loading import Loads
from legwright.mechanics.loads import loads
from legwright.mechanics.motion import Motion
from legwright.mechanics.servo_current import winding_current
from legwright.mechanics.strain import strained
from legwright.rig.scene import FOOT_FRICTION
from legwright.rig.stiffness import give_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.followed import at_share, followed
from legwright.study.power import missing_of
from legwright.study.steady import Steady

READINGS = ("plan", "strained plan", "strained targets")
"""`loads` of the plan; the plan with sticking feet on legs that give; the same of the targets
that the controller gave, pressing, waiting and feeling its way included."""

SAMPLES = 256
"""Of the planned cycle."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Likeness:
    """One quantity of J joints, planned and simulated over a cycle."""

    planned: Floats
    """(J,): root mean square."""
    simulated: Floats
    """(J,): root mean square."""
    apart: Floats
    """(J,): root mean square of the difference."""

    @property
    def ratio(self) -> Floats:
        """(J,): planned over simulated."""
        return self.planned / self.simulated


def rms(values: Floats) -> Floats:
    """Root mean square over the samples, (T, J) -> (J,)."""
    return np.asarray(np.sqrt(np.mean(values * values, axis=0)))


def planned_walk(done: Steady) -> Walk:
    """The walk that the controller walked: its gait, cycle, and the speed it believes in."""
    forward = done.reckoned[0] if done.asked[0] else 0.0
    turn = done.reckoned[1] if done.asked[1] else 0.0
    return Walk(done.gait, velocity=(forward, 0.0), turn=turn, cycle=done.cycle)


def alike(planned: Floats, shown: Floats, done: Steady, start: float) -> Likeness:
    """Compare one cycle of a plan with walked cycles.

    Args:
        planned: (SAMPLES, J): over the plan's cycle.
        shown: (T, J): over the walked cycles.
        done: The walk.
        start: Share of the plan's cycle at which the walked ones begin: the first leg's
            lift-off.

    Returns:
        Root mean squares; the plan is repeated for every cycle, stretched to its length.
    """
    spots = [np.arange(n) / n for n in np.diff(done.starts)]
    share = (np.concatenate(spots) + start) % 1.0
    there = at_share(planned, share)
    return Likeness(planned=rms(planned), simulated=rms(shown), apart=rms(there - shown))


def restless(shown: Floats, done: Steady) -> Floats:
    """How far one walked cycle differs from the next, root mean square, (J,).

    No prediction of a cycle can come nearer to all cycles than their own spread.

    Args:
        shown: (T, J): over the walked cycles, two at least.
        done: The walk.
    """
    grid = np.arange(SAMPLES) / SAMPLES
    parts = np.split(shown, done.starts[1:-1])
    cycles = np.array([at_share(part, grid) for part in parts])
    return rms(np.diff(cycles, axis=0).reshape(-1, shown.shape[1]))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Foretold:
    """A plan beside the walk that it foretells."""

    torque: Mapping[str, Likeness]
    """Reading -> [N·m]; see `READINGS`."""
    current: Mapping[str, Likeness]
    """Reading -> in the windings [A]; their squares heat them."""
    lost: Mapping[str, int]
    """Reading -> samples in which no balance was found."""
    restless: Floats
    """(J,): torque of one walked cycle against the next [N·m]."""
    power: Mapping[str, float]
    """Reading -> from the battery [W]; nan where the sheet tells too little."""
    copper: Mapping[str, float]
    """Reading -> heat in windings [W]."""


def foretell(robot: Robot, done: Steady) -> Foretold:
    """Plan the walk that was walked, weigh it, and compare.

    Args:
        robot: The robot.
        done: The walk.

    Returns:
        Torque and current in three readings. Battery power is that of `electrics.supply` for the
        loads of the plan, with a full battery and the other consumers' average power; for the
        other readings what their servos take replaces what the plan's take.
    """
    motion = plan(robot, planned_walk(done), samples=SAMPLES)
    weighed = loads(robot, motion)
    drives, give = drives_of(robot), give_of(robot, winding=done.winding)
    asked = followed(robot, done, SAMPLES)
    grip = robot.sheet.foot.friction or FOOT_FRICTION
    planned, told = (strained(robot, one, give, friction=grip) for one in (motion, asked))
    lift = done.gait.duty + done.phase  # where the walked cycles begin in the plan
    torque = {
        "plan": (weighed.torque, lift),
        "strained plan": (planned.torque, lift),
        "strained targets": (told.torque, 0.0),
    }
    current = {
        "plan": (winding_current(drives, weighed.torque, motion.qd), lift),
        "strained plan": (planned.pull / drives.emf_constant, lift),
        "strained targets": (told.pull / drives.emf_constant, 0.0),
    }
    speeds = dict(zip(READINGS, (motion.qd, motion.qd, asked.qd), strict=True))
    into = {
        name: _into_windings(drives, one, speeds[name], done.winding)
        for name, (one, _) in current.items()
    }
    battery = _power(robot, motion, weighed, done)
    return Foretold(
        torque={name: alike(one, done.torque, done, at) for name, (one, at) in torque.items()},
        current={name: alike(one, done.current, done, at) for name, (one, at) in current.items()},
        lost=dict(zip(READINGS, (0, planned.lost, told.lost), strict=True)),
        restless=restless(done.torque, done),
        power={name: battery + watts - into["plan"] for name, watts in into.items()},
        copper={
            name: float(winding_heat(one, drives.resistance, done.winding).sum(axis=1).mean())
            for name, (one, _) in current.items()
        },
    )


def _into_windings(drives: Drive, current: Floats, speed: Floats, winding: Floats) -> float:
    """Average power into all servos, electronics left out; braking gives nothing back [W]."""
    heat = winding_heat(current, drives.resistance, winding)
    power = np.maximum(heat + drives.emf_constant * speed * current, 0.0)
    return float(power.sum(axis=1).mean())


def _power(robot: Robot, motion: Motion, weighed: Loads, done: Steady) -> float:
    if missing_of(robot):
        return float("nan")
    given = supply(
        robot, circuit_of(robot), motion, weighed, winding=done.winding, charge=1.0, peak=False
    )
    return given.power
