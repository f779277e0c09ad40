"""Choose for me: the lightest wires, hub copper and fuses that meet the requirements.

Topology, connectors and insulation stay as the sheet states them. Standard parts only: wires
by gauge, fuses as sold, widths in steps of half a millimetre. Every wire must pass alone
(terminals, temperature, protection by its fuse) at the lengths that the stated wires need
(thinner ones bend more tightly and need no more); among what is left, the combination of least
mass that keeps the voltage drop is searched exhaustively.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from legwright.electrics.bounds import (
    WIDEST,
    Fusing,
    Kindred,
    fusings,
    kindreds,
    least_width,
)
from legwright.electrics.choose_search import Search, hub_mass, wire_mass
from legwright.electrics.circuit import Circuit
from legwright.electrics.copper import Wire
from legwright.electrics.parts import Kind
from legwright.electrics.sizes import WIDTH_STEP, standard_wires
from legwright.electrics.supply import Supply
from legwright.errors import RequestError
from legwright.robot.robot import Robot
from legwright.robot.sheet import Protection
from legwright.robot.tree import read_only


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """One part that was chosen, and the requirement that drives it."""

    place: str
    """Key of the sheet."""
    size: str
    """``20 AWG``, ``12 mm``, ``5 A``."""
    before: str
    """What the sheet states; empty for nothing."""
    driver: str
    """What the next smaller part would break."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Choice:
    """The lightest set that passes."""

    wires: Mapping[str, Wire]
    """Name in `harness.conductor` -> wire."""
    width: float
    """Of the hub's main track [m]."""
    fuses: tuple[Fusing, ...]
    chosen: tuple[Chosen, ...]
    """Every part with what drives it, for people."""
    mass: float
    """Of wires and hub copper, supply and return [kg]."""
    mass_before: float
    """Of what the sheet states [kg]."""
    drop: float
    """Largest share of the battery's voltage lost on the way to a consumer."""
    tried: int
    """Combinations solved in full."""


def choose(robot: Robot, circuit: Circuit, supplies: Sequence[Supply]) -> Choice:
    """The lightest conductors, hub copper and fuses that meet the sheet's requirements.

    Args:
        robot: The robot; its requirements say which voltage drop and rise are allowed.
        circuit: Its circuit.
        supplies: What flows, case by case; with the circuit as the sheet states it.

    Returns:
        Choice.

    Raises:
        RequestError: where nothing passes, with what stands in the way.
    """
    _refuse_bare(circuit, supplies)
    fuses = fusings(robot, circuit, supplies)
    kinds = kindreds(robot, circuit, supplies, fuses)
    for kind in kinds:
        if not kind.wires:
            reasons = "; ".join(dict.fromkeys(kind.refused.values()))
            allowed = f"one that passes; in the way: {reasons}"
            raise RequestError(f"wire for '{kind.conductor}'", "none", allowed)
    narrowest, why = least_width(robot, circuit, supplies, fuses)
    steps = np.arange(round(narrowest / WIDTH_STEP), round(WIDEST / WIDTH_STEP) + 1)
    widths = read_only(steps * WIDTH_STEP)
    search = Search(circuit, supplies, kinds, widths)
    limit = robot.sheet.requirements.voltage_drop
    tried = 0
    for pick in search.by_mass():
        if search.least_drop(pick) > limit:
            continue
        tried += 1
        if search.drop(pick) <= limit:
            return _choice(robot, search, fuses, pick, tried, why)
    best = search.drop(tuple(len(column) - 1 for column in search.masses))
    least = f"at least {best:.1%}, what the thickest standard parts lose"
    raise RequestError("requirements.voltage_drop", f"{limit:.1%}", least)


def _refuse_bare(circuit: Circuit, supplies: Sequence[Supply]) -> None:
    """Every cable needs a wire kind and a length, every case a supply that holds."""
    for item in circuit.of(Kind.CABLE):
        if item.wire is None or item.length is None:
            raise RequestError(item.name, "without conductor or length", "described in the sheet")
    if not supplies:
        raise RequestError("cases", 0, "one at least: nothing is known of the currents")
    if any(given.brown_out for given in supplies):
        raise RequestError("supply", "browned out", "one that holds: thicken what is stated first")


def _choice(
    robot: Robot,
    search: Search,
    fuses: tuple[Fusing, ...],
    pick: tuple[int, ...],
    tried: int,
    narrow: str,
) -> Choice:
    """What was picked, each part with what drives it."""
    circuit = search.circuit
    limit = robot.sheet.requirements.voltage_drop
    chosen = [_wire_row(search, pick, at, limit) for at in range(len(search.kinds))]
    hub = search.hub
    width = float(search.widths[pick[-1]])
    chosen.append(
        Chosen(
            place="hub.copper_width",
            size=f"{width * 1e3:g} mm",
            before=f"{hub.track.width * 1e3:g} mm" if hub.track else "",
            driver=narrow if pick[-1] == 0 else "voltage drop",
        )
    )
    stated = {item.place: item.rating for item in circuit.of(Kind.FUSE)}
    for fuse in fuses:
        before = stated.get(fuse.place)
        chosen.append(
            Chosen(
                place=fuse.place,
                size=f"{fuse.rating:g} A",
                before=f"{before:g} A" if before else "",
                driver=fuse.driver,
            )
        )
    return Choice(
        wires={
            kind.conductor: kind.wires[index]
            for kind, index in zip(search.kinds, pick, strict=False)
        },
        width=width,
        fuses=fuses,
        chosen=tuple(chosen),
        mass=search.mass(pick),
        mass_before=_mass_stated(search),
        drop=search.drop(pick),
        tried=tried,
    )


def _wire_row(search: Search, pick: tuple[int, ...], at: int, limit: float) -> Chosen:
    kind, index = search.kinds[at], pick[at]
    wire, stated = kind.wires[index], kind.cables[0].wire
    driver = "no thinner standard wire"
    if index > 0:
        thinner = (*pick[:at], index - 1, *pick[at + 1 :])
        driver = "voltage drop" if search.drop(thinner) > limit else "mass of the others"
    elif kind.refused:
        driver = _refused_below(kind, wire) or driver
    return Chosen(
        place=f"harness.conductor.{kind.conductor}",
        size=wire.name,
        before=stated.name if stated else "",
        driver=driver,
    )


def _refused_below(kind: Kindred, wire: Wire) -> str:
    """Why the next thinner standard wire does not pass alone; empty where there is none."""
    thinner = [one for one in standard_wires() if one.area < wire.area and one.name in kind.refused]
    return kind.refused[thinner[-1].name] if thinner else ""


def _mass_stated(search: Search) -> float:
    wires = sum(
        wire_mass(kind.cables, kind.cables[0].wire) for kind in search.kinds if kind.cables[0].wire
    )
    track = search.hub.track
    return wires + (hub_mass(search.circuit, track.width) if track else 0.0)


def applied(robot: Robot, choice: Choice) -> Robot:
    """The same robot with the chosen parts in its sheet.

    Args:
        robot: The robot that the choice was made for.
        choice: Wires, hub width and fuses.
    """
    sheet = robot.sheet
    harness, hub, protection = sheet.harness, sheet.hub, sheet.protection
    if harness is None or hub is None:
        raise RequestError("robot", robot.name, "one with hub and harness")
    conductors = dict(harness.conductor)
    for name, wire in choice.wires.items():
        conductors[name] = conductors[name].model_copy(
            update={"gauge": wire.name, "cross_section": None, "outside": wire.outside}
        )
    ratings = {fuse.place: fuse.rating for fuse in choice.fuses}
    branches = {
        name: branch.model_copy(
            update={"fuse": ratings.get(f"hub.branch.{name}.fuse", branch.fuse)}
        )
        for name, branch in hub.branch.items()
    }
    protection = (protection or Protection()).model_copy(
        update={"fuse": ratings["protection.fuse"]}
    )
    return replace(
        robot,
        sheet=sheet.model_copy(
            update={
                "harness": harness.model_copy(update={"conductor": conductors}),
                "hub": hub.model_copy(update={"copper_width": choice.width, "branch": branches}),
                "protection": protection,
            }
        ),
    )
