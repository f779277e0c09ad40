"""A gauge for gaps between the links of one robot: shapes placed, pairs worth measuring.

Distances come from MuJoCo, shape by shape; bounds that rule most pairs out come from
capsules and boxes around the shapes.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics._bounds import closest, near
from legwright.mechanics.riding import Riders, carriers, riders, trial_poses
from legwright.robot.mjcf import body_name, model_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

FAR = 10.0
"""Distances beyond this are not measured [m]."""

STILL = np.array([0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0])
"""Place and orientation of a body frame that everything is seen from."""

Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Shapes of T poses, all in one frame: the root's or the body's."""

    centre: Floats
    """(T, G, 3) [m]"""
    turn: Floats
    """(T, G, 9): rotation matrices, row by row."""
    body: Floats
    """(T, 12): position, then rotation, of the body frame."""


@dataclass(frozen=True, slots=True, eq=False)
class Gauge:
    """The shapes of one robot and the pairs of them that may not touch."""

    robot: Robot
    model: Any
    data: Any
    base: Floats
    """(nq,): joint positions with every leg drive at zero."""
    spread: Floats
    """(nq, J): what each leg drive adds."""
    body: int
    link: tuple[str, ...]
    """(G,): the link of each shape."""
    rigid: Indices
    """(G,): which rigid group of links it belongs to."""
    parent: Indices
    """(groups,): the group that carries each group."""
    axis: Floats
    """(G, 3): half the axis of the capsule around each shape, in the shape's frame [m]."""
    radius: Floats
    """(G,): radius of that capsule [m]."""
    middle: Floats
    """(G, 3): of the box around each shape, in the shape's frame [m]."""
    half: Floats
    """(G, 3): half the size of that box [m]."""
    riders: Riders | None = None
    """The shapes on the joints that carry them; None where some do not keep their places."""
    _segment: Floats = field(default_factory=lambda: np.zeros((2, 3)))
    _engine: tuple[Floats, Floats] = field(init=False)
    """The engine's own places (G, 3) and orientations (G, 9)."""
    _measure: Any = field(init=False)
    reach: Floats = field(init=False)
    """(G,): radius of the ball around each capsule [m]."""

    def __post_init__(self) -> None:
        """Look up what each distance would ask for again."""
        import mujoco

        set_ = object.__setattr__
        set_(self, "_engine", (self.data.geom_xpos, self.data.geom_xmat))
        set_(self, "_measure", mujoco.mj_geomDistance)
        set_(self, "reach", np.linalg.norm(self.axis, axis=1) + self.radius)

    def placed(self, q: Floats, shapes: Indices | None = None) -> Placed:
        """Place shapes.

        Args:
            q: Joint positions, (T, J) [rad].
            shapes: Which, in this order; all when None.
        """
        if self.riders is None:
            every = self.engine_placed(q)
            if shapes is None:
                return every
            return Placed(every.centre[:, shapes], every.turn[:, shapes], every.body)
        riding = self.riders if shapes is None else self.riders.some(shapes)
        return Placed(*riding.placed(self.robot, q), np.broadcast_to(STILL, (len(q), 12)))

    def engine_placed(self, q: Floats) -> Placed:
        """The same by the engine's kinematics, whatever carries the shapes."""
        import mujoco

        model, data = self.model, self.data
        positions = self.base + q @ self.spread.T
        T, G = len(q), model.ngeom
        centre, turn, body = np.empty((T, G, 3)), np.empty((T, G, 9)), np.empty((T, 12))
        for t in range(T):
            data.qpos[:] = positions[t]
            mujoco.mj_kinematics(model, data)
            centre[t], turn[t] = data.geom_xpos, data.geom_xmat
            body[t, :3], body[t, 3:] = data.xpos[self.body], data.xmat[self.body]
        return Placed(centre, turn, body)

    def closest(self, placed: Placed, pairs: Indices, step: int = 1) -> tuple[int, int]:
        """Pose and pair whose enclosing balls come closest, of every so many poses."""
        t, p = closest(placed.centre, pairs, self.reach, step)
        return int(t), int(p)

    def near(
        self, placed: Placed, pairs: Indices, enough: float
    ) -> tuple[Indices, Indices, Floats]:
        """Pairs that may be no farther apart than ``enough``, by what encloses their shapes.

        Args:
            placed: Poses.
            pairs: (P, 2)
            enough: [m]

        Returns:
            Poses, pairs, and least possible distances from balls, capsules and boxes, (N,) each.
        """
        found: tuple[Indices, Indices, Floats] = near(
            placed.centre, placed.turn, pairs, self.reach,
            self.axis, self.radius, self.middle, self.half, enough,
        )  # fmt: skip
        return found

    def distance(self, placed: Placed, t: int, pair: Indices, most: float = FAR) -> float:
        """Distance of two shapes in pose t, negative where they overlap [m].

        Args:
            placed: Poses of all shapes.
            t: Which of them.
            pair: The two shapes.
            most: Larger distances come back as this.
        """
        one, two = pair.tolist()
        centre, turn = placed.centre[t], placed.turn[t]
        return self.between(one, two, centre[one], turn[one], centre[two], turn[two], most)

    def between(
        self, one: int, two: int, centre: Floats, turn: Floats, centre_two: Floats,
        turn_two: Floats, most: float = FAR,
    ) -> float:  # fmt: skip
        """Distance of two shapes by their places and orientations; as `distance`."""
        place, orient = self._engine
        place[one], orient[one] = centre, turn
        place[two], orient[two] = centre_two, turn_two
        found: float = self._measure(self.model, self.data, one, two, most, self._segment)
        return found

    def points(self, placed: Placed, t: int, pair: Indices) -> Floats:
        """The two nearest points of two shapes in pose t, body frame, (2, 3) [m]."""
        self.distance(placed, t, pair)
        turn = placed.body[t, 3:].reshape(3, 3)
        segment = np.array(self._segment).reshape(2, 3)
        return np.asarray((segment - placed.body[t, :3]) @ turn)


@lru_cache(maxsize=4)
def gauge_of(robot: Robot) -> Gauge:
    """The gauge of a robot.

    Raises:
        RobotError: if a mesh cannot be read.
    """
    import mujoco

    model = model_of(robot)
    base, spread = _drives(robot, model)
    groups = np.asarray(model.body_weldid)
    axis, radius = _capsules(model)
    bare = Gauge(
        robot=robot,
        model=model,
        data=mujoco.MjData(model),
        base=base,
        spread=spread,
        body=model.body(body_name(robot.body)).id,
        link=tuple(model.geom(i).name.rsplit("/", 1)[0] for i in range(model.ngeom)),
        rigid=groups[model.geom_bodyid].astype(np.int64),
        parent=groups[model.body_parentid[groups]].astype(np.int64),
        axis=axis,
        radius=radius,
        middle=np.array(model.geom_aabb[:, :3]),
        half=np.array(model.geom_aabb[:, 3:]),
    )
    return replace(bare, riders=_riders(bare))


def _riders(gauge: Gauge) -> Riders | None:
    placed, carried = gauge.engine_placed(trial_poses(gauge.robot)), carriers(gauge.robot)
    shapes, bodies = (
        np.tile(np.eye(4), (2, len(gauge.link), 1, 1)),
        np.tile(np.eye(4), (2, 1, 1, 1)),
    )
    shapes[..., :3, 3], shapes[..., :3, :3] = placed.centre, placed.turn.reshape(2, -1, 3, 3)
    bodies[:, 0, :3, 3] = placed.body[:, :3]
    bodies[:, 0, :3, :3] = placed.body[:, 3:].reshape(2, 3, 3)
    poses = (np.linalg.inv(bodies) @ shapes).swapaxes(0, 1)
    return riders(gauge.robot, [carried[link] for link in gauge.link], poses)


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


def _capsules(model: Any) -> tuple[Floats, Floats]:
    """Half axes and radii of capsules that hold the shapes, in the shapes' frames."""
    import mujoco

    G = model.ngeom
    axis, radius = np.zeros((G, 3)), np.zeros(G)
    for g in range(G):
        size, kind = model.geom_size[g], model.geom_type[g]
        if kind == mujoco.mjtGeom.mjGEOM_SPHERE:
            radius[g] = size[0]
        elif kind == mujoco.mjtGeom.mjGEOM_CYLINDER:
            axis[g, 2], radius[g] = size[1], size[0]
        else:
            middle, half = model.geom_aabb[g, :3], model.geom_aabb[g, 3:]
            longest = int(np.argmax(half))
            axis[g, longest] = half[longest]
            radius[g] = np.linalg.norm(np.delete(half, longest)) + np.linalg.norm(middle)
    return axis, radius
