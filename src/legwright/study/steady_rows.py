"""The steady walks that a campaign compares with their plans, and the tables of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

import legwright
from legwright.locomotion.stance import footing
from legwright.study.asked import asked_of
from legwright.study.crossing_table import table
from legwright.study.foretold import Foretold, Likeness, foretell
from legwright.study.steady import Steady, steady

Answer = dict[str, Any]

WALKERS = ("rook", "wren", "heron")
"""The demo family."""

SEGMENTS = ("coxa", "femur", "tibia")


def steady_walks(family: Path) -> Iterator[tuple[str, str, str]]:
    """Robot, gait and way (``forward``, ``turning``) of everything that the sheets ask for.

    Args:
        family: Folder of the robots.
    """
    for name in WALKERS:
        robot = legwright.load(family / name)
        wants = asked_of(robot, footing(robot))
        for gait in wants.gaits:
            yield name, gait.name, "forward"
            if wants.speeds[gait.name].turn:
                yield name, gait.name, "turning"


def compare(family: Path, name: str, gait_name: str, way: str, mode: str) -> Answer:
    """Walk as the sheet asks, and hold the plan against it.

    Args:
        family: Folder of the robots.
        name: Of the robot.
        gait_name: A gait of its sheet.
        way: ``forward`` or ``turning``.
        mode: ``felt`` or ``blind``.

    Returns:
        Numbers in SI units, joints as `Robot.joint_names`.
    """
    robot = legwright.load(family / name)
    wants = asked_of(robot, footing(robot))
    gait = next(one for one in wants.gaits if one.name == gait_name)
    speeds = wants.speeds[gait_name]
    forward = speeds.forward if way == "forward" else 0.0
    turn = (speeds.turn or 0.0) if way == "turning" else 0.0
    done = steady(robot, gait, speed=forward, turn=turn, felt=mode == "felt")
    told = foretell(robot, done)
    return {"robot": name, "gait": gait_name, "way": way, **_walk(done), **_told(told, done)}


def _walk(done: Steady) -> Answer:
    return {
        "asked": list(done.asked),
        "walked": list(done.walked),
        "reckoned": list(done.reckoned),
        "cycle": done.cycle,
    }


def _told(told: Foretold, done: Steady) -> Answer:
    return {
        "torque": _likeness(told.torque),
        "current": _likeness(told.current),
        "restless": told.restless.tolist(),
        "power": {
            "planned": told.power,
            "simulated": done.power,
            "planned_copper": told.planned_copper,
            "copper": done.copper,
            "shaft": done.shaft,
            "servos": float(done.servo_power.mean()),
        },
    }


def _likeness(one: Likeness) -> Answer:
    return {
        "planned": one.planned.tolist(),
        "simulated": one.simulated.tolist(),
        "apart": one.apart.tolist(),
    }


def way_table(answers: Sequence[Answer]) -> str:
    """Asked, walked and reckoned speeds, and what odometry is off by."""
    head = ("walk", "mode", "asked", "walked", "reckoned", "odometry off by", "cycle [s]")
    rows = []
    for one in _good(answers):
        got = one["answer"]
        turning = got["way"] == "turning"
        factor, unit = (180.0 / np.pi, "°/s") if turning else (1e3, "mm/s")
        asked, walked, told = (
            factor * got[key][turning] for key in ("asked", "walked", "reckoned")
        )
        rows.append(
            (
                one["name"], one["mode"], f"{asked:.1f} {unit}", f"{walked:.1f}", f"{told:.1f}",
                f"{100.0 * (told / walked - 1.0):+.1f} %", f"{got['cycle']:.2f}",
            )
        )  # fmt: skip
    return table(head, rows)


def torque_table(answers: Sequence[Answer], key: str = "torque") -> str:
    """Planned over simulated RMS by kind of joint: mean over legs (least to most of any leg).

    Args:
        answers: Lines of a campaign.
        key: ``torque`` or ``current``.
    """
    head = ("walk", "mode", *SEGMENTS, "within 15 %", "difference, RMS", "cycle to cycle")
    rows = []
    for one in _good(answers):
        got = one["answer"]
        planned, shown, apart = (
            np.array(got[key][part]) for part in ("planned", "simulated", "apart")
        )
        ratio = (planned / shown).reshape(-1, len(SEGMENTS))
        size = float(np.sqrt((shown**2).mean()))
        own = np.sqrt((np.array(got["restless"]) ** 2).mean()) / size if key == "torque" else None
        rows.append(
            (
                one["name"],
                one["mode"],
                *(f"{c.mean():.2f} ({c.min():.2f}–{c.max():.2f})" for c in ratio.T),
                f"{int((np.abs(ratio - 1.0) <= 0.15).sum())} of {ratio.size}",
                f"{100.0 * np.sqrt((apart**2).mean()) / size:.0f} %",
                "–" if own is None else f"{100.0 * own:.0f} %",
            )
        )
    return table(head, rows)


def power_table(answers: Sequence[Answer]) -> str:
    """Battery draw as planned and as simulated, and what it goes into."""
    head = (
        "walk", "mode", "planned [W]", "simulated [W]", "off by", "servos [W]",
        "winding heat, planned [W]", "simulated [W]", "shaft [W]",
    )  # fmt: skip
    rows = []
    for one in _good(answers):
        p = one["answer"]["power"]
        rows.append(
            (
                one["name"], one["mode"], f"{p['planned']:.1f}", f"{p['simulated']:.1f}",
                f"{100.0 * (p['planned'] / p['simulated'] - 1.0):+.1f} %", f"{p['servos']:.1f}",
                f"{p['planned_copper']:.2f}", f"{p['copper']:.2f}", f"{p['shaft']:.2f}",
            )
        )  # fmt: skip
    return table(head, rows)


def _good(answers: Sequence[Answer]) -> list[Answer]:
    return [one for one in answers if "answer" in one]
