"""The command `legwright walk`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from rich import box
from rich.console import Console
from rich.table import Table

import legwright
from legwright.errors import RobotError
from legwright.locomotion.controller import compiled
from legwright.locomotion.gait import Gait
from legwright.locomotion.gait import gait as gait_named
from legwright.robot.robot import Robot
from legwright.study.walking import Trip, trials, walk_once

ROWS = (
    ("distance", "distance", 1.0, "m"),
    ("speed", "speed", 1.0, "m/s"),
    ("path_error", "beside the track", 1e3, "mm"),
    ("odometry_error", "odometry off by", 100.0, "%"),
    ("slips_per_metre", "slips", 1.0, "/m"),
    ("hit_rate", "touch-downs felt", 100.0, "%"),
    ("false_per_100_steps", "false alarms", 1.0, "/100"),
    ("delay_median", "delay, median", 1e3, "ms"),
    ("delay_p95", "delay, 95 %", 1e3, "ms"),
    ("force_at_detection", "force when felt, median", 100.0, "% weight"),
    ("force_at_detection_p95", "force when felt, 95 %", 100.0, "% weight"),
    ("peak_force", "peak foot force", 100.0, "% weight"),
    ("worst_tilt", "worst tilt", 180.0 / np.pi, "deg"),
    ("unsupported", "under 3 loaded feet", 100.0, "% of time"),
    ("min_margin", "smallest margin", 1e3, "mm"),
    ("energy_per_metre", "energy", 1.0, "J/m"),
    ("hottest", "hottest winding", 1.0, "K"),
    ("lowest_voltage", "lowest voltage", 1.0, "V"),
)
"""Key of a trial's row, words, factor and unit of the scorecard."""


def run_walk(
    path: Path, *, gait: str, ground: str, speed: float, share: float, distance: float,
    rate: float, count: int, seed: int, blind: bool, json_file: Path | None, record: Path | None,
) -> int:  # fmt: skip
    """Walk, print the scorecard, write what was asked for.

    Returns:
        Exit code: 0 where every felt walk finished, else 1.
    """
    robot = legwright.load(path)
    trip = Trip(
        gait=_gait(robot, gait), ground=ground, speed=speed, share=share, distance=distance,
        rate=rate,
    )  # fmt: skip
    console = Console(highlight=False)
    if not compiled():
        console.print("Compiling kernels, once for this installation: about 40 s", style="dim")
    if record is not None:
        rows = [walk_once(robot, trip, seed=seed, felt=True, record=record)]
        count, first = count - 1, seed + 1
        if blind:
            rows.append(walk_once(robot, trip, seed=seed, felt=False))
        console.print(f"Recording: {record}", soft_wrap=True)
    else:
        rows, first = [], seed
    if count > 0:
        rows += trials(robot, trip, seed=first, count=count, blind=blind, path=path)
    console.print(scorecard(rows, f"{robot.name}, {gait} on {ground}"))
    for note in rows[0]["notes"]:
        console.print(note, style="dim")
    if json_file is not None:
        answer = {"robot": robot.name, "gait": gait, "ground": ground, "trials": rows}
        _write(json_file, json.dumps(answer, indent=1, allow_nan=False))
    return int(not all(row["finished"] for row in rows if row["mode"] == "felt"))


def _gait(robot: Robot, name: str) -> Gait:
    """A gait of the sheet, or one of the named ones."""
    own = robot.sheet.gait.get(name)
    if own is not None:
        phases: dict[str | int, float] = {leg: phase for leg, phase in own.phases.items()}
        return Gait(duty=own.duty, phases=phases, name=name)
    return gait_named(name, len(robot.legs))


def scorecard(rows: list[dict[str, Any]], title: str) -> Table:
    """Medians over the trials, felt beside blind.

    Args:
        rows: Trials as `walk_once` gives them.
        title: Of the table.
    """
    modes = [mode for mode in ("felt", "blind") if any(row["mode"] == mode for row in rows)]
    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        header_style="",
        box=box.SIMPLE_HEAD,
        show_edge=False,
    )
    table.add_column("median over trials")
    for mode in modes:
        table.add_column(mode, justify="right")
    table.add_column("unit")
    sets = [[row for row in rows if row["mode"] == mode] for mode in modes]
    for key, words in (("finished", "finished"), ("fell", "fell")):
        table.add_row(words, *(f"{sum(r[key] for r in s)} of {len(s)}" for s in sets), "walks")
    for key, words, factor, unit in ROWS:
        cells = []
        for some in sets:
            values = [row[key] for row in some if row[key] is not None]
            cells.append(f"{factor * float(np.median(values)):.3g}" if values else "–")
        table.add_row(words, *cells, unit)
    return table


def _write(file: Path, text: str) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise RobotError(
            file, "", f"cannot be written ({error.strerror})", "Choose a folder you may write to."
        ) from None
