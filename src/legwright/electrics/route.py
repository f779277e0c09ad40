"""Where each cable of the harness runs: from fixing to fixing, along the links."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from legwright.electrics.stretch import Fixing, Stretch, joints_between, stretch_between
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
        way = _Way(
            robot, name=end, branch=key, port=branch.port, place=number, start=place, end=target,
            joint=joint, route=route, tie=harness.tie, conductor=branch.conductor, radius=radius,
            fixed_radius=fixed, stated=stated[number] if number < len(stated) else None,
        )  # fmt: skip
        cables.append(_laid(way))
        way.robot = way.joint = None  # a robot is not kept by what is remembered of it
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


class _Way:
    """What a cable's route follows from; the same as another with the same names and numbers.

    Of a robot only the joints on the way count, so that most cables outlast an edit.
    """

    def __init__(
        self, robot: Robot, *, name: str, branch: str, port: int, place: int, start: Fixing,
        end: Fixing, joint: Joint | None, route: Route, tie: float | None, conductor: str | None,
        radius: float | None, fixed_radius: float | None, stated: float | None,
    ) -> None:  # fmt: skip
        self.robot: Robot | None = robot
        self.joint: Joint | None = joint
        self.start, self.end = start, end
        self.name, self.branch, self.port, self.place = name, branch, port, place
        self.route, self.tie, self.conductor = route, tie, conductor
        self.radius, self.fixed_radius, self.stated = radius, fixed_radius, stated
        by = () if route.by is None else tuple((one.link, one.at) for one in route.by)
        held = [(one.link, one.at.tobytes(), one.what) for one in (start, end)]
        links = [start.link, *(link for link, _ in by), end.link]
        crossed = [each for a, b in pairwise(links) for each in _crossed(robot, a, b)]
        self.all = (
            name, branch, port, place, *held, joint is None, route.by is None, by, tie, conductor,
            radius, fixed_radius, stated, robot.tree.name, *crossed,
        )  # fmt: skip
        self._hash = hash(self.all)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Way) and self.all == other.all


def _crossed(robot: Robot, start: str, end: str) -> list[tuple[object, ...]]:
    """The joints between two links and what they follow, as plain data."""
    tree = robot.tree
    if not {start, end} <= tree.links.keys():
        return []  # to be refused by whoever looks
    found = [joint for joint, _ in joints_between(tree, start, end)]
    found += [tree.joints[joint.mimic.source] for joint in found if joint.mimic is not None]
    return [
        (
            joint.name, joint.kind.name, joint.parent, joint.child, joint.placement.tobytes(),
            joint.axis.tobytes(), joint.lower, joint.upper, joint.mimic,
        )
        for joint in found
    ]  # fmt: skip


@lru_cache(maxsize=256)
def _laid(way: _Way) -> Cable:
    if way.robot is None:
        raise ValueError("a way that has been laid already")
    fixings = (way.start, *_ties(way, way.robot), way.end)
    tree = way.robot.tree
    return Cable(
        name=way.name,
        branch=way.branch,
        port=way.port,
        place=way.place,
        start=way.start.what,
        fixings=fixings,
        stretches=tuple(stretch_between(tree, a, b) for a, b in pairwise(fixings)),
        conductor=way.conductor,
        radius=way.radius,
        fixed_radius=way.fixed_radius,
        stated=way.stated,
    )


def _ties(way: _Way, robot: Robot) -> tuple[Fixing, ...]:
    """Ties as stated, else on both sides of each moving joint on the way."""
    route, radius = way.route, way.radius
    if route.by is not None:
        key = f"harness.route.{way.name}.by"
        return tuple(
            Fixing(link=_link(robot, key, tie.link), at=read_only(tie.at)) for tie in route.by
        )
    goal = way.end
    if way.joint is not None:
        goal = Fixing(link=way.joint.parent, at=way.joint.placement[:3, 3])
    reach = TIE_REACH * (radius or 0.0) if way.tie is None else way.tie
    return assumed_ties(robot.tree, way.start, way.end, goal, reach=reach, apart=radius or 0.0)
