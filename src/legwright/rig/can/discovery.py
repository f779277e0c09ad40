"""Which drives are on the buses, and whether they are the ones that the sheet describes."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from legwright.electrics.can_bus import HIGHEST_NODE
from legwright.errors import RigError
from legwright.rig.calibration import Calibration, JointCalibration
from legwright.rig.can import objects as o
from legwright.rig.can.frames import Whole
from legwright.rig.can.sdo import TRIES, Place, Talk
from legwright.rig.can.set_up import MASTER
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

PROFILE = 402
"""Low half of the device type of servo drives."""
SCAN = 0.05
"""How long each group of node ids is given to answer [s]; common practice."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Axes:
    """All drives of one robot: its leg joints first, then those of mast and tools."""

    names: tuple[str, ...]
    places: tuple[Place, ...]
    """Wire and node of each."""
    wire: Whole
    """(R,): number of the wire."""
    node: Whole
    """(R,)"""
    counts: Floats
    """(R,): position counts per turn of the output shaft."""
    rated: Floats
    """(R,): rated current [A]."""
    serial: Whole
    """(R,)"""


def scan(talk: Talk, wires: int) -> dict[Place, int]:
    """Every node that answers on each wire.

    Args:
        talk: SDO.
        wires: Number of wires.

    Returns:
        Wire and node -> device type.
    """
    asked = [(wire, node) for node in range(1, HIGHEST_NODE + 1) for wire in range(wires)]
    return talk.read([place for place in asked if place[1] != MASTER], o.DEVICE_TYPE, patience=SCAN)


def nodes_of(robot: Robot, calibration: Calibration | None) -> dict[str, int]:
    """Node id of every leg joint, and of held joints that have one.

    The calibration's counts before the sheet's.

    Raises:
        RigError: if a joint has none, or two have the same.
    """
    sheet = robot.sheet.bus.nodes if robot.sheet.bus is not None else {}
    known = calibration.joints if calibration is not None else {}
    nodes: dict[str, int] = {}
    for name in (*robot.joint_names, *robot.held):
        node = known.get(name, JointCalibration()).node or sheet.get(name)
        if node is None and name in robot.held:
            continue  # a joint that is no drive on these buses
        if node is None:
            raise RigError(f"{name} has no node id. Give it one in [bus.nodes].")
        nodes[name] = node
    for name, node in nodes.items():
        twin = next(other for other, number in nodes.items() if number == node)
        if twin != name:
            raise RigError(
                f"{twin} and {name} both have node id {node}. "
                "Ids must differ across all buses of a robot: renumber one."
            )
    return nodes


def find_axes(
    talk: Talk, wires: int, robot: Robot, calibration: Calibration | None = None
) -> tuple[Axes, tuple[str, ...]]:
    """Find every drive of the robot and check what it is.

    Args:
        talk: SDO.
        wires: Number of wires.
        robot: The robot.
        calibration: Of this machine.

    Returns:
        The drives, and notes on what else was found.

    Raises:
        RigError: if a drive is missing, is found twice, or is not what sheet and calibration say.
    """
    nodes = nodes_of(robot, calibration)
    found = scan(talk, wires)
    late = sorted(set(nodes.values()) - {place[1] for place in found})
    asked = [(wire, node) for node in late for wire in range(wires)]
    found |= talk.read(asked, o.DEVICE_TYPE, tries=TRIES)
    _all_there(nodes, found)
    places = tuple(next(place for place in found if place[1] == node) for node in nodes.values())
    extra = sorted({place[1] for place in found} - set(nodes.values()))
    notes = tuple(
        f"Node {node} answers but belongs to no joint; it is left alone." for node in extra
    )
    told = {item: talk.read_all(places, item) for item in _ASKED}
    for name, place in zip(nodes, places, strict=True):
        _identity(robot, calibration, name, place, {item: told[item][place] for item in _ASKED})
    return _axes(tuple(nodes), places, told), notes


def drives_found(talk: Talk, wires: int, beside: Collection[int]) -> Axes:
    """Every servo drive that answers, by node.

    Args:
        talk: SDO.
        wires: Number of wires.
        beside: Nodes that are left alone.

    Raises:
        RigError: if none answers, or one does not know its scales.
    """
    found = scan(talk, wires)
    _some_there(found)
    places = tuple(
        place
        for place, kind in found.items()
        if kind & 0xFFFF == PROFILE and place[1] not in beside
    )
    told = {item: talk.read_all(places, item) for item in _ASKED}
    for place in places:
        _scales_known(f"Node {place[1]}", {item: told[item][place] for item in _ASKED})
    return _axes(tuple(f"node {place[1]}" for place in places), places, told)


def _axes(
    names: tuple[str, ...], places: tuple[Place, ...], told: Mapping[o.Object, Mapping[Place, int]]
) -> Axes:
    def column(item: o.Object) -> list[int]:
        return [told[item][place] for place in places]

    counts = np.array(column(o.FEED), dtype=np.float64) / np.array(column(o.FEED_TURNS))
    return Axes(
        names=names,
        places=places,
        wire=np.array([place[0] for place in places]),
        node=np.array([place[1] for place in places]),
        counts=counts,
        rated=1e-3 * np.array(column(o.RATED_CURRENT), dtype=np.float64),
        serial=np.array(column(o.SERIAL)),
    )


_ASKED = (
    o.DEVICE_TYPE, o.VENDOR, o.PRODUCT, o.SERIAL, o.FEED, o.FEED_TURNS, o.RATED_CURRENT,
)  # fmt: skip


def _some_there(found: Mapping[Place, int]) -> None:
    """Refuse an empty bus, and a node id that is there twice."""
    ids = [place[1] for place in found]
    if not ids:
        raise RigError(
            "No node answers. Look at supply, cables, bit rate and termination "
            "(120 Ω at both ends)."
        )
    twice = sorted({node for node in ids if ids.count(node) > 1})
    if twice:
        raise RigError(
            f"Node {twice[0]} answers on two buses. Ids must differ across all buses: renumber one."
        )


def _all_there(nodes: Mapping[str, int], found: Mapping[Place, int]) -> None:
    _some_there(found)
    ids = [place[1] for place in found]
    missing = [(name, node) for name, node in nodes.items() if node not in ids]
    if not missing:
        return
    shown = ", ".join(f"{name} (node {node})" for name, node in missing[:3])
    more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
    verb = "does" if len(missing) == 1 else "do"
    strange = sorted(set(ids) - set(nodes.values()))
    hint = "Look at its cable, supply and node id."
    if strange:
        hint = f"Node {_listed(strange)} answers but belongs to no joint: look at its node id."
    raise RigError(f"{shown}{more} {verb} not answer; {len(ids)} nodes do. {hint}")


def _identity(
    robot: Robot, calibration: Calibration | None, name: str, place: Place,
    told: Mapping[o.Object, int],
) -> None:  # fmt: skip
    """Refuse a drive that is not what was planned."""
    who = f"{name} (node {place[1]})"
    if told[o.DEVICE_TYPE] & 0xFFFF != PROFILE:
        raise RigError(
            f"{who} is no servo drive: its device type is {told[o.DEVICE_TYPE]:#010x}, "
            f"not of profile {PROFILE}. Look at the node id."
        )
    _scales_known(who, told)
    asked = robot.sheet.bus.drive if robot.sheet.bus is not None else None
    if asked is not None:
        current = None if asked.rated_current is None else round(1e3 * asked.rated_current)
        counts = None if asked.counts is None else asked.counts * told[o.FEED_TURNS]
        for item, value, key in (
            (o.VENDOR, asked.vendor, "vendor"),
            (o.PRODUCT, asked.product, "product"),
            (o.FEED, counts, "counts"),
            (o.RATED_CURRENT, current, "rated_current"),
        ):
            if value is not None and told[item] != value:
                raise RigError(
                    f"{who} has {item.name} {told[item]}, the sheet says {value}. "
                    f"Put in the right drive, or correct bus.drive.{key}."
                )
    one = calibration.joints.get(name) if calibration is not None else None
    if one is not None and one.serial is not None and told[o.SERIAL] != one.serial:
        raise RigError(
            f"{who} has serial number {told[o.SERIAL]}, but {one.serial} was calibrated. "
            "The drive was changed: run `legwright bringup` for this joint."
        )


def _scales_known(who: str, told: Mapping[o.Object, int]) -> None:
    if not (told[o.FEED] and told[o.FEED_TURNS] and told[o.RATED_CURRENT]):
        raise RigError(
            f"{who} does not know its position scale (6092h) or its rated current (6075h). "
            "Set them with the maker's tool."
        )


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(str(number) for number in numbers[:5]) + (" ..." if len(numbers) > 5 else "")
