"""Where a cable is tied when the sheet does not say: on both sides of each moving joint."""

from __future__ import annotations

from math import dist, hypot

import numpy as np

from legwright.electrics.stretch import Fixing, joints_between, seen_from
from legwright.robot.tree import Floats, Joint, Tree, read_only

TIE_REACH = 1.5
"""Distance of a tie from the joint's axis in bend radii, unless stated: far enough for a cable
across a usual joint to do without a loop. Common practice, no published source."""


def assumed_ties(
    tree: Tree, start: Fixing, end: Fixing, goal: Fixing, *, reach: float, apart: float
) -> tuple[Fixing, ...]:
    """Ties on both sides of each moving joint between two fixings.

    Args:
        tree: The description.
        start: Where the cable comes from.
        end: Where it goes.
        goal: What the last tie lies toward: the joint of the servo that `end` belongs to, or
            `end` itself.
        reach: Distance of the ties from the joint's axis [m]; never beyond half way to the next.
        apart: No tie lies nearer than this to the fixings next to it on the same rigid part [m].

    Returns:
        The ties from start to end; none before a joint whose own servo the cable comes from.
    """
    crossed = [(joint, way) for joint, way in joints_between(tree, start.link, end.link)]
    moving = [(joint, way) for joint, way in crossed if joint.moves]
    fixings = [start]
    for index, (joint, way) in enumerate(moving):
        onward = _origin(moving[index + 1][0]) if index + 1 < len(moving) else goal
        sides = [_behind(joint, reach), _ahead(tree, joint, onward if way > 0 else start, reach)]
        for side, tie in enumerate(sides if way > 0 else sides[::-1]):
            own = side == 0 and start.what == joint.name
            if not own and not _near(tree, fixings[-1], tie, apart):
                fixings.append(tie)
    while len(fixings) > 1 and _near(tree, fixings[-1], end, apart):
        fixings.pop()
    return tuple(fixings[1:])


def _origin(joint: Joint) -> Fixing:
    return Fixing(link=joint.parent, at=joint.placement[:3, 3])


def _behind(joint: Joint, reach: float) -> Fixing:
    """On the link that carries a joint, back from where the joint moves."""
    origin = joint.placement[:3, 3]
    far = float(np.linalg.norm(origin))
    step = min(reach, 0.5 * far) if far > 0.0 else reach
    back = across(joint.placement[:3, :3] @ joint.axis, -origin)
    return Fixing(link=joint.parent, at=read_only(origin + step * back))


def _ahead(tree: Tree, joint: Joint, onward: Fixing, reach: float) -> Fixing:
    """On the link that a joint moves, toward what comes next."""
    goal = seen_from(tree, joint.child, onward)
    far = float(np.linalg.norm(goal))
    step = min(reach, 0.5 * far) if far > 0.0 else reach
    return Fixing(link=joint.child, at=read_only(step * across(joint.axis, goal)))


def _near(tree: Tree, a: Fixing, b: Fixing, apart: float) -> bool:
    if a.link != b.link and any(joint.moves for joint, _ in joints_between(tree, a.link, b.link)):
        return False
    return dist(seen_from(tree, a.link, b).tolist(), a.at.tolist()) < apart


def across(axis: Floats, toward: Floats) -> Floats:
    """Unit vector square to an axis, as nearly as possible toward a point, (3,)."""
    ax, ay, az = axis.tolist()
    tx, ty, tz = toward.tolist()
    along = tx * ax + ty * ay + tz * az
    x, y, z = tx - along * ax, ty - along * ay, tz - along * az
    if hypot(x, y, z) <= 1e-3 * hypot(tx, ty, tz):
        least = min(range(3), key=(abs(ax), abs(ay), abs(az)).__getitem__)
        along = (ax, ay, az)[least]
        x, y, z = ((1.0 if k == least else 0.0) - along * a for k, a in enumerate((ax, ay, az)))
    length = hypot(x, y, z)
    return np.array([x / length, y / length, z / length])
