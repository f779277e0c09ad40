"""Pulling a foot, the body or a joint: the rest follows through inverse kinematics."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError, did_you_mean
from legwright.mechanics.balance import static_margin
from legwright.mechanics.loads import standing
from legwright.mechanics.pose import quaternion, rotations
from legwright.mechanics.reach import feet_of, reach_feet
from legwright.robot.placement import pose_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.strains import joint_label
from legwright.views.desk.asked import Pull
from legwright.views.desk.blocks import Pulled, packed
from legwright.views.desk.shown import Shown

LIFTED = 1e-3
"""A foot that is pulled higher over the ground than this no longer stands [m]."""
AT_LIMIT = 1e-3
"""A joint this near to its limit stands at it [rad]."""
HIT = 1e-4
"""A foot this near to its place is there [m]."""
FARTHEST = 5.0
"""Nothing is pulled farther than this [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pose:
    """A robot in one pose."""

    q: Floats
    """(J,) [rad]"""
    at: Floats
    """Body origin in the ground frame, (3,) [m]."""
    R: Floats
    """Body axes to ground axes, (3, 3)."""
    stands: NDArray[np.bool_]
    """(L,)"""
    error: Floats
    """(L,): by how far each foot misses its place [m]."""


def pulled_block(shown: Shown, ask: Pull, *, rev: int) -> bytes:
    """The pose that a pull leads to, as a block.

    Args:
        shown: The walk that is shown; the pose starts from it.
        ask: What is pulled where.
        rev: Revision of the robot.

    Raises:
        RequestError: for a part that is not there, or a place that makes no sense.
    """
    robot = shown.robot
    pose = _pulled(robot, _start(shown, ask.phase), ask)
    down = np.array([0.0, 0.0, -1.0]) @ pose.R
    feet = feet_of(robot, pose.q)
    rest = standing(robot, pose.q, contact=pose.stands, payload=shown.asked.payload)
    com = rest.com[0]
    margin = static_margin(feet, com, contact=pose.stands, gravity=down)
    stopped = _stopped(robot, pose.q)
    header = Pulled(
        rev=rev,
        n=ask.n,
        ok=bool((pose.error <= HIT).all()),
        stopped=tuple(robot.joint_names[column] for column in stopped),
        text=_words(robot, pose, stopped),
    )
    arrays = {
        "q": pose.q, "body": np.concatenate([pose.at, quaternion(pose.R)]), "feet": feet,
        "margin": np.atleast_1d(margin), "com": com, "error": pose.error,
    }  # fmt: skip
    return packed(header, arrays)


def _start(shown: Shown, phase: float) -> Pose:
    """The pose before the pull: at rest, or of a sample of the cycle."""
    legs = len(shown.robot.legs)
    if phase < 0.0:
        stand = shown.footing
        return Pose(
            q=stand.q,
            at=np.array([0.0, 0.0, stand.height]),
            R=np.eye(3),
            stands=np.ones(legs, dtype=np.bool_),
            error=np.zeros(legs),
        )
    motion = shown.case.motion
    row = round((phase % 1.0) * len(motion.t)) % len(motion.t)
    return Pose(
        q=motion.q[row],
        at=motion.body[row, :3],
        R=rotations(motion.body[row, 3:]),
        stands=motion.contact[row],
        error=np.zeros(legs),
    )


def _pulled(robot: Robot, start: Pose, ask: Pull) -> Pose:
    wanted = {"foot": 3, "body": 6, "joint": 1}[ask.what]
    to = np.array(ask.to, dtype=np.float64)
    if to.shape != (wanted,) or not np.isfinite(to).all() or np.abs(to[:3]).max() > FARTHEST:
        raise RequestError("to", list(ask.to)[:6], f"{wanted} finite numbers within {FARTHEST:g}")
    if ask.what == "foot":
        return _foot(robot, start, ask.name, to)
    return _body(robot, start, to) if ask.what == "body" else _joint(robot, start, ask.name, to)


def _foot(robot: Robot, start: Pose, name: str, to: Floats) -> Pose:
    """One foot somewhere else; the others stay."""
    _known("leg", name, robot.legs)
    index, span = list(robot.legs).index(name), robot.columns[name]
    answer = robot.legs[name].reach((to - start.at) @ start.R, near=start.q[span])
    q, error, stands = start.q.copy(), start.error.copy(), start.stands.copy()
    q[span], error[index] = answer.q, answer.error
    stands[index] = bool(to[2] <= LIFTED)
    return Pose(q=q, at=start.at, R=start.R, stands=stands, error=error)


def _body(robot: Robot, start: Pose, to: Floats) -> Pose:
    """The body somewhere else; all feet stay where they are on the ground."""
    heading = np.arctan2(start.R[1, 0], start.R[0, 0])
    yaw = pose_of((0.0, 0.0, 0.0), (0.0, 0.0, float(heading)))[:3, :3]
    roll, pitch, turn = to[3:].tolist()
    own = pose_of((0.0, 0.0, 0.0), (roll, pitch, turn))[:3, :3]
    R = yaw @ own @ yaw.T @ start.R
    at = start.at + yaw @ to[:3]
    places = start.at + feet_of(robot, start.q) @ start.R.T
    answer = reach_feet(robot, (places - at) @ R, start.q)
    return Pose(q=answer.q, at=at, R=R, stands=start.stands, error=answer.error)


def _joint(robot: Robot, start: Pose, name: str, to: Floats) -> Pose:
    """One joint turned, as far as its limits let it."""
    _known("joint", name, robot.joint_names)
    column = robot.joint_names.index(name)
    q, stands = start.q.copy(), start.stands.copy()
    q[column] = np.clip(to[0], robot.lower[column], robot.upper[column])
    leg = next(n for n, span in robot.columns.items() if span.start <= column < span.stop)
    index = list(robot.legs).index(leg)
    foot = start.at + start.R @ robot.legs[leg].foot(q[robot.columns[leg]])
    stands[index] = bool(abs(foot[2]) <= LIFTED)
    return Pose(q=q, at=start.at, R=start.R, stands=stands, error=start.error)


def _stopped(robot: Robot, q: Floats) -> list[int]:
    """Columns of joints at a limit."""
    stopped = (q - robot.lower < AT_LIMIT) | (robot.upper - q < AT_LIMIT)
    return [int(column) for column in np.flatnonzero(stopped)]


def _words(robot: Robot, pose: Pose, stopped: list[int]) -> str:
    worst = int(pose.error.argmax())
    said = []
    if pose.error[worst] > HIT:
        name = list(robot.legs)[worst]
        said.append(f"{name} stays {1e3 * pose.error[worst]:.0f} mm away")
    if stopped:
        said.append(f"{joint_label(robot, stopped[0])} stands at its limit")
    return "; ".join(said)


def _known(what: str, name: str, names: object) -> None:
    known = list(names)  # type: ignore[call-overload]
    if name not in known:
        raise RequestError(what, name, f"one of this robot's. {did_you_mean(name, known)}")
