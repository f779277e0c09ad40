"""Stations: what stands at a point of the sheet once power has arrived there."""

from __future__ import annotations

from legwright.electrics.assembly import Assembly
from legwright.electrics.board import Track, track_resistance
from legwright.electrics.parts import Consumer, Item, Kind
from legwright.robot.sheet_electrics import Load

DEVICES = ("fuse", "switch")
"""Points with two sides: one run ends at it, the next starts behind it."""

LIGHTS = "lights"
"""Point at which the status lights hang."""


def arriving(made: Assembly, start: str, point: str) -> str:
    """The node at which a cable from `start` arrives at a point."""
    if point in DEVICES or point == "hub":
        return f"{point} in"
    load = load_of(made, point)
    if load is None or load.supply is None or made.rail(start) == load.supply:
        return point
    return f"{point} in"


def reach(made: Assembly, point: str, node: str, *, branch: str = "", place: str = "") -> None:
    """Set up what stands at a point.

    Args:
        made: The circuit in the making.
        point: Battery, fuse, switch, hub, a joint, a load, lights, or a mere junction.
        node: At which power arrives.
        branch: Of the hub, that feeds it.
        place: Key of the sheet that says so.
    """
    load = load_of(made, point)
    if point in DEVICES:
        add_device(made, point, node)
    elif point == "hub":
        _add_hub(made, node)
    elif load is not None:
        _add_load(made, point, load, node, branch)
    else:
        made.at[point] = node
        if point in made.robot.servos:
            _consume(made, Kind.SERVO, point, node, place, branch)


def load_of(made: Assembly, point: str) -> Load | None:
    """The load at a point, the status lights as one."""
    sheet = made.robot.sheet
    if point != LIGHTS or LIGHTS in sheet.load or sheet.lights is None:
        return sheet.load.get(point)
    lights = sheet.lights
    volts = lights.supply or (sheet.battery.nominal_voltage if sheet.battery else 0.0)
    return Load.model_construct(
        power=lights.count * lights.current * lights.brightness * volts,
        supply=lights.supply,
        regulator_efficiency=lights.regulator_efficiency,
    )


def add_device(made: Assembly, point: str, node: str) -> None:
    """Fuse or switch; nothing where the sheet states none."""
    made.at[point] = node
    parts = made.robot.sheet.protection
    rating = None
    if parts is not None:
        rating = parts.fuse if point == "fuse" else parts.switch_current
    if parts is None or rating is None:
        return
    kind = Kind.FUSE if point == "fuse" else Kind.SWITCH
    made.at[point] = f"{point} out"
    made.items.append(
        Item(
            designation=made.designation(kind),
            kind=kind,
            name=f"main {point}",
            start=node,
            end=f"{point} out",
            place="protection.fuse" if point == "fuse" else "protection.switch_current",
            resistance=parts.fuse_resistance if point == "fuse" else parts.switch_resistance,
            rating=rating,
            fuse_kind=parts.fuse_kind if point == "fuse" else "",
        )
    )


def add_branch_fuse(made: Assembly, branch: str, port: int, rating: float) -> str:
    """The fuse of a port; returns the node behind it."""
    protection = made.robot.sheet.protection
    node = f"port {port}"
    made.items.append(
        Item(
            designation=made.designation(Kind.FUSE),
            kind=Kind.FUSE,
            name=f"{branch} fuse",
            start="hub",
            end=node,
            place=f"hub.branch.{branch}.fuse",
            rating=rating,
            branch=branch,
            fuse_kind=protection.fuse_kind if protection else "normal",
        )
    )
    return node


def _add_hub(made: Assembly, node: str) -> None:
    hub = made.robot.sheet.hub
    if "switch" not in made.at:
        add_device(made, "switch", node)
        node = made.at["switch"]
    made.at["hub"] = "hub"
    track, ohms = None, 0.0
    if hub is not None and hub.copper_width and hub.copper_thickness:
        track = Track(
            width=hub.copper_width, thickness=hub.copper_thickness, layers=hub.copper_layers
        )
        ohms = 2.0 * float(track_resistance(track, hub.copper_length or 0.0))
    made.items.append(
        Item(
            designation=made.designation(Kind.HUB),
            kind=Kind.HUB,
            name="hub",
            start=node,
            end="hub",
            place="hub.copper_width",
            resistance=ohms,
            rating=hub.port_current if hub else None,
            track=track,
            track_length=hub.copper_length if hub else None,
        )
    )


def _add_load(made: Assembly, name: str, load: Load, node: str, branch: str) -> None:
    kind = Kind.LIGHTS if name == LIGHTS else Kind.LOAD
    place = (
        LIGHTS if kind is Kind.LIGHTS and LIGHTS not in made.robot.sheet.load else f"load.{name}"
    )
    if load.supply is not None and made.rail(node) != load.supply:
        if load.regulator_efficiency is None:
            made.notes.append(f"The regulator of {name} is taken as lossless: not stated.")
        made.items.append(
            Item(
                designation=made.designation(Kind.REGULATOR),
                kind=Kind.REGULATOR,
                name=f"{name} regulator",
                start=node,
                end=name,
                place=f"{place}.regulator_efficiency",
                branch=branch,
                voltage=load.supply,
                efficiency=load.regulator_efficiency or 1.0,
            )
        )
        node = name
    made.at[name] = node
    _consume(made, kind, name, node, place, branch, load)


def _consume(
    made: Assembly,
    kind: Kind,
    name: str,
    node: str,
    place: str,
    branch: str,
    load: Load | None = None,
) -> None:
    power = load.power if load else 0.0
    made.consumers.append(
        Consumer(
            designation=made.designation(kind),
            kind=kind,
            name=name,
            node=node,
            place=place,
            branch=branch,
            power=power,
            peak_power=(load.peak_power or power) if load else 0.0,
        )
    )
