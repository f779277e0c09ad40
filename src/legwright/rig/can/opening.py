"""Opening the drives of a robot: find, check, set up."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from legwright.rig.calibration import Calibration, blank
from legwright.rig.can import frames as f
from legwright.rig.can.discovery import Axes, drives_found, find_axes
from legwright.rig.can.objects import ERROR_CODE, SUPPLY, WINDING, Object
from legwright.rig.can.scales import Scales, scales_of
from legwright.rig.can.sdo import Place, Talk
from legwright.rig.can.set_up import FOLLOWING, Limits, Plan, set_up
from legwright.rig.can.wire import Wire
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

BEYOND = np.radians(2.0)
"""A drive's own position limits lie this far outside the joint's [rad]: the controller keeps the
joint's, the drive's are the fence behind them."""
FARTHEST = 2**30
"""Limit of a joint that turns without end [counts]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Opened:
    """Drives that have been found, checked and set up."""

    axes: Axes
    scales: Scales
    volts: Floats
    """Supply voltage of each, (R,) [V]."""
    error: NDArray[np.int64]
    """Error code of each, (R,)."""
    notes: tuple[str, ...]


def opened(
    robot: Robot, wires: Sequence[Wire], calibration: Calibration | None, rate: float,
    *, clock: Callable[[], float], sleep: Callable[[float], None],
) -> Opened:  # fmt: skip
    """Find the robot's drives, check them, set them up; leave them pre-operational.

    Raises:
        RigError: naming joint, node and what to do.
    """
    talk = _talk(wires, clock, sleep)
    axes, notes = find_axes(talk, len(wires), robot, calibration)
    known = calibration or blank(robot)
    scales = scales_of(known, axes.names, counts=axes.counts, rated=axes.rated)
    lost = known.missing(robot.joint_names) if calibration is not None else robot.joint_names
    if lost:
        notes = (*notes, f"Zeros of {len(lost)} joints are not known: count 0 is taken for them.")
    plan = Plan(rate=rate, limits=limits_of(robot, axes, scales), winding=winding_of(robot))
    return _set_up(talk, axes, scales, plan, notes)


def opened_by_node(
    robot: Robot, wires: Sequence[Wire], beside: Collection[int], rate: float,
    *, clock: Callable[[], float], sleep: Callable[[float], None],
) -> Opened:  # fmt: skip
    """Find every drive, whatever joint it turns, and set it up without limits.

    Args:
        robot: The robot, for what its sheet says about drives.
        wires: Its buses.
        beside: Nodes that are left alone.
        rate: Cycles per second [Hz].
        clock: The steady clock.
        sleep: Waits so many seconds.

    Raises:
        RigError: naming the node and what to do.
    """
    talk = _talk(wires, clock, sleep)
    axes = drives_found(talk, len(wires), beside)
    scales = scales_of(
        Calibration(robot=robot.name), axes.names, counts=axes.counts, rated=axes.rated
    )
    window = np.round(FOLLOWING / (2.0 * np.pi) * axes.counts).astype(int).tolist()
    limits = {
        place: Limits(lowest=-FARTHEST, highest=FARTHEST, window=width)
        for place, width in zip(axes.places, window, strict=True)
    }
    plan = Plan(rate=rate, limits=limits, winding=winding_of(robot))
    return _set_up(talk, axes, scales, plan, ())


def _talk(
    wires: Sequence[Wire], clock: Callable[[], float], sleep: Callable[[float], None]
) -> Talk:
    """SDO, with all nodes pre-operational."""
    for wire in wires:
        wire.send(f.nmt(f.Nmt.PRE_OPERATIONAL))
    sleep(0.001)
    return Talk(wires, clock=clock, sleep=sleep)


def _set_up(talk: Talk, axes: Axes, scales: Scales, plan: Plan, notes: tuple[str, ...]) -> Opened:
    set_up(talk, plan)
    volts = talk.read_all(axes.places, SUPPLY)
    error = talk.read_all(axes.places, ERROR_CODE)
    return Opened(
        axes=axes,
        scales=scales,
        volts=1e-3 * np.array([volts[place] for place in axes.places], dtype=np.float64),
        error=np.array([error[place] for place in axes.places]),
        notes=notes,
    )


def limits_of(robot: Robot, axes: Axes, scales: Scales) -> dict[Place, Limits]:
    """Position range and following error window of every drive."""
    joints = robot.tree.joints
    lower = np.array([joints[name].lower for name in axes.names]) - BEYOND
    upper = np.array([joints[name].upper for name in axes.names]) + BEYOND
    ends = np.stack([scales.count(lower), scales.count(upper)])
    ends = np.clip(np.where(np.isnan(ends), 0.0, ends), -FARTHEST, FARTHEST)
    window = FOLLOWING / (2.0 * np.pi) * scales.counts
    return {
        place: Limits(lowest=int(low), highest=int(high), window=round(width))
        for place, low, high, width in zip(
            axes.places, ends.min(axis=0), ends.max(axis=0), window.tolist(), strict=True
        )
        if isfinite(width)
    }


def winding_of(robot: Robot) -> Object | None:
    """The object that tells winding temperatures, where the sheet names one."""
    text = robot.sheet.bus.drive.winding if robot.sheet.bus is not None else ""
    if not text:
        return None
    index, sub = text.split(":")
    return replace(WINDING, index=int(index, 16), sub=int(sub))
