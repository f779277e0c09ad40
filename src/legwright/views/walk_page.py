"""Everything to look at of a recorded walk: one HTML page, a film strip, an animation."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape, unescape
from importlib.resources import files
from pathlib import Path
from typing import Any

from legwright.rig.replay import Recording
from legwright.study.recorded import recorded_row
from legwright.study.scorecard import Scorecard, scorecard
from legwright.views.fonts import font_face_rules
from legwright.views.frame import TitleBlock
from legwright.views.report import hashes_of, themed
from legwright.views.run import Run, run_of
from legwright.views.sheet_section import section
from legwright.views.walk_film import animation, strip
from legwright.views.walk_sheets import walk_sheets

PAGE, STRIP = "walk.html", "strip.png"
CARE = "A simulated walk proves nothing about the machine. Walking robots pinch and fall."


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What was written, and what could not be."""

    files: tuple[Path, ...]
    troubles: tuple[str, ...]
    """One sentence each."""


def card_of(recording: Recording, rows: Sequence[Mapping[str, Any]] = ()) -> Scorecard | None:
    """The scorecard of a recording, reckoned anew, beside further trials.

    Args:
        recording: A run.
        rows: Trials that stand beside it; its own row is left out if it is among them.

    Returns:
        The scorecard; None where there is no walk with its truth.
    """
    row = recorded_row(recording)
    if row is None:
        return None
    about = recording.about
    own = (row["seed"], row["mode"])
    others = [other for other in rows if (other["seed"], other["mode"]) != own]
    ground = str(about.get("ground") or "").partition(":")[0]
    title = f"{about['robot']}, {about.get('gait') or 'walk'}" + (f" on {ground}" if ground else "")
    return scorecard([row, *others], title=title, ground=ground, rate=float(about["rate"]))


def missing(recording: Recording) -> str:
    """One sentence on what a cut-off file lacks; empty for a whole one."""
    if recording.whole:
        return ""
    told = f"The file was cut off: it ends {recording.ends:.2f} s after its start"
    if recording.lost:
        told += f", its last {recording.lost} bytes cannot be read"
    run = run_of(recording)
    asked = recording.about.get("distance")
    if asked:
        told += f"; {run.metres:.2f} of {float(asked):g} m are here"
    return told + "."


def walk_html(
    run: Run, card: Scorecard | None, *, notes: Sequence[str] = (), issued: date | None = None,
    made_from: Sequence[str] = (), picture: bytes = b"", font_cache: Path | None = None,
) -> str:  # fmt: skip
    """A recorded walk as one HTML document without any outside address or script.

    Args:
        run: The run.
        card: Its scorecard, or None.
        notes: Sentences that stand on every sheet.
        issued: Date of issue.
        made_from: Input files with their hashes.
        picture: The film strip, PNG; left out when empty.
        font_cache: Folder for finished font subsets.

    Returns:
        HTML.
    """
    style = (files("legwright.views") / "templates" / "sheet.css").read_text("utf-8")
    sheets = walk_sheets(run, card, notes)
    block = TitleBlock(
        title=run.robot, document="Walk report", reference="locomotion",
        issued="" if issued is None else issued.isoformat(), made_from=tuple(made_from),
    )  # fmt: skip
    body = "".join(
        section(sheet, block, number=number, count=len(sheets))
        for number, sheet in enumerate(sheets, start=1)
    )
    if picture:
        code = base64.b64encode(picture).decode("ascii")
        words = "Film strip: six moments of the walk, and the whole way from the side"
        body += f'<img class="strip" alt="{words}" src="data:image/png;base64,{code}">'
    name = escape(f"{run.robot}: walk")
    text = unescape(re.sub(r"<[^>]*>", " ", body))
    extra = ".strip{display:block;width:min(100vw,210mm);margin:0 auto 6mu;break-before:page}"
    css = font_face_rules(text, cache=font_cache) + themed(style + extra)
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{name}</title>'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<style>{css}</style></head><body>{body}</body></html>"
    )


def show(
    recording: Recording, source: Path, folder: Path, *, issued: date | None = None,
    rows: Sequence[Mapping[str, Any]] = (),
    progress: Callable[[str], None] = lambda what: None,
) -> Shown:  # fmt: skip
    """Write page, film strip and animation of a recording into a folder.

    A picture that cannot be made is told in one sentence and left out.

    Args:
        recording: The run.
        source: Its file, for the title block.
        folder: Where to; made when missing.
        issued: Date of issue.
        rows: Further trials for the scorecard.
        progress: Told what is being made.

    Returns:
        What was written.

    Raises:
        RequestError: if the recording holds nothing to show.
        OSError: if the folder cannot be written to.
    """
    run = run_of(recording)
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    troubles: list[str] = []
    makers: tuple[tuple[str, Callable[[], Path]], ...] = (
        ("film strip", lambda: strip(run, folder / STRIP)),
        ("animation", lambda: animation(run, folder)),
    )
    for what, make in makers:
        progress(what)
        try:
            written.append(make())
        except Exception as error:  # whatever a picture library throws, the walk stands
            troubles.append(f"No {what}: {error}")
    picture = (folder / STRIP).read_bytes() if folder / STRIP in written else b""
    progress("page")
    lack = missing(recording)
    notes = [*([lack] if lack else []), CARE, *run.recording.about.get("notes", ())]
    page = walk_html(
        run, card_of(recording, rows), notes=notes, issued=issued, made_from=hashes_of([source]),
        picture=picture,
    )  # fmt: skip
    (folder / PAGE).write_text(page, encoding="utf-8")
    return Shown(files=(folder / PAGE, *written), troubles=tuple(troubles))
