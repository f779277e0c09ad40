"""What the drives have told: tables over all axes, filled by node id from drained frames."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from legwright.rig.can import frames as f
from legwright.rig.can.cia402 import HOLDS, State, States, states_of
from legwright.rig.can.discovery import Axes
from legwright.robot.tree import Floats

MISSED = 2
"""Cycles without an answer after which a joint counts as silent: one lost frame is bridged."""
LOST = 3
"""Cycles in which no drive of a bus answers after which the bus counts as dead."""
SPEED_FILTER = 0.01
"""Time constant of the speed that is taken from positions [s]."""
GENERIC = 0x1000
"""Error code of a drive in fault that names none; CiA 301 table 26."""
CELSIUS = 273.15

_FAST, _SLOW, _CRY = (int(kind) for kind in (f.Kind.TPDO1, f.Kind.TPDO2, f.Kind.EMERGENCY))
_HOLDING = np.isin(np.arange(len(State)), HOLDS)
_FAULTY = np.isin(np.arange(len(State)), (State.FAULT, State.FAULT_REACTION))


class Readings:
    """All axes of one robot; R rows."""

    def __init__(self, axes: Axes, period: float) -> None:
        """Nothing has been told yet."""
        count = len(axes.names)
        self._row = np.full((int(axes.wire.max()) + 1, f.NODE + 1), -1)
        self._row[axes.wire, axes.node] = np.arange(count)
        self._period = period
        self._share = min(period / SPEED_FILTER, 1.0)
        self._age = np.full(count, 1000)
        self.volts: Floats = np.full(count, np.nan)
        """Of each drive [V]."""
        self._error = np.zeros(count, dtype=np.int64)
        self.states: States = np.zeros(count, dtype=np.int8)
        """`State` of each drive."""
        self.position = np.zeros(count, dtype=np.int64)
        self.current = np.zeros(count, dtype=np.int64)
        """[per mille of the rated current]"""
        self.speed: Floats = np.zeros(count)
        """[counts/s]"""
        self.winding: Floats = np.full(count, np.nan)
        """[K]"""
        self.supply = float("nan")
        """The highest voltage that a drive tells: the one nearest to the source [V]."""

    @property
    def silent(self) -> NDArray[np.bool_]:
        """Axes that missed too many answers."""
        return self._age >= MISSED

    @property
    def lost(self) -> NDArray[np.bool_]:
        """Axes that missed so many that, if all of a bus do, the bus is dead."""
        return self._age >= LOST

    @property
    def holding(self) -> NDArray[np.bool_]:
        """Axes that answer and hold torque."""
        return np.asarray(_HOLDING[self.states] & ~self.silent)

    @property
    def fault(self) -> NDArray[np.int64]:
        """Error codes of drives in fault; 0 for all others."""
        faulty = _FAULTY[self.states] & ~self.silent
        if not faulty.any():
            return np.zeros(len(faulty), dtype=np.int64)
        return np.where(faulty, np.where(self._error != 0, self._error, GENERIC), 0)

    def expect(self) -> None:
        """SYNC went out: every drive owes an answer."""
        self._age += 1

    def begin(self, volts: Floats, error: NDArray[np.int64]) -> None:
        """What was asked for before the cycle began: supply voltages [V] and error codes, (R,)."""
        self.volts[:], self._error[:] = volts, error
        self.supply = float(volts.max())

    def take(self, wire: NDArray[np.int64], frames: f.Frames) -> None:
        """Read what came in on all wires; of several answers of a drive the last counts.

        Args:
            wire: Number of the wire of each frame, (N,).
            frames: (N,).
        """
        number = frames["id"].astype(np.int64)
        rows = self._row[wire, number & f.NODE]
        kind = np.where(rows >= 0, number & ~f.NODE, -1)
        fast = (kind == _FAST) & (frames["size"] >= 8)
        if fast.all():
            self._answers(rows, f.read_answers(frames))
            return
        if fast.any():
            self._answers(rows[fast], f.read_answers(frames[fast]))
        slow = (kind == _SLOW) & (frames["size"] >= 6)
        if slow.any():
            self._slow_answers(rows[slow], frames[slow])
        cries = (kind == _CRY) & (frames["size"] >= 3)
        if cries.any():
            self._error[rows[cries]] = f.read_emergencies(frames[cries])["error"]

    def _answers(self, rows: NDArray[np.int64], told: f.Frames) -> None:
        age = self._age[rows]
        before = self.position[rows]
        self.states[rows] = states_of(told["status"])
        self.position[rows] = told["position"]
        self.current[rows] = told["current"]
        speed = (told["position"] - before) / (np.maximum(age, 1) * self._period)
        speed[age >= LOST] = 0.0  # heard for the first time, or again
        self.speed[rows] += self._share * (speed - self.speed[rows])
        self._age[rows] = 0

    def _slow_answers(self, rows: NDArray[np.int64], frames: f.Frames) -> None:
        told = f.read_slow_answers(frames)
        self.volts[rows] = 1e-3 * told["voltage"]
        self._error[rows] = told["error"]
        warm = frames["size"] >= 8
        self.winding[rows[warm]] = 0.1 * told["winding"][warm] + CELSIUS
        self.supply = float(self.volts.max())
