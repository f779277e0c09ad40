"""Planning: one sampled cycle of what a walk asks of the joints."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from legwright.errors import require_whole
from legwright.locomotion._feet import body_path, cycle_path
from legwright.locomotion._rates import rates
from legwright.locomotion.redundant import calm_poses
from legwright.locomotion.room import LIFT_SHARE
from legwright.locomotion.stance import Footing, footing
from legwright.locomotion.walk import Pose, Walk
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import gravity_on, quaternion
from legwright.mechanics.reach import reach_feet
from legwright.mechanics.screws import leg_screws
from legwright.robot.leg import Leg, Reach
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

DEFAULT_CYCLE = 1.2
"""Cycle time when nobody states one [s]; common practice, no published source."""

FEWEST_SAMPLES = 4
JUMP = 0.8
"""A joint that moves more than this between samples has changed branch [rad]."""

SINGULAR = 1e-6
"""Normalised determinant of a leg's Jacobian below which its rates mean nothing."""


Twist = tuple[float, float, float]
"""Forward, to the left [m/s], turning to the left [rad/s]."""


class Held(NamedTuple):
    """The body's pose in the heading frame: its place over the ground."""

    R: Floats
    """(3, 3): body axes to heading axes."""
    at: Floats
    """(3,): body origin in the heading frame [m]."""


def plan(robot: Robot, walk: Walk, samples: int = 128) -> Motion:
    """Sample one cycle of a walk.

    In stance each foot is fixed to the ground while the body moves with the exact exponential
    of its twist; swings match the ground's speed at both ends. Joint velocities and
    accelerations are exact where the leg has three drives and reaches its path; elsewhere
    they are periodic differences of the positions.

    Args:
        robot: The robot.
        walk: What is asked.
        samples: Number of samples over the cycle.

    Returns:
        The motion. Feet that cannot reach their path stay as near as they get; see
        `Motion.reached`. `Motion.feet` is where the feet really are.

    Raises:
        RequestError: when gait and legs do not fit, or the robot cannot stand there.
    """
    require_whole("samples", samples, FEWEST_SAMPLES)
    stand = walk.footing or footing(robot)
    cycle = walk.cycle or robot.sheet.stance.cycle or DEFAULT_CYCLE
    lift = lift_of(robot, walk, stand)
    names = tuple(robot.legs)
    share = np.arange(samples) / samples
    held = held_at(walk.pose, stand.height)
    twist = (*walk.velocity, walk.turn)
    local = walk.gait.local(names, share)
    targets, velocity, acceleration = _in_body(
        stand, held, twist, local, (walk.gait.duty, cycle, lift)
    )
    answer = _follow(robot, targets, stand.q)
    q, feet, qd, qdd = _derive(robot, answer, targets, velocity, acceleration, cycle)
    return Motion(
        t=share * cycle,
        q=q,
        qd=qd,
        qdd=qdd,
        feet=feet,
        contact=local < walk.gait.duty,
        body=_body(held, twist, share * cycle),
        twist=np.broadcast_to(_body_twist(held, twist), (samples, 6)),
        acceleration=np.broadcast_to(_body_acceleration(held, twist), (samples, 6)),
        gravity=gravity_on(walk.slope, walk.uphill),
        reach_error=answer.error,
        reached=answer.ok,
        cycle=cycle,
        joint_names=robot.joint_names,
        leg_names=names,
    )


def lift_of(robot: Robot, walk: Walk, stand: Footing) -> float:
    """How high a foot is lifted in mid-swing [m]: as the walk or the sheet says, else found."""
    stated = walk.lift or robot.sheet.stance.lift
    if stated:
        return float(stated)
    return LIFT_SHARE * float(np.median(np.linalg.norm(stand.feet - robot.hips, axis=1)))


def held_at(pose: Pose, height: float) -> Held:
    """Where a pose holds the body over a footing of a height [m]."""
    cr, sr = np.cos(pose.roll), np.sin(pose.roll)
    cp, sp = np.cos(pose.pitch), np.sin(pose.pitch)
    cy, sy = np.cos(pose.yaw), np.sin(pose.yaw)
    R = np.array(
        [
            [cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr],
            [sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr],
            [-sp, cp * sr, cp * cr],
        ]
    )
    return Held(R, np.array([pose.x, pose.y, height + pose.z]))


def _in_body(
    stand: Footing, held: Held, twist: Twist, local: Floats, timing: tuple[float, float, float]
) -> tuple[Floats, Floats, Floats]:
    """Foot positions, velocities, accelerations in the body frame, (T, L, 3) each."""
    middles = stand.feet + np.array([0.0, 0.0, stand.height])
    path = tuple(np.empty((*local.shape, 3)) for _ in range(3))
    cycle_path(middles, twist, local, timing, held.R, held.at, *path)
    return path[0], path[1], path[2]


def _follow(robot: Robot, targets: Floats, start: Floats) -> Reach:
    """Joint positions along the path without a change of branch."""
    if all(leg.n <= 3 for leg in robot.legs.values()):
        answer = reach_feet(robot, targets, start)
    else:
        answer = _leg_by_leg(robot, targets, start)
    steps = np.abs(np.diff(answer.q, axis=0, append=answer.q[:1])).max(axis=0)
    for index, leg in enumerate(robot.legs.values()):
        span = robot.columns[leg.name]
        if (steps[span] > JUMP).any() and answer.ok[:, index].all():
            _follow_leg(leg, targets[:, index], answer, span, index)
    return answer


def _leg_by_leg(robot: Robot, targets: Floats, start: Floats) -> Reach:
    """As `reach_feet`, the legs with more than three drives in calm poses where these exist."""
    answers = []
    for index, leg in enumerate(robot.legs.values()):
        path, own = targets[:, index], start[robot.columns[leg.name]]
        calm = calm_poses(leg, path, own) if leg.n > 3 else None
        if calm is not None:
            answers.append(Reach(calm, np.zeros(len(path)), np.ones(len(path), dtype=bool)))
            continue
        found = leg.reach(path, near=own)
        if leg.n > 3 and found.ok.all():
            _follow_leg(leg, path, Reach(found.q, found.error[:, None], found.ok[:, None]))
        answers.append(found)
    return Reach(
        np.concatenate([answer.q for answer in answers], axis=1),
        np.stack([answer.error for answer in answers], axis=1),
        np.stack([answer.ok for answer in answers], axis=1),
    )


def _follow_leg(
    leg: Leg, path: Floats, answer: Reach, span: slice = slice(None), index: int = 0
) -> None:
    """Sample after sample, each near the one before; twice round so that the cycle closes."""
    near = answer.q[0, span]
    for sample in [*range(len(path)), *range(len(path))]:
        found = leg.reach(path[sample], near=near)
        near = found.q
        answer.q[sample, span] = near
        answer.error[sample, index], answer.ok[sample, index] = found.error, found.ok


def _derive(
    robot: Robot,
    answer: Reach,
    targets: Floats,
    velocity: Floats,
    acceleration: Floats,
    cycle: float,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Joint positions, feet, joint velocities and accelerations."""
    q = answer.q
    feet = np.array(targets)
    qd, qdd = np.empty_like(q), np.empty_like(q)
    screws = leg_screws(robot)
    for index, leg in enumerate(robot.legs.values()):
        span = robot.columns[leg.name]
        exact = leg.n == 3 and bool(answer.ok[:, index].all())
        if exact:
            paths = (velocity, acceleration)
            exact = rates(screws[index], span.start, index, q, *paths, qd, qdd) > SINGULAR
        if not exact:
            own = np.ascontiguousarray(q[:, span])
            qd[:, span], qdd[:, span] = _periodic(own, cycle)
            feet[:, index] = leg.foot(own)
    return q, feet, qd, qdd


def _periodic(q: Floats, cycle: float) -> tuple[Floats, Floats]:
    """Central differences round the cycle."""
    step = cycle / len(q)
    ahead, behind = np.roll(q, -1, axis=0), np.roll(q, 1, axis=0)
    return (ahead - behind) / (2 * step), (ahead - 2 * q + behind) / step**2


def _body(held: Held, twist: Twist, t: Floats) -> Floats:
    """Body poses in the ground frame, (T, 7)."""
    out = np.empty((len(t), 7))
    body_path(held.at, quaternion(held.R), twist, t, out)
    return out


def _body_twist(held: Held, twist: Twist) -> Floats:
    """Velocity of the body origin and angular velocity, body axes, (6,)."""
    x, y, w = held.at[0], held.at[1], twist[2]
    linear = np.array([twist[0] - w * y, twist[1] + w * x, 0.0])
    return np.concatenate([linear @ held.R, w * held.R[2]])


def _body_acceleration(held: Held, twist: Twist) -> Floats:
    """Acceleration of the body origin and angular acceleration, body axes, (6,)."""
    x, y, w = held.at[0], held.at[1], twist[2]
    linear = np.array([-w * (twist[1] + w * x), w * (twist[0] - w * y), 0.0])
    return np.concatenate([linear @ held.R, np.zeros(3)])
