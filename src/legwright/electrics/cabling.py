"""Cables: wire, connectors at both ends, and a length, from what the sheet names."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from legwright.electrics.assembly import Assembly
from legwright.electrics.contacts import Contact, pair_resistance
from legwright.electrics.copper import Wire, gauge_wire, metric_wire, wire_resistance
from legwright.electrics.insulation import Insulation, rated
from legwright.electrics.parts import Item, Kind, Origin
from legwright.electrics.straight import straight_length
from legwright.errors import RequestError, RobotError, did_you_mean
from legwright.robot.robot import Robot


@dataclass(frozen=True, slots=True, kw_only=True)
class CableSpec:
    """One cable as the sheet states it."""

    name: str
    place: str
    """Key of the sheet."""
    conductor: str | None
    connector: str | None
    length: float | None
    """Stated, one way [m]."""
    between: tuple[str, str] = ("", "")
    """Points that it joins: joints, loads, ``hub``, ``switch``."""
    branch: str = ""


def add_cable(made: Assembly, spec: CableSpec, start: str, end: str) -> None:
    """Add a cable between two nodes, with its connectors where the sheet names one.

    Args:
        made: The circuit in the making.
        spec: The cable.
        start: Node on the battery's side.
        end: Node on the far side.
    """
    cable = made.designation(Kind.CABLE)
    near, far = (f"{cable}:1", f"{cable}:2") if spec.connector else (start, end)
    length, origin = _length(made, spec)
    wire, cover = wire_of(made.robot, spec.conductor)
    if length is None:
        made.notes.append(f"No length is known of {spec.name}: its resistance is left out.")
    if wire is None:
        made.notes.append(f"No wire is stated for {spec.name}: its resistance is left out.")
    if spec.connector:
        _add_plug(made, spec, "near", (start, near), cable)
    made.items.append(
        Item(
            designation=cable,
            kind=Kind.CABLE,
            name=spec.name,
            start=near,
            end=far,
            place=spec.place,
            resistance=_cold(wire, length or 0.0) if wire else 0.0,
            branch=spec.branch,
            wire=wire,
            cover=cover,
            conductor=spec.conductor or "",
            length=length,
            origin=origin,
            between=spec.between,
        )
    )
    if spec.connector:
        _add_plug(made, spec, "far", (far, end), cable)


def _length(made: Assembly, spec: CableSpec) -> tuple[float | None, Origin | None]:
    if spec.length is not None:
        return spec.length, Origin.SHEET
    if spec.between[1] in made.lengths:
        return made.lengths[spec.between[1]], Origin.ROUTE
    straight = straight_length(made.robot, *spec.between)
    return straight, None if straight is None else Origin.STRAIGHT


def _add_plug(
    made: Assembly, spec: CableSpec, side: str, nodes: tuple[str, str], cable: str
) -> None:
    name = spec.connector or ""
    harness = made.robot.sheet.harness
    stated = harness.connector[name] if harness else None
    contact = contact_of(made.robot, name)
    loose = 2.0 * stated.resistance if stated else 0.0
    made.items.append(
        Item(
            designation=made.designation(Kind.CONNECTOR),
            kind=Kind.CONNECTOR,
            name=f"{spec.name}, {side} plug",
            start=nodes[0],
            end=nodes[1],
            place=f"harness.connector.{name}",
            resistance=loose if contact is None else pair_resistance(contact),
            rating=stated.current if stated else None,
            branch=spec.branch,
            contact=contact,
            connector=name,
            contacts=stated.contacts if stated else 0,
            cable=cable,
        )
    )


def wire_of(robot: Robot, conductor: str | None) -> tuple[Wire | None, Insulation | None]:
    """Wire and insulation of a conductor that the sheet names; None where it names none.

    Raises:
        RobotError: for an unknown name, gauge, cross-section or insulation.
    """
    if not conductor:
        return None, None
    known = robot.sheet.harness.conductor if robot.sheet.harness else {}
    place = f"harness.conductor.{conductor}"
    if conductor not in known:
        raise RobotError(robot.source, place, "is not described", did_you_mean(conductor, known))
    stated = known[conductor]
    try:
        cover = rated(stated.insulation, stated.highest_temperature)
        if stated.gauge is not None:
            return gauge_wire(stated.gauge, outside=stated.outside), cover
        return metric_wire(stated.cross_section or 0.0, outside=stated.outside), cover
    except RequestError as error:
        problem = f"{error.what} is {error.value!r}"
        raise RobotError(robot.source, place, problem, f"Must be {error.allowed}.") from error


def contact_of(robot: Robot, connector: str) -> Contact | None:
    """One contact of a connector that the sheet names; None where it states no rating.

    Raises:
        RobotError: for an unknown name, or wire sizes out of order.
    """
    known = robot.sheet.harness.connector if robot.sheet.harness else {}
    place = f"harness.connector.{connector}"
    if connector not in known:
        raise RobotError(robot.source, place, "is not described", did_you_mean(connector, known))
    stated = known[connector]
    if not stated.current:
        return None
    try:
        return _contact(
            connector, stated.current, stated.resistance, stated.smallest_wire or 0.0,
            stated.largest_wire or float("inf"),
        )  # fmt: skip
    except RequestError as error:
        problem = f"{error.what} is {error.value!r}"
        raise RobotError(robot.source, place, problem, f"Must be {error.allowed}.") from error


@lru_cache(maxsize=64)
def _contact(
    name: str, rating: float, resistance: float, smallest: float, largest: float
) -> Contact:
    return Contact(
        name=name, rating=rating, resistance=resistance, smallest=smallest, largest=largest
    )


@lru_cache(maxsize=256)
def _cold(wire: Wire, length: float) -> float:
    """Resistance of a cable there and back at 20 °C [Ω]."""
    return float(wire_resistance(wire, length))
