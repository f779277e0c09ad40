"""The command `legwright replay`."""

from __future__ import annotations

import json
from pathlib import Path

from rich.console import Console

from legwright.cli.checking import write_text
from legwright.cli.exits import Exit
from legwright.cli.walking import require_place, show_files
from legwright.rig.replay import Recording, read_recording
from legwright.study.recorded import recorded_row
from legwright.views.run import Run, run_of
from legwright.views.walk_page import PAGE, card_of, missing
from legwright.views.walk_table import walk_table


def run_replay(file: Path, *, out: Path | None, json_file: Path | None) -> int:
    """Score a recording again, print it, write what was asked for.

    Args:
        file: An MCAP file that a walk wrote.
        out: Folder for page and pictures, or None.
        json_file: Where to write the row, or None.

    Returns:
        Exit code: 0 where the file could be read.
    """
    recording = read_recording(file)
    for place in (None if out is None else out / PAGE, json_file):
        if place is not None:
            require_place(place)
    console = Console(highlight=False)
    lack = missing(recording)
    if lack:
        console.print(lack, style="bold")
    card = card_of(recording)
    if card is not None:
        console.print(walk_table(card))
    else:
        console.print(_felt_only(run_of(recording)))
    for note in recording.about.get("notes", ()):
        console.print(note, style="dim")
    if json_file is not None:
        text = json.dumps(replay_json(recording), indent=1, ensure_ascii=False, allow_nan=False)
        write_text(json_file, text)
    if out is not None:
        show_files(console, file, out)
    return int(Exit.PASS)


def replay_json(recording: Recording) -> dict[str, object]:
    """What `--json` writes; see docs/json.md.

    Args:
        recording: A run.
    """
    row, about = recorded_row(recording), recording.about
    return {
        "robot": about["robot"],
        "gait": about.get("gait") or None,
        "ground": str(about.get("ground") or "").partition(":")[0] or None,
        "trials": [] if row is None else [row],
        "whole": recording.whole,
        "ends": recording.ends,
        "lost_bytes": recording.lost,
    }


def _felt_only(run: Run) -> str:
    """What can be said without truth, or before a walk began."""
    why = "holds no truth" if run.force is None else "ends before a walk begins"
    steps = int((run.contact[1:] & ~run.contact[:-1]).sum())
    told = f"{run.robot}: {run.recording.ends:.1f} s, {steps} touch-downs felt"
    if run.place is not None:
        told += f", {run.metres:.2f} m forward as the controller believes"
    return f"{told}. The file {why}, so nothing is scored."
