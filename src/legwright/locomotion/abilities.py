"""What a robot can do, measured once: joint limits, room for the feet, heights it can take."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from legwright.locomotion._state import Fixed
from legwright.locomotion.room import LIFT_SHARE
from legwright.locomotion.slant import slants
from legwright.locomotion.stance import Footing
from legwright.mechanics.drive import drives_of
from legwright.mechanics.dynamics import packed, with_payload
from legwright.mechanics.loading import PointMass
from legwright.mechanics.pose import rotations, still
from legwright.mechanics.reach import reach_feet
from legwright.mechanics.shapes import link_poses, lowest
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SPEED_SHARE = 0.75
"""Of the no-load speed that a joint is asked for; the rest is for load and sag."""
TORQUE_SHARE = 0.5
"""Of the stall torque that may accelerate a joint."""
SPEED_UNKNOWN, SURGE_UNKNOWN = 4.0, 60.0
"""Where the sheet names no servo [rad/s, rad/s²]: assumed, no published source."""
SURGE_RANGE = (20.0, 200.0)
"""Joint accelerations outside this range are not used [rad/s²]: common practice, no
published source."""
ANGLES = np.arange(12) * (np.pi / 6)
LARGEST_ROOM = 0.30
"""Of the leg length: a wider room is not used."""
APART = 0.42
"""Of the distance to the nearest other foot that a foot's room takes at most."""
MOVE = (0.06, 0.06, 0.05, 0.35, 0.35, 0.35)
"""Speeds of the body over its feet: x, y, z [m/s], roll, pitch, yaw [rad/s]."""
SURGE = (0.4, 0.4, 0.3, 2.0, 2.0, 2.0)
"""Their accelerations."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Abilities:
    """Measures of one robot that the controller works with."""

    fixed: Fixed
    footing: Footing
    belly: float
    """Height of the body frame over the ground when the trunk lies on it [m]."""
    lowest: float
    """Least height at which all feet reach the ground at their neutral places [m]."""
    highest: float
    """Greatest such height [m]."""
    step_height: float
    """Least height at which feet have most of their room, so that the robot may step [m]."""
    lift: float
    """How high a swing lifts its foot [m]."""
    leg_length: float
    """Median distance from hip to foot, standing [m]."""
    weight: float
    """[N]"""


def abilities(robot: Robot, footing: Footing, *, payload: PointMass | None = None) -> Abilities:
    """Measure a robot.

    Args:
        robot: The robot.
        footing: Where it stands.
        payload: What it carries, if the controller is to reckon with it.

    Returns:
        Its abilities.
    """
    neutral = footing.feet + np.array([0.0, 0.0, footing.height])
    arrays = with_payload(packed(robot), payload)
    length = float(np.median(np.linalg.norm(footing.feet - robot.hips, axis=1)))
    lift = robot.sheet.stance.lift or LIFT_SHARE * length
    speed, surge = _joint_limits(robot, length)
    belly = belly_height(robot, footing)
    heights = np.linspace(0.0, 1.6 * footing.height, 65)
    grid = np.array([footing.height, *heights])
    feet = np.repeat(neutral[None], len(grid), axis=0)
    feet[:, :, 2] -= grid[:, None]
    ok = np.all(reach_feet(robot, feet, footing.q).ok, axis=1)[1:]
    able = heights[ok & (heights >= belly)]
    fixed = Fixed(
        packed=arrays,
        lower=np.array(robot.lower),
        upper=np.array(robot.upper),
        rest=np.array(footing.q),
        speed=speed,
        surge=surge,
        neutral=np.ascontiguousarray(neutral),
        room=_rooms(robot, footing, lift, length),
        spry=_spry(robot, footing, lift, surge),
        slant=slants(robot, footing),
        posture_speed=np.array(MOVE),
        posture_surge=np.array(SURGE),
    )
    made = Abilities(
        fixed=fixed,
        footing=footing,
        belly=belly,
        lowest=float(able.min(initial=footing.height)),
        highest=float(able.max(initial=footing.height)),
        step_height=footing.height,
        lift=float(lift),
        leg_length=length,
        weight=float(arrays.mass.sum()) * 9.80665,
    )
    return replace(made, step_height=_step_height(robot, made))


def _step_height(robot: Robot, able: Abilities) -> float:
    """Lowest of the heights, down from the stance, that leave all feet their room [m]."""
    high = able.footing.height
    heights = np.linspace(high, max(able.lowest, 0.3 * high), 24)
    postures = np.zeros((len(heights), 6))
    postures[:, 2] = heights
    ok = np.append(reachable(robot, able, postures), False)
    ok[0] = True
    return float(heights[int(np.argmin(ok)) - 1]) - 0.002


def belly_height(robot: Robot, footing: Footing) -> float:
    """How far the trunk reaches below the body frame [m], feet's rounding taken off.

    Foot points are the centres of the feet's rounding, so a body on the ground has its feet's
    centres that much over it.
    """
    poses = link_poses(robot, still(robot, footing.q).q)
    up = np.array([[0.0, 0.0, 1.0]])
    found = [
        float(np.min(lowest(shape, poses[name], up)))
        for name, link in robot.tree.links.items()
        if name == robot.body
        for shape in link.shapes
    ]
    radius = max(leg.chain.foot_radius for leg in robot.legs.values())
    below = -min(found, default=-0.3 * footing.height)
    return max(below - radius, 0.0)


def _joint_limits(robot: Robot, length: float) -> tuple[Floats, Floats]:
    """Speed and acceleration that each joint is asked for at most, (J,) each."""
    drives = drives_of(robot)
    speed = np.where(np.isnan(drives.no_load_speed), SPEED_UNKNOWN, drives.no_load_speed)
    for column, name in enumerate(robot.joint_names):
        stated = robot.tree.joints[name].velocity
        if stated:
            speed[column] = min(speed[column], stated)
    rotor = np.array(packed(robot).rotor)
    inertia = np.concatenate(
        [
            np.full(leg.n, sum(solid.mass for solid in leg.chain.solids) * (0.5 * length) ** 2)
            for leg in robot.legs.values()
        ]
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        surge = TORQUE_SHARE * np.fmin(drives.stall_torque, drives.cap) / (rotor + inertia)
    surge = np.where(np.isfinite(surge), surge, SURGE_UNKNOWN)
    return SPEED_SHARE * speed, np.clip(surge, *SURGE_RANGE)


def _rooms(robot: Robot, footing: Footing, lift: float, length: float) -> Floats:
    """Radius of the disc around its neutral place in which each foot may stand, (L,) [m]."""
    flat = footing.feet[:, :2]
    gaps = np.linalg.norm(flat[:, None] - flat[None], axis=2)
    np.fill_diagonal(gaps, np.inf)
    most = np.minimum(LARGEST_ROOM * length, APART * gaps.min(axis=1))
    shares = np.linspace(0.05, 1.0, 20)
    ring = np.column_stack([np.cos(ANGLES), np.sin(ANGLES), np.zeros(len(ANGLES))])
    offsets = shares[:, None, None, None] * ring[:, None] * most[:, None]
    low = footing.feet + offsets - np.array([0.0, 0.0, 0.3 * lift])
    high = footing.feet + offsets + np.array([0.0, 0.0, 1.3 * lift])
    start = np.broadcast_to(footing.q, (*low.shape[:2], len(footing.q)))
    ok = reach_feet(robot, low, start).ok & reach_feet(robot, high, start).ok
    inside = np.minimum.accumulate(ok.all(axis=1), axis=0)
    return np.asarray(most * np.maximum(inside.sum(axis=0), 1) / len(shares))


def _spry(robot: Robot, footing: Footing, lift: float, surge: Floats) -> Floats:
    """Vertical acceleration that every joint of a leg grants its foot, (L,) [m/s²].

    From standing to lifted, the least; what turning joints add by their speed is left out.
    """
    found = []
    for feet, (name, leg) in zip(footing.feet, robot.legs.items(), strict=True):
        columns = robot.columns[name]
        points = feet + np.linspace(0.0, lift, 4)[:, None] * np.array([0.0, 0.0, 1.0])
        q = leg.reach(points, near=np.broadcast_to(footing.q[columns], (4, leg.n))).q
        needed = np.linalg.pinv(leg.jacobian(q))[..., 2]  # (4, n) for 1 m/s²
        found.append(float(np.min(surge[columns] / np.maximum(np.abs(needed), 1e-6))))
    return np.array(found)


def reachable(robot: Robot, able: Abilities, postures: Floats) -> Floats:
    """Which body postures leave every foot its place and most of its room.

    Args:
        robot: The robot.
        able: Its abilities.
        postures: (N, 6): x, y, height, roll, pitch, yaw over the footing.

    Returns:
        (N,) of bools.
    """
    ring = np.column_stack([np.cos(ANGLES[::2]), np.sin(ANGLES[::2]), np.zeros(6)])
    spread = 0.75 * able.fixed.room[:, None] * ring[:, None]
    points = np.concatenate([able.fixed.neutral[None], able.fixed.neutral + spread])
    half = 0.5 * postures[:, 3:]
    cr, cp, cy = np.cos(half).T
    sr, sp, sy = np.sin(half).T
    wxyz = np.stack(
        [
            cr * cp * cy + sr * sp * sy,
            sr * cp * cy - cr * sp * sy,
            cr * sp * cy + sr * cp * sy,
            cr * cp * sy - sr * sp * cy,
        ],
        axis=1,
    )
    turned = rotations(wxyz)
    local = np.einsum("nki,nrlk->nrli", turned, points[None] - postures[:, None, None, :3])
    start = np.broadcast_to(able.fixed.rest, (*local.shape[:2], len(able.fixed.rest)))
    return np.asarray(reach_feet(robot, local, start).ok.all(axis=(1, 2)))
