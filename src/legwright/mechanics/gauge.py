"""A gauge for gaps between the links of one robot: shapes placed, pairs worth measuring.

Distances come from MuJoCo, shape by shape; bounds that rule most pairs out come from
capsules and boxes around the shapes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import hypot
from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics._bounds import closest, near
from legwright.mechanics._engine import (
    PlacedShape,
    kinematics,
    links_in_order,
    loose,
    shapes_in_order,
)
from legwright.mechanics.riding import Riders, hulls_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, ShapeKind

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
    """The engine's, of shapes alone."""
    data: Any
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

        model, data, base, spread, own = kinematics(self.robot)
        positions = base + q @ spread.T
        T, G = len(q), model.ngeom
        centre, turn, body = np.empty((T, G, 3)), np.empty((T, G, 9)), np.empty((T, 12))
        for t in range(T):
            data.qpos[:] = positions[t]
            mujoco.mj_kinematics(model, data)
            centre[t], turn[t] = data.geom_xpos, data.geom_xmat
            body[t, :3], body[t, 3:] = data.xpos[own], data.xmat[own]
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

    def among(self, pairs: Indices) -> Callable[[Floats, float], tuple[float, int, int]]:
        """What tells the nearest of some pairs over a few poses.

        Args:
            pairs: (P, 2)

        Returns:
            Of poses (T, J) [rad], and a distance beyond which nothing is measured [m]: the
            least distance [m], its pose and its pair; inf and zeros of no pose.
        """
        some = np.unique(pairs)
        place, orient = self._engine
        riding = None if self.riders is None else self.riders.some(some)
        each = list(enumerate(pairs.tolist()))
        measure, model, data, segment = self._measure, self.model, self.data, self._segment

        def nearest(q: Floats, most: float) -> tuple[float, int, int]:
            if riding is None:
                placed = self.placed(q, some)
                centre, turn = placed.centre, placed.turn
            else:
                centre, turn = riding.placed(self.robot, q)
            found = (np.inf, 0, 0)
            for t in range(len(q)):
                place[some], orient[some] = centre[t], turn[t]
                for k, (one, two) in each:
                    here = (measure(model, data, one, two, most, segment), t, k)
                    found = min(found, here)
            return found

        return nearest

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
    shapes = shapes_in_order(robot)
    model, data = loose(robot, shapes)
    box, size = np.array(model.geom_aabb), np.array(model.geom_size)
    axis, radius = _capsules(shapes, size, box)
    group, parent = _groups(robot)
    return Gauge(
        robot=robot,
        model=model,
        data=data,
        link=tuple(one.link for one in shapes),
        rigid=np.array([group[one.link] for one in shapes], dtype=np.int64),
        parent=parent,
        axis=axis,
        radius=radius,
        middle=box[:, :3].copy(),
        half=box[:, 3:].copy(),
        riders=_riders(robot, shapes, model),
    )


def _riders(robot: Robot, shapes: Sequence[PlacedShape], model: Any) -> Riders | None:
    """The shapes as the engine has them, on the joints that carry them."""
    hulls = hulls_of(robot)
    if hulls is None:
        return None
    first: dict[str, int] = {}
    for at, link in enumerate(hulls.links):
        first.setdefault(link, at)
    riding = hulls.riders.some(np.array([first[s.link] + s.place for s in shapes], dtype=np.int64))
    meshes = [g for g, one in enumerate(shapes) if one.shape.mesh is not None]
    if not meshes:
        return riding
    import mujoco

    turn, shift, own = np.array(riding.turn), np.array(riding.shift), np.empty(9)
    for g in meshes:  # of a mesh the engine moves the corners to its middle, and turns them
        mujoco.mju_quat2Mat(own, model.geom_quat[g])
        shift[g] += turn[g] @ model.geom_pos[g]
        turn[g] = turn[g] @ own.reshape(3, 3)
    return Riders(riding.joint, turn, shift)


def _groups(robot: Robot) -> tuple[dict[str, int], Indices]:
    """Link -> its rigid group, 0 what the root is fixed to; and the group that carries each."""
    tree, found = robot.tree, {robot.tree.root: 0}
    links = links_in_order(robot)
    parent = np.zeros(len(links) + 1, dtype=np.int64)
    for number, link in enumerate(links[1:], start=2):
        joint = tree.joints[tree.parent_joint[link]]
        found[link] = number if joint.moves else found[joint.parent]
        if joint.moves:
            parent[number] = found[joint.parent]
    return found, parent


def _capsules(shapes: Sequence[PlacedShape], size: Floats, box: Floats) -> tuple[Floats, Floats]:
    """Half axes and radii of capsules that hold the shapes, in the shapes' frames."""
    G = len(shapes)
    axis, radius = np.zeros((G, 3)), np.zeros(G)
    for g, one in enumerate(shapes):
        if one.shape.kind is ShapeKind.SPHERE:
            radius[g] = size[g, 0]
        elif one.shape.kind is ShapeKind.CYLINDER:
            axis[g, 2], radius[g] = size[g, 1], size[g, 0]
        else:
            middle, half = box[g, :3], box[g, 3:].tolist()
            longest = half.index(max(half))
            axis[g, longest] = half.pop(longest)
            radius[g] = hypot(*half) + np.linalg.norm(middle)
    return axis, radius
