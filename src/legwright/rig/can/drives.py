"""Simulated CiA 402 drives on CAN buses: they stand in for hardware in tests and demos.

They obey what they are told over the bus, as real drives do: object dictionary and SDO, NMT,
heartbeats both ways, PDO mapping, emergencies, the power ladder, cyclic synchronous position,
following-error window, quick stop and abort connection. SYNC is their clock: each one is one
period of the mechanics behind them. Time without SYNC passes by `idle`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from legwright.rig.can import frames as f
from legwright.rig.can import objects as o
from legwright.rig.can.cia402 import States, statuswords
from legwright.rig.can.drive_faults import Ailments
from legwright.rig.can.drive_objects import Dictionary
from legwright.rig.can.drive_stages import HEARTBEAT_LOST, NEVER, Stages
from legwright.rig.can.plant import Moved, Plant
from legwright.rig.can.scales import Scales
from legwright.rig.can.wire import Wire
from legwright.robot.tree import Floats

DEVICE = 0x0002_0192
"""Device type: servo drive of profile 402; CiA 402-1."""
MAKER, PRODUCT, REVISION = 0x7FFF_FF01, 0x0402, 1
"""Invented; of no real maker."""
TRIP = 383.15
"""Winding temperature at which a drive goes into fault, where it has no other [K]."""


class DriveBench:
    """R drives, their buses and the mechanics behind them."""

    def __init__(
        self,
        names: tuple[str, ...],
        wires: Sequence[Wire],
        *,
        wire: NDArray[np.int64],
        node: NDArray[np.int64],
        scales: Scales,
        plant: Plant,
        period: float,
        trip: Floats | float = TRIP,
        lowest_voltage: float = 0.0,
        ailments: Ailments | None = None,
    ) -> None:
        """Switch their supply on: they boot, pre-operational and limp.

        Args:
            names: Joint of each drive, R of them.
            wires: Their ends of the buses.
            wire: Bus of each, (R,).
            node: Node id of each, (R,).
            scales: How they are mounted: directions, zeros, counts, rated currents.
            plant: What they move.
            period: Of SYNC, and of the plant [s].
            trip: Winding temperature at which each goes into fault [K].
            lowest_voltage: Below it they go into fault [V].
            ailments: Faults on demand.
        """
        count = len(names)
        self.names, self.period, self.plant = names, period, plant
        self.ailments = ailments or Ailments(names, len(wires))
        self.ailments.bus_of = wire
        self._wires, self._wire, self._node = wires, wire, node
        self._row = np.full((len(wires), f.NODE + 1), -1)
        self._row[wire, node] = np.arange(count)
        self.time, self._stepped = 0.0, 0.0
        self.nmt = np.full(count, f.Nmt.PRE_OPERATIONAL_STATE, dtype=np.int64)
        self._master_heard: Floats = np.full(count, np.nan)
        self._beat_due: Floats = np.full(count, NEVER)
        self._slow_due: Floats = np.full(count, NEVER)
        self._late: list[tuple[float, int, f.Frames]] = []
        self.objects = Dictionary(count, self._start(scales))
        self._stages = Stages(
            self.objects, self.ailments, scales, plant, period,
            trip=trip, lowest_voltage=lowest_voltage, cry=self._cry,
        )  # fmt: skip
        self._send(f.heartbeats(node, f.Nmt.BOOT), np.arange(count))

    def _start(self, scales: Scales) -> dict[o.Object, NDArray[np.int64]]:
        count = len(self.names)
        whole = np.full(count, 1)
        return {
            o.DEVICE_TYPE: DEVICE * whole,
            o.VENDOR: MAKER * whole,
            o.PRODUCT: PRODUCT * whole,
            o.REVISION: REVISION * whole,
            o.SERIAL: 1000 + np.arange(count),
            o.FEED: np.round(scales.counts).astype(np.int64),
            o.FEED_TURNS: whole,
            o.RATED_CURRENT: np.round(1e3 * scales.rated).astype(np.int64),
            o.FOLLOWING_WINDOW: 0xFFFF_FFFF * whole,
        }

    @property
    def holding(self) -> NDArray[np.bool_]:
        """Drives that hold torque, (R,)."""
        return self._stages.holding

    @property
    def state(self) -> States:
        """`State` of each drive, (R,)."""
        return self._stages.state

    @property
    def moved(self) -> Moved:
        """What was measured last."""
        return self._stages.moved

    def clock(self) -> float:
        """The bench's own time [s]."""
        return self.time

    def idle(self, seconds: float) -> None:
        """Let time pass: frames are answered, heartbeats run, mechanics move without SYNC."""
        end = self.time + seconds
        while True:
            self._hear()
            step = min(self.period, end - self.time)
            self.time += max(step, 0.0)
            self._timers()
            while self.time - self._stepped >= 1.5 * self.period:
                self._move()
            if self.time >= end - 1e-12:
                break
        self._hear()

    def _hear(self) -> None:
        """Take in all frames of all buses, in the order in which they came."""
        synced = np.zeros(len(self.names), dtype=np.bool_)
        goal: Floats = np.full(len(self.names), np.nan)
        for bus, wire in enumerate(self._wires):
            while len(frames := wire.take(1024)):
                frames = self.ailments.passed(bus, frames)
                marks = np.flatnonzero((frames["id"] == f.Kind.SYNC) | (frames["id"] == 0))
                start = 0
                for mark in marks.tolist():
                    self._listen(bus, frames[start:mark])
                    rows = np.flatnonzero((self._wire == bus) & ~self.ailments.dead)
                    if frames["id"][mark] == f.Kind.SYNC:
                        rows = rows[self.nmt[rows] == f.Nmt.OPERATIONAL_STATE]
                        awake = rows[~self.ailments.frozen[rows]]
                        self._stages.latch(awake, self._can_take, goal)
                        synced[rows] = True
                    else:
                        command, node = frames["data"][mark, :2].tolist()
                        self._manage(rows, command, node)
                    start = mark + 1
                self._listen(bus, frames[start:])
        if synced.any():
            self._stages.command(goal)
            self._answer(np.flatnonzero(synced))

    def _manage(self, rows: NDArray[np.int64], command: int, node: int) -> None:
        rows = rows if node == 0 else rows[self._node[rows] == node]
        if command == f.Nmt.START:
            self.nmt[rows] = f.Nmt.OPERATIONAL_STATE
            self._slow_due[rows] = self.time + 1e-3 * self.objects[o.TPDO2.timer][rows] * (
                1.0 + rows / len(self.names)
            )
        elif command in (f.Nmt.PRE_OPERATIONAL, f.Nmt.STOP):
            self._stages.lose_connection(rows[self.nmt[rows] == f.Nmt.OPERATIONAL_STATE])
            stopped = command == f.Nmt.STOP
            state = f.Nmt.STOPPED_STATE if stopped else f.Nmt.PRE_OPERATIONAL_STATE
            self.nmt[rows] = state
        elif command == f.Nmt.RESET:
            self._boot(rows)

    def _boot(self, rows: NDArray[np.int64]) -> None:
        self.nmt[rows] = f.Nmt.PRE_OPERATIONAL_STATE
        self._stages.boot(rows)
        self._master_heard[rows] = np.nan
        for pdo in (o.RPDO1, o.RPDO2, o.TPDO1, o.TPDO2):
            self.objects[pdo.identifier][rows] |= o.OFF
        self.objects[o.PRODUCER_HEARTBEAT][rows] = 0
        self._beat_due[rows] = self._slow_due[rows] = NEVER
        self._send(f.heartbeats(self._node[rows], f.Nmt.BOOT), rows)

    def _listen(self, bus: int, frames: f.Frames) -> None:
        if not len(frames):
            return
        rows, told = self._to(bus, frames, f.Kind.RPDO1, 6)
        on = self._operational(rows) & self._can_take[rows]
        if on.any():
            words = f.read_commands(told)[on]
            self._stages.word[rows[on]] = words["control"]
            self._stages.target[rows[on]] = words["target"]
        rows, told = self._to(bus, frames, f.Kind.RPDO2, 2)
        on = self._operational(rows) & self.objects.carries(o.RPDO2, o.CONTROLWORD)[rows]
        if on.any():
            self._stages.word[rows[on]] = f.read_commands(told)["control"][on]
            self._stages.at_once(rows[on])
        beats = frames[(frames["id"] & f.FUNCTION) == f.Kind.HEARTBEAT]
        if len(beats):
            self._hear_master(bus, beats["id"] & f.NODE)
        rows, told = self._to(bus, frames, f.Kind.SDO_REQUEST, 8)
        if len(rows):
            self._serve(rows, told)

    @property
    def _can_take(self) -> NDArray[np.bool_]:
        return self.objects.carries(o.RPDO1, o.CONTROLWORD, o.TARGET)

    def _operational(self, rows: NDArray[np.int64]) -> NDArray[np.bool_]:
        awake = (self.nmt[rows] == f.Nmt.OPERATIONAL_STATE) & ~self.ailments.frozen[rows]
        return np.asarray(awake)

    def _to(
        self, bus: int, frames: f.Frames, kind: f.Kind, size: int
    ) -> tuple[NDArray[np.int64], f.Frames]:
        nodes, found = f.of_kind(frames, kind, size)
        rows = self._row[bus, nodes]
        known = (rows >= 0) & ~self.ailments.dead[rows]
        return rows[known], found[known]

    def _serve(self, rows: NDArray[np.int64], told: f.Frames) -> None:
        replies = np.zeros((len(rows), 8), dtype=np.uint8)
        for number, (row, data) in enumerate(zip(rows.tolist(), told["data"], strict=True)):
            answer = self.objects.serve(row, data.tobytes(), int(self.nmt[row]))
            replies[number] = np.frombuffer(answer, dtype=np.uint8)
            if data[1:3].tobytes() == o.PRODUCER_HEARTBEAT.index.to_bytes(2, "little"):
                beat = 1e-3 * self.objects[o.PRODUCER_HEARTBEAT][row]
                self._beat_due[row] = self.time + beat if beat > 0.0 else NEVER
        self._send(f.table(f.Kind.SDO_ANSWER + self._node[rows], 8, replies), rows)

    def _hear_master(self, bus: int, nodes: NDArray[np.uint32]) -> None:
        watched = self.objects[o.CONSUMER_HEARTBEAT] >> 16 & f.NODE
        self._master_heard[(self._wire == bus) & np.isin(watched, nodes)] = self.time

    def _answer(self, rows: NDArray[np.int64]) -> None:
        """After SYNC: move once per period, whatever the number of buses; measure, answer."""
        awake, wanted = rows[~self.ailments.frozen[rows]], self.objects
        if self.time - self._stepped >= 0.5 * self.period:
            self._move()
        self._stages.measure(awake)
        self._stages.look_after(awake, self.time)
        sends = rows[wanted.carries(o.TPDO1, o.STATUSWORD, o.POSITION, o.CURRENT)[rows]]
        told = f.answers(
            self._node[sends], statuswords(self.state[sends]),
            wanted[o.POSITION][sends], wanted[o.CURRENT][sends],
        )  # fmt: skip
        self._send(told, sends)

    def _move(self) -> None:
        self.plant.advance()
        self._stepped += self.period

    def _timers(self) -> None:
        wanted, dead = self.objects, self.ailments.dead
        patience = 1e-3 * (wanted[o.CONSUMER_HEARTBEAT] & 0xFFFF)
        lost = np.flatnonzero(
            (patience > 0.0) & (self.time - self._master_heard > patience) & ~dead
        )
        if len(lost):
            self._master_heard[lost] = np.nan
            self._cry(lost, HEARTBEAT_LOST, 0x11)
            self._stages.lose_connection(lost)
        beating = np.flatnonzero((self._beat_due <= self.time) & ~dead)
        if len(beating):
            self._beat_due[beating] += 1e-3 * wanted[o.PRODUCER_HEARTBEAT][beating]
            self._send(f.heartbeats(self._node[beating], self.nmt[beating]), beating)
        slow = np.flatnonzero((self._slow_due <= self.time) & ~dead)
        slow = slow[self.nmt[slow] == f.Nmt.OPERATIONAL_STATE]
        if len(slow):
            self._slow_due[slow] += np.maximum(1e-3 * wanted[o.TPDO2.timer][slow], self.period)
            self._tell_slowly(slow)
        ripe = [one for one in self._late if one[0] <= self.time]
        if ripe:
            self._late = [one for one in self._late if one[0] > self.time]
            for _, bus, frames in ripe:
                self._wires[bus].send(frames)
        for bus, wire in enumerate(self._wires):
            rubbish = self.ailments.rubbish(bus)
            if rubbish is not None:
                wire.send(rubbish)

    def _tell_slowly(self, rows: NDArray[np.int64]) -> None:
        wanted = self.objects
        two = (o.SUPPLY, o.ERROR_CODE)
        for items, size in ((two, 6), ((*two, o.WINDING), 8)):
            tell = rows[wanted.carries(o.TPDO2, *items)[rows]]
            if len(tell):
                told = f.slow_answers(
                    self._node[tell], wanted[o.SUPPLY][tell], wanted[o.ERROR_CODE][tell],
                    wanted[o.WINDING][tell], size,
                )  # fmt: skip
                self._send(told, tell)

    def _cry(self, rows: NDArray[np.int64], code: int, register: int) -> None:
        self._send(f.emergencies(self._node[rows], code, register), rows)

    def _send(self, frames: f.Frames, rows: NDArray[np.int64]) -> None:
        heard = ~(self.ailments.mute[rows] | self.ailments.dead[rows])
        for bus, wire in enumerate(self._wires):
            told = self.ailments.passed(bus, frames[heard & (self._wire[rows] == bus)])
            late = self.ailments.buses[bus].late
            if not len(told):
                continue
            if late > 0.0:
                self._late.append((self.time + late, bus, told))
            else:
                wire.send(told)
