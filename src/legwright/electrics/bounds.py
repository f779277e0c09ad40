"""Bounds: what each wire and track must be, one by one, before voltage drop couples them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from legwright.electrics.ampacity import continuous_current, grouping_factor
from legwright.electrics.battery import internal_resistance, open_voltage
from legwright.electrics.board import BOARD_HIGHEST, track_warmth
from legwright.electrics.circuit import Circuit
from legwright.electrics.contacts import check_fit
from legwright.electrics.copper import Wire
from legwright.electrics.fuse_curves import earliest_blow, fuse_curve
from legwright.electrics.fuses import choose_fuse, protects
from legwright.electrics.mishaps import RIDE_THROUGH, mishaps, ridden_through, switch_on
from legwright.electrics.parts import Item, Kind
from legwright.electrics.sizes import WIDTH_STEP, standard_wires
from legwright.electrics.supply import Supply
from legwright.electrics.warmth import surroundings
from legwright.errors import RequestError
from legwright.robot.robot import Robot

WIDEST = 40e-3
"""Widest track that is tried [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fusing:
    """The fuse chosen for a place, and why it is no smaller."""

    place: str
    """``protection.fuse`` or ``hub.branch.NAME.fuse``."""
    node: str
    """Node that it feeds."""
    rating: float
    """[A]"""
    kind: str
    driver: str


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Kindred:
    """All cables of one conductor in `harness.conductor`, and the wires that they may be."""

    conductor: str
    cables: tuple[Item, ...]
    wires: tuple[Wire, ...]
    """Standard wires that pass alone, thinnest first."""
    refused: dict[str, str]
    """Wire -> why it does not pass."""


def fusings(robot: Robot, circuit: Circuit, supplies: Sequence[Supply]) -> tuple[Fusing, ...]:
    """The smallest standard fuse for the mains and for each branch that feeds something.

    Args:
        robot: The robot.
        circuit: Its circuit.
        supplies: What flows, case by case.

    Raises:
        RequestError: where no rating of the kind carries a load.
    """
    protection = robot.sheet.protection
    kind = protection.fuse_kind if protection else "normal"
    surge = switch_on(circuit, robot)
    hardest = max(supplies, key=lambda one: float(one.rms[0]))
    stalls = mishaps(robot, circuit, hardest)
    held, _ = ridden_through(circuit, stalls, circuit.of(Kind.HUB)[0], robot.legs)
    joule = 0.0 if surge is None else surge.joule
    found = [_fusing("protection.fuse", "hub", kind, supplies, joule, held)]
    for port in circuit.ports:
        if port.first:
            lead = next(item for item in circuit.items if item.name == port.first)
            held, _ = ridden_through(circuit, stalls, lead, robot.legs)
            place = f"hub.branch.{port.branch}.fuse"
            found.append(_fusing(place, lead.end, kind, supplies, 0.0, held))
    return tuple(found)


def _fusing(
    place: str, node: str, kind: str, supplies: Sequence[Supply], joule: float, held: float
) -> Fusing:
    best = None
    for given in supplies:
        current = given.flow.current[:, given.flow.network.node(node)]
        choice = choose_fuse(kind, current, given.step, inrush_joule=joule)
        if best is None or choice.rating > best.rating:
            best = choice
    if best is None:
        raise RequestError("supplies", 0, "one case at least")
    rating, driver, curve = best.rating, best.driver, fuse_curve(kind)
    while float(earliest_blow(curve, rating, held)) < RIDE_THROUGH:
        larger = [one for one in curve.ratings if one > rating]
        if not larger:
            allowed = f"held for {RIDE_THROUGH:g} s by a '{kind}' fuse"
            raise RequestError(f"stall current at {place}", f"{held:.3g} A", allowed)
        rating, driver = larger[0], "a stall ridden through"
    return Fusing(place=place, node=node, rating=rating, kind=kind, driver=driver)


def kindreds(
    robot: Robot, circuit: Circuit, supplies: Sequence[Supply], fuses: Sequence[Fusing]
) -> tuple[Kindred, ...]:
    """For each conductor of the harness, the standard wires that pass on their own.

    Args:
        robot: The robot.
        circuit: Its circuit; every cable with a wire and a length.
        supplies: What flows, case by case.
        fuses: As `fusings` chose them.
    """
    names = dict.fromkeys(item.conductor for item in circuit.of(Kind.CABLE))
    found = []
    for name in names:
        cables = tuple(item for item in circuit.of(Kind.CABLE) if item.conductor == name)
        refused: dict[str, str] = {}
        wires = []
        for standard in standard_wires():
            wire = _as_stated(cables[0], standard)
            why = _refusal(robot, circuit, cables, wire, supplies, fuses)
            if why:
                refused[wire.name] = why
            else:
                wires.append(wire)
        found.append(Kindred(conductor=name, cables=cables, wires=tuple(wires), refused=refused))
    return tuple(found)


def _as_stated(cable: Item, standard: Wire) -> Wire:
    """The stated wire where it is of that gauge: its outer diameter is known."""
    stated = cable.wire
    return stated if stated is not None and stated.name == standard.name else standard


def _refusal(
    robot: Robot,
    circuit: Circuit,
    cables: Sequence[Item],
    wire: Wire,
    supplies: Sequence[Supply],
    fuses: Sequence[Fusing],
) -> str:
    """Why a wire will not do for some cables, in a few words; empty where it will."""
    for plug in circuit.of(Kind.CONNECTOR):
        if plug.contact is not None and any(plug.cable == one.designation for one in cables):
            try:
                check_fit(plug.contact, wire)
            except RequestError:
                return f"terminals of connector '{plug.connector}'"
    grouping = grouping_factor(robot.sheet.harness.bundle if robot.sheet.harness else 1)
    ambient, wants = robot.sheet.requirements.ambient, robot.sheet.requirements
    at = [circuit.items.index(one) for one in cables]
    rms = max(float(np.nanmax(given.rms[at])) for given in supplies)
    around = surroundings(cables[0], ambient)
    cover = cables[0].cover
    limit = cover.continuous if cover else ambient
    for kelvin, why in ((limit, "insulation temperature"), (ambient + wants.wire_rise, "rise")):
        if float(continuous_current(wire, kelvin, around, grouping=grouping)) < rms:
            return why
    return _unprotected(circuit, cables, wire, fuses, grouping, ambient)


def _unprotected(
    circuit: Circuit,
    cables: Sequence[Item],
    wire: Wire,
    fuses: Sequence[Fusing],
    grouping: float,
    ambient: float,
) -> str:
    volts = float(open_voltage(circuit.pack, 1.0))
    cells = float(internal_resistance(circuit.pack, 1.0))
    seen: set[str] = set()
    for cable in cables:
        fuse = nearest(circuit, cable, fuses)
        if fuse is None or cable.cover is None or fuse.place in seen:
            continue
        seen.add(fuse.place)
        answer = protects(
            fuse_curve(fuse.kind),
            fuse.rating,
            wire,
            cable.cover,
            surroundings(cable, ambient),
            fault=volts / (cells + circuit.loop_resistance(cable.start)),
            grouping=grouping,
        )
        if not answer.ok:
            return f"protection by the {fuse.rating:g} A fuse"
    return ""


def nearest(circuit: Circuit, cable: Item, fuses: Sequence[Fusing]) -> Fusing | None:
    """The chosen fuse next on the battery's side; None behind a regulator."""
    if any(item.kind is Kind.REGULATOR for item in circuit.feeding(cable.end)):
        return None
    if cable.branch:
        place = f"hub.branch.{cable.branch}.fuse"
        return next((fuse for fuse in fuses if fuse.place == place), None)
    return next(fuse for fuse in fuses if fuse.place == "protection.fuse")


def least_width(
    robot: Robot, circuit: Circuit, supplies: Sequence[Supply], fuses: Sequence[Fusing]
) -> tuple[float, str]:
    """The least width of the hub's main track, and what drives it.

    Args:
        robot: The robot.
        circuit: Its circuit.
        supplies: What flows, case by case.
        fuses: As `fusings` chose them, the main fuse first.

    Returns:
        Width [m]; ``rise`` or ``protection by the main fuse``.

    Raises:
        RequestError: where no width up to `WIDEST` does.
    """
    hub = circuit.of(Kind.HUB)[0]
    if hub.track is None:
        raise RequestError("hub.copper_width", None, "stated, with copper_thickness")
    at = circuit.items.index(hub)
    rms = max(float(given.rms[at]) for given in supplies)
    wants, main = robot.sheet.requirements, fuses[0]
    over = fuse_curve(main.kind).blows * main.rating
    driver = "least width that is drawn"
    for count in range(2, round(WIDEST / WIDTH_STEP) + 1):
        track = replace(hub.track, width=count * WIDTH_STEP)
        if track_warmth(track, rms, wants.ambient) > wants.wire_rise:
            driver = "rise"
        elif wants.ambient + track_warmth(track, over, wants.ambient) > BOARD_HIGHEST:
            driver = f"protection by the {main.rating:g} A main fuse"
        else:
            return track.width, driver
    raise RequestError("hub current", f"{rms:.3g} A", f"carried by {WIDEST * 1e3:g} mm of copper")
