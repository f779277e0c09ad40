"""Where each cable of the harness runs: from fixing to fixing, along the links."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from legwright.electrics.stretch import Fixing, Stretch, stretch_between
from legwright.electrics.ties import TIE_REACH, across, assumed_ties
from legwright.errors import RobotError, did_you_mean
from legwright.robot.robot import Robot
from legwright.robot.sheet import Hub
from legwright.robot.sheet_electrics import Branch, Harness, Route
from legwright.robot.tree import Joint, read_only


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cable:
    """One cable: what it joins, where it is held, and of what wire it is."""

    name: str
    """What it leads to: a servo's joint or a load."""
    branch: str
    """Key in `hub.branch`."""
    port: int
    place: int
    """0 for the lead from the hub, 1 for the first link of the daisy chain, and so on."""
    start: str
    """``hub`` or the joint whose servo it comes from."""
    fixings: tuple[Fixing, ...]
    """Two sockets and the ties between them."""
    stretches: tuple[Stretch, ...]
    """One between each two fixings."""
    conductor: str | None
    """Name in `harness.conductor`."""
    radius: float | None
    """Least bend radius where it flexes [m]; None where no outer diameter is stated."""
    fixed_radius: float | None
    """Least bend radius where it lies still [m]."""
    stated: float | None
    """Length that the sheet states [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Routes:
    """All cables from the hub outward, and what had to be assumed."""

    cables: tuple[Cable, ...]
    notes: tuple[str, ...]


def routes_of(robot: Robot) -> Routes:
    """The routes of all cables that hang on the hub.

    Each servo sits at its joint's origin, fixed to the link that carries it. A cable leaves the
    socket of one servo, is tied to the next link past the moving joint and ends in the socket
    of the next servo. Any other joint on its way is passed between two ties. The sheet's
    `harness.route` overrules all this.

    Args:
        robot: The robot; without a hub there are no cables.

    Returns:
        The routes in the order of the ports.

    Raises:
        RobotError: if a branch or route names a joint, load, link or conductor that is not there.
    """
    hub = robot.sheet.hub
    if hub is None:
        return Routes(cables=(), notes=("No hub is stated, so there are no cables to route.",))
    harness = robot.sheet.harness or Harness()
    ends = [end for branch in hub.branch.values() for end in (*branch.chain, branch.load) if end]
    for name in harness.route:
        if name not in ends:
            raise RobotError(
                robot.source,
                f"harness.route.{name}",
                "leads to nothing that hangs on the hub",
                did_you_mean(name, ends) if ends else "State the hub's branches first.",
            )
    notes: list[str] = []
    start = _hub_fixing(robot, hub, notes)
    cables: list[Cable] = []
    for key, branch in sorted(hub.branch.items(), key=lambda item: item[1].port):
        cables += _branch_cables(robot, harness, key, branch, start, notes)
    return Routes(cables=tuple(cables), notes=tuple(dict.fromkeys(notes)))


def _hub_fixing(robot: Robot, hub: Hub, notes: list[str]) -> Fixing:
    if hub.at is None:
        notes.append("The hub's place is not stated (hub.at); taken at the body frame's origin.")
    return Fixing(link=robot.body, at=read_only(hub.at or (0.0, 0.0, 0.0)), what="hub")


def _branch_cables(
    robot: Robot, harness: Harness, key: str, branch: Branch, hub: Fixing, notes: list[str]
) -> list[Cable]:
    radius, fixed = _radii(robot, harness, key, branch, notes)
    stated = (branch.lead, *branch.links)
    place = hub
    cables = []
    for number, end in enumerate((*branch.chain, branch.load)):
        if end is None:
            continue
        route = harness.route.get(end, Route())
        if end in branch.chain:
            joint = _joint(robot, f"hub.branch.{key}.chain", end)
            target = _socket(robot, joint, route, radius)
        else:
            joint, found = None, _load_fixing(robot, key, end, notes)
            if found is None:
                continue
            target = found
        ties = _ties(robot, harness, route, place, joint, target, radius)
        fixings = (place, *ties, target)
        cables.append(
            Cable(
                name=end,
                branch=key,
                port=branch.port,
                place=number,
                start=place.what,
                fixings=fixings,
                stretches=tuple(stretch_between(robot.tree, a, b) for a, b in pairwise(fixings)),
                conductor=branch.conductor,
                radius=radius,
                fixed_radius=fixed,
                stated=stated[number] if number < len(stated) else None,
            )
        )
        place = target
    return cables


def _radii(
    robot: Robot, harness: Harness, key: str, branch: Branch, notes: list[str]
) -> tuple[float | None, float | None]:
    if branch.conductor is None:
        notes.append(f"Branch '{key}' names no conductor; its bend radius is not judged.")
        return None, None
    if branch.conductor not in harness.conductor:
        raise RobotError(
            robot.source,
            f"hub.branch.{key}.conductor",
            f"'{branch.conductor}' is no conductor of the harness",
            did_you_mean(branch.conductor, harness.conductor)
            if harness.conductor
            else "Add it under [harness.conductor].",
        )
    outside = harness.conductor[branch.conductor].outside
    if outside is None:
        notes.append(
            f"Conductor '{branch.conductor}' has no outer diameter (outside); its bend radius is "
            "not judged."
        )
        return None, None
    return harness.flexing_bend * outside, harness.fixed_bend * outside


def _joint(robot: Robot, key: str, name: str) -> Joint:
    joint = robot.tree.joints.get(name)
    if joint is None or not joint.actuated:
        driven = [other.name for other in robot.tree.joints.values() if other.actuated]
        raise RobotError(
            robot.source, key, f"'{name}' is no driven joint", did_you_mean(name, driven)
        )
    return joint


def _load_fixing(robot: Robot, key: str, name: str, notes: list[str]) -> Fixing | None:
    load = robot.sheet.load.get(name)
    if load is None:
        raise RobotError(
            robot.source,
            f"hub.branch.{key}.load",
            f"'{name}' is no load",
            did_you_mean(name, robot.sheet.load) if robot.sheet.load else "Add it under [load].",
        )
    if load.at is None:
        notes.append(f"Load '{name}' has no place (load.{name}.at); its cable is not routed.")
        return None
    link = _link(robot, f"load.{name}.link", load.link or robot.body)
    return Fixing(link=link, at=read_only(load.at), what=name)


def _link(robot: Robot, key: str, name: str) -> str:
    if name not in robot.tree.links:
        raise RobotError(
            robot.source, key, f"'{name}' is no link", did_you_mean(name, robot.tree.links)
        )
    return name


def _socket(robot: Robot, joint: Joint, route: Route, radius: float | None) -> Fixing:
    """Where the cable plugs into a servo: at the far end of its body from the next link."""
    if route.socket is not None:
        return Fixing(link=joint.parent, at=read_only(route.socket), what=joint.name)
    servo = robot.servos.get(joint.name)
    size = None if servo is None else servo.size
    reach = size[0] / 2.0 if size is not None else TIE_REACH * (radius or 0.0)
    origin = joint.placement[:3, 3]
    back = across(joint.placement[:3, :3] @ joint.axis, -origin)
    return Fixing(link=joint.parent, at=read_only(origin + reach * back), what=joint.name)


def _ties(
    robot: Robot,
    harness: Harness,
    route: Route,
    start: Fixing,
    joint: Joint | None,
    end: Fixing,
    radius: float | None,
) -> tuple[Fixing, ...]:
    """Ties as stated, else on both sides of each moving joint on the way."""
    if route.by is not None:
        key = f"harness.route.{end.what}.by"
        return tuple(
            Fixing(link=_link(robot, key, tie.link), at=read_only(tie.at)) for tie in route.by
        )
    goal = end
    if joint is not None:
        goal = Fixing(link=joint.parent, at=joint.placement[:3, 3])
    reach = TIE_REACH * (radius or 0.0) if harness.tie is None else harness.tie
    return assumed_ties(robot.tree, start, end, goal, reach=reach, apart=radius or 0.0)
