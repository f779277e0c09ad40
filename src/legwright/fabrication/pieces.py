"""What a robot is put together from: pieces with a place, a shape and what holds them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import Enum

import numpy as np

from legwright.fabrication.angle_brackets import angle_brackets_of
from legwright.fabrication.angle_places import pose_on_plate
from legwright.fabrication.block import Block, block
from legwright.robot.dimensions import Plates
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, ShapeKind, read_only


class Sort(Enum):
    """Kinds of pieces."""

    PLATE = "plate"
    SERVO = "servo"
    BRACKET = "bracket"
    CHEEK = "cheek"
    TUBE = "tube"
    FOOT = "foot"
    BATTERY = "battery"
    HUB = "hub"
    LOAD = "load"
    POST = "post"
    CAMERA = "camera"
    LINK = "link"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Piece:
    """One thing that an assembler takes in the hand."""

    name: str
    """``left-front femur servo``"""
    sort: Sort
    unit: str
    """What it is put together with on the bench: a leg's name, ``mast``, or ``trunk``."""
    blocks: tuple[Block, ...] = ()
    """Its shape as boxes in the body frame, all joints at zero; empty where no place is known."""
    mass: float | None = None
    """[kg]"""
    on: tuple[str, ...] = ()
    """Names of the pieces that it is fixed to."""
    place: str = ""
    """Key of the sheet or link that says where it is."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pieces:
    """All pieces of a robot."""

    pieces: tuple[Piece, ...]
    notes: tuple[str, ...] = field(default=())
    """What could not be placed, one sentence each."""

    def __getitem__(self, name: str) -> Piece:
        return next(piece for piece in self.pieces if piece.name == name)


TRUNK, MAST = "trunk", "mast"
LOWER, UPPER = "lower plate", "upper plate"


def pieces_of(robot: Robot) -> Pieces:
    """The pieces of a robot.

    A robot made from a ``[dimensions]`` table is known to the plate and the cheek; of any other
    the links are the pieces, as the description shapes them.

    Args:
        robot: The robot.

    Returns:
        Pieces, trunk first, then legs in their order, then what else there is.
    """
    if robot.sheet.dimensions is None:
        return Pieces(pieces=tuple(_links(robot)), notes=_unplaced(robot))
    return Pieces(pieces=(*_trunk(robot), *_legs(robot), *_mast(robot)), notes=_unplaced(robot))


def poses_at_zero(robot: Robot) -> dict[str, Floats]:
    """Link -> its pose in the body frame, every joint at zero, (4, 4)."""
    tree = robot.tree
    poses = {tree.root: np.eye(4)}
    waiting = [tree.root]
    while waiting:
        link = waiting.pop()
        for name in tree.child_joints.get(link, ()):
            joint = tree.joints[name]
            poses[joint.child] = poses[link] @ joint.placement
            waiting.append(joint.child)
    body = np.linalg.inv(poses[robot.body])
    return {link: body @ pose for link, pose in poses.items()}


# A robot made from dimensions ---------------------------------------------------------------


def _trunk(robot: Robot) -> Iterator[Piece]:
    shape = robot.sheet.dimensions
    if shape is None:
        return
    made = shape.plates
    away = (made.gap + made.thickness) / 2.0
    flat = (made.length, made.width, made.thickness)
    each = made.length * made.width * made.thickness * made.density * made.filled
    for name, z, on in ((LOWER, -away, ()), (UPPER, away, (LOWER,))):
        yield Piece(
            name=name, sort=Sort.PLATE, unit=TRUNK, blocks=(block(flat, (0.0, 0.0, z)),),
            mass=each, on=on, place="dimensions.plates",
        )  # fmt: skip
    for leg in robot.legs.values():
        yield _servo(
            robot, leg.joint_names[0], f"{leg.name} coxa servo", TRUNK, (LOWER,), robot.body
        )
    battery = robot.sheet.battery
    if battery is not None:
        size = battery.size
        yield Piece(
            name="battery", sort=Sort.BATTERY, unit=TRUNK, mass=battery.mass, on=(LOWER,),
            blocks=() if size is None else (block(size, (0.0, 0.0, 0.0)),), place="battery",
        )  # fmt: skip
    yield from _boards(robot, LOWER)
    yield from _angles(robot, made)


def _angles(robot: Robot, plates: Plates) -> Iterator[Piece]:
    """Angle brackets, each on or under its plate."""
    for bracket in angle_brackets_of(robot).brackets:
        keys = robot.sheet.making.angle[bracket.name.removeprefix("angle-")]
        sign = 1.0 if keys.on == "upper" else -1.0
        away = sign * plates.gap / 2.0
        outer = (keys.side == "above") == (keys.on == "upper")
        face = away + (sign * plates.thickness if outer else 0.0)
        for number, place in enumerate(keys.places, start=1):
            pose = pose_on_plate(keys, place, face)
            yield Piece(
                name=f"{bracket.name} bracket, {number}", sort=Sort.BRACKET, unit=TRUNK,
                mass=bracket.mass,
                blocks=tuple(one.moved(pose) for one in bracket.blocks),
                on=(UPPER if keys.on == "upper" else LOWER,), place=f"part.{bracket.name}",
            )  # fmt: skip


def _boards(robot: Robot, on: str) -> Iterator[Piece]:
    """Hub and loads; their boxes are not stated, their places may be."""
    hub = robot.sheet.hub
    if hub is not None:
        yield Piece(name="power hub", sort=Sort.HUB, unit=TRUNK, on=(on,), place="hub")
    for name, load in robot.sheet.load.items():
        if load.at is not None:
            yield Piece(
                name=name, sort=Sort.LOAD, unit=TRUNK, mass=load.mass, on=(on,),
                place=f"load.{name}",
            )  # fmt: skip


def _servo(
    robot: Robot, joint: str, name: str, unit: str, on: tuple[str, ...], carrier: str
) -> Piece:
    """The servo of a joint, in the link before it."""
    servo = robot.servos.get(joint)
    spec = robot.tree.joints[joint]
    poses = poses_at_zero(robot)
    place = poses[carrier] @ spec.placement
    axis = place[:3, :3] @ spec.axis
    blocks: tuple[Block, ...] = ()
    if servo is not None and servo.size is not None:
        blocks = (_along(axis, poses[carrier], place[:3, 3], servo.size),)
    return Piece(
        name=name, sort=Sort.SERVO, unit=unit, blocks=blocks,
        mass=None if servo is None else servo.mass, on=on,
        place="fit" if servo is None else f"servo.{servo.id}",
    )  # fmt: skip


def _along(axis: Floats, carrier: Floats, at: Floats, size: Sequence[float]) -> Block:
    """A servo's box: its height along the shaft, its length along its carrier."""
    long = carrier[:3, 0] - axis * (carrier[:3, 0] @ axis)
    if np.linalg.norm(long) < 1e-6:
        long = carrier[:3, 1] - axis * (carrier[:3, 1] @ axis)
    long = long / np.linalg.norm(long)
    rows = np.stack([long, np.cross(axis, long), axis])
    return Block(centre=read_only(at), axes=read_only(rows), half=read_only(np.asarray(size) / 2.0))


def _legs(robot: Robot) -> Iterator[Piece]:
    """Coxa and femur of two cheeks each, the servos between them, tube and foot."""
    shape = robot.sheet.dimensions
    if shape is None:
        return
    made, poses = shape.segments, poses_at_zero(robot)
    for leg in robot.legs.values():
        joints = leg.joint_names
        links = [robot.tree.joints[name].child for name in joints]
        carried: tuple[str, ...] = (f"{leg.name} coxa servo",)
        for number, part in enumerate(("coxa", "femur")):
            end = robot.tree.joints[joints[number + 1]].placement[:3, 3]
            long = max(float(np.linalg.norm(end)), made.height)
            middle = np.array([(end[0] - long) / 2.0 + long / 2.0, end[1] / 2.0, end[2] / 2.0])
            cheeks = []
            for side, word in ((1.0, "left"), (-1.0, "right")):
                name = f"{leg.name} {part} cheek, {word}"
                at = middle + np.array([0.0, side * (made.width - made.thickness) / 2.0, 0.0])
                box = block((long, made.thickness, made.height), at).moved(poses[links[number]])
                cheeks.append(name)
                yield Piece(
                    name=name, sort=Sort.CHEEK, unit=leg.name, blocks=(box,), on=carried,
                    mass=long * made.height * made.thickness * made.density,
                    place="dimensions.segments",
                )  # fmt: skip
            servo = f"{leg.name} {('femur', 'tibia')[number]} servo"
            yield _servo(robot, joints[number + 1], servo, leg.name, tuple(cheeks), links[number])
            carried = (servo,)
        yield from _tip(robot, leg.name, links[2], carried, poses[links[2]])


def _tip(robot: Robot, leg: str, link: str, on: tuple[str, ...], pose: Floats) -> Iterator[Piece]:
    """Tube and foot."""
    tube, tree = f"{leg} tibia tube", robot.tree
    yield Piece(
        name=tube, sort=Sort.TUBE, unit=leg, on=on, mass=tree.links[link].solid.mass,
        blocks=tuple(b.moved(pose) for b in _boxes(robot, link)), place="dimensions.segments",
    )  # fmt: skip
    joint = tree.joints[tree.child_joints[link][0]]
    end = pose @ joint.placement
    yield Piece(
        name=f"{leg} foot", sort=Sort.FOOT, unit=leg, on=(tube,),
        mass=tree.links[joint.child].solid.mass,
        blocks=tuple(b.moved(end) for b in _boxes(robot, joint.child)), place="foot",
    )  # fmt: skip


def _mast(robot: Robot) -> Iterator[Piece]:
    shape = robot.sheet.dimensions
    if shape is None or shape.mast is None:
        return
    poses = poses_at_zero(robot)
    yield _servo(robot, "mast_pan", "mast pan servo", TRUNK, (UPPER,), robot.body)
    post = robot.tree.joints["mast_pan"].child
    yield Piece(
        name="mast post", sort=Sort.POST, unit=MAST, on=("mast pan servo",),
        mass=shape.mast.structure, place="dimensions.mast",
        blocks=tuple(b.moved(poses[post]) for b in _boxes(robot, post)),
    )  # fmt: skip
    yield _servo(robot, "mast_tilt", "mast tilt servo", MAST, ("mast post",), post)
    head = robot.tree.joints["mast_tilt"].child
    yield Piece(
        name="camera", sort=Sort.CAMERA, unit=MAST, on=("mast tilt servo",),
        mass=shape.mast.camera, place="dimensions.mast",
        blocks=tuple(b.moved(poses[head]) for b in _boxes(robot, head)),
    )  # fmt: skip


# Any other robot ----------------------------------------------------------------------------


def _links(robot: Robot) -> Iterator[Piece]:
    """Every link with mass or shape as a piece on its parent."""
    tree, poses = robot.tree, poses_at_zero(robot)
    unit_of = {robot.body: TRUNK}
    for leg in robot.legs.values():
        waiting = [tree.joints[leg.joint_names[0]].child]
        while waiting:
            link = waiting.pop()
            unit_of[link] = leg.name
            waiting += [tree.joints[name].child for name in tree.child_joints.get(link, ())]
    for link in poses:
        joint = tree.parent_joint.get(link)
        parent = None if joint is None else tree.joints[joint].parent
        yield Piece(
            name=link, sort=Sort.LINK, unit=unit_of.get(link, TRUNK),
            blocks=tuple(b.moved(poses[link]) for b in _boxes(robot, link)),
            mass=tree.links[link].solid.mass, on=() if parent is None else (parent,), place=link,
        )  # fmt: skip


def _boxes(robot: Robot, link: str) -> list[Block]:
    """Boxes around a link's shapes, in its frame; meshes are left out."""
    boxes = []
    for shape in robot.tree.links[link].shapes:
        if shape.kind is ShapeKind.BOX:
            size = shape.size
        elif shape.kind is ShapeKind.CYLINDER:
            size = (2.0 * shape.size[0], 2.0 * shape.size[0], shape.size[1])
        elif shape.kind is ShapeKind.SPHERE:
            size = (2.0 * shape.size[0],) * 3
        else:
            continue
        boxes.append(block(size, (0.0, 0.0, 0.0)).moved(shape.placement))
    return boxes


def _unplaced(robot: Robot) -> tuple[str, ...]:
    """What the sheet names without saying where it is or how large."""
    notes = []
    if robot.sheet.battery is not None and robot.sheet.battery.size is None:
        notes.append("battery: no size is stated (battery.size), so nothing is said to block it.")
    notes += [
        f"load.{name}: no place is stated (load.{name}.at), so it is left out of the order."
        for name, load in robot.sheet.load.items()
        if load.at is None
    ]
    return tuple(notes)


__all__ = ["Piece", "Pieces", "Sort", "pieces_of", "poses_at_zero"]
