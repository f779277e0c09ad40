"""Which way a foot moves aside while it feels its way down, so that friction tells, too.

Ground pushes a foot along the friction cone's axis, up, plus friction. A joint hears of it what
turns about its own axis. The foot of an ordinary leg is below its femur joint by more than it is
beside it: friction that pulls the foot inward, at a coefficient of ``|J_z| / |J_h|`` (0.7 for all
three demo robots, whose feet grip with 0.8), cancels the torque of the upward force altogether.
Then 30 % of body weight stand on a foot without the femur's telling, and it does come to that,
for a femur that gives way moves its foot outward. A foot that comes down on a slant inward is
pushed outward by friction, and the femur hears both: `|J_z| + 0.8 |J_h|` instead of
``|J_z| - 0.8 |J_h|``.
"""

from __future__ import annotations

import numpy as np

from legwright.locomotion.stance import Footing
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SLANT = 1.0
"""Horizontal over downward speed. More adds nothing: friction is spent, and the knee turns back."""


def slants(robot: Robot, footing: Footing) -> Floats:
    """How each foot moves aside in a descent.

    Args:
        robot: The robot.
        footing: Where it stands.

    Returns:
        Horizontal over downward speed, (L, 2), body frame: against the direction in which a
        horizontal force on the foot turns the joint of the longest vertical lever as an upward
        one does; 0 where it has no horizontal lever.
    """
    found = []
    for name, leg in robot.legs.items():
        jacobian = np.asarray(leg.jacobian(footing.q[robot.columns[name]]))
        feels = int(np.abs(jacobian[2]).argmax())
        outward = np.sign(jacobian[2, feels]) * jacobian[:2, feels]
        size = float(np.hypot(*outward))
        found.append(-SLANT * outward / size if size > 1e-3 else np.zeros(2))
    return np.array(found)
