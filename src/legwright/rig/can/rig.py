"""A robot whose joints are CiA 402 drives on CAN buses.

A cycle runs so::

    loop wakes: sense (drain) ─> control ─> apply ─> advance: RPDO1 ... SYNC ─> loop sleeps
                └──────────────── 40 % of the period ──────────────┘└ answers: 60 % ┘

SYNC keeps a beat of its own: one period after the last, drawn slowly to where the loop's wake-ups
put it, so that the loop's jitter does not reach the drives.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Sequence

import numpy as np

from legwright.errors import RequestError, RigError
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.calibration import Calibration, calibration_of
from legwright.rig.can import frames as f
from legwright.rig.can.cia402 import Control, State, Words, controlwords
from legwright.rig.can.opening import opened
from legwright.rig.can.readings import Readings
from legwright.rig.can.set_up import MASTER, MASTER_BEAT
from legwright.rig.can.wire import Wire
from legwright.rig.port import Drives
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

ANSWER = 0.6
"""Share of the period that the drives have to answer SYNC."""
PULL = 0.1
"""Share of SYNC's distance from its place that is made up for in each cycle."""
RESET_PERIOD = 0.5
"""Drives in fault are asked to reset this often while power is off [s]."""

_SYNC = f.sync()
_ENABLED = int(State.ENABLED)


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
            clock: The steady clock.
            sleep: Waits so many seconds.
            notes: What else is assumed.

        Raises:
            RigError: if a drive is missing, is another than planned, or refuses its set-up.
        """
        bus = robot.sheet.bus
        self.robot, self.real = robot, real
        self.rate = rate or (float(bus.update_rate) if bus is not None else 100.0)
        self._wires, self._clock, self._sleep, self._inertial = wires, clock, sleep, inertial
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
        self._rows = [np.flatnonzero(self.axes.wire == number) for number in range(len(wires))]
        self._numbers = np.arange(len(wires))
        self._readings = Readings(self.axes, 1.0 / self.rate)
        self._readings.begin(found.volts, found.error)
        self._goal: Floats = np.full(len(self.axes.names), np.nan)
        self._on = False
        self._woken = clock()
        self._synced = self._beaten = self._reset = -np.inf
        self._start()

    @property
    def buses(self) -> tuple[int, ...]:
        """Number of each joint's bus."""
        return tuple(int(wire) for wire in self.axes.wire[: self._legs])

    def sense(self) -> Sensed:
        """Readings of this cycle; a joint that missed two answers reads nan."""
        self._check()
        self._woken = self._clock()
        self._drain()
        read, legs = self._readings, self._legs
        silent = read.silent
        q = np.where(silent, np.nan, self.scales.position(read.position))
        qd = np.where(silent, np.nan, self.scales.direction * read.speed / self.scales.counts)
        current = np.where(silent, np.nan, self.scales.current(read.current))
        return Sensed(
            q=q[:legs],
            qd=2.0 * np.pi * qd[:legs],
            current=current[:legs],
            voltage=read.supply,
            up=self._inertial(),
        )

    def drives(self) -> Drives:
        """State of the drives in this cycle."""
        self._check()
        self._drain()
        read, legs = self._readings, self._legs
        return Drives(
            powered=read.holding[:legs] & self._on,
            fault=read.fault[:legs],
            winding=read.winding[:legs].copy(),
            buses=tuple(
                wire.alive and not (len(rows) and bool(read.lost[rows].all()))
                for wire, rows in zip(self._wires, self._rows, strict=True)
            ),
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
            told = self.scales.count(np.append(targets.q, self._unmoved))
            self._goal = np.where(np.isnan(told), self._goal, told)

    def power(self, on: bool) -> None:
        """Lead the drives up the ladder, cycle by cycle, or let go of them at once."""
        if on:
            self._check()
            if not self._on:
                self._goal[:] = np.nan
            self._on = True
            return
        self._on = False
        limp = np.full(len(self.axes.node), Control.DISABLE_VOLTAGE)
        told = f.words_at_once(self.axes.node, limp)
        for wire, rows in zip(self._wires, self._rows, strict=True):
            with contextlib.suppress(Exception):
                wire.send(told[rows])

    def advance(self) -> None:
        """Send commands, then SYNC when it is due; the drives answer until the next cycle."""
        self._check()
        now = self._clock()
        told = f.commands(self.axes.node, *self._commands(now))
        beat = now - self._beaten >= MASTER_BEAT - 0.25 / self.rate
        for wire, rows in zip(self._wires, self._rows, strict=True):
            if beat:
                wire.send(f.heartbeats(MASTER, f.Nmt.OPERATIONAL_STATE))
            wire.send(told[rows])
        self._beaten = now if beat else self._beaten
        self._wait_for_sync()
        for wire in self._wires:
            wire.send(_SYNC)
        self._readings.expect()

    def close(self) -> None:
        """Power off, end process data, leave the buses."""
        if not self._open:
            return
        self.power(False)
        self._open = False
        for wire in self._wires:
            with contextlib.suppress(Exception):
                wire.send(f.nmt(f.Nmt.PRE_OPERATIONAL))
                wire.close()

    @property
    def _unmoved(self) -> Floats:
        return np.full(len(self.axes.names) - self._legs, np.nan)

    def _start(self) -> None:
        """Exchange until every drive has told its state, so that nobody acts on blanks."""
        for wire in self._wires:
            wire.send(f.heartbeats(MASTER, f.Nmt.OPERATIONAL_STATE))
            wire.send(f.nmt(f.Nmt.START))
        for _ in range(10):
            self._synced = self._clock()
            for wire in self._wires:
                wire.send(f.sync())
            self._readings.expect()
            self._sleep(1.0 / self.rate)
            self._drain()
            if not self._readings.silent.any():
                break
        self._woken = self._beaten = self._clock()
        self._on = bool(self._readings.holding[: self._legs].all())

    def _commands(self, now: float) -> tuple[Words, Floats]:
        """Controlwords and target counts of all drives.

        A drive that does not hold yet is told the position at which it stands.
        """
        read = self._readings
        states = read.states
        ready = (states == _ENABLED) & ~read.silent
        here = read.position.astype(np.float64)
        if self._on:
            fresh = ready & np.isnan(self._goal)
            self._goal[fresh] = here[fresh]
        targets = np.where(ready & self._on & ~np.isnan(self._goal), self._goal, here)
        up = not self._on and now - self._reset >= RESET_PERIOD
        self._reset = now if up else self._reset
        words = controlwords(states, np.full(len(states), self._on), reset=up)
        return words, targets

    def _wait_for_sync(self) -> None:
        period = 1.0 / self.rate
        place = self._woken + (1.0 - ANSWER) * period
        due = self._synced + period
        off = place - due
        due = due + PULL * off if abs(off) < 0.5 * period else place
        wait = due - self._clock()
        if wait > 0.0:
            self._sleep(wait)
        self._synced = due if wait > -0.5 * period else self._clock()

    def _drain(self) -> None:
        came = [
            wire.take(8 * len(rows) + 64)
            for wire, rows in zip(self._wires, self._rows, strict=True)
        ]
        counts = [len(frames) for frames in came]
        if any(counts):
            self._readings.take(np.repeat(self._numbers, counts), np.concatenate(came))

    def _check(self) -> None:
        if not self._open:
            raise RigError("The CAN rig is closed. Open it anew.")
