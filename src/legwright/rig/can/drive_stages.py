"""The power stages of simulated drives: states, targets, measurements, and what they watch."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from legwright.rig.can import objects as o
from legwright.rig.can.cia402 import HOLDS, State, States, Words, after
from legwright.rig.can.drive_faults import WINDING_TRIP, Ailments
from legwright.rig.can.drive_objects import Dictionary
from legwright.rig.can.plant import Moved, Plant
from legwright.rig.can.readings import CELSIUS
from legwright.rig.can.scales import Scales
from legwright.robot.tree import Floats

HEARTBEAT_LOST, FOLLOWING, UNDER_VOLTAGE = 0x8130, 0x8611, 0x3220
"""Error codes; CiA 301 table 26, CiA 402-2."""
NEVER = np.inf

Rows = NDArray[np.int64]
Cry = Callable[[Rows, int, int], None]
"""Sends emergencies: rows, error code, error register."""


class Stages:
    """R power stages and the plant behind them."""

    def __init__(
        self, objects: Dictionary, ailments: Ailments, scales: Scales, plant: Plant, period: float,
        *, trip: Floats | float, lowest_voltage: float, cry: Cry,
    ) -> None:  # fmt: skip
        """All limp; see `DriveBench` for the arguments."""
        count = len(scales.zero)
        self._objects, self._ailments, self._scales = objects, ailments, scales
        self._plant, self._period, self._cry = plant, period, cry
        self._trip, self._lowest = trip, lowest_voltage
        self.state: States = np.full(count, State.DISABLED, dtype=np.int8)
        self.word: Words = np.zeros(count, dtype=np.uint16)
        self.target = np.zeros(count, dtype=np.int64)
        self._before: Words = np.zeros(count, dtype=np.uint16)
        self._goal: Floats = np.full(count, np.nan)
        self._astray_since: Floats = np.full(count, NEVER)
        self.moved: Moved = plant.read()
        self.measure(np.arange(count))

    @property
    def holding(self) -> NDArray[np.bool_]:
        """Drives that hold torque, (R,)."""
        return np.isin(self.state, HOLDS) & ~self._ailments.dead

    def boot(self, rows: Rows) -> None:
        """Limp, as after switching their supply on."""
        self.state[rows] = State.DISABLED
        self._plant.power(self.holding)

    def climb(self, rows: Rows) -> None:
        """Obey the controlwords."""
        word, before, state = self.word[rows], self._before[rows], self.state[rows]
        cleared = (word & ~before & 0x80 != 0) & (state == State.FAULT)
        stuck = cleared & (self._ailments.code[rows] != 0)
        self.state[rows] = np.where(stuck, State.FAULT, after(state, word, before))
        self._before[rows] = word
        healed = rows[cleared & ~stuck]
        if len(healed):
            self._objects[o.ERROR_CODE][healed] = 0
            self._cry(healed, 0, 0)

    def at_once(self, rows: Rows) -> None:
        """Obey a controlword that came without SYNC."""
        self.climb(rows)
        self._plant.power(self.holding)

    def latch(self, awake: Rows, told: NDArray[np.bool_], goal: Floats) -> None:
        """SYNC: what was told before holds from now on; targets go into ``goal`` [counts]."""
        self.climb(awake)
        rows = awake[(self.state[awake] == State.ENABLED) & told[awake]]
        low, high = self._objects[o.LOWEST][rows], self._objects[o.HIGHEST][rows]
        target = self.target[rows]
        goal[rows] = np.where(high > low, np.clip(target, low, high), target)

    def command(self, counts: Floats) -> None:
        """Goals, and as feed-forward the speed that successive targets make; nan keeps, (R,)."""
        before = self._goal
        q = self._scales.position(counts)
        speed = np.nan_to_num((q - before) / self._period)
        speed[np.isnan(before)] = 0.0
        self._goal = np.where(np.isnan(q), np.where(self.holding, before, np.nan), q)
        self._plant.power(self.holding)
        self._plant.goal(q, speed)

    def measure(self, rows: Rows) -> None:
        """Read the plant into the objects of these drives."""
        self.moved = self._plant.read()
        ailments, moved, told = self._ailments, self.moved, self._objects
        counts = np.nan_to_num(self._scales.count(moved.q)).astype(np.int64)
        told[o.POSITION][rows] = np.where(ailments.blocked, told[o.POSITION], counts)[rows]
        share = np.nan_to_num(self._scales.per_mille(moved.current * ailments.factor))
        told[o.CURRENT][rows] = np.clip(share, -32768, 32767).astype(np.int64)[rows]
        volts = np.maximum(moved.voltage - ailments.low, 0.0)
        told[o.SUPPLY][rows] = np.round(1e3 * volts).astype(np.int64)[rows]
        warm = np.round(10.0 * (moved.winding + ailments.hotter - CELSIUS)).astype(np.int64)
        told[o.WINDING][rows] = np.clip(warm, -32768, 32767)[rows]

    def look_after(self, rows: Rows, time: float) -> None:
        """What a drive finds out by itself."""
        told, holding = self._objects, self.holding
        astray = np.abs(self.target - told[o.POSITION]) > told[o.FOLLOWING_WINDOW]
        astray &= self.state == State.ENABLED
        self._astray_since = np.where(astray, np.minimum(self._astray_since, time), NEVER)
        lasting = time - self._astray_since >= 1e-3 * told[o.FOLLOWING_TIME]
        hot = 0.1 * told[o.WINDING] + CELSIUS >= self._trip
        low = 1e-3 * told[o.SUPPLY] < self._lowest
        self.fail(rows[(astray & lasting)[rows]], FOLLOWING)
        self.fail(rows[(hot & holding)[rows]], WINDING_TRIP)
        self.fail(rows[(low & holding)[rows]], UNDER_VOLTAGE)
        ill = rows[self._ailments.code[rows] != 0]
        for code in np.unique(self._ailments.code[ill]).tolist():
            self.fail(ill[self._ailments.code[ill] == code], code)

    def fail(self, rows: Rows, code: int) -> None:
        """Into fault: the power stage goes off, and an emergency tells why, once."""
        rows = rows[self.state[rows] != State.FAULT]
        if not len(rows):
            return
        self.state[rows] = State.FAULT
        self._objects[o.ERROR_CODE][rows] = code
        self._plant.power(self.holding)
        self._cry(rows, code, 1)

    def lose_connection(self, rows: Rows) -> None:
        """Abort connection: by option 3 a quick stop, in which drives stay and hold by option 6."""
        rows = rows[np.isin(self.state[rows], HOLDS)]
        option, stop = self._objects[o.ABORT_OPTION][rows], self._objects[o.QUICK_STOP_OPTION][rows]
        hold = (option == 3) & (stop >= 5)
        self.state[rows[hold]] = State.QUICK_STOP
        self.state[rows[((option == 3) & (stop < 5)) | (option == 2)]] = State.DISABLED
        self.fail(rows[option == 1], HEARTBEAT_LOST)
        self.word[rows[hold]] = self._before[rows[hold]] = 0x02
        self._plant.power(self.holding)
