"""The bill of materials of the electrical parts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from legwright.electrics.circuit import Circuit
from legwright.electrics.cut_list import cut_list, mass_per_metre, wire_totals
from legwright.electrics.parts import Item, Kind
from legwright.electrics.wire_list import COLOUR_NAMES, WireRow, wire_list
from legwright.robot.robot import Robot


@dataclass(frozen=True, slots=True, kw_only=True)
class BillRow:
    """One kind of part."""

    designations: tuple[str, ...]
    part: str
    detail: str
    quantity: float
    unit: str
    """``pcs`` or ``m``."""
    mass: float | None
    """Of the whole quantity [kg]; None where the sheet states none."""
    place: str
    """Key of the sheet."""


def bill_of(circuit: Circuit, robot: Robot) -> tuple[BillRow, ...]:
    """All electrical parts, with counts and masses.

    Args:
        circuit: The circuit.
        robot: Whose sheet states the parts.

    Returns:
        Battery, mains, hub, servos and loads, connectors and terminals, wire.
    """
    bus = robot.sheet.bus.kind if robot.sheet.bus else ""
    wires = wire_list(circuit, bus=bus)
    return (
        _battery(circuit, robot),
        *_mains(circuit),
        *_servos(circuit, robot),
        *_loads(circuit, robot),
        *_connectors(circuit, wires),
        *_wire(circuit, wires),
    )


def _battery(circuit: Circuit, robot: Robot) -> BillRow:
    cells = robot.sheet.battery
    pack = circuit.pack
    detail = f"{pack.chemistry}, {pack.series} in series, {pack.parallel} in parallel, "
    detail += f"{pack.capacity / 3600.0:.3g} A·h"
    if cells is not None:
        detail += f", {cells.nominal_voltage:.3g} V nominal"
    return BillRow(
        designations=(circuit.battery,),
        part="battery pack",
        detail=detail,
        quantity=1,
        unit="pcs",
        mass=cells.mass if cells else None,
        place="battery",
    )


def _mains(circuit: Circuit) -> list[BillRow]:
    names = {
        Kind.FUSE: "fuse with holder",
        Kind.SWITCH: "main switch",
        Kind.HUB: "power hub",
        Kind.REGULATOR: "step-down regulator",
    }
    rows = []
    for kind, name in names.items():
        groups: dict[str, list[Item]] = {}
        for item in circuit.of(kind):
            groups.setdefault(_detail(circuit, item), []).append(item)
        for detail, items in groups.items():
            rows.append(_row(items, name, detail, items[0].place))
    return rows


def _detail(circuit: Circuit, item: Item) -> str:
    if item.kind is Kind.FUSE:
        return f"{item.rating:g} A, {item.fuse_kind or 'normal'}"
    if item.kind is Kind.SWITCH:
        return f"{item.rating:g} A, breaks direct current under load"
    if item.kind is Kind.HUB:
        each = "" if item.rating is None else f", {item.rating:g} A a port"
        return f"{len(circuit.ports)} ports{each}"
    return f"to {item.voltage:g} V, efficiency {item.efficiency or 1.0:g}"


def _servos(circuit: Circuit, robot: Robot) -> list[BillRow]:
    groups: dict[str, list[str]] = {}
    for joint, one in circuit.servos.items():
        servo = robot.servos.get(joint)
        groups.setdefault(servo.id if servo else "", []).append(one.designation)
    rows = []
    for kind, names in groups.items():
        servo = next((s for s in robot.servos.values() if s is not None and s.id == kind), None)
        each = servo.mass if servo else None
        rows.append(
            BillRow(
                designations=tuple(names),
                part="servo",
                detail=kind or "not stated",
                quantity=len(names),
                unit="pcs",
                mass=None if each is None else each * len(names),
                place=f"servo.{kind}" if kind else "fit",
            )
        )
    return rows


def _loads(circuit: Circuit, robot: Robot) -> list[BillRow]:
    rows = []
    for one in circuit.consumers:
        if one.kind is Kind.SERVO:
            continue
        stated = robot.sheet.load.get(one.name)
        lights = robot.sheet.lights if one.kind is Kind.LIGHTS else None
        rows.append(
            BillRow(
                designations=(one.designation,),
                part=one.name,
                detail=f"{one.power:.3g} W, peak {one.peak_power:.3g} W",
                quantity=lights.count if lights else 1,
                unit="pcs",
                mass=stated.mass if stated else None,
                place=one.place,
            )
        )
    return rows


def _connectors(circuit: Circuit, wires: Sequence[WireRow]) -> list[BillRow]:
    groups: dict[str, list[Item]] = {}
    for item in circuit.of(Kind.CONNECTOR):
        groups.setdefault(item.connector, []).append(item)
    rows = []
    for kind, items in groups.items():
        detail = f"'{kind}', {items[0].contacts} pins, plug and socket"
        rows.append(_row(items, "connector pair", detail, items[0].place))
        ends = [end for row in wires for end in (row.start, row.end) if end.terminal == kind]
        rows.append(
            BillRow(
                designations=tuple(item.designation for item in items),
                part="crimp terminal",
                detail=f"for '{kind}', plug side",
                quantity=len(ends),
                unit="pcs",
                mass=None,
                place=items[0].place,
            )
        )
    return rows


def _wire(circuit: Circuit, wires: Sequence[WireRow]) -> list[BillRow]:
    kinds = {item.wire.name: item for item in circuit.of(Kind.CABLE) if item.wire is not None}
    rows = []
    for total in wire_totals(cut_list(wires)):
        item = kinds.get(total.size)
        alike = [w for w in wires if (w.size, w.colour) == (total.size, total.colour)]
        wire = None if item is None else item.wire
        detail = f"{COLOUR_NAMES[total.colour]}, {total.insulation or 'insulation not stated'}"
        if total.unknown:
            detail += f", {total.unknown} of {total.count} pieces of unknown length left out"
        rows.append(
            BillRow(
                designations=tuple(dict.fromkeys(w.cable for w in alike)),
                part=f"wire {total.size or 'of no stated size'}",
                detail=detail,
                quantity=round(total.length, 3),
                unit="m",
                mass=None if wire is None else mass_per_metre(wire) * total.length,
                place="harness.conductor" + (f".{item.conductor}" if item else ""),
            )
        )
    return rows


def _row(items: Iterable[Item], part: str, detail: str, place: str) -> BillRow:
    names = tuple(item.designation for item in items)
    return BillRow(
        designations=names,
        part=part,
        detail=detail,
        quantity=len(names),
        unit="pcs",
        mass=None,
        place=place,
    )
