"""Assembly and test sequence: what to do, what to measure, what the meter should show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum
from math import ceil

from legwright.electrics.circuit import Circuit
from legwright.electrics.copper import wire_resistance
from legwright.electrics.parts import Consumer, Item, Kind
from legwright.electrics.readings import Readings, idle_readings
from legwright.electrics.wire_list import plugs_of
from legwright.robot.robot import Robot

CAUTIONS = (
    "Wiring and charging follow local codes and are done by qualified people.",
    "Lithium cells are never left unattended while charging, never short-circuited, never "
    "used below cut-off; a swollen or dented pack is not used.",
    "First power-up: robot on a stand, feet in the air, current-limited supply, a stop within "
    "reach.",
    "The main fuse and the battery stay out until all cold tests are passed.",
)

SPREAD = 0.25
"""Share by which resistances may differ from the expected ones; common practice, no published
source."""
SLACK = 0.003
"""Resistance that leads and contacts may add to a four-wire reading [Ω]; common practice."""
INSULATES = 10_000.0
"""Least resistance between supply and return with everything unplugged [Ω]; common practice."""


class Stage(Enum):
    """When a step is due, in this order."""

    ASSEMBLE = "assemble"
    COLD = "cold test"
    FIRST = "first power-up"
    BATTERY = "battery"
    CARE = "charging and storage"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step; a measurement where `quantity` is given."""

    number: int
    stage: Stage
    what: str
    start: str = ""
    """Where the meter's red lead goes."""
    end: str = ""
    quantity: str = ""
    """``resistance``, ``voltage``, ``current``"""
    unit: str = ""
    expected: float | None = None
    low: float | None = None
    """Below it, stop and look."""
    high: float | None = None
    caution: str = ""


def bring_up(circuit: Circuit, robot: Robot) -> tuple[Step, ...]:
    """Assembly and test sequence with expected readings.

    Args:
        circuit: The circuit.
        robot: Whose servos and loads draw idle currents.

    Returns:
        Steps in order, numbered from 1.
    """
    battery = robot.sheet.battery
    volts = battery.nominal_voltage if battery else circuit.network(charge=0.5).voltage
    bench = idle_readings(circuit, robot, supply=volts)
    steps = [
        *_assemble(circuit),
        *_cables(circuit),
        *_loops(circuit),
        *_first_power(circuit, bench),
        *_battery(circuit, robot),
        *_care(),
    ]
    return tuple(replace(step, number=number) for number, step in enumerate(steps, start=1))


def _do(stage: Stage, what: str, caution: str = "") -> Step:
    return Step(number=0, stage=stage, what=what, caution=caution)


def _assemble(circuit: Circuit) -> Iterator[Step]:
    yield _do(Stage.ASSEMBLE, "Cut every wire after the cut list; mark both ends with its name.")
    yield _do(
        Stage.ASSEMBLE,
        "Crimp the terminals with the tool made for them; pull each by hand; none may slip.",
    )
    yield _do(
        Stage.ASSEMBLE,
        "Insert the terminals after the pin table. Check with the part's own data sheet which "
        "pin is which before the first one goes in.",
        "Swapped supply and return destroy servos at once.",
    )
    yield _do(
        Stage.ASSEMBLE,
        "Fit hub, switch and fuse holder. Switch off, fuses out, battery away.",
        CAUTIONS[3],
    )
    yield _do(
        Stage.ASSEMBLE,
        "Lay the cables after the harness drawing. Move every joint by hand through its whole "
        "travel: no cable may pull, pinch or rub.",
    )


def _cables(circuit: Circuit) -> Iterator[Step]:
    """Each cable before it is plugged in: one wire from end to end."""
    for cable in circuit.of(Kind.CABLE):
        if cable.wire is None or cable.length is None:
            continue
        ohms = float(wire_resistance(cable.wire, cable.length, conductors=1))
        near, far = plugs_of(circuit, cable)
        yield Step(
            number=0,
            stage=Stage.COLD,
            what=f"{cable.designation} ({cable.name}), unplugged: each wire, end to end.",
            start=f"{near.designation}:1" if near else f"{cable.designation} near end",
            end=f"{far.designation}:1" if far else f"{cable.designation} far end",
            quantity="resistance",
            unit="Ω",
            expected=ohms,
            low=(1.0 - SPREAD) * ohms,
            high=(1.0 + SPREAD) * ohms + SLACK,
            caution="Four-wire meter.",
        )


def _loops(circuit: Circuit) -> Iterator[Step]:
    """From the battery's plug to the ends of the wiring, joined there by a link."""
    yield Step(
        number=0,
        stage=Stage.COLD,
        what="Everything plugged together but no servo and no load; battery away, fuses in, "
        "switch on. The reading climbs while the hub's capacitors charge.",
        start=f"{circuit.battery} plug +",
        end=f"{circuit.battery} plug 0V",
        quantity="resistance",
        unit="Ω",
        low=INSULATES,
        caution="A lower reading is a short: find it before any power.",
    )
    for node, label in _ends(circuit):
        ohms = circuit.loop_resistance(node)
        yield Step(
            number=0,
            stage=Stage.COLD,
            what=f"Supply and return joined at {label} by a short link, fuses in, switch on; "
            "loop through the whole wiring, at 20 °C. Take the link out again.",
            start=f"{circuit.battery} plug +",
            end=f"{circuit.battery} plug 0V",
            quantity="resistance",
            unit="Ω",
            expected=ohms,
            low=(1.0 - SPREAD) * ohms,
            high=(1.0 + SPREAD) * ohms + SLACK,
            caution="Battery away: a link on a live battery burns.",
        )


def _ends(circuit: Circuit) -> list[tuple[str, str]]:
    """The hub, then the far end of each branch on the battery's side of any regulator."""
    hubs = circuit.of(Kind.HUB)
    ends = [(hubs[0].end, hubs[0].designation)] if hubs else []
    for port in circuit.ports:
        last = _last(circuit, port.branch)
        if last is not None:
            ends.append((_ahead(circuit, last.node), last.designation))
    return ends


def _last(circuit: Circuit, branch: str) -> Consumer | None:
    mine = [one for one in circuit.consumers if branch and one.branch == branch]
    return mine[-1] if mine else None


def _ahead(circuit: Circuit, node: str) -> str:
    """The node, or where the regulator ahead of it is fed."""
    for item in circuit.feeding(node):
        if item.kind is Kind.REGULATOR:
            return item.start
    return node


def _first_power(circuit: Circuit, bench: Readings) -> Iterator[Step]:
    stage, volts = Stage.FIRST, bench.open_voltage
    total = bench.current[circuit.battery]
    limit = max(0.5, ceil(15.0 * total) / 10.0)
    yield _do(
        stage,
        f"Remove every link. Bench supply to the {circuit.battery} plug: {volts:.3g} V, limited "
        "to 0.5 A; no servo and no load plugged in. Switch on.",
        CAUTIONS[2],
    )
    for port in circuit.ports:
        yield _volts(
            stage,
            "No load: polarity and voltage at the port, red lead on pin 1.",
            f"hub port {port.number}",
            volts,
            0.01,
        )
    yield _do(
        stage,
        f"Switch off. Plug in the loads, then the servos, branch by branch; limit {limit:.1f} A. "
        "Servos powered but not commanded.",
        "Hands clear: a servo may jerk when it gets power.",
    )
    for port in circuit.ports:
        last = _last(circuit, port.branch)
        if last is not None:
            node = _ahead(circuit, last.node)
            what = f"All idle: supply at {last.designation} ({last.name})."
            yield _volts(stage, what, last.designation, bench.voltage[node], 0.01)
    for item in circuit.of(Kind.REGULATOR):
        what = f"All idle: output of {item.designation} ({item.name})."
        yield _volts(stage, what, item.designation, float(item.voltage or 0.0), 0.05)
    yield Step(
        number=0,
        stage=stage,
        what="All idle: current that the bench supply shows, loads at their average power.",
        start=circuit.battery + " plug",
        quantity="current",
        unit="A",
        expected=total,
        low=0.5 * total,
        high=1.5 * total,
    )


def _volts(stage: Stage, what: str, at: str, expected: float, share: float) -> Step:
    return Step(
        number=0,
        stage=stage,
        what=what,
        start=f"{at} +",
        end=f"{at} 0V",
        quantity="voltage",
        unit="V",
        expected=expected,
        low=(1.0 - share) * expected,
        high=(1.0 + share) * expected,
    )


def _battery(circuit: Circuit, robot: Robot) -> Iterator[Step]:
    stage, pack = Stage.BATTERY, robot.sheet.battery
    full = idle_readings(circuit, robot, charge=1.0)
    if pack is not None:
        yield Step(
            number=0,
            stage=stage,
            what="Battery alone, before it is plugged in.",
            start=f"{circuit.battery} +",
            end=f"{circuit.battery} 0V",
            quantity="voltage",
            unit="V",
            expected=full.open_voltage,
            low=pack.cutoff_voltage,
            high=1.01 * pack.full_voltage,
            caution="Below cut-off: do not use and do not charge it.",
        )
    fuses: tuple[Item, ...] = circuit.of(Kind.FUSE)
    rated = ", ".join(f"{fuse.designation} {fuse.rating:g} A" for fuse in fuses) or "none stated"
    yield _do(stage, f"Fit the fuses ({rated}); switch off; plug in the battery; switch on.")
    drop = full.voltage["battery"] - full.voltage[circuit.of(Kind.HUB)[0].end]
    yield Step(
        number=0,
        stage=stage,
        what="All idle: voltage at the battery less voltage at the hub, each + to 0V.",
        start=circuit.battery,
        end=circuit.of(Kind.HUB)[0].designation,
        quantity="voltage",
        unit="V",
        expected=drop,
        low=0.0,
        high=2.0 * drop + 0.01,
    )
    yield _do(
        stage,
        "Walk on the stand for five minutes; then switch off and feel plugs and cables: none "
        "may be too hot to hold.",
        CAUTIONS[2],
    )


def _care() -> Iterator[Step]:
    yield _do(Stage.CARE, CAUTIONS[1])
    yield _do(
        Stage.CARE,
        "Charge off the robot with a charger made for the chemistry and the number of cells, on "
        "a surface that does not burn; store at about half charge.",
        CAUTIONS[0],
    )
