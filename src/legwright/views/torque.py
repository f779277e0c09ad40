"""Torque against time for every joint, and against speed over the servo's line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.views import tokens
from legwright.views.axes import (
    Scale,
    bottom_axis,
    left_axis,
    nice_span,
    nice_step,
    trace,
)
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face
from legwright.views.numbers import significant
from legwright.views.symbols import empty_sentence, short_names, title

if TYPE_CHECKING:
    from legwright.study.evidence import Case

SEGMENTS = ("coxa", "femur", "tibia")


def segment_name(index: int, count: int) -> str:
    """What the joint at a place along the leg is called: coxa, femur, tibia, or joint n."""
    return SEGMENTS[index] if count <= len(SEGMENTS) else f"joint {index + 1}"


def torque_time(
    robot: Robot, case: Case | None, *, joint: int, width: float, height: float
) -> Drawing:
    """One small plot a leg, in body order, of one joint's torque through the cycle.

    Args:
        robot: The robot.
        case: What it walks.
        joint: Place of the joint along the leg, 0 at the hip.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    legs = [leg for leg in robot.legs.values() if joint < leg.n]
    name = segment_name(joint, max((leg.n for leg in robot.legs.values()), default=3))
    ink = Ink(width, height, about=f"Torque of the {name} joints")
    if case is None or not legs:
        title(ink, f"{name.capitalize()} torque")
        empty_sentence(ink, "No walk was planned, so no torque is known.")
        return ink.finish()
    title(ink, f"{name.capitalize()} torque", f"N·m against phase, {case.name}, thick line = servo")
    columns = [robot.columns[leg.name].start + joint for leg in legs]
    torque = np.abs(case.loads.torque[:, columns])
    limit = _limits(case, columns)
    known = limit[np.isfinite(limit)]
    most = float(np.nanmax(torque)) if torque.size else 1.0
    top = max(most, min(float(known.max()), 4.0 * most) if len(known) else most) * 1.08
    hips = [(float(h[0]), float(h[1])) for h in robot.hips]
    short = dict(zip(robot.legs, short_names(tuple(robot.legs), hips), strict=True))
    sides = [
        [i for i, leg in enumerate(legs) if bool(leg.hip[1] >= 0.0) is left]
        for left in (True, False)
    ]
    rows = max(len(side) for side in sides)
    pitch = (height - 13.0) / max(rows, 1)
    half = (width - 8.0) / 2
    for column, side in enumerate(sides):
        for place, i in enumerate(side):
            start = 4.0 + column * half + 8.0
            across = Scale(low=0.0, high=1.0, start=start, end=start + half - 11.0)
            bottom = 8.0 + (place + 1) * pitch - 1.5
            up = Scale(low=0.0, high=top, start=bottom, end=bottom - pitch + 3.0)
            _panel(ink, across, up, case.motion.t / case.motion.cycle, torque[:, i], limit[:, i])
            ink.text(
                across.start + 1.6,
                up.end + 2.4,
                short[legs[i].name],
                size=tokens.TINY,
                face=Face.LETTER_STRONG,
                knock=True,
            )
            if place == len(side) - 1:
                for share in (0.0, 0.5, 1.0):
                    ink.text(
                        across.at(share),
                        bottom + 2.8,
                        significant(share),
                        face=Face.LETTER,
                        anchor="middle",
                    )
    return ink.finish()


def _limits(case: Case, columns: Sequence[int]) -> Floats:
    available = np.asarray(case.draw.available, dtype=np.float64)
    return np.broadcast_to(available, case.loads.torque.shape)[:, list(columns)]


def _panel(
    ink: Ink, across: Scale, up: Scale, phase: Floats, torque: Floats, limit: Floats
) -> None:
    """One leg's plot: axes, limit hatched above, the curve, red where it passes the limit."""
    step = nice_step(up.high, 2)
    left_axis(ink, across.start, up, step, "", size=2.3)
    ink.line(across.start, up.start, across.end, up.start)
    for share in (0.5, 1.0):
        ink.line(across.at(share), up.start, across.at(share), up.start - 0.8)
    phase = np.append(phase, 1.0)
    torque, limit = np.append(torque, torque[0]), np.append(limit, limit[0])
    if np.isfinite(limit).all() and float(limit.min()) < up.high:
        ring = [
            (across.at(float(p)), up.clamped(float(v))) for p, v in zip(phase, limit, strict=True)
        ]
        ink.hatch([(across.start, up.end), *ring, (across.end, up.end)], gap=1.1)
        trace(ink, across, up, phase, limit, weight=tokens.THICK * 0.8)
    trace(ink, across, up, phase, torque, weight=tokens.PART_EDGE)
    over = np.asarray(torque > limit)
    if over.any():
        trace(ink, across, up, phase, torque, weight=tokens.RED_TRACE, colour="red", shown=over)


def torque_speed(robot: Robot, cases: Sequence[Case], *, width: float, height: float) -> Drawing:
    """Every joint of every case as dots of torque against speed, over the servo's line.

    Args:
        robot: The robot.
        cases: What it walks.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    ink = Ink(width, height, about="Torque against speed of every joint")
    title(ink, "Torque and speed", "every joint, one cycle")
    if not cases:
        empty_sentence(ink, "No walk was planned, so nothing is asked of the servos yet.")
        return ink.finish()
    speed = np.concatenate([np.abs(c.motion.qd) for c in cases])
    torque = np.concatenate([np.abs(c.loads.torque) for c in cases])
    available = np.concatenate(
        [
            np.broadcast_to(np.asarray(c.draw.available, np.float64), c.loads.torque.shape)
            for c in cases
        ]
    )
    servo = _line(robot)
    far = max(float(speed.max()), servo[1] if servo and servo[1] < 4 * speed.max() else 0.0)
    high = max(float(torque.max()), servo[0] if servo else 0.0)
    _, x_high, x_step = nice_span(0.0, max(far, 1e-3), 5)
    _, y_high, y_step = nice_span(0.0, max(high, 1e-3) * 1.12, 4)
    across = Scale(low=0.0, high=x_high, start=11.5, end=width - 5.0)
    up = Scale(low=0.0, high=y_high, start=height - 9.0, end=9.5)
    left_axis(ink, across.start, up, y_step, "N·m")
    bottom_axis(ink, up.start, across, x_step, "rad/s", quantity="joint speed")
    if servo:
        _servo(ink, across, up, servo)
    else:
        ink.text_where_free(
            [(across.end, up.end + 3.0, "end")],
            "servo line not known: enter [servo] and [fit]",
            colour="ink2",
        )
    _cloud(ink, across, up, robot, speed, torque, torque > available)
    return ink.finish()


def _line(robot: Robot) -> tuple[float, float, float] | None:
    """Stall torque, no-load speed and peak torque of the strongest servo; None without one."""
    servos = [s for name in robot.joint_names if (s := robot.servos.get(name)) is not None]
    if not servos:
        return None
    best = max(servos, key=lambda s: s.stall_torque)
    return (best.stall_torque, best.no_load_speed, best.peak_torque or best.stall_torque)


def _servo(ink: Ink, across: Scale, up: Scale, servo: tuple[float, float, float]) -> None:
    stall, free, peak = servo
    cut = free * (1.0 - min(peak / stall, 1.0))
    ends = [(0.0, min(stall, peak)), (cut, min(stall, peak)), (free, 0.0)]
    ring = [(across.clamped(x), up.clamped(y)) for x, y in ends]
    if free > across.high:
        slope_end = min(stall, peak) * (1.0 - (across.high - cut) / (free - cut))
        ring[-1] = (across.end, up.clamped(slope_end))
    corner = [(across.end, up.start)] if free < across.high else []
    ink.hatch([*ring, *corner, (across.end, up.end), (across.start, up.end)])
    ink.path(ring, weight=tokens.THICK)
    ink.text(
        across.end - 1.0,
        up.end + 2.6,
        "not allowed",
        face=Face.LETTER,
        anchor="end",
        colour="ink2",
        knock=True,
    )
    words = f"servo as rated, {significant(stall)} N·m at stall"
    x = across.start + 0.30 * (ring[-1][0] - across.start)
    y = ring[0][1] + 0.30 * (ring[-1][1] - ring[0][1])
    ink.text_where_free(
        [(x + 2.0, y - 1.0, "start"), (x + 4.0, y - 3.0, "start")], words, knock=True
    )


def _cloud(
    ink: Ink,
    across: Scale,
    up: Scale,
    robot: Robot,
    speed: Floats,
    torque: Floats,
    over: NDArray[np.bool_],
) -> None:
    """Dots thinned to what paper shows: coxa small, femur open, tibia filled, past the line red."""
    most = max(leg.n for leg in robot.legs.values())
    looks = {0: (0.28, "ink"), 1: (0.5, "sheet"), 2: (0.36, "ink")}
    peaks = []
    for place in range(most):
        columns = [
            robot.columns[leg.name].start + place for leg in robot.legs.values() if place < leg.n
        ]
        x, y = speed[:, columns].ravel(), torque[:, columns].ravel()
        red = over[:, columns].ravel().astype(bool)
        spots = {
            (round(across.clamped(a) / 0.5) * 0.5, round(up.clamped(b) / 0.5) * 0.5)
            for a, b in zip(x[~red], y[~red], strict=True)
        }
        radius, fill = looks.get(place, (0.36, "ink"))
        ink.dots(sorted(spots), radius, fill=fill, stroke="ink" if fill == "sheet" else "none")
        hot = {
            (round(across.clamped(a) / 0.5) * 0.5, round(up.clamped(b) / 0.5) * 0.5)
            for a, b in zip(x[red], y[red], strict=True)
        }
        ink.dots(sorted(hot), 0.55, fill="red")
        i = int(np.argmax(y))
        peaks.append(
            (
                segment_name(place, most),
                across.clamped(float(x[i])),
                up.clamped(float(y[i])),
                bool(red[i]),
            )
        )
    for name, at_x, at_y, hot_peak in peaks:
        places = [
            (at_x + dx, at_y + dy, "start")
            for dy in (-1.5, 1.0, 3.5, -4.0, 6.0)
            for dx in (2.0, 7.0, 12.0, 18.0)
        ]
        ink.text_where_free(places, name, colour="red" if hot_peak else "ink", knock=True)
