"""Wiring up: the sheet's tables, followed outward from the battery, become a circuit."""

from __future__ import annotations

from collections.abc import Mapping

from legwright.electrics.assembly import Assembly
from legwright.electrics.cabling import CableSpec, add_cable
from legwright.electrics.parts import Port
from legwright.electrics.stations import (
    DEVICES,
    LIGHTS,
    add_branch_fuse,
    add_device,
    arriving,
    reach,
)
from legwright.errors import did_you_mean
from legwright.robot.robot import Robot
from legwright.robot.sheet_electrics import Branch, Run


def wire_up(robot: Robot, lengths: Mapping[str, float]) -> Assembly:
    """Items and consumers of a robot whose sheet has a battery and a hub.

    A fuse that no run touches sits at the battery, ahead of everything; a switch that no run
    touches sits at the hub; a hub that no run touches sits where the mains end. Loads on no
    port and no run hang at the hub.

    Args:
        robot: The robot.
        lengths: Joint or load that a cable leads to -> its length, one way [m].

    Returns:
        The finished assembly.

    Raises:
        RobotError: for a loop, a part that nothing feeds, a joint that is none, a servo on no
            port, unknown wire.
    """
    made = Assembly(robot=robot, lengths=lengths)
    _refuse_strangers(made)
    runs = dict(robot.sheet.harness.run) if robot.sheet.harness else {}
    touched = {point for run in runs.values() for point in (run.start, run.end)}
    if "fuse" not in touched:
        add_device(made, "fuse", "battery")
        made.at["battery"] = made.at["fuse"]
    _follow(made, runs, ["battery"])
    if "hub" not in made.at and "hub" not in touched:
        last = next(point for point in (*reversed(DEVICES), "battery") if point in made.at)
        made.notes.append(f"No run leads to the hub: it is taken to sit at the {last}.")
        reach(made, "hub", made.at[last])
        _follow(made, runs, ["hub"])
    for name, run in runs.items():
        raise made.fault(
            f"harness.run.{name}",
            f"between '{run.start}' and '{run.end}' floats: the battery feeds neither",
            "Join one of them to something that is fed.",
        )
    _feed_the_rest(made)
    return made


def _follow(made: Assembly, runs: dict[str, Run], points: list[str]) -> None:
    """Follow runs and branches outward from fed points; runs that were used leave `runs`."""
    for point in points:  # grows while it is walked
        if point == "hub":
            points += _branches(made)
        for name in [name for name, run in runs.items() if point in (run.start, run.end)]:
            points.append(_run(made, name, runs.pop(name), point))


def _run(made: Assembly, name: str, run: Run, point: str) -> str:
    """One run, from the point that is fed; returns the other."""
    far = run.end if run.start == point else run.start
    place = f"harness.run.{name}"
    if far in made.at:
        raise made.fault(place, f"closes a loop: '{far}' is fed already", "Take one way out.")
    spec = CableSpec(
        name=f"run {name}",
        place=place,
        conductor=run.conductor,
        connector=run.connector,
        length=run.length,
        between=(point, far),
    )
    start = made.at[point]
    end = arriving(made, start, far)
    add_cable(made, spec, start, end)
    reach(made, far, end, place=place)
    return far


def _branches(made: Assembly) -> list[str]:
    """All branches of the hub, by port; the points that they feed."""
    hub = made.robot.sheet.hub
    if hub is None:
        return []
    taken = {branch.port: (name, branch) for name, branch in hub.branch.items()}
    fed: list[str] = []
    for number in range(1, hub.ports + 1):
        name, branch = taken.get(number, ("", None))
        points: tuple[str, ...] = () if branch is None else branch.chain
        if branch is not None and branch.load is not None:
            points = (*points, branch.load)
        first = _branch(made, name, branch, points) if branch is not None and points else ""
        made.ports.append(Port(number=number, branch=name, first=first, consumers=points))
        fed += points
    return fed


def _branch(made: Assembly, name: str, branch: Branch, points: tuple[str, ...]) -> str:
    """Fuse, lead and daisy chain of one port; returns the name of its first cable."""
    place = f"hub.branch.{name}"
    node = made.at["hub"]
    if branch.fuse is not None:
        node = add_branch_fuse(made, name, branch.port, branch.fuse)
    stated = (branch.lead, *branch.links)
    for number, (before, point) in enumerate(zip(("hub", *points), points, strict=False)):
        if point in made.at:
            raise made.fault(place, f"feeds {point}, which is fed already", "Feed it once.")
        spec = CableSpec(
            name=f"{name} link {number}" if number else f"{name} lead",
            place=place,
            conductor=branch.conductor,
            connector=branch.connector,
            length=stated[number] if number < len(stated) else None,
            between=(before, point),
            branch=name,
        )
        end = arriving(made, node, point)
        add_cable(made, spec, node, end)
        reach(made, point, end, branch=name, place=f"{place}.chain")
        node = made.at[point]
    return f"{name} lead"


def _refuse_strangers(made: Assembly) -> None:
    """Every joint of a chain is driven; no joint or load bears a point's name."""
    robot, hub = made.robot, made.robot.sheet.hub
    for name, branch in (hub.branch if hub else {}).items():
        for joint in branch.chain:
            if joint not in robot.servos:
                cure = did_you_mean(joint, robot.servos)
                raise made.fault(f"hub.branch.{name}.chain", f"'{joint}' is no driven joint", cure)
    for point in ("battery", "hub", *DEVICES):
        if point in robot.servos or point in robot.sheet.load:
            raise made.fault(f"load.{point}", f"'{point}' is a point of the mains", "Rename it.")


def _feed_the_rest(made: Assembly) -> None:
    """Servos must hang somewhere; other loads are taken to hang at the hub."""
    idle = [joint for joint in made.robot.servos if joint not in made.at]
    if idle:
        others = f", nor are {len(idle) - 1} others" if len(idle) > 1 else ""
        raise made.fault(
            "hub.branch",
            f"{idle[0]} is on no port{others}",
            "Add it to the chain of a branch.",
        )
    lights = [LIGHTS] if made.robot.sheet.lights is not None else []
    for name in dict.fromkeys([*made.robot.sheet.load, *lights]):
        if name not in made.at:
            made.notes.append(f"{name} is on no port and no run: it is taken to hang at the hub.")
            reach(made, name, made.at["hub"])
