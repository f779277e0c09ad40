"""Standing still, and getting up from the ground."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from legwright.mechanics.draw import Draw, draw, draw_of
from legwright.mechanics.drive import drives_of
from legwright.mechanics.ground import lowest_trunk_point
from legwright.mechanics.heat import temperature_after
from legwright.mechanics.loads import loads, standing
from legwright.mechanics.pose import still
from legwright.mechanics.reach import reach_feet
from legwright.robot.tree import Floats
from legwright.study.bench import Bench
from legwright.study.checks.drives import KELVIN
from legwright.study.cures import at_least
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge
from legwright.study.strains import joint_label

HOUR = 3600.0
AREA = "rise"
RISE_STEPS = 25
SPREADS = (1.0, 0.9, 0.8, 1.1, 1.2, 0.7)
"""Foot distances tried for getting up, over that of the footing."""

SAME_HEIGHT = 0.01
"""Trunks this near in height count as equally low [m]."""


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
    reserve = robot.sheet.requirements.torque_reserve
    name = "getting up, peak torque"
    source = f"statics of the rise, feet fixed; line at rest over torque_reserve {reserve:g}"
    rise = None if belly is None else _easiest(bench, -belly)
    if belly is None or rise is None:
        yield judge(
            AREA,
            name,
            None,
            None,
            "N·m",
            sense=Sense.AT_MOST,
            source=source,
            why="The trunk has no shape, so nobody knows where it meets the ground."
            if belly is None
            else "From no place of the feet that was tried can the body rise to its height.",
            missing="Give the body link collision geometry."
            if belly is None
            else "State stance.body_height and stance.foot_distance that the legs reach.",
        )
        return
    at, column = divmod(int(rise.use.argmax()), rise.use.shape[1])
    known = rise.use[at, column] >= 0.0
    value = float(abs(rise.draw.torque[at, column]))
    rests = (
        "from the belly"
        if rise.heights[0] <= -belly + SAME_HEIGHT
        else f"from {rise.heights[0] * 1e3:.0f} mm, where the folded legs hold the trunk"
    )
    yield judge(
        AREA,
        name,
        value if known else None,
        float(rise.draw.available[at, column]) / reserve if known else None,
        "N·m",
        sense=Sense.AT_MOST,
        parts=(robot.joint_names[column],),
        why=f"{joint_label(robot, column)}, body at {rise.heights[at] * 1e3:.0f} mm on its "
        f"way up {rests}, feet at {rise.share:.0%} of their distance, all weight on the feet; "
        f"{asked.voltage_why}.",
        source=source,
        cure=f"A servo that gives {at_least(value * reserve, 'N·m')}, a lighter robot, or a "
        "lower stance.",
        missing="Fit servos to the joints.",
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Rise:
    """One way to get up."""

    share: float
    """Foot distance over that of the footing."""
    heights: Floats
    """(H,): of the body frame over the ground [m]."""
    draw: Draw
    use: Floats
    """(H, J): needed over available torque; -1 where not known."""


def _easiest(bench: Bench, belly: float) -> _Rise | None:
    """The place of the feet from which getting up strains the servos least.

    Only places that let the trunk come about as low as any place does are compared.
    """
    found = _rises(bench, belly)
    if not found:
        return None
    lowest = min(rise.heights[0] for rise in found)
    low = [rise for rise in found if rise.heights[0] <= lowest + SAME_HEIGHT]
    return min(low, key=lambda rise: float(rise.use.max()))


def _rises(bench: Bench, belly: float) -> list[_Rise]:
    """The rises with feet at shares of their distance; without those that reach no top."""
    robot, asked, stand = bench.robot, bench.asked, bench.footing
    heights = np.linspace(belly, max(stand.height, belly), RISE_STEPS)
    feet = np.empty((len(SPREADS), RISE_STEPS, len(robot.legs), 3))
    feet[:] = (robot.hips + np.array(SPREADS)[:, None, None] * (stand.feet - robot.hips))[:, None]
    feet[..., 2] = -heights[:, None]
    answer = reach_feet(robot, feet, near=stand.q)
    reached = np.asarray(answer.ok.all(axis=2))
    last = RISE_STEPS - 1 - (~reached)[:, ::-1].argmax(axis=1)  # step that is not reached
    first = np.where(reached.all(axis=1), 0, last + 1)
    ways = np.flatnonzero(reached[:, -1])
    if not ways.size:
        return []
    poses = np.concatenate([answer.q[way, first[way] :] for way in ways])
    weighed = standing(robot, poses, payload=asked.payload, friction=asked.friction)
    torques = np.split(weighed.torque, np.cumsum(RISE_STEPS - first[ways])[:-1])
    rises = zip(ways, torques, strict=True)
    return [_rise(bench, SPREADS[way], heights[first[way] :], torque) for way, torque in rises]


def _rise(bench: Bench, share: float, heights: Floats, torque: Floats) -> _Rise:
    asked = bench.asked
    drawn = draw_of(
        drives_of(bench.robot),
        torque,
        np.zeros_like(torque),
        voltage=asked.voltage,
        ambient=asked.ambient,
    )
    with np.errstate(divide="ignore"):
        use = 1.0 / drawn.headroom
    use = np.where(np.isnan(use), -1.0, use)
    return _Rise(share=share, heights=heights, draw=drawn, use=use)
