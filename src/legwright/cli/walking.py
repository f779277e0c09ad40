"""The command `legwright walk`."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

import legwright
from legwright.cli.checking import unwritable, write_text
from legwright.cli.exits import Exit
from legwright.errors import RequestError, require_whole
from legwright.locomotion.gait import Gait
from legwright.locomotion.gait import gait as gait_named
from legwright.robot.robot import Robot
from legwright.study.scorecard import Scorecard, scorecard
from legwright.study.walking import Trip, trials, walk_once
from legwright.views.walk_table import walk_table

Row = dict[str, Any]

RECORDING = "walk.mcap"
FARTHEST, FASTEST = 100.0, 5.0
"""Longest distance [m] and highest speed [m/s] that make sense to ask."""
RATES = (20.0, 1000.0)
"""Slowest and fastest control [Hz]."""
MOST_TRIALS, LAST_SEED = 10_000, 2**31


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What the user asked for."""

    gait: str
    ground: str
    speed: float
    share: float
    distance: float
    rate: float
    count: int
    seed: int
    blind: bool
    json_file: Path | None = None
    record: Path | None = None
    out: Path | None = None

    def __post_init__(self) -> None:
        """Refuse what makes no sense, before anything is walked."""
        _within("speed", self.speed, 0.0, FASTEST, "m/s")
        _within("distance", self.distance, 0.0, FARTHEST, "m")
        _within("height", self.share, 0.0, 2.0, "leg lengths")
        low, high = RATES
        if not low <= self.rate <= high:
            raise RequestError("rate", self.rate, f"from {low:g} to {high:g} Hz")
        if abs(1000.0 / self.rate - round(1000.0 / self.rate)) > 1e-6:
            allowed = "such that a control step is a whole number of milliseconds: 50, 100, 200 Hz"
            raise RequestError("rate", self.rate, allowed)
        require_whole("trials", self.count, 1)
        require_whole("seed", self.seed, 0)
        if self.count > MOST_TRIALS:
            raise RequestError("trials", self.count, f"at most {MOST_TRIALS}")
        if self.seed > LAST_SEED:
            raise RequestError("seed", self.seed, f"at most {LAST_SEED}")

    @property
    def recording(self) -> Path | None:
        """Where the first felt walk is recorded."""
        if self.record is not None or self.out is None:
            return self.record
        return self.out / RECORDING


def run_walk(path: Path, request: Request) -> int:
    """Walk, print the scorecard, write what was asked for.

    Args:
        path: Robot folder, sheet or bare URDF.
        request: What to walk and what to write.

    Returns:
        Exit code: 0 where every felt walk finished, else 1; 130 where the user stopped it.
    """
    robot = legwright.load(path)
    trip = _trip(robot, request)
    for place in (request.recording, request.json_file):
        if place is not None:
            require_place(place)
    console = Console(highlight=False)
    _say_compiling()
    rows = _walk(robot, trip, request, path)
    wanted = request.count * (2 if request.blind else 1)
    stopped = len(rows) < wanted or any(row.get("stopped") for row in rows)
    card = _card(robot, request, rows)
    console.print(walk_table(card))
    if stopped:
        console.print(f"Stopped: {len(rows)} of {wanted} walks are told here.", style="bold")
    for note in rows[0]["notes"]:
        console.print(note, style="dim")
    if request.json_file is not None:
        names = {"robot": robot.name, "gait": request.gait, "ground": request.ground}
        write_text(
            request.json_file, json.dumps({**names, "trials": rows}, indent=1, allow_nan=False)
        )
    if request.recording is not None:
        show_files(console, request.recording, request.out, rows)
    if stopped:
        return 130
    failed = not all(row["finished"] for row in rows if row["mode"] == "felt")
    return int(Exit.FAIL if failed else Exit.PASS)


def show_files(
    console: Console, recording: Path, out: Path | None, rows: Sequence[Row] = ()
) -> None:
    """Draw a recording into a folder and say what was written.

    Args:
        console: Where to say it.
        recording: The file.
        out: The folder; nothing is drawn when None.
        rows: Further trials for the scorecard.

    Raises:
        RobotError: where the folder cannot be written to.
    """
    if out is None:
        console.print(f"Recording: {recording}", soft_wrap=True)
        return
    from legwright.rig.replay import read_recording
    from legwright.views.walk_page import show

    try:
        with _bar("drawing {task.description}") as say:
            shown = show(
                read_recording(recording), recording, out, issued=date.today(), rows=rows,
                progress=lambda what: say(what, None, None),
            )  # fmt: skip
    except OSError as error:
        raise unwritable(out, error) from None
    names = [file.name for file in shown.files]
    names += [recording.name] if recording.parent == out else []
    console.print(f"Written to {out}: {', '.join(names)}", soft_wrap=True)
    for trouble in shown.troubles:
        console.print(trouble, soft_wrap=True)


def require_place(file: Path) -> None:
    """Refuse, before a long walk, a place where nothing can be written.

    Raises:
        RobotError: naming the file and the cause.
    """
    try:
        if file.is_dir():
            raise IsADirectoryError(21, "it is a folder")
        file.parent.mkdir(parents=True, exist_ok=True)
        with TemporaryFile(dir=file.parent):
            pass
    except OSError as error:
        raise unwritable(file, error) from None


def _within(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low < value <= high:
        raise RequestError(what, value, f"more than {low:g} and at most {high:g} {unit}")


def _trip(robot: Robot, request: Request) -> Trip:
    """The trip; gait and ground are looked at before anything moves."""
    from legwright.rig.ground_choice import ground_of

    trip = Trip(
        gait=_gait(robot, request.gait), ground=request.ground, speed=request.speed,
        share=request.share, distance=request.distance, rate=request.rate,
    )  # fmt: skip
    ground_of(robot, trip.ground, seed=request.seed, share=trip.share, length=trip.distance + 1.0)
    return trip


def _gait(robot: Robot, name: str) -> Gait:
    """A gait of the sheet, or one of the named ones."""
    own = robot.sheet.gait.get(name)
    if own is not None:
        phases: dict[str | int, float] = {leg: phase for leg, phase in own.phases.items()}
        return Gait(duty=own.duty, phases=phases, name=name)
    return gait_named(name, len(robot.legs))


def _say_compiling() -> None:
    from legwright.locomotion.controller import compiled

    if not compiled():
        sys.stderr.write("Compiling kernels, once for this installation: 1 to 2 min\n")


def _walk(robot: Robot, trip: Trip, request: Request, path: Path) -> list[Row]:
    """All rows, fewer where the user stopped; the first felt walk goes on record."""
    rows: list[Row] = []
    count, first = request.count, request.seed
    with _bar("walking {task.description}") as say:
        if request.recording is not None:
            modes = (True, False) if request.blind else (True,)
            for felt in modes:
                rows.append(_one(robot, trip, request, felt, say))
                if rows[-1].get("stopped"):
                    return rows
            count, first = count - 1, first + 1
        if count > 0:
            rows += trials(
                robot, trip, seed=first, count=count, blind=request.blind, path=path,
                progress=lambda done, total: say(f"{done} of {total} walks", done, total),
            )  # fmt: skip
    if not rows:
        raise KeyboardInterrupt
    return rows


def _one(robot: Robot, trip: Trip, request: Request, felt: bool, say: Any) -> Row:
    mode = "felt" if felt else "blind"

    def progress(metres: float) -> None:
        words = f"seed {request.seed}, {mode}: {max(metres, 0.0):.2f} of {trip.distance:g} m"
        say(words, max(metres, 0.0), trip.distance)

    return walk_once(
        robot, trip, seed=request.seed, felt=felt, record=request.recording if felt else None,
        progress=progress,
    )  # fmt: skip


def _card(robot: Robot, request: Request, rows: Sequence[Row]) -> Scorecard:
    title = f"{robot.name}, {request.gait} on {request.ground}"
    return scorecard(rows, title=title, ground=request.ground, rate=request.rate)


@contextmanager
def _bar(words: str) -> Iterator[Any]:
    """A progress bar on standard error, silent when that is no terminal."""
    columns = (TextColumn(words), BarColumn(bar_width=None))
    console = Console(stderr=True)
    with Progress(
        *columns, console=console, transient=True, disable=not sys.stderr.isatty()
    ) as shown:
        task = shown.add_task("", total=None)

        def say(what: str, done: float | None, total: float | None) -> None:
            shown.update(task, description=what, completed=done, total=total)

        yield say
