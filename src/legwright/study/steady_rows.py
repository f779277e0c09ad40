"""The steady walks that a campaign compares with their plans, and the tables of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from legwright.locomotion.stance import footing
from legwright.mechanics.opening import load
from legwright.robot.tree import Floats
from legwright.study.asked import asked_of
from legwright.study.crossing_table import table
from legwright.study.foretold import READINGS, Foretold, Likeness, foretell
from legwright.study.steady import Steady, steady

Answer = dict[str, Any]

WALKERS = ("rook", "wren", "heron")
"""The demo family."""

WITHIN = 0.15
"""How far planned and simulated RMS may be apart."""

SEGMENTS = ("coxa", "femur", "tibia")


def steady_walks(family: Path) -> Iterator[tuple[str, str, str]]:
    """Robot, gait and way (``forward``, ``turning``) of everything that the sheets ask for.

    Args:
        family: Folder of the robots.
    """
    for name in WALKERS:
        robot = load(family / name)
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
    robot = load(family / name)
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
        "torque": {name: _likeness(one) for name, one in told.torque.items()},
        "current": {name: _likeness(one) for name, one in told.current.items()},
        "lost": dict(told.lost),
        "restless": told.restless.tolist(),
        "power": {
            "planned": dict(told.power),
            "simulated": done.power,
            "planned_copper": dict(told.copper),
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


def likeness_table(answers: Sequence[Answer], key: str) -> str:
    """Planned over simulated RMS by kind of joint, and how many joints lie within 15 %.

    Args:
        answers: Lines of a campaign.
        key: ``torque`` or ``current``.
    """
    head = ("walk", "mode", "reading", *SEGMENTS, "within 15 %", "apart", "cycle to cycle")
    rows = []
    for one in _good(answers):
        got = one["answer"]
        for reading in READINGS:
            planned, shown, apart = (
                np.array(got[key][reading][part]) for part in ("planned", "simulated", "apart")
            )
            ratio = planned / shown
            size = _size(shown)
            own = f"{100.0 * _size(got['restless']) / size:.0f} %" if key == "torque" else "–"
            rows.append(
                (
                    one["name"],
                    one["mode"],
                    f"{reading} ({got['lost'][reading]} lost)" if got["lost"][reading] else reading,
                    *(f"{c.mean():.2f} ({c.min():.2f}–{c.max():.2f})" for c in by_segment(ratio)),
                    f"{int((np.abs(ratio - 1.0) <= WITHIN).sum())} of {ratio.size}",
                    f"{100.0 * _size(apart) / size:.0f} %",
                    own,
                )
            )
    return table(head, rows)


def summary_table(answers: Sequence[Answer]) -> str:
    """Each robot, mode and reading over all its walks: ratios, joints within 15 %, heat."""
    head = (
        "robot",
        "mode",
        "reading",
        *SEGMENTS,
        "torque within 15 %",
        "current within 15 %",
        "heat",
    )
    groups: dict[tuple[str, str], list[Answer]] = {}
    for one in _good(answers):
        groups.setdefault((one["answer"]["robot"], one["mode"]), []).append(one["answer"])
    rows = []
    for (robot, mode), walks in groups.items():
        for reading in READINGS:
            torque = np.concatenate([_ratio(got["torque"][reading]) for got in walks])
            current = np.concatenate([_ratio(got["current"][reading]) for got in walks])
            heat = [p["planned_copper"][reading] / p["copper"] for p in (g["power"] for g in walks)]
            rows.append(
                (
                    robot,
                    mode,
                    reading,
                    *(f"{np.median(c):.2f}" for c in by_segment(torque)),
                    f"{100.0 * (np.abs(torque - 1.0) <= WITHIN).mean():.0f} %",
                    f"{100.0 * (np.abs(current - 1.0) <= WITHIN).mean():.0f} %",
                    f"{np.median(heat):.2f} ({min(heat):.2f}–{max(heat):.2f})",
                )
            )
    return table(head, rows)


def by_segment(values: Floats) -> Floats:
    """Coxas, femurs, tibias of legs with three drives, (3, ...)."""
    return np.asarray(values).reshape(-1, len(SEGMENTS)).T


def _ratio(one: Answer) -> Floats:
    return np.asarray(np.array(one["planned"]) / np.array(one["simulated"]))


def _size(values: Any) -> float:
    return float(np.sqrt(np.mean(np.asarray(values) ** 2)))


def power_table(answers: Sequence[Answer]) -> str:
    """Battery draw as simulated and how far each reading is off; heat in windings likewise."""
    head = (
        "walk", "mode", "simulated [W]", *READINGS, "servos [W]", "winding heat [W]", *READINGS,
        "shaft [W]",
    )  # fmt: skip
    rows = []
    for one in _good(answers):
        p = one["answer"]["power"]
        rows.append(
            (
                one["name"], one["mode"], f"{p['simulated']:.1f}",
                *(f"{100.0 * (p['planned'][k] / p['simulated'] - 1.0):+.1f} %" for k in READINGS),
                f"{p['servos']:.1f}", f"{p['copper']:.2f}",
                *(f"{p['planned_copper'][key]:.2f}" for key in READINGS),
                f"{p['shaft']:.2f}",
            )
        )  # fmt: skip
    return table(head, rows)


def _good(answers: Sequence[Answer]) -> list[Answer]:
    return [one for one in answers if "answer" in one]
