"""Standing still, and getting up from the ground."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.mechanics.draw import draw
from legwright.mechanics.drive import drives_of
from legwright.mechanics.ground import lowest_trunk_point
from legwright.mechanics.heat import temperature_after
from legwright.mechanics.loads import loads
from legwright.mechanics.pose import still
from legwright.mechanics.reach import reach_feet
from legwright.study.bench import Bench
from legwright.study.checks.drives import KELVIN
from legwright.study.cures import at_least
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge
from legwright.study.trial import joint_label

HOUR = 3600.0
RISE_STEPS = 25


def check_still(bench: Bench) -> Iterator[Finding]:
    """An hour of standing, and the torque of getting up."""
    yield _standing(bench)
    yield from _rising(bench)


def _standing(bench: Bench) -> Finding:
    robot, asked = bench.robot, bench.asked
    motion = still(robot, bench.footing.q, np.ones(len(robot.legs), dtype=bool))
    weighed = loads(robot, motion, payload=asked.payload, friction=asked.friction)
    drawn = draw(robot, motion, weighed, voltage=asked.voltage, ambient=asked.ambient)
    drives = drives_of(robot)
    after = temperature_after(
        drawn.winding_current[0] ** 2,
        drives.resistance,
        drives.thermal_resistance,
        drives.thermal_time,
        time=HOUR,
        ambient=asked.ambient,
    )
    gap = drives.highest_winding - after
    known = not np.isnan(gap).all()
    column = int(np.nanargmin(gap)) if known else 0
    torque = float(weighed.torque[0, column])
    return judge(
        "heat",
        "standing still for an hour",
        float(after[column]) - KELVIN if known else None,
        float(drives.highest_winding[column]) - KELVIN if known else None,
        "°C",
        sense=Sense.AT_MOST,
        near=5.0,
        parts=(robot.joint_names[column],),
        why=f"Winding of {joint_label(robot, column)}, holding {abs(torque):.2f} N·m on all feet "
        f"with payload.",
        source="first-order winding model with copper's rise (IEC 60028); highest_winding",
        cure="Sit down between walks, straighten the legs, or fit stronger servos.",
        missing="Give the servos thermal_resistance, thermal_time and highest_winding.",
    )


def _rising(bench: Bench) -> Iterator[Finding]:
    robot, asked = bench.robot, bench.asked
    belly = lowest_trunk_point(robot)
    name = "getting up, peak torque"
    source = "statics of the rise, feet fixed, trunk from the ground up"
    if belly is None:
        yield judge(
            "rise",
            name,
            None,
            None,
            "N·m",
            sense=Sense.AT_MOST,
            why="The trunk has no shape, so nobody knows where it meets the ground.",
            source=source,
            missing="Give the body link collision geometry.",
        )
        return
    heights = np.linspace(-belly, max(bench.footing.height, -belly), RISE_STEPS)
    feet = np.repeat(bench.footing.feet[None], RISE_STEPS, axis=0)
    feet[:, :, 2] = -heights[:, None]
    answer = reach_feet(robot, feet, near=bench.footing.q)
    lost = float(answer.error.max())
    yield judge(
        "rise",
        "getting up, feet reach the ground",
        lost * 1e3,
        0.0,
        "mm",
        sense=Sense.AT_MOST,
        near=0.0,
        source=source,
        why=f"Trunk on the ground, feet where they stand; worst miss over {RISE_STEPS} heights.",
        cure="Stand wider, or let the legs fold farther (joint limits, segment lengths).",
    )
    contact = np.ones(len(robot.legs), dtype=bool)
    motion = still(robot, answer.q, contact)
    weighed = loads(robot, motion, payload=asked.payload, friction=asked.friction)
    drawn = draw(robot, motion, weighed, voltage=asked.voltage, ambient=asked.ambient)
    with np.errstate(divide="ignore"):
        use = 1.0 / drawn.headroom
    use = np.where(np.isnan(use), -1.0, use)
    at, column = np.unravel_index(int(use.argmax()), use.shape)
    known = use[at, column] >= 0.0
    reserve = robot.sheet.requirements.torque_reserve
    value = float(abs(weighed.torque[at, column]))
    yield judge(
        "rise",
        name,
        value if known else None,
        float(drawn.available[at, column]) / reserve if known else None,
        "N·m",
        sense=Sense.AT_MOST,
        parts=(robot.joint_names[column],),
        why=f"{joint_label(robot, int(column))}, body at {heights[at] * 1e3:.0f} mm, all weight "
        f"on the feet; {asked.voltage_why}.",
        source=f"{source}; torque-speed line at rest over torque_reserve {reserve:g}",
        cure=f"Get up with the feet nearer to the body, or a servo that gives "
        f"{at_least(value * reserve, 'N·m')}.",
        missing="Fit servos to the joints.",
    )
