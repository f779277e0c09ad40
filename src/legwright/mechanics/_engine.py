"""The geometry engine's copy of a robot's shapes, for distances; and its kinematics where asked.

Distances are asked of shapes alone, placed by whoever asks. So the engine holds them loose, without
bodies, joints and masses, and what was made of one robot's shapes is used for others that have as
many of the same kinds, with their own sizes put in.
"""

from __future__ import annotations

from copy import copy
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from legwright.robot.hulls import hull_points
from legwright.robot.mjcf import body_name, geom_of, model_of, refused
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Link, Shape, ShapeKind

Kind = tuple[str, ShapeKind, bytes]
"""Name of a shape, its kind, and of a mesh the corners of its hull."""


class PlacedShape(NamedTuple):
    """A shape on its link."""

    link: str
    number: int
    """Among the link's shapes."""
    place: int
    """Among those of them that the engine has: not a mesh without a file."""
    shape: Shape


class Kinematics(NamedTuple):
    """The engine's own model of a whole robot, bodies, joints and all."""

    model: Any
    data: Any
    base: Floats
    """(nq,): joint positions with every leg drive at zero."""
    spread: Floats
    """(nq, J): what each leg drive adds."""
    body: int


def links_in_order(robot: Robot) -> tuple[str, ...]:
    """All links in the engine's order: each before those that it carries, branch by branch."""
    tree, found, waiting = robot.tree, [], [robot.tree.root]
    while waiting:
        found.append(waiting.pop())
        joints = tree.child_joints.get(found[-1], ())
        waiting.extend(tree.joints[name].child for name in reversed(joints))
    return tuple(found)


def shapes_in_order(robot: Robot) -> tuple[PlacedShape, ...]:
    """All shapes in the engine's order."""
    return tuple(
        PlacedShape(link, number, place, shape)
        for link in links_in_order(robot)
        for place, (number, shape) in enumerate(_shown(robot.tree.links[link]))
    )


def _shown(link: Link) -> list[tuple[int, Shape]]:
    return [
        (number, shape)
        for number, shape in enumerate(link.shapes)
        if shape.kind is not ShapeKind.MESH or shape.mesh is not None
    ]


def loose(robot: Robot, shapes: tuple[PlacedShape, ...]) -> tuple[Any, Any]:
    """The engine's model of shapes, and its data, whose places are for others to fill.

    Args:
        robot: The robot.
        shapes: Its shapes, see `shapes_in_order`.

    Raises:
        RobotError: if a mesh cannot be read or the engine refuses a shape.
    """
    import mujoco

    kinds = tuple(
        (
            f"{link}/{number}", shape.kind,
            b"" if shape.mesh is None else hull_points(shape.mesh, shape.size).tobytes(),
        )
        for link, number, _, shape in shapes
    )  # fmt: skip
    try:
        model = copy(_of_kinds(kinds))
        plain = [g for g, one in enumerate(shapes) if one.shape.mesh is None]
        if plain:
            size = np.array([_size(shapes[g].shape) for g in plain])
            fine = (size[:, 3:] > 0.0).all(axis=1) & np.isfinite(size).all(axis=1)
            if not fine.all():
                bad = shapes[plain[int(np.argmin(fine))]]
                raise ValueError(f"the size of '{bad.link}/{bad.number}' must be positive")
            model.geom_size[plain], model.geom_aabb[plain, 3:] = size[:, :3], size[:, 3:6]
            model.geom_rbound[plain] = [_around(shapes[g].shape) for g in plain]
    except ValueError as error:
        raise refused(robot, error) from error
    return model, mujoco.MjData(model)


def _size(shape: Shape) -> tuple[float, ...]:
    """Sizes as the engine has them, (3,), and half the edges of the box around, (3,)."""
    if shape.kind is ShapeKind.SPHERE:
        r = shape.size[0]
        return r, 0.0, 0.0, r, r, r
    if shape.kind is ShapeKind.CYLINDER:
        r, half = shape.size[0], 0.5 * shape.size[1]
        return r, half, 0.0, r, r, half
    x, y, z = (0.5 * edge for edge in shape.size)
    return x, y, z, x, y, z


def _around(shape: Shape) -> float:
    """Radius of the ball around a shape without a mesh, as the engine has it."""
    size = _size(shape)
    if shape.kind is ShapeKind.SPHERE:
        return size[0]
    if shape.kind is ShapeKind.CYLINDER:
        return float(np.sqrt(size[0] * size[0] + size[1] * size[1]))
    return float(np.sqrt(size[0] * size[0] + size[1] * size[1] + size[2] * size[2]))


@lru_cache(maxsize=4)
def _of_kinds(kinds: tuple[Kind, ...]) -> Any:
    """A model of shapes of these kinds, sizes of those without a mesh left open."""
    import mujoco

    spec = mujoco.MjSpec()
    for name, kind, hull in kinds:
        if kind is ShapeKind.MESH:
            convex = mujoco.mjtMeshInertia.mjMESH_INERTIA_CONVEX
            spec.add_mesh(name=name, uservert=np.frombuffer(hull), inertia=convex)
            spec.worldbody.add_geom(meshname=name, name=name, type=geom_of(kind))
        else:
            spec.worldbody.add_geom(name=name, type=geom_of(kind), size=np.ones(3))
    return spec.compile()


@lru_cache(maxsize=4)
def kinematics(robot: Robot) -> Kinematics:
    """The engine's model of a whole robot.

    Raises:
        RobotError: if a mesh cannot be read or the engine refuses the description.
    """
    import mujoco

    model = model_of(robot)
    base, spread = _drives(robot, model)
    body = model.body(body_name(robot.body)).id
    return Kinematics(model, mujoco.MjData(model), base, spread, body)


def _drives(robot: Robot, model: Any) -> tuple[Floats, Floats]:
    """Joint positions as base + spread @ q, held joints and mimics included."""
    column = {name: index for index, name in enumerate(robot.joint_names)}
    base, spread = np.zeros(model.nq), np.zeros((model.nq, len(column)))
    for joint in robot.tree.joints.values():
        if not joint.moves:
            continue
        source, times, plus = joint.name, 1.0, 0.0
        while (mimic := robot.tree.joints[source].mimic) is not None:
            source, times, plus = (
                mimic.source,
                times * mimic.multiplier,
                (plus + times * mimic.offset),
            )
        row = model.joint(joint.name).qposadr[0]
        base[row] = plus + times * robot.held.get(source, 0.0)
        if source in column:
            spread[row, column[source]] = times
    return base, spread
