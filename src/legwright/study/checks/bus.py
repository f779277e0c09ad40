"""Does the bus keep up with the control rate?"""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor

from legwright.electrics import can_bus, serial_bus
from legwright.electrics.can_bus import BUS_LENGTH, HIGHEST_NODE, CanBus, can_cycle, node_plan
from legwright.electrics.parts import Kind
from legwright.electrics.serial_bus import MOST_UNIT_LOADS, SerialBus
from legwright.errors import RequestError
from legwright.robot.sheet_electrics import Bus
from legwright.study.bench import Bench
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

AREA = "bus"

HIGHEST_LOAD = 0.7
"""Share of the cycle that the bus may be busy; the rest is for parameters, faults and retries
(common practice, no published source)."""

LOST = 1
"""Answers lost in the worst cycle that still must end in time; common practice."""

SIGNAL_SPEED = 2e8
"""Of a signal along a cable [m/s]; two thirds of light, common practice."""

REFLECTION = 0.1
"""Share of a bit within which reflections must die where a line is not terminated; common
practice, no published source."""

NAMES = ("bus cycle", "bus load", "axes on one bus", "node ids", "termination")


def check_bus(bench: Bench) -> Iterator[Finding]:
    """Cycle, load, latency, axes, node ids, termination, length."""
    bus = bench.robot.sheet.bus
    missing = _missing(bus)
    if bus is None or missing:
        for name in NAMES:
            yield judge(
                AREA,
                name,
                None,
                None,
                "",
                sense=Sense.AT_MOST,
                why="The sheet does not describe the bus.",
                source="bus",
                missing=missing,
            )
        return
    try:
        yield from _can(bench, bus) if bus.kind == "can" else _serial(bench, bus)
    except RequestError as error:
        yield Finding(
            area=AREA,
            name="bus",
            verdict=Verdict.FAIL,
            why=str(error),
            source="bus",
            cure="Correct the [bus] table.",
        )
    yield _nodes(bench, bus)
    yield _termination(bench, bus)


def _missing(bus: Bus | None) -> str:
    if bus is None:
        return "Describe the [bus]."
    if bus.command_bytes is None or bus.answer_bytes is None:
        return "State bus.command_bytes and bus.answer_bytes."
    return ""


def _axes(bench: Bench, bus: Bus) -> tuple[int, int]:
    """All axes, and those on the fullest bus, shared out evenly."""
    total = len(bench.robot.servos)
    return total, ceil(total / bus.buses)


def _shared(total: int, axes: int, bus: Bus) -> str:
    split = "" if bus.buses == 1 else f" of {bus.buses}, {total} shared out evenly"
    return f"{axes} axes on the fullest bus{split}"


def _serial(bench: Bench, bus: Bus) -> Iterator[Finding]:
    total, axes = _axes(bench, bus)
    line = SerialBus(
        bit_rate=bus.bit_rate,
        command_bytes=bus.command_bytes or 0,
        answer_bytes=bus.answer_bytes or 0,
        turn_round=bus.turn_round,
    )
    rate = bus.update_rate
    time = serial_bus.cycle_time(line, axes, retries=LOST)
    each = serial_bus.exchange_time(line)
    fits = serial_bus.axes_that_fit(line, rate / HIGHEST_LOAD, retries=LOST)
    cure = _cure(total, fits, HIGHEST_LOAD * serial_bus.highest_rate(line, axes, retries=LOST))
    yield _cycle(
        time,
        rate,
        f"{_shared(total, axes, bus)}, {each * 1e6:.0f} µs each with its answer, {LOST} answer "
        "lost and asked again; no command or answer is older.",
        "8N1 bytes, turn-round and retries by frame lengths",
        cure,
    )
    load = serial_bus.line_load(line, axes, rate, retries=LOST)
    yield _load(load, rate, f"{bus.bit_rate / 1e6:g} Mbit/s, waits included", cure)
    yield _fit(axes, fits, rate, cure)
    yield judge(
        AREA,
        "receivers on one line",
        float(axes + 1),
        float(MOST_UNIT_LOADS),
        "unit loads",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"{axes} axes and the computer, one unit load each.",
        source="TIA-485-A",
        cure=f"At least {ceil(total / (MOST_UNIT_LOADS - 1))} buses, or receivers of an eighth "
        "of a unit load.",
        assumed=True,
    )


def _can(bench: Bench, bus: Bus) -> Iterator[Finding]:
    total, axes = _axes(bench, bus)
    line = CanBus(
        bit_rate=bus.bit_rate,
        command_bytes=bus.command_bytes or 0,
        answer_bytes=bus.answer_bytes or 0,
    )
    rate = bus.update_rate
    if axes > HIGHEST_NODE:
        raise RequestError("axes on one bus", axes, f"at most {HIGHEST_NODE}")
    run = can_cycle(line, range(1, axes + 1), rate)
    fits = can_bus.axes_that_fit(line, rate, limit=HIGHEST_LOAD)
    cure = _cure(total, fits, can_bus.highest_rate(line, axes, limit=HIGHEST_LOAD))
    yield _cycle(
        run.time,
        rate,
        f"{_shared(total, axes, bus)}: SYNC, then one command and one answer each, frames "
        "stuffed at worst.",
        "Davis, Burns, Bril, Lukkien 2007 (frame lengths); CiA 301",
        cure,
    )
    yield _load(run.load, rate, f"{bus.bit_rate / 1e6:g} Mbit/s, heartbeats included", cure)
    yield judge(
        AREA,
        "worst latency of a command or answer",
        run.worst_latency * 1e3,
        1e3 / rate,
        "ms",
        sense=Sense.AT_MOST,
        why=f"{run.names[run.latency.index(run.worst_latency)]}, response-time analysis.",
        source="Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007) 239",
        cure=cure,
    )
    yield _fit(axes, fits, rate, cure)
    yield _length(bench, bus)


def _cure(total: int, fits: int, rate: float) -> str:
    more = f"{ceil(total / fits)} buses, or " if fits else ""
    return f"{more}at most {floor(rate)} cycles a second."


def _cycle(time: float, rate: float, why: str, source: str, cure: str) -> Finding:
    return judge(
        AREA,
        NAMES[0],
        time * 1e3,
        1e3 / rate,
        "ms",
        sense=Sense.AT_MOST,
        why=why,
        source=f"{source}; bus.update_rate",
        cure=cure,
    )


def _load(load: float, rate: float, what: str, cure: str) -> Finding:
    return judge(
        AREA,
        NAMES[1],
        load * 100.0,
        HIGHEST_LOAD * 100.0,
        "%",
        sense=Sense.AT_MOST,
        why=f"At {rate:g} cycles a second, {what}.",
        source="common practice, no published source",
        cure=cure,
    )


def _fit(axes: int, fits: int, rate: float, cure: str) -> Finding:
    return judge(
        AREA,
        NAMES[2],
        float(axes),
        float(fits),
        "axes",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"{fits} axes fit on one bus at {rate:g} cycles a second and {HIGHEST_LOAD:.0%} load.",
        source="bus.buses, bus.update_rate",
        cure=cure,
    )


def _nodes(bench: Bench, bus: Bus) -> Finding:
    """Every axis has an id, and none is given more often than there are buses."""
    robot = bench.robot
    bare = [joint for joint in robot.servos if joint not in bus.nodes]
    strange = [joint for joint in bus.nodes if joint not in robot.servos]
    ids = list(bus.nodes.values())
    twice = [node for node in dict.fromkeys(ids) if ids.count(node) > bus.buses]
    plan = node_plan([leg.joint_names for leg in robot.legs.values()])
    first = next(iter(plan.items()))
    why = "Every axis has an id of its own on its bus."
    if bare:
        why = f"Without id: {', '.join(bare[:4])}{' and more' if len(bare) > 4 else ''}."
    elif strange:
        why = f"Ids for what is no axis: {', '.join(strange[:4])}."
    elif twice:
        why = f"Id {twice[0]} is given to {ids.count(twice[0])} axes on {bus.buses} buses."
    wrong = len(bare) + len(strange) + len(twice)
    return judge(
        AREA,
        NAMES[3],
        float(wrong) if bus.nodes else None,
        0.0,
        "faults",
        sense=Sense.AT_MOST,
        near=0.0,
        why=why,
        source="bus.nodes; CiA 301: ids 1 to 127",
        parts=tuple(bare + strange),
        cure=f"Leg and joint as digits, like {first[0]} = {first[1]}, tell every axis apart.",
        missing=f"Give every axis an id in [bus.nodes], like {first[0]} = {first[1]}.",
    )


def _reach(bench: Bench) -> float | None:
    """Length of all cables behind the hub, the longest a bus could be [m]."""
    circuit = bench.power.circuit
    if circuit is None:
        return None
    servos = {one.branch for one in circuit.servos.values()}
    cables = [item for item in circuit.of(Kind.CABLE) if item.branch in servos and item.branch]
    if not cables or any(item.length is None for item in cables):
        return None
    return sum(item.length or 0.0 for item in cables)


def _termination(bench: Bench, bus: Bus) -> Finding:
    """CAN always ends in 120 Ω twice; a serial line where it is long against a bit."""
    length = _reach(bench)
    trip = None if length is None else 2.0 * length / SIGNAL_SPEED * bus.bit_rate
    needed = bus.kind == "can" or trip is None or trip > REFLECTION
    why = "Terminated at both ends." if bus.terminated else "Not terminated."
    if bus.kind == "serial" and trip is not None:
        why += f" Reflections die within {trip:.1%} of a bit ({length:.2g} m of cable there and "
        why += f"back); up to {REFLECTION:.0%} a line needs no resistors."
    return Finding(
        area=AREA,
        name=NAMES[4],
        verdict=Verdict.PASS if bus.terminated or not needed else Verdict.FAIL,
        why=why,
        source="ISO 11898-2: 120 Ω at both ends"
        if bus.kind == "can"
        else "TIA-485-A: 120 Ω at both ends of a long line",
        cure="" if bus.terminated or not needed else "120 Ω at both ends; bus.terminated = true.",
    )


def _length(bench: Bench, bus: Bus) -> Finding:
    length = _reach(bench)
    rates = [rate for rate in BUS_LENGTH if rate >= bus.bit_rate]
    limit = BUS_LENGTH[min(rates)] if rates else None
    return judge(
        AREA,
        "bus length",
        length,
        limit,
        "m",
        sense=Sense.AT_MOST,
        why="All cables behind the hub in one line: no bus is longer.",
        source="CiA 301 table 1 (from memory)",
        cure="More buses, or a lower bit rate.",
        missing="State conductor and length of every cable.",
        assumed=True,
    )
