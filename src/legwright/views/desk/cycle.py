"""One shown walk as a block of arrays."""

from __future__ import annotations

from math import isfinite
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion.stance import footing
from legwright.mechanics.balance import support_polygon
from legwright.mechanics.drive import drives_of
from legwright.mechanics.pose import rotations
from legwright.mechanics.servo_line import available_torque, no_load_speed
from legwright.mechanics.workspace import outward
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.reach_maps import reach_maps
from legwright.views.desk.blocks import Cycle, Limits, Reach, packed
from legwright.views.desk.shown import Shown

Who = Literal["now", "before"]
LINE = 48
"""Points of a torque-speed line."""


def cycle_block(shown: Shown, *, rev: int, who: Who, case: str) -> bytes:
    """A walk as one binary frame.

    Args:
        shown: The walk.
        rev: Revision of the robot.
        who: The edited robot or what lies under it.
        case: Name of the case; empty for a walk of the user's own.

    Returns:
        The frame; see `Cycle` for its arrays.
    """
    motion, loads, drawn = shown.case.motion, shown.case.loads, shown.case.draw
    walk, robot = shown.case.walk, shown.robot
    volts = np.broadcast_to(drawn.voltage, motion.q.shape)
    lines = _lines(robot, volts, drawn.winding)
    header = Cycle(
        rev=rev,
        who=who,
        case=case,
        gait=walk.gait.name,
        duty=walk.gait.duty,
        phases=tuple(walk.gait.phases_of(tuple(robot.legs)).tolist()),
        cycle=motion.cycle,
        velocity=walk.velocity,
        turn=walk.turn,
        slope=walk.slope,
        uphill=walk.uphill,
        height=shown.footing.height,
        legs=motion.leg_names,
        joints=motion.joint_names,
        limits=_limits(shown, volts),
        ok=motion.ok,
        fed=shown.supply is not None and not shown.supply.brown_out,
        worst=_worst(shown),
        note=shown.note,
    )
    arrays = {
        "t": motion.t, "q": motion.q, "body": motion.body, "feet": motion.feet,
        "contact": motion.contact, "torque": drawn.torque, "available": drawn.available,
        "speed": motion.qd, "current": drawn.supply_current, "force": loads.force,
        "margin": loads.margin, "com": loads.com, "voltage": volts, "heat": drawn.heat,
        "winding": drawn.steady_temperature, "minutes": drawn.time_to_limit / 60.0,
        "rms": drawn.rms_torque, "support": _support(shown), **lines,
    }  # fmt: skip
    return packed(header, arrays)


def reach_block(robot: Robot, *, rev: int, who: Who) -> bytes:
    """Outlines of what the legs reach as one binary frame.

    Args:
        robot: The robot.
        rev: Revision of the robot.
        who: The edited robot or what lies under it.

    Raises:
        RequestError: when it cannot stand.
    """
    stand = footing(robot)
    maps = reach_maps(robot, stand, every=True)
    index = {name: at for at, name in enumerate(robot.legs)}
    ways = {m.leg: outward(robot.legs[m.leg], stand.feet[index[m.leg]]) for m in maps}
    hips = {m.leg: robot.legs[m.leg].hip.tolist() for m in maps}
    header = Reach(
        rev=rev,
        who=who,
        inside={m.leg: m.inside for m in maps},
        hips={leg: (x, y, z) for leg, (x, y, z) in hips.items()},
        outward={leg: (float(way[0]), float(way[1])) for leg, way in ways.items()},
    )
    return packed(header, {m.leg: m.outline for m in maps})


def _limits(shown: Shown, volts: Floats) -> Limits:
    robot = shown.robot
    wants = robot.sheet.requirements
    servos = [robot.servos.get(name) for name in robot.joint_names]
    return Limits(
        margin=wants.stability_margin,
        friction=shown.case.friction,
        torque_reserve=wants.torque_reserve,
        lower=_bounds(robot.lower),
        upper=_bounds(robot.upper),
        speed=_bounds(np.asarray(no_load_speed(drives_of(robot), volts.min(axis=0)))),
        continuous=_bounds(shown.case.draw.continuous),
        winding=tuple(servo.highest_winding if servo else None for servo in servos),
        voltage=tuple(servo.lowest_voltage if servo else None for servo in servos),
        ambient=shown.case.draw.ambient,
    )


def _bounds(values: Floats) -> tuple[float | None, ...]:
    return tuple(float(value) if isfinite(value) else None for value in values)


def _lines(robot: Robot, volts: Floats, winding: Floats) -> dict[str, Floats]:
    """Torque-speed lines at the least voltage of the cycle, (J, N) each."""
    drives, least = drives_of(robot), volts.min(axis=0)
    top = np.broadcast_to(no_load_speed(drives, least), least.shape)
    speed = np.linspace(0.0, 1.0, LINE)[:, None] * np.where(np.isfinite(top), top, np.nan)
    torque = available_torque(drives, speed, least, winding=winding)
    return {"line_speed": speed.T, "line_torque": np.asarray(torque).T}


def _worst(shown: Shown) -> float:
    """Phase at which a joint comes nearest to what its servo can give."""
    headroom = shown.case.draw.headroom
    if np.isnan(headroom).all():
        return -1.0
    return int(np.nanargmin(headroom.min(axis=1))) / len(headroom)


def _support(shown: Shown) -> NDArray[np.int64]:
    """Legs at the corners of the support polygon, then −1, (T, L)."""
    motion = shown.case.motion
    down = motion.gravity @ rotations(motion.body[:, 3:])
    corners = np.full(motion.contact.shape, -1, dtype=np.int64)
    found: dict[bytes, NDArray[np.int64]] = {}
    for row, stands in enumerate(motion.contact):
        # Feet on the ground do not move against each other: one polygon for each set of them.
        key = stands.tobytes()
        if key not in found:
            found[key] = support_polygon(motion.feet[row], contact=stands, gravity=down[row])
        corners[row, : len(found[key])] = found[key]
    return corners
