"""A robot and its free dimensions as the arrays that the layout kernel reads."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from legwright.fabrication._layout_gap import beam_gap, bounded, box_gap, girth_of
from legwright.fabrication._layout_leg import BEND, PLACED, ROW, SIDE, place
from legwright.fabrication.capsules import capsule_radii, femur_beams, trunk_boxes
from legwright.fabrication.dimensions import Free
from legwright.fabrication.layout import ANGLE, COXA, X, Y, near_turn
from legwright.fabrication.layout_arrays import Build
from legwright.fabrication.moving import paired, rebuilt
from legwright.mechanics.drive import Drive, drives_of
from legwright.mechanics.heat import REFERENCE
from legwright.mechanics.kinematics import ClosedForm
from legwright.mechanics.loading import PointMass
from legwright.mechanics.servo_line import available_torque, continuous_torque, no_load_speed
from legwright.robot.generate_leg import servo_solid
from legwright.robot.leg import Leg
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


def build_of(
    robot: Robot,
    free: Free,
    *,
    feet: Floats,
    q: Floats,
    height: float,
    payload: PointMass | None,
    voltage: float | None,
    ambient: float,
    reserve: float,
    winding: Floats | None = None,
) -> Build:
    """The arrays of a robot for the layout kernel.

    Args:
        robot: The robot.
        free: Its dimensions with their values.
        feet: (L, 3): standing feet in the body frame [m].
        q: (J,): joint positions there [rad].
        height: Body frame over the ground [m].
        payload: Payload, or None.
        voltage: At the servos [V]; rated when None.
        ambient: [K]
        reserve: Wanted torque available over needed.
        winding: Temperature of each winding, (J,) [K]; 20 °C when None.

    Returns:
        The arrays.
    """
    today = free.layout.values
    legs = list(robot.legs.values())
    rows = np.zeros((len(legs), ROW))
    for index, leg in enumerate(legs):
        rows[index] = _row(leg, q[robot.columns[leg.name]])
    radius, boxes, beam = capsule_radii(robot), trunk_boxes(robot), femur_beams(robot)
    hip = _hip_masses(robot)
    trunk = np.zeros(4)
    trunk[0] = robot.trunk.mass - hip.sum() + (payload.mass if payload else 0.0)
    trunk[1:] = robot.trunk.mass * robot.trunk.com
    trunk[1:3] -= hip @ today[:, [X, Y]]
    if payload is not None:
        trunk[1:] += payload.mass * np.asarray(payload.at)
    drives = drives_of(robot)
    shape = (len(legs), 3)
    warm = REFERENCE if winding is None else winding
    peak = available_torque(drives, 0.0, voltage, winding=warm) / reserve
    pace = _pace(drives, peak * reserve, voltage, warm)
    held = continuous_torque(drives, ambient)
    return Build(
        rows=rows,
        yaw=np.array(today[:, ANGLE]),
        dim=free.dim,
        scale=np.array(free.scale),
        base=np.array(free.base),
        today=np.array(today),
        solid=_solids(robot, free),
        foot=_feet(robot, feet, today),
        trunk=trunk,
        hip=hip,
        height=float(height),
        peak=np.where(np.isfinite(peak) & (peak > 0.0), peak, 1.0).reshape(shape),
        held=np.where(np.isfinite(held) & (held > 0.0), held, np.inf).reshape(shape),
        pace=np.where(np.isfinite(pace) & (pace > 0.0), pace, np.inf).reshape(shape),
        flat=np.array(drives.flat).reshape(shape),
        pairs=_neighbours(today),
        radius=radius,
        beam=beam,
        boxes=boxes,
        apart=_apart(boxes, rows, feet, radius, beam),
    )


def _pace(drives: Drive, peak: Floats, voltage: float | None, winding: Floats | float) -> Floats:
    """Speed at which the torque line of a warm winding ends, (J,) [rad/s]."""
    slow = 0.1 * no_load_speed(drives, voltage)
    there = available_torque(drives, slow, voltage, winding=winding)
    with np.errstate(divide="ignore", invalid="ignore"):
        line = slow * peak / (peak - there)
    return np.where(peak > there, line, no_load_speed(drives, voltage))


def _apart(
    boxes: Floats, rows: Floats, feet: Floats, radius: Floats, beam: Floats
) -> NDArray[np.bool_]:
    """Which boxes femur and tibia keep clear of as the robot stands, (B, L, 2)."""
    out = np.zeros((len(boxes), len(rows), 2), dtype=np.bool_)
    placed, whole = np.zeros((len(rows), PLACED)), bounded(boxes)
    girth = girth_of(radius, beam, rows[:, 18].copy())
    for leg, g in enumerate(rows):
        if place(g, *feet[leg], placed[leg]) <= -10.0:
            continue
        for b in range(len(boxes)):
            near = beam_gap(whole, b, rows, girth, leg, placed, leg, np.inf)
            out[b, leg, 0] = near > 0.0
            near = box_gap(whole, b, placed, leg, 3, np.inf)
            out[b, leg, 1] = near > float(radius[leg, 2])
    return out


def _row(leg: Leg, q: Floats) -> Floats:
    """One leg's row without its masses; the branch is that of the standing pose."""
    solver = leg.kinematics
    row = np.zeros(ROW)
    if not isinstance(solver, ClosedForm):
        return row
    m = solver.pack
    row[:31] = m[:31]
    row[28:31] = q
    frame = m[:9].reshape(3, 3)
    foot = frame @ (leg.foot(q) - m[9:12])
    outward = np.cos(q[0]) * foot[1] - np.sin(q[0]) * foot[0]
    row[SIDE] = 1.0 if outward >= 0.0 else -1.0
    row[BEND] = 1.0 if np.sin(m[17] * q[2] + m[21]) >= 0.0 else -1.0
    return row


def _feet(robot: Robot, feet: Floats, today: Floats) -> Floats:
    out = np.zeros((len(feet), 4))
    stated = robot.sheet.stance.feet
    for index, name in enumerate(robot.legs):
        away = feet[index, :2] - today[index, [X, Y]]
        if name in stated:
            out[index] = -1.0, 0.0, feet[index, 0], feet[index, 1]
        else:
            turn = np.arctan2(away[1], away[0]) - today[index, ANGLE]
            out[index, :2] = np.hypot(*away), float(near_turn(turn))
    return out


def _hip_masses(robot: Robot) -> Floats:
    """Mass that moves with each hip: the coxa servo of a generated trunk, else none, (L,) [kg]."""
    shape = robot.sheet.dimensions
    if shape is None or not paired(robot):
        return np.zeros(len(robot.legs))
    return np.array(
        [
            servo_solid(robot.servos[leg.joint_names[0]], shape, (0.0, 0.0, 0.0), upright=True).mass
            for leg in robot.legs.values()
        ]
    )


def _solids(robot: Robot, free: Free) -> Floats:
    """Masses of the segments' links for each value of their dimension, (L, 3, V, 4)."""
    legs = len(robot.legs)
    most = max(len(each.values) for each in free.dimensions)
    out = np.zeros((legs, 3, most, 4))
    today = free.today()
    plain = np.array([_weighed(leg) for leg in robot.legs.values()])
    out[:] = plain[:, :, None, :]
    for index, dimension in enumerate(free.dimensions):
        uses = free.dim[:, COXA:] == index
        if not uses.any():
            continue
        for at, value in enumerate(dimension.values):
            values = today.copy()
            values[index] = value
            other = rebuilt(robot, free.legs(values), free.layout.values)
            made = np.array([_weighed(leg) for leg in other.legs.values()])
            for leg, segment in np.argwhere(uses):
                out[leg, segment, at] = made[leg, segment]
    return out


def _weighed(leg: Leg) -> Floats:
    """Mass and place of each moving part of a leg, (3, 4); places as `_layout_leg.MASS` says."""
    solver = leg.kinematics
    if not isinstance(solver, ClosedForm):
        return np.zeros((3, 4))
    m = solver.pack
    frame = m[:9].reshape(3, 3)
    pose, out = np.eye(4), np.zeros((3, 4))
    knee = m[15:17] + m[18] * np.array([np.cos(m[19]), np.sin(m[19])])
    starts = (np.zeros(2), m[15:17], knee)
    slopes = (0.0, m[19], m[19] + m[21])
    for k, (placement, solid) in enumerate(
        zip(leg.chain.placements, leg.chain.solids, strict=True)
    ):
        pose = pose @ placement
        x, y, z = frame @ (pose[:3, :3] @ solid.com + pose[:3, 3] - m[9:12])
        across = m[12] * x + m[13] * z
        flat = np.array([y, m[12] * z - m[13] * x]) - starts[k]
        if k == 0:
            out[0] = solid.mass, across, flat[0], flat[1]
            continue
        c, s = np.cos(slopes[k]), np.sin(slopes[k])
        out[k] = solid.mass, c * flat[0] + s * flat[1], c * flat[1] - s * flat[0], across
    return out


def _neighbours(today: Floats) -> NDArray[np.int64]:
    """Legs next to each other around the body, (P, 2)."""
    order = np.argsort(np.arctan2(today[:, Y], today[:, X]))
    pairs = [(int(a), int(b)) for a, b in zip(order, np.roll(order, -1), strict=True)]
    return np.array(pairs, dtype=np.int64)
