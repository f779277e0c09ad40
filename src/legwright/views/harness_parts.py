"""Which parts of a circuit sit together, and where each lies in plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Item, Kind
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.views.figures import Paper
from legwright.views.harness_layout import Join, Part, box, disc, free_spot
from legwright.views.ink import Point
from legwright.views.lettering import width
from legwright.views.projection import link_poses

SERVO = 3.1
"""Radius of a servo's sign [mm]."""
HUB = (14.0, 19.0)
"""Width and height of the hub's sign [mm]."""
GAP = 5.0
"""Between signs that are moved apart [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Parts between which there is no cable."""

    name: str
    """Designation of its first part."""
    label: str
    kind: Kind
    words: str = ""
    """What it is, for the reader."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lay:
    """The parts on paper and the cables to be laid."""

    groups: tuple[Group, ...]
    parts: tuple[Part, ...]
    """One per group, same order."""
    joins: tuple[Join, ...]
    moved: frozenset[str]
    """Groups whose place is not stated, or that were moved aside."""


def lay_of(
    robot: Robot,
    circuit: Circuit,
    paper: Paper,
    q: Floats,
    bounds: tuple[float, float, float, float],
) -> Lay:
    """Parts and cables of a circuit in the plan of its robot.

    Args:
        robot: The robot.
        circuit: Its circuit.
        paper: The plan.
        q: Leg joint positions drawn, (J,).
        bounds: left, top, right, bottom that parts may fill [mm].

    Returns:
        Servos at their joints, the hub and loads where the sheet says; what has no place, or
        would lie on another part, at the nearest free spot.
    """
    groups, owner = _groups(circuit)
    joins = tuple(
        Join(name=c.designation, start=owner[c.start], end=owner[c.end])
        for c in circuit.of(Kind.CABLE)
        if owner[c.start] != owner[c.end]
    )
    wanted = {group.name: _place(robot, circuit, paper, q, group) for group in groups}
    order = sorted(groups, key=lambda g: _rank(robot, circuit, g, wanted[g.name]))
    done: dict[str, Part] = {}
    moved: set[str] = set()
    for group in order:
        near = wanted[group.name] or _beside(group, joins, done, paper, robot)
        size = _size(group)
        spot: Point | None = near
        keep = GAP if done else 0.0
        if group.kind is not Kind.SERVO or not _joint_of(robot, circuit, group):
            spot = free_spot(near, size, done.values(), bounds, gap=keep)
        spot = spot or near
        if wanted[group.name] is None or abs(spot[0] - near[0]) + abs(spot[1] - near[1]) > 0.1:
            moved.add(group.name)
        done[group.name] = _sign(group, spot)
    return Lay(
        groups=groups,
        parts=tuple(done[group.name] for group in groups),
        joins=joins,
        moved=frozenset(moved),
    )


def _groups(circuit: Circuit) -> tuple[tuple[Group, ...], dict[str, str]]:
    """Groups, and node -> name of the group that it belongs to."""
    parent = {node: node for node in circuit.nodes}

    def root(node: str) -> str:
        while parent[node] != node:
            node = parent[node]
        return node

    for item in circuit.items:
        if item.kind is not Kind.CABLE:
            parent[root(item.end)] = root(item.start)
    groups: dict[str, Group] = {}
    for node in circuit.nodes:
        key = root(node)
        if key not in groups:
            groups[key] = _group(circuit, [n for n in circuit.nodes if root(n) == key])
    return tuple(groups.values()), {node: groups[root(node)].name for node in circuit.nodes}


def _group(circuit: Circuit, nodes: Sequence[str]) -> Group:
    inside = [
        item
        for item in circuit.items
        if item.kind not in {Kind.CABLE, Kind.CONNECTOR} and item.start in nodes
    ]
    users = [one for one in circuit.consumers if one.node in nodes]
    hubs = [item for item in inside if item.kind is Kind.HUB]
    if hubs:
        return Group(
            name=hubs[0].designation, label=hubs[0].designation, kind=Kind.HUB, words="hub"
        )
    if "battery" in nodes:
        names = [circuit.battery, *(item.designation for item in inside)]
        return Group(
            name=circuit.battery, label=" ".join(names), kind=Kind.BATTERY, words="battery"
        )
    named = [(i.designation, i.kind, _words(i)) for i in inside]
    named += [(one.designation, one.kind, one.name) for one in users]
    if not named:
        return Group(name=nodes[0], label=nodes[0], kind=Kind.CONNECTOR, words="junction")
    kind = named[-1][1]
    return Group(
        name=named[-1][0],
        label=" ".join(name for name, _, _ in named),
        kind=kind,
        words=named[-1][2] if kind is not Kind.SERVO else "",
    )


def _words(item: Item) -> str:
    return {Kind.SWITCH: "switch", Kind.FUSE: "fuse", Kind.REGULATOR: "regulator"}.get(
        item.kind, ""
    )


def _joint_of(robot: Robot, circuit: Circuit, group: Group) -> str | None:
    """The leg joint whose servo a group is."""
    for joint, one in circuit.servos.items():
        if one.designation == group.name and joint in robot.joint_names:
            return joint
    return None


def _place(robot: Robot, circuit: Circuit, paper: Paper, q: Floats, group: Group) -> Point | None:
    """Where a group is stated to be; None where the sheet does not say."""
    poses = link_poses(robot, q)
    for joint, one in circuit.servos.items():
        if one.designation == group.name:
            return paper.at(poses[robot.tree.joints[joint].child][:3, 3])
    if group.kind is Kind.HUB:
        at = robot.sheet.hub.at if robot.sheet.hub else None
        return paper.at(np.array(at or (0.0, 0.0, 0.0)))
    for one in circuit.consumers:
        load = robot.sheet.load.get(one.name)
        if one.designation == group.name and load is not None and load.at is not None:
            pose = poses[load.link or robot.body]
            return paper.at(pose[:3, :3] @ np.array(load.at) + pose[:3, 3])
    return None


def _beside(
    group: Group, joins: Sequence[Join], done: dict[str, Part], paper: Paper, robot: Robot
) -> Point:
    """Where something without a stated place goes: mains behind the body, others at their feed."""
    if group.kind in {Kind.BATTERY, Kind.SWITCH, Kind.FUSE} or not done:
        rear = float(min(robot.hips[:, 0])) if len(robot.hips) else 0.0
        x, y = paper.at(np.array([rear, 0.0, 0.0]))
        return (x, y + (20.0 if group.kind is Kind.BATTERY else 10.0))
    for join in joins:
        for own, other in ((join.start, join.end), (join.end, join.start)):
            if own == group.name and other in done:
                return done[other].centre
    return (paper.x, paper.y)


def _rank(robot: Robot, circuit: Circuit, group: Group, wanted: Point | None) -> tuple[int, str]:
    if group.kind is Kind.SERVO and _joint_of(robot, circuit, group):
        return 0, ""
    if group.kind is Kind.HUB:
        return 1, ""
    if wanted is not None:
        return 2, ""
    order = {Kind.SWITCH: 3, Kind.FUSE: 3, Kind.BATTERY: 4}
    return order.get(group.kind, 5), ""


def _size(group: Group) -> tuple[float, float]:
    if group.kind is Kind.SERVO:
        return 2.0 * SERVO, 2.0 * SERVO
    if group.kind is Kind.HUB:
        return HUB
    if group.kind is Kind.BATTERY:
        return max(width(group.label, 2.57) + 3.0, 28.0), 9.0
    return max(width(group.label, 2.57) + 2.4, width(group.words, 2.57) + 2.4, 9.0), 7.6


def _sign(group: Group, spot: Point) -> Part:
    if group.kind is Kind.SERVO:
        return disc(group.name, spot[0], spot[1], SERVO)
    return box(group.name, spot[0], spot[1], *_size(group))
