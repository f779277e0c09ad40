"""A recording scored again: the row that the walk gave, from the file alone."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.rig.replay import Recording, Track
from legwright.robot.tree import Floats
from legwright.study.walk_score import WalkLog, row_of

WALK = "walk"
"""The kind of command with which a walk begins."""


def begin_of(recording: Recording) -> float:
    """When the robot was first told to walk; the start of the file where it says nothing [s]."""
    commands = recording.tracks.get("/command")
    if commands is None:
        return 0.0
    kinds = commands.fields.get("kind", [])
    told = [t for t, kind in zip(commands.time, kinds, strict=False) if kind == WALK]
    return float(told[0]) if told else float("inf")


def walk_log(recording: Recording) -> WalkLog | None:
    """The walk in a recording as the score wants it.

    Args:
        recording: A run.

    Returns:
        The walk; None where the file holds no truth or ends before the walk began.

    Raises:
        RequestError: if the channels have shapes that fit no robot.
    """
    truth, felt = recording.tracks.get("/truth"), recording.tracks.get("/felt")
    if truth is None or felt is None:
        return None
    first = int(np.searchsorted(felt.time, begin_of(recording) - 1e-6))
    rows = slice(first, min(len(felt.time), len(truth.time)))
    if rows.start >= rows.stop:
        return None
    try:
        return WalkLog(
            force=_numbers(truth, "force")[rows, :, 2],
            stance=np.asarray(felt.fields["contact"], dtype=bool)[rows],
            slipped=_slipped(recording, felt.time)[rows],
            feet=_numbers(truth, "feet")[rows, :, :2],
            body=_numbers(truth, "body")[rows],
            margin=_numbers(felt, "margin")[rows],
            place=_numbers(felt, "place")[rows],
            peak=_numbers(truth, "peak")[rows].max(axis=1),
            others=_numbers(truth, "others")[rows],
            winding=_numbers(truth, "winding")[rows].max(axis=1),
            voltage=_numbers(truth, "voltage")[rows].min(axis=1),
            energy=_numbers(truth, "energy")[rows],
            slowed=_slowed(recording),
        )
    except (KeyError, ValueError, IndexError, TypeError) as error:
        raise RequestError(
            "recording", recording.about.get("robot", "?"), "one written by this version's walk"
        ) from error


def _slipped(recording: Recording, time: Floats) -> NDArray[np.bool_]:
    """Which feet were said to slide in each control step, (T, L)."""
    legs = list(recording.about["legs"])
    told = np.zeros((len(time), len(legs)), dtype=bool)
    events = recording.tracks.get("/event")
    if events is not None:
        for when, what, leg in zip(
            events.time, events.fields["what"], events.fields["leg"], strict=False
        ):
            if what == "slipped" and leg in legs and len(time):
                told[int(np.abs(time - when).argmin()), legs.index(leg)] = True
    return told


def _slowed(recording: Recording) -> tuple[str, float] | None:
    """What kept the robot from walking as fast as it was told to, and the share granted."""
    events = recording.tracks.get("/event")
    if events is None:
        return None
    fields = (events.fields[name] for name in ("what", "limit", "share"))
    told = [(limit, share) for what, limit, share in zip(*fields, strict=False) if what == "slowed"]
    return (str(told[-1][0]), float(told[-1][1])) if told else None


def _numbers(track: Track, name: str) -> Floats:
    return np.asarray(track.fields[name], dtype=np.float64)


def recorded_row(recording: Recording) -> dict[str, Any] | None:
    """The trial's row, reckoned anew from a recording.

    Args:
        recording: A run.

    Returns:
        As `walk_once` gave it; None where `walk_log` finds no walk with its truth.
    """
    log, about = walk_log(recording), recording.about
    if log is None:
        return None
    return row_of(
        log,
        rate=float(about["rate"]),
        weight=float(about["weight"]),
        distance=float(about.get("distance") or np.inf),
        speed=float(about.get("speed") or 0.0),
        seed=about.get("seed"),
        felt=about.get("mode") != "blind",
        notes=about.get("notes", ()),
        stopped=not recording.whole or any(_words(recording) == "stopped"),
    )


def _words(recording: Recording) -> Any:
    events = recording.tracks.get("/event")
    return np.array([] if events is None else events.fields["what"], dtype=str)
