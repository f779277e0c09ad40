"""What the drives have told: tables over all axes, filled by node id from drained frames."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from legwright.rig.can import frames as f
from legwright.rig.can.cia402 import HOLDS, State, states_of
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
        self._volts: Floats = np.full(count, np.nan)
        self._error = np.zeros(count, dtype=np.int64)
        self.status = np.zeros(count, dtype=np.uint16)
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
        return np.isin(states_of(self.status), HOLDS) & ~self.silent

    @property
    def fault(self) -> NDArray[np.int64]:
        """Error codes of drives in fault; 0 for all others."""
        states = states_of(self.status)
        faulty = ((states == State.FAULT) | (states == State.FAULT_REACTION)) & ~self.silent
        return np.where(faulty, np.where(self._error != 0, self._error, GENERIC), 0)

    def expect(self) -> None:
        """SYNC went out: every drive owes an answer."""
        self._age += 1

    def begin(self, volts: Floats, error: NDArray[np.int64]) -> None:
        """What was asked for before the cycle began: supply voltages [V] and error codes, (R,)."""
        self._volts[:], self._error[:] = volts, error
        self.supply = float(volts.max())

    def take(self, wire: int, frames: f.Frames) -> None:
        """Read what came in on one wire; of several answers of a drive the last counts."""
        if not len(frames) or wire >= len(self._row):
            return
        rows, told = self._of(wire, frames, f.Kind.TPDO1, 8)
        if len(rows):
            self._answers(rows, f.read_answers(told))
        rows, told = self._of(wire, frames, f.Kind.TPDO2, 6)
        if len(rows):
            self._slow_answers(rows, told)
        rows, told = self._of(wire, frames, f.Kind.EMERGENCY, 3)
        if len(rows):
            self._error[rows] = f.read_emergencies(told)["error"]

    def _of(
        self, wire: int, frames: f.Frames, kind: f.Kind, size: int
    ) -> tuple[NDArray[np.int64], f.Frames]:
        nodes, found = f.of_kind(frames, kind, size)
        rows = self._row[wire, nodes]
        known = rows >= 0
        return (rows, found) if known.all() else (rows[known], found[known])

    def _answers(self, rows: NDArray[np.int64], told: f.Frames) -> None:
        before = self.position.copy()
        self.status[rows] = told["status"]
        self.position[rows] = told["position"]
        self.current[rows] = told["current"]
        cycles = np.maximum(self._age[rows], 1)
        speed = (self.position - before)[rows] / (cycles * self._period)
        speed[self._age[rows] >= LOST] = 0.0  # heard for the first time, or again
        self.speed[rows] += self._share * (speed - self.speed[rows])
        self._age[rows] = 0

    def _slow_answers(self, rows: NDArray[np.int64], frames: f.Frames) -> None:
        told = f.read_slow_answers(frames)
        self._volts[rows] = 1e-3 * told["voltage"]
        self._error[rows] = told["error"]
        warm = frames["size"] >= 8
        self.winding[rows[warm]] = 0.1 * told["winding"][warm] + CELSIUS
        self.supply = float(np.nanmax(self._volts))
