"""Worst-case response times of messages on a CAN bus."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, inf

from legwright.errors import RequestError


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One periodic message; in a sequence, the more urgent ones stand first."""

    name: str
    period: float
    """Shortest time between two [s]."""
    length: float
    """Longest time on the wire [s]."""
    jitter: float = 0.0
    """Largest delay between the event and its queueing [s]."""

    def __post_init__(self) -> None:
        if not (0.0 < self.period < inf and 0.0 < self.length < inf and self.jitter >= 0.0):
            value = (self.period, self.length, self.jitter)
            raise RequestError(
                f"period, length, jitter of {self.name}", value, "above 0, above 0, at least 0"
            )


def bus_load(messages: Sequence[Message]) -> float:
    """Share of the time that the bus is busy."""
    return sum(message.length / message.period for message in messages)


def response_times(messages: Sequence[Message], bit_time: float) -> tuple[float, ...]:
    """Longest time from event to the end of transmission, for each message.

    Args:
        messages: Most urgent first.
        bit_time: Duration of one bit [s].

    Returns:
        Times [s]; inf where a message and the more urgent ones ask for all of the bus's time.

    Raises:
        RequestError: for a bit time that is not above 0.

    Source: Davis, Burns, Bril, Lukkien, Controller Area Network (CAN) schedulability
    analysis: refuted, revisited and revised, Real-Time Systems 35 (2007) 239, eqs. 7 to 11.
    """
    if not bit_time > 0.0:
        raise RequestError("bit time", bit_time, "above 0")
    return tuple(_response(messages, at, bit_time) for at in range(len(messages)))


def _up(ratio: float) -> int:
    """Ceiling that forgives rounding of a whole number."""
    near = round(ratio)
    return near if abs(ratio - near) <= 1e-9 * max(1.0, abs(near)) else ceil(ratio)


def _response(messages: Sequence[Message], at: int, bit_time: float) -> float:
    own, urgent = messages[at], messages[:at]
    if bus_load(messages[: at + 1]) >= 1.0 - 1e-9:
        return inf
    blocking = max((later.length for later in messages[at + 1 :]), default=0.0)
    instances = _busy(messages[: at + 1], blocking, own)
    worst, wait = 0.0, blocking
    for turn in range(instances):
        wait = max(wait, blocking + turn * own.length)
        while True:
            new = blocking + turn * own.length
            new += sum(_up((wait + m.jitter + bit_time) / m.period) * m.length for m in urgent)
            if new <= wait * (1.0 + 1e-12):
                break
            wait = new
        worst = max(worst, own.jitter + wait - turn * own.period + own.length)
    return worst


def _busy(messages: Sequence[Message], blocking: float, own: Message) -> int:
    """Instances of a message within its longest busy period."""
    span = max(blocking, own.length)
    while True:
        new = blocking + sum(_up((span + m.jitter) / m.period) * m.length for m in messages)
        if new <= span * (1.0 + 1e-12):
            return max(1, _up((span + own.jitter) / own.period))
        span = new
