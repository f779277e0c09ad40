"""How far servos and feet give, as the physics world runs them."""

from __future__ import annotations

import numpy as np

from legwright.mechanics.heat import REFERENCE, copper_factor
from legwright.mechanics.strain import Give
from legwright.rig import _servo_kernel as k
from legwright.rig.scene import FOOT_STIFFNESS, GRIP_STIFFNESS
from legwright.rig.servo_model import Loop, servos_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

BEARING = 1e-5
"""A time step that bears any gear [s]."""


def give_of(
    robot: Robot,
    *,
    loop: Loop | None = None,
    winding: float | Floats = REFERENCE,
    timestep: float = 0.001,
) -> Give:
    """What gives in a robot.

    Args:
        robot: The robot.
        loop: Of the servo electronics; the default one when None.
        winding: Temperature of the windings, () or (J,) [K].
        timestep: Of the physics [s]; the engine lets feet creep the faster the finer it is.

    Returns:
        Stiffness of the position loops (bridge voltage per error, times torque per voltage),
        friction, gear and play of the servo files; the sheet's foot, and the creep of the
        engine's contacts: their sideways damper is that of sinking times `GRIP_STIFFNESS`,
        which the time step limits to stiffness times step (see `scene`).
    """
    foot = robot.sheet.foot.stiffness or FOOT_STIFFNESS
    heavy = np.full(len(robot.joint_names), 1e6)
    table = servos_of(
        robot, heavy, timestep=BEARING, ambient=robot.sheet.requirements.ambient, loop=loop
    ).constants
    warm = table[k.RESISTANCE] * copper_factor(winding)
    return Give(
        servo=table[k.GAIN] * table[k.EMF] / warm,
        friction=table[k.COULOMB],
        driving_loss=table[k.DRIVING_LOSS],
        backdrive_loss=np.minimum(table[k.BACKDRIVE_LOSS], 0.999),
        gear=table[k.GEAR],
        play=table[k.PLAY],
        foot=foot,
        creep=1.0 / (GRIP_STIFFNESS * foot * timestep),
    )
