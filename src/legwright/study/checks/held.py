"""Can the joints that belong to no leg hold what they carry?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.mechanics.loads import standing
from legwright.mechanics.servo_line import continuous_torque
from legwright.study.bench import Bench
from legwright.study.checks.drives import KELVIN
from legwright.study.cures import at_least
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge


def check_held(bench: Bench) -> Iterator[Finding]:
    """Torque that holds mast and tools at rest on level ground, against the continuous torque."""
    robot = bench.robot
    torques = standing(robot, bench.footing.q).held_torque
    for joint, torque in zip(robot.held, torques, strict=True):
        servo = robot.servos.get(joint)
        limit = np.nan if servo is None else float(continuous_torque(servo, bench.asked.ambient))
        value = float(abs(torque))
        yield judge(
            "torque",
            f"holding torque, {joint}",
            value,
            None if np.isnan(limit) else limit,
            "N·m",
            sense=Sense.AT_MOST,
            parts=(joint,),
            why=f"Held at {np.degrees(robot.held[joint]):.0f}° on level ground.",
            source="statics of what the joint carries; servo data at "
            f"{bench.asked.ambient - KELVIN:.0f} °C",
            cure=f"A servo that holds {at_least(value, 'N·m')} for ever, or a lighter load.",
            missing=f"Give {joint} a servo with continuous_torque or thermal data.",
        )
