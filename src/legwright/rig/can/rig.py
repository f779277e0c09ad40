"""A robot whose joints are CiA 402 drives on CAN buses."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np

from legwright.errors import RequestError, RigError
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.calibration import Calibration, calibration_of
from legwright.rig.can.network import Network
from legwright.rig.can.opening import opened
from legwright.rig.can.wire import Wire
from legwright.rig.port import Drives
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class CanRig:
    """The drives of one robot behind the port."""

    def __init__(
        self,
        robot: Robot,
        wires: Sequence[Wire],
        *,
        rate: float | None = None,
        calibration: Calibration | None = None,
        real: bool = True,
        inertial: Callable[[], Floats | None] = lambda: None,
        spin: Callable[[], Floats | None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
        notes: tuple[str, ...] = (),
    ) -> None:
        """Find the drives, check them and set them up; nothing is switched on.

        Drives that hold already, because the program before was killed, go on holding.

        Args:
            robot: The robot.
            wires: Its open buses; the rig closes them.
            rate: Cycles per second; the sheet's update rate, or 100, when None [Hz].
            calibration: Of the machine; that of the robot's folder when None.
            real: Whether something moves that can hurt.
            inertial: Reads the direction against gravity in the body frame, where a sensor does.
            spin: Reads the turn rates about the body's axes likewise, (3,) [rad/s].
            clock: The steady clock.
            sleep: Waits so many seconds.
            notes: What else is assumed.

        Raises:
            RigError: if a drive is missing, is another than planned, or refuses its set-up.
        """
        bus = robot.sheet.bus
        self.robot, self.real = robot, real
        self.rate = rate or (float(bus.update_rate) if bus is not None else 100.0)
        self._inertial, self._spin = inertial, spin
        known = calibration if calibration is not None else calibration_of(robot)
        self.calibrated = known is not None and not known.missing(robot.joint_names)
        self._open = True
        try:
            found = opened(robot, wires, known, self.rate, clock=clock, sleep=sleep)
        except BaseException:
            for wire in wires:
                wire.close()
            raise
        self.axes, self.scales = found.axes, found.scales
        self.notes = (*notes, *found.notes)
        self._legs = len(robot.joint_names)
        self._network = Network(wires, found, self.rate, clock=clock, sleep=sleep)
        self._on = bool(self._network.readings.holding[: self._legs].all())
        self._network.on[:] = self._on

    @property
    def buses(self) -> tuple[int, ...]:
        """Number of each joint's bus."""
        return tuple(int(wire) for wire in self.axes.wire[: self._legs])

    def sense(self) -> Sensed:
        """Readings of this cycle; a joint that missed two answers reads nan."""
        self._check()
        self._network.wake()
        read, legs = self._network.readings, self._legs
        silent = read.silent
        q = np.where(silent, np.nan, self.scales.position(read.position))
        qd = np.where(silent, np.nan, self.scales.speed(read.speed))
        current = np.where(silent, np.nan, self.scales.current(read.current))
        return Sensed(
            q=q[:legs],
            qd=qd[:legs],
            current=current[:legs],
            voltage=read.supply,
            up=self._inertial(),
            spin=self._spin(),
        )

    def drives(self) -> Drives:
        """State of the drives in this cycle."""
        self._check()
        self._network.drain()
        read, legs = self._network.readings, self._legs
        return Drives(
            powered=read.holding[:legs] & self._on,
            fault=read.fault[:legs],
            winding=read.winding[:legs].copy(),
            buses=self._network.alive,
            voltage=read.volts[:legs].copy(),
        )

    def apply(self, targets: Targets) -> None:
        """Send targets with the coming SYNC.

        Args:
            targets: nan for joints that keep what they were told before.

        Raises:
            RequestError: if the number of targets is wrong or one is infinite.
        """
        self._check()
        if targets.q.shape != (self._legs,):
            raise RequestError("joint targets", targets.q.shape, f"of shape ({self._legs},)")
        if np.isinf(targets.q).any():
            raise RequestError("joint targets", float("inf"), "finite, or nan to keep one")
        if self._on:
            unmoved = np.full(len(self.axes.names) - self._legs, np.nan)
            told = self.scales.count(np.append(targets.q, unmoved))
            self._network.goal = np.where(np.isnan(told), self._network.goal, told)

    def power(self, on: bool) -> None:
        """Lead the drives up the ladder, cycle by cycle, or let go of them at once."""
        everyone = np.ones(len(self.axes.names), dtype=np.bool_)
        if not on:
            self._on = False
            self._network.let_go(everyone)
            return
        self._check()
        if not self._on:
            self._network.goal[:] = np.nan
        self._on, self._network.on = True, everyone

    def advance(self) -> None:
        """Send commands, then SYNC when it is due; the drives answer until the next cycle."""
        self._check()
        self._network.cycle()

    def close(self) -> None:
        """Power off, end process data, leave the buses."""
        if self._open:
            self._on = self._open = False
            self._network.close()

    def _check(self) -> None:
        if not self._open:
            raise RigError("The CAN rig is closed. Open it anew.")
