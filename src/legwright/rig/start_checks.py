"""What must hold before drive power comes on."""

from __future__ import annotations

import numpy as np

from legwright.locomotion.signals import Sensed
from legwright.rig.port import Drives
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SPILL = np.radians(3.0)
"""A joint this far beyond its limits has a wrong zero, or is broken [rad]."""


def unfit(
    robot: Robot, lower: Floats, upper: Floats, sensed: Sensed, drives: Drives, *, calibrated: bool
) -> str:
    """Why power must not come on, in one sentence; empty where it may.

    Args:
        robot: The robot.
        lower: Joint limits, (J,) [rad].
        upper: (J,) [rad].
        sensed: Readings with power off.
        drives: State of the drives.
        calibrated: Whether zeros and directions of the joints are known.
    """
    names = robot.joint_names
    silent = [n for n, q in zip(names, sensed.q, strict=True) if np.isnan(q)]
    if silent:
        shown = ", ".join(silent[:3]) + (f" and {len(silent) - 3} more" if len(silent) > 3 else "")
        return f"{shown} do not answer. Look at cables, supply and node numbers."
    if not calibrated:
        return (
            "the zeros of the joints are not known (no calibration.toml). "
            "Run `legwright bringup` first."
        )
    faulty = np.flatnonzero(drives.fault)
    if faulty.size:
        j = int(faulty[0])
        return f"{names[j]} reports error {drives.fault[j]:#06x}. Acknowledge it at the drive."
    out = (sensed.q < lower - SPILL) | (sensed.q > upper + SPILL)
    if out.any():
        j = int(np.flatnonzero(out)[0])
        return (
            f"{names[j]} stands at {np.degrees(sensed.q[j]):.1f}°, outside "
            f"{np.degrees(lower[j]):.0f}° to {np.degrees(upper[j]):.0f}°. "
            "Move it inside by hand with power off, or check its zero."
        )
    return ""
