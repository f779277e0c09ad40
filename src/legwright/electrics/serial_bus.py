"""A serial multi-drop bus of servos: bytes, answers, retries; and its line at rest."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, inf

from legwright.errors import RequestError

BITS_PER_BYTE = 10
"""8N1: start bit, 8 data bits, no parity, stop bit."""

UNIT_LOAD = 12e3
"""Input resistance of one RS-485 unit load [Ω]; TIA-485-A."""

MOST_UNIT_LOADS = 32
"""On one segment; TIA-485-A."""

TERMINATION = 120.0
"""At each of both ends [Ω]; TIA-485-A."""

THRESHOLD = 0.2
"""Voltage between the lines that every receiver tells from nothing [V]; TIA-485-A."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialBus:
    """One line on which a master asks servos in turn."""

    bit_rate: float
    """[bit/s]"""
    command_bytes: int
    """Payload to each servo and cycle."""
    answer_bytes: int
    """Payload from each servo and cycle; 0 where none is asked."""
    overhead_bytes: int = 6
    """Header, address, length, kind and checksum of a frame."""
    turn_round: float = 0.0
    """From the end of a request to the start of its answer [s]."""
    gap: float = 0.0
    """Quiet time between exchanges [s]."""
    together: bool = False
    """One frame carries all commands, each with one address byte; answers are still asked for
    one by one."""
    timeout: float | None = None
    """Wait for an answer that does not come [s]; twice a good answer's time when None."""

    def __post_init__(self) -> None:
        if not 0.0 < self.bit_rate < inf:
            raise RequestError("bit rate", self.bit_rate, "finite and above 0")
        for what in ("command_bytes", "answer_bytes", "overhead_bytes", "turn_round", "gap"):
            if getattr(self, what) < 0:
                raise RequestError(what.replace("_", " "), getattr(self, what), "at least 0")


def byte_time(bit_rate: float) -> float:
    """Time of one byte, 8N1 [s]."""
    if not bit_rate > 0.0:
        raise RequestError("bit rate", bit_rate, "above 0")
    return BITS_PER_BYTE / bit_rate


def frame_time(bus: SerialBus, payload: int) -> float:
    """Time of one frame with a payload [s]."""
    return (payload + bus.overhead_bytes) * byte_time(bus.bit_rate)


def exchange_time(bus: SerialBus) -> float:
    """Time of one request, its answer and the gap after [s]."""
    asked = 0 if bus.together else bus.command_bytes
    if bus.answer_bytes == 0:
        return 0.0 if bus.together else frame_time(bus, asked) + bus.gap
    return frame_time(bus, asked) + bus.turn_round + frame_time(bus, bus.answer_bytes) + bus.gap


def retry_time(bus: SerialBus) -> float:
    """Time that one lost answer costs: its request, the wait in vain, and the gap [s]."""
    if bus.answer_bytes == 0:
        return 0.0
    asked = 0 if bus.together else bus.command_bytes
    good = bus.turn_round + frame_time(bus, bus.answer_bytes)
    wait = 2.0 * good if bus.timeout is None else bus.timeout
    return frame_time(bus, asked) + wait + bus.gap


def cycle_time(bus: SerialBus, axes: int, *, retries: int = 0) -> float:
    """Time to command and hear all axes once [s].

    Args:
        bus: The bus.
        axes: Servos on it.
        retries: Answers that are lost and asked for again in this cycle.

    Raises:
        RequestError: for negative counts.
    """
    if axes < 0 or retries < 0:
        raise RequestError("axes and retries", (axes, retries), "at least 0")
    time = axes * exchange_time(bus) + retries * retry_time(bus)
    if bus.together and axes > 0:
        time += frame_time(bus, axes * (bus.command_bytes + 1)) + bus.gap
    return time


def line_load(bus: SerialBus, axes: int, rate: float, *, retries: int = 0) -> float:
    """Share of the cycle that the bus is occupied, waiting for answers included."""
    return cycle_time(bus, axes, retries=retries) * rate


def highest_rate(bus: SerialBus, axes: int, *, retries: int = 0) -> float:
    """Highest cycle rate [Hz]; inf without axes."""
    time = cycle_time(bus, axes, retries=retries)
    return inf if time == 0.0 else 1.0 / time


def axes_that_fit(bus: SerialBus, rate: float, *, retries: int = 0) -> int:
    """Most axes that fit into a cycle, by time alone; see `unit_loads_fit` for the line.

    Raises:
        RequestError: for a rate that is not above 0.
    """
    if not rate > 0.0:
        raise RequestError("cycle rate", rate, "above 0 Hz")
    fixed = cycle_time(bus, 1, retries=retries)
    each = cycle_time(bus, 2, retries=retries) - fixed
    room = 1.0 / rate - fixed
    return 0 if room < -1e-12 else 1 + floor(room / each + 1e-9)


def buses_needed(bus: SerialBus, axes: int, rate: float, *, retries: int = 0) -> int:
    """How many such buses serve a number of axes.

    Raises:
        RequestError: where a bus does not even serve one.
    """
    fits = axes_that_fit(bus, rate, retries=retries)
    if fits == 0:
        raise RequestError("cycle rate", rate, "low enough for one axis on a bus")
    return -(-axes // fits)


def unit_loads_fit(nodes: int, *, unit_load: float = 1.0) -> bool:
    """Whether receivers may hang on one segment: at most 32 unit loads; TIA-485-A."""
    return nodes * unit_load <= MOST_UNIT_LOADS + 1e-9


def line_resistance(*, terminations: int = 2, unit_loads: float = 0.0) -> float:
    """Resistance between the lines: terminations beside all receivers [Ω]; inf for none."""
    conductance = terminations / TERMINATION + unit_loads / UNIT_LOAD
    return inf if conductance == 0.0 else 1.0 / conductance


def bias_resistor(
    supply: float, *, terminations: int = 2, unit_loads: float = 0.0, threshold: float = THRESHOLD
) -> float:
    """Largest pull-up and pull-down, each, that hold an idle line at its threshold [Ω].

    Args:
        supply: Voltage across the divider [V].
        terminations: 120 Ω resistors on the line.
        unit_loads: Of all receivers together.
        threshold: Wanted between the lines [V].

    Returns:
        Resistance; inf where no termination or receiver loads the line.

    Raises:
        RequestError: for a supply that is not above the threshold.

    Source: voltage divider, U_line = U R_line / (R_line + 2 R_bias); TIA-485-A thresholds.
    """
    if not supply > threshold > 0.0:
        raise RequestError("supply", supply, f"above the threshold of {threshold:g} V")
    line = line_resistance(terminations=terminations, unit_loads=unit_loads)
    return 0.5 * line * (supply / threshold - 1.0)
