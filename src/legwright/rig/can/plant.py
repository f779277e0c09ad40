"""What simulated drives move: plain axes, or the robot in the physics world."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion.signals import Targets
from legwright.mechanics.drive import drives_of
from legwright.rig.world import World
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

LAG = 0.02
"""Time constant of a plain axis [s]."""
FASTEST = 6.0
"""Its highest speed [rad/s]."""
WARM = 298.15
"""Its winding [K]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Moved:
    """What the drives measure; R axes."""

    q: Floats
    """[rad]; nan where the servo is broken."""
    current: Floats
    """[A]"""
    voltage: Floats
    """At each drive [V]."""
    winding: Floats
    """[K]"""
    up: Floats | None = None
    spin: Floats | None = None


class Plant(Protocol):
    """The mechanics behind R drives."""

    def power(self, on: NDArray[np.bool_]) -> None:
        """Which axes hold torque, (R,)."""

    def goal(self, q: Floats, qd: Floats) -> None:
        """Where they are to go by the end of the next period; nan keeps, (R,) [rad]."""

    def advance(self) -> None:
        """One period."""

    def read(self) -> Moved:
        """What is measured now."""


class Plain:
    """Axes that follow their targets with a lag and a speed limit, and carry nothing."""

    def __init__(self, start: Floats, period: float, *, voltage: float = 11.1) -> None:
        """At rest at these positions, limp."""
        self._q = np.array(start, dtype=np.float64)
        self._goal = self._q.copy()
        self._next: Floats = np.full(len(self._q), np.nan)
        self._on = np.zeros(len(self._q), dtype=np.bool_)
        self._period, self._volts = period, voltage
        self._speed = np.zeros(len(self._q))

    def power(self, on: NDArray[np.bool_]) -> None:
        """Which axes hold torque."""
        waking = on & ~self._on
        self._goal[waking] = self._q[waking]
        self._next[~on] = np.nan
        self._on = on.copy()

    def goal(self, q: Floats, qd: Floats) -> None:
        """Where they are to go."""
        del qd
        self._next = np.where(np.isnan(q), self._next, q)

    def advance(self) -> None:
        """One period."""
        step = (1.0 - np.exp(-self._period / LAG)) * (self._goal - self._q)
        most = FASTEST * self._period
        step = np.where(self._on, np.clip(step, -most, most), 0.0)
        self._q += step
        self._speed = step / self._period
        self._goal = np.where(np.isnan(self._next), self._goal, self._next)
        self._next = np.full(len(self._q), np.nan)

    def read(self) -> Moved:
        """What is measured now: a small current that grows with speed."""
        return Moved(
            q=self._q.copy(),
            current=0.05 * self._speed,
            voltage=np.full(len(self._q), self._volts),
            winding=np.full(len(self._q), WARM),
        )

    def place(self, q: Floats) -> None:
        """Turn limp axes by hand."""
        self._q = np.where(self._on, self._q, q)


class Walking:
    """The robot in the physics world; joints of mast and tools are plain axes beside it."""

    def __init__(self, world: World, held: Floats) -> None:
        """Take over a world, limp."""
        self.world = world
        self._legs = len(world.robot.joint_names)
        self._beside = Plain(held, 1.0 / world.rate)
        self._on = np.zeros(self._legs, dtype=np.bool_)
        world.power(False)

    def power(self, on: NDArray[np.bool_]) -> None:
        """Which axes hold torque."""
        legs = on[: self._legs]
        if (legs != self._on).any():
            self.world.energise(legs)
        self._on = legs.copy()
        self._beside.power(on[self._legs :])

    def goal(self, q: Floats, qd: Floats) -> None:
        """Where they are to go."""
        legs = self._legs
        if not np.isnan(q[:legs]).all():
            self.world.apply(Targets(q=q[:legs], qd=qd[:legs]))
        self._beside.goal(q[legs:], qd[legs:])

    def advance(self) -> None:
        """One period of physics."""
        self.world.advance()
        self._beside.advance()

    def read(self) -> Moved:
        """What is measured now."""
        sensed, beside = self.world.sense(), self._beside.read()
        return Moved(
            q=np.append(sensed.q, beside.q),
            current=np.append(sensed.current, beside.current),
            voltage=np.append(self.world.voltages, np.full(len(beside.q), sensed.voltage)),
            winding=np.append(self.world.winding, beside.winding),
            up=sensed.up,
            spin=sensed.spin,
        )


def rated_currents(robot: Robot, names: tuple[str, ...]) -> Floats:
    """Rated currents that simulated drives tell, (R,) [A].

    A third of the winding's stall current, in whole milliamperes: about what these servos bear
    for long (common practice); 1 A for joints without servo data.
    """
    drive = drives_of(robot)
    stall = np.asarray(drive.voltage / drive.resistance)
    known = dict(zip(robot.joint_names, stall.tolist(), strict=True))
    rated = np.array([known.get(name, np.nan) / 3.0 for name in names])
    return np.where(np.isfinite(rated), np.round(rated, 3), 1.0)
