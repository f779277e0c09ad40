"""The first walk of a calibrated robot, in the air and on the ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from legwright.locomotion.command import Command, Kind
from legwright.rig.bringup.bench import Bench
from legwright.rig.bringup.calibrated import CalibratedBench
from legwright.rig.faults import Stop
from legwright.rig.request import Request, Word
from legwright.rig.runtime import Report, Runtime
from legwright.rig.supervisor import Mode
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SLOW_WALK = 0.3
"""Share of the asked forward speed that a first walk uses; common practice."""
AIR_SECONDS, GROUND_SECONDS = 6.0, 8.0
FOLLOWS = np.radians(6.0)
"""Joints must follow their targets at least so well [rad]."""
LEAN = np.radians(12.0)
"""The body may lean so much on its first steps [rad]."""
PATIENCE = 25.0
"""Standing up and sitting down must be over after that [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What came of it."""

    summary: str
    wrong: tuple[str, ...] = ()
    values: dict[str, Any] = field(default_factory=dict)


class _Watch:
    """Largest following error, tilt and lowest voltage of a trial."""

    def __init__(self, robot: Robot) -> None:
        self.gap: Floats = np.zeros(len(robot.joint_names))
        self.tilt, self.lowest = 0.0, np.inf
        self.notices: list[str] = []

    def look(self, report: Report) -> None:
        gap = np.nan_to_num(np.abs(report.sensed.q - report.targets.q))
        self.gap = np.maximum(self.gap, gap)
        self.lowest = min(self.lowest, report.sensed.voltage)
        if report.sensed.up is not None:
            self.tilt = max(self.tilt, float(np.arccos(np.clip(report.sensed.up[2], -1.0, 1.0))))
        self.notices += [n.text for n in report.notices if n.word not in ("mode", "cleared")]


def trial_walk(
    bench: Bench,
    robot: Robot,
    nodes: Mapping[str, int],
    direction: Floats,
    zero: Floats,
    *,
    on_ground: bool,
) -> Trial:
    """Power up, stand, walk slowly, sit or hang, power off.

    Args:
        bench: The bench.
        robot: The robot.
        nodes: Joint -> node.
        direction: (J,)
        zero: (J,) [rad]
        on_ground: Whether it stands on the ground; else it hangs on the stand.

    Returns:
        What came of it.
    """
    rig = CalibratedBench(bench, robot, nodes, direction, zero)
    runtime, watch = Runtime(rig, feel=False), _Watch(robot)
    speed = SLOW_WALK * (robot.sheet.requirements.speed_forward or 0.1)
    walk = Command(kind=Kind.WALK, velocity=(speed, 0.0))
    step, now = 1.0 / rig.rate, 0.0

    def run(seconds: float, *requests: Request, until: Mode | None = None) -> Report:
        nonlocal now
        pending, end = requests, now + seconds
        while True:
            report = runtime.cycle(now, pending)
            rig.advance()
            watch.look(report)
            refused = [answer.text for answer in report.answers if not answer.ok]
            watch.notices += refused
            pending, now = (), now + step
            if now >= end or report.mode is until or report.mode is Mode.FAULT:
                return report

    def ask(word: Word, **more: Any) -> Request:
        return Request(word=word, sender="bring-up", **more)

    run(0.3, ask(Word.POWER))
    run(8.0, ask(Word.MOVE, command=Command(kind=Kind.STAND)))
    seconds = GROUND_SECONDS if on_ground else AIR_SECONDS
    run(seconds, ask(Word.MOVE, command=walk))
    run(3.0, ask(Word.MOVE, command=Command(kind=Kind.STAND)))
    placed = runtime.controller.place
    last = run(PATIENCE, ask(Word.RELEASE), until=Mode.LIMP)
    if last.mode is not Mode.LIMP:
        run(0.1, ask(Word.STOP, stop=Stop.AT_ONCE))
    return _judged(robot, watch, placed, last, on_ground)


def _judged(robot: Robot, watch: _Watch, placed: Floats, last: Report, on_ground: bool) -> Trial:
    wrong = list(dict.fromkeys(watch.notices))
    worst = int(watch.gap.argmax())
    if watch.gap[worst] > FOLLOWS:
        wrong.append(
            f"{robot.joint_names[worst]} stayed {np.degrees(watch.gap[worst]):.1f}° behind its "
            "target: look at friction, voltage and its zero."
        )
    if on_ground and watch.tilt > LEAN:
        wrong.append(f"The body leant {np.degrees(watch.tilt):.0f}°: look at zeros and directions.")
    if last.mode is not Mode.LIMP:
        wrong.append(f"It ended {last.mode.value}, not limp.")
    values = {
        "following": {
            name: float(gap) for name, gap in zip(robot.joint_names, watch.gap, strict=True)
        },
        "tilt": watch.tilt,
        "lowest_voltage": watch.lowest,
        "odometry": [float(value) for value in placed],
    }
    where = f"walked {placed[0]:.2f} m on the ground" if on_ground else "walked in the air"
    summary = f"It {where}; joints followed within {np.degrees(watch.gap[worst]):.1f}°."
    return Trial(summary=summary, wrong=tuple(wrong), values=values)
