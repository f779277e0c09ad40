"""All drives on all buses of one robot, cycled together.

A cycle runs so::

    loop wakes: drain ─> control ─> commands: RPDO1 ... SYNC ─> loop sleeps
                └──────── 40 % of the period ────────┘└─ answers: 60 % ─┘

SYNC keeps a beat of its own: one period after the last, drawn slowly to where the loop's wake-ups
put it, so that the loop's jitter does not reach the drives.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from legwright.rig.can import frames as f
from legwright.rig.can.cia402 import Control, State, Words, controlwords
from legwright.rig.can.opening import Opened
from legwright.rig.can.readings import Readings
from legwright.rig.can.set_up import MASTER, MASTER_BEAT
from legwright.rig.can.wire import Wire
from legwright.robot.tree import Floats

ANSWER = 0.6
"""Share of the period that the drives have to answer SYNC."""
PULL = 0.1
"""Share of SYNC's distance from its place that is made up for in each cycle."""
RESET_PERIOD = 0.5
"""Drives in fault are asked to reset this often while they are to be limp [s]."""
BEGIN = 10
"""Cycles in which every drive must have told its state once."""
_SYNC = f.sync()
_ENABLED = int(State.ENABLED)


class Network:
    """R drives that have been found and set up."""

    def __init__(
        self,
        wires: Sequence[Wire],
        found: Opened,
        rate: float,
        *,
        clock: Callable[[], float],
        sleep: Callable[[float], None],
    ) -> None:
        """Start process data, and exchange until every drive has told its state.

        Nobody is told to hold or to let go: drives that hold already go on holding.
        """
        self.axes = found.axes
        self._wires, self._clock, self._sleep = wires, clock, sleep
        self._period = 1.0 / rate
        self._rows = [np.flatnonzero(self.axes.wire == number) for number in range(len(wires))]
        self._numbers = np.arange(len(wires))
        count = len(self.axes.names)
        self.readings = Readings(self.axes, self._period)
        self.readings.begin(found.volts, found.error)
        self.on: NDArray[np.bool_] = np.zeros(count, dtype=np.bool_)
        """Which drives are to hold torque, (R,)."""
        self.goal: Floats = np.full(count, np.nan)
        """Where they are to go, (R,) [counts]; nan holds a drive where it came on."""
        self._woken = clock()
        self._synced = self._beaten = self._reset = -np.inf
        self._start()

    @property
    def alive(self) -> tuple[bool, ...]:
        """Whether each bus carries answers."""
        lost = self.readings.lost
        return tuple(
            wire.alive and not (len(rows) and bool(lost[rows].all()))
            for wire, rows in zip(self._wires, self._rows, strict=True)
        )

    def wake(self) -> None:
        """The loop's cycle begins: read what came in."""
        self._woken = self._clock()
        self.drain()

    def drain(self) -> None:
        """Read what came in on all buses, as one table."""
        came = [
            wire.take(8 * len(rows) + 64)
            for wire, rows in zip(self._wires, self._rows, strict=True)
        ]
        counts = [len(frames) for frames in came]
        if any(counts):
            every = np.frombuffer(b"".join(frames.tobytes() for frames in came), dtype=f.FRAME)
            self.readings.take(np.repeat(self._numbers, counts), every)

    def cycle(self) -> None:
        """Send commands, then SYNC when it is due."""
        now = self._clock()
        told = f.commands(self.axes.node, *self._commands(now))
        beat = now - self._beaten >= MASTER_BEAT - 0.25 * self._period
        for wire, rows in zip(self._wires, self._rows, strict=True):
            if beat:
                wire.send(f.heartbeats(MASTER, f.Nmt.OPERATIONAL_STATE))
            wire.send(told[rows])
        self._beaten = now if beat else self._beaten
        self._wait_for_sync()
        for wire in self._wires:
            wire.send(_SYNC)
        self.readings.expect()

    def let_go(self, which: NDArray[np.bool_]) -> None:
        """Make drives limp at once, without SYNC; never fails."""
        self.on = self.on & ~which
        self.goal[which] = np.nan
        for wire, rows in zip(self._wires, self._rows, strict=True):
            with contextlib.suppress(Exception):
                nodes = self.axes.node[rows[which[rows]]]
                wire.send(f.words_at_once(nodes, np.full(len(nodes), Control.DISABLE_VOLTAGE)))

    def close(self) -> None:
        """All limp; end process data, leave the buses."""
        self.let_go(np.ones(len(self.on), dtype=np.bool_))
        for wire in self._wires:
            with contextlib.suppress(Exception):
                wire.send(f.nmt(f.Nmt.PRE_OPERATIONAL))
                wire.close()

    def _start(self) -> None:
        for wire in self._wires:
            wire.send(f.heartbeats(MASTER, f.Nmt.OPERATIONAL_STATE))
            wire.send(f.nmt(f.Nmt.START))
        for _ in range(BEGIN):
            self._synced = self._clock()
            for wire in self._wires:
                wire.send(_SYNC)
            self.readings.expect()
            self._sleep(self._period)
            self.drain()
            if not self.readings.silent.any():
                break
        self._woken = self._beaten = self._clock()

    def _commands(self, now: float) -> tuple[Words, Floats]:
        """Controlwords and target counts of all drives.

        A drive that does not hold yet is told the position at which it stands.
        """
        read = self.readings
        ready = (read.states == _ENABLED) & ~read.silent & self.on
        here = read.position.astype(np.float64)
        fresh = ready & np.isnan(self.goal)
        self.goal[fresh] = here[fresh]
        targets = np.where(ready, self.goal, here)
        up = now - self._reset >= RESET_PERIOD
        self._reset = now if up else self._reset
        return controlwords(read.states, self.on, reset=up), targets

    def _wait_for_sync(self) -> None:
        place = self._woken + (1.0 - ANSWER) * self._period
        due = self._synced + self._period
        off = place - due
        due = due + PULL * off if abs(off) < 0.5 * self._period else place
        wait = due - self._clock()
        if wait > 0.0:
            self._sleep(wait)
        self._synced = due if wait > -0.5 * self._period else self._clock()
