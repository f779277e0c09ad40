"""Planning: one sampled cycle of what a walk asks of the joints."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from legwright.errors import require_whole
from legwright.locomotion._rates import rates
from legwright.locomotion.feet import cycle_path, versine
from legwright.locomotion.redundant import calm_poses
from legwright.locomotion.room import LIFT_SHARE
from legwright.locomotion.stance import Footing, footing
from legwright.locomotion.walk import Pose, Walk
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import gravity_on, quaternion
from legwright.mechanics.reach import reach_feet
from legwright.mechanics.screws import screws_of
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


class _Held(NamedTuple):
    """The body's pose in the heading frame."""

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
    lift = walk.lift or robot.sheet.stance.lift or LIFT_SHARE * _leg_length(robot, stand)
    names = tuple(robot.legs)
    share = np.arange(samples) / samples
    held = _held(walk.pose, stand.height)
    twist = np.array([*walk.velocity, walk.turn])
    local = walk.gait.local(names, share)
    targets, velocity, acceleration = _in_body(stand, held, twist, local, walk, cycle, lift)
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


def _leg_length(robot: Robot, stand: Footing) -> float:
    return float(np.median(np.linalg.norm(stand.feet - robot.hips, axis=1)))


def _held(pose: Pose, height: float) -> _Held:
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
    return _Held(R, np.array([pose.x, pose.y, height + pose.z]))


def _in_body(
    stand: Footing,
    held: _Held,
    twist: Floats,
    local: Floats,
    walk: Walk,
    cycle: float,
    lift: float,
) -> tuple[Floats, Floats, Floats]:
    """Foot positions, velocities, accelerations in the body frame, (T, L, 3) each."""
    middles = stand.feet + np.array([0.0, 0.0, stand.height])
    position, velocity, acceleration = cycle_path(
        middles, twist, local, duty=walk.gait.duty, cycle=cycle, lift=lift
    )
    return (position - held.at) @ held.R, velocity @ held.R, acceleration @ held.R


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
    for index, leg in enumerate(robot.legs.values()):
        span = robot.columns[leg.name]
        exact = leg.n == 3 and bool(answer.ok[:, index].all())
        own, first, second = (np.ascontiguousarray(q[:, span]) for _ in range(3))
        if exact:
            exact = (
                rates(
                    screws_of(leg.chain),
                    own,
                    np.ascontiguousarray(velocity[:, index]),
                    np.ascontiguousarray(acceleration[:, index]),
                    first,
                    second,
                )
                > SINGULAR
            )
        if not exact:
            first, second = _periodic(own, cycle)
            feet[:, index] = leg.foot(own)
        qd[:, span], qdd[:, span] = first, second
    return q, feet, qd, qdd


def _periodic(q: Floats, cycle: float) -> tuple[Floats, Floats]:
    """Central differences round the cycle."""
    step = cycle / len(q)
    ahead, behind = np.roll(q, -1, axis=0), np.roll(q, 1, axis=0)
    return (ahead - behind) / (2 * step), (ahead - 2 * q + behind) / step**2


def _body(held: _Held, twist: Floats, t: Floats) -> Floats:
    """Body poses in the ground frame, (T, 7)."""
    vx, vy, w = twist
    angle = w * t
    c, s = np.cos(angle), np.sin(angle)
    along = t * np.sinc(angle / np.pi)
    across = t * versine(angle)
    out = np.empty((len(t), 7))
    out[:, 0] = along * vx - across * vy + c * held.at[0] - s * held.at[1]
    out[:, 1] = across * vx + along * vy + s * held.at[0] + c * held.at[1]
    out[:, 2] = held.at[2]
    a, b, x, y = *quaternion(held.R)[[0, 3]], *quaternion(held.R)[[1, 2]]
    ch, sh = np.cos(0.5 * angle), np.sin(0.5 * angle)
    out[:, 3], out[:, 6] = ch * a - sh * b, ch * b + sh * a
    out[:, 4], out[:, 5] = ch * x - sh * y, ch * y + sh * x
    return out


def _body_twist(held: _Held, twist: Floats) -> Floats:
    w = np.array([0.0, 0.0, twist[2]])
    linear = np.array([twist[0], twist[1], 0.0]) + np.cross(w, held.at)
    return np.concatenate([linear @ held.R, w @ held.R])


def _body_acceleration(held: _Held, twist: Floats) -> Floats:
    w = np.array([0.0, 0.0, twist[2]])
    linear = np.array([twist[0], twist[1], 0.0]) + np.cross(w, held.at)
    return np.concatenate([np.cross(w, linear) @ held.R, np.zeros(3)])
