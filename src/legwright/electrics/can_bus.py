"""A CANopen bus of servo drives: who has which number, how long a cycle takes, how many fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from legwright.electrics.can_frame import worst_bits
from legwright.electrics.can_response import Message, bus_load, response_times
from legwright.errors import RequestError

SYNC = 0x080
"""CiA 301, predefined connection set; so are the next four."""
EMERGENCY = 0x080
TPDO1 = 0x180
RPDO1 = 0x200
HEARTBEAT = 0x700

HIGHEST_NODE = 127
"""CiA 301."""

BUS_LENGTH: dict[int, float] = {
    1_000_000: 25.0,
    800_000: 50.0,
    500_000: 100.0,
    250_000: 250.0,
    125_000: 500.0,
}
"""Bit rate [bit/s] -> longest bus [m]; CiA 301 table 1 (from memory)."""

TERMINATION = 120.0
"""At each of both ends [Ω]; ISO 11898-2."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CanBus:
    """Servo drives on one bus, cycled by SYNC with one command and one answer per axis."""

    bit_rate: float
    """[bit/s]"""
    command_bytes: int = 8
    """Payload of the RPDO to each axis."""
    answer_bytes: int = 8
    """Payload of the TPDO from each axis."""
    heartbeat: float = 0.1
    """Period of each node's heartbeat [s]; 0 for none."""
    extended: bool = False
    """29-bit identifiers."""

    def __post_init__(self) -> None:
        if not 0.0 < self.bit_rate <= 1e6:
            raise RequestError("bit rate", self.bit_rate, "above 0, at most 1 Mbit/s")
        for count in (self.command_bytes, self.answer_bytes):
            if not 0 <= count <= 8:
                raise RequestError("payload bytes", count, "0 to 8")
        if self.heartbeat < 0.0:
            raise RequestError("heartbeat period", self.heartbeat, "at least 0")

    @property
    def bit_time(self) -> float:
        """Duration of one bit [s]."""
        return 1.0 / self.bit_rate

    def duration(self, payload: int) -> float:
        """Longest time of a frame on the wire [s]."""
        return worst_bits(payload, extended=self.extended) / self.bit_rate


@dataclass(frozen=True, slots=True, kw_only=True)
class CanCycle:
    """What a number of axes asks of one bus."""

    time: float
    """SYNC and all PDOs, one after the other [s]."""
    load: float
    """Share of the bus used, heartbeats included."""
    names: tuple[str, ...]
    """Messages, most urgent first."""
    latency: tuple[float, ...]
    """Worst response time of each [s]; inf where the bus is overloaded."""

    @property
    def worst_latency(self) -> float:
        """Of SYNC, commands and answers; heartbeats may wait [s]."""
        pdos = zip(self.names, self.latency, strict=True)
        return max(time for name, time in pdos if not name.startswith("heartbeat"))


def messages_of(bus: CanBus, nodes: Sequence[int], rate: float) -> tuple[Message, ...]:
    """Messages of a cycle, by falling urgency: SYNC, answers, commands, heartbeats.

    Args:
        bus: The bus.
        nodes: Node ids of the axes.
        rate: Cycles per second [Hz].

    Raises:
        RequestError: for a rate that is not above 0 or node ids that clash.
    """
    if not rate > 0.0:
        raise RequestError("cycle rate", rate, "above 0 Hz")
    check_nodes(nodes)
    period = 1.0 / rate
    queue = [(SYNC, Message(name="SYNC", period=period, length=bus.duration(0)))]
    for node in nodes:
        answer = Message(name=f"TPDO {node}", period=period, length=bus.duration(bus.answer_bytes))
        command = Message(
            name=f"RPDO {node}", period=period, length=bus.duration(bus.command_bytes)
        )
        queue += [(TPDO1 + node, answer), (RPDO1 + node, command)]
        if bus.heartbeat > 0.0:
            beat = Message(name=f"heartbeat {node}", period=bus.heartbeat, length=bus.duration(1))
            queue.append((HEARTBEAT + node, beat))
    return tuple(message for _, message in sorted(queue, key=lambda item: item[0]))


def can_cycle(bus: CanBus, nodes: Sequence[int], rate: float) -> CanCycle:
    """Cycle time, load and latencies for axes on one bus.

    Args:
        bus: The bus.
        nodes: Node ids of the axes.
        rate: Cycles per second [Hz].
    """
    messages = messages_of(bus, nodes, rate)
    per_axis = bus.duration(bus.command_bytes) + bus.duration(bus.answer_bytes)
    return CanCycle(
        time=bus.duration(0) + len(nodes) * per_axis,
        load=bus_load(messages),
        names=tuple(message.name for message in messages),
        latency=response_times(messages, bus.bit_time),
    )


def axes_that_fit(bus: CanBus, rate: float, *, limit: float = 0.7) -> int:
    """Most axes that one bus serves.

    Args:
        bus: The bus.
        rate: Cycles per second [Hz].
        limit: Highest bus load; the rest is left to SDO and emergency messages (common
            practice, no published source).

    Returns:
        Axes, 0 to 127; every PDO is then sent within its cycle too.
    """
    _share(limit)
    nodes = range(1, HIGHEST_NODE + 1)
    fits = 0
    for count in nodes:
        messages = messages_of(bus, nodes[:count], rate)
        if bus_load(messages) > limit:
            break
        if can_cycle(bus, nodes[:count], rate).worst_latency > 1.0 / rate:
            break
        fits = count
    return fits


def highest_rate(bus: CanBus, axes: int, *, limit: float = 0.7) -> float:
    """Highest cycle rate for a number of axes on one bus [Hz]; 0 where none.

    Args:
        bus: The bus.
        axes: On this bus.
        limit: Highest bus load, see `axes_that_fit`.
    """
    _share(limit)
    beats = axes * bus.duration(1) / bus.heartbeat if bus.heartbeat > 0.0 else 0.0
    per_cycle = bus.duration(0) + axes * (
        bus.duration(bus.command_bytes) + bus.duration(bus.answer_bytes)
    )
    return max(limit - beats, 0.0) / per_cycle


def buses_needed(bus: CanBus, axes: int, rate: float, *, limit: float = 0.7) -> int:
    """How many such buses serve a number of axes.

    Raises:
        RequestError: where a bus does not even serve one.
    """
    fits = axes_that_fit(bus, rate, limit=limit)
    if fits == 0:
        raise RequestError("cycle rate", rate, "low enough for one axis on a bus")
    return -(-axes // fits)


def check_nodes(nodes: Sequence[int]) -> None:
    """Refuse node ids that clash or cannot be.

    Raises:
        RequestError: with the offending id.
    """
    for node in nodes:
        if not 1 <= node <= HIGHEST_NODE:
            raise RequestError("node id", node, f"1 to {HIGHEST_NODE}")
        if list(nodes).count(node) > 1:
            raise RequestError("node id", node, "given once on a bus")


def node_plan(legs: Sequence[Sequence[str]]) -> dict[str, int]:
    """Node ids that tell leg and joint: 11, 12, 13 on the first leg, 21 on the second.

    Args:
        legs: Joint names of each leg, base to foot.

    Returns:
        Joint name -> node id; counted through from 1 where tens do not suffice.

    Raises:
        RequestError: for more than 127 joints.
    """
    joints = [joint for leg in legs for joint in leg]
    if len(joints) > HIGHEST_NODE:
        raise RequestError("joints", len(joints), f"at most {HIGHEST_NODE} on a bus")
    if len(legs) <= 12 and all(len(leg) <= 7 for leg in legs):
        return {
            joint: 10 * (row + 1) + at + 1
            for row, leg in enumerate(legs)
            for at, joint in enumerate(leg)
        }
    return {joint: at + 1 for at, joint in enumerate(joints)}


def _share(limit: float) -> None:
    if not 0.0 < limit <= 1.0:
        raise RequestError("highest bus load", limit, "above 0 and at most 1")
