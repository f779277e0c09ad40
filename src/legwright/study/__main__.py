"""``python -m legwright.study``: walk the campaign and write its tables."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from math import inf
from pathlib import Path

from legwright.errors import LegwrightError, RequestError, RobotError, did_you_mean
from legwright.study.campaign import Answer, Job, answers, code_mark, run
from legwright.study.crossing_table import (
    contact_table,
    crossing_table,
    ratio_table,
    telling_height,
)
from legwright.study.crossings import PARTS, crossings, walk_crossing
from legwright.study.steady_rows import (
    compare,
    likeness_table,
    power_table,
    steady_walks,
    summary_table,
    way_table,
)

STEADY = "steady"
EVERY = (*PARTS, STEADY)


def jobs_of(part: str, family: Path, seeds: int, distance: float) -> list[Job]:
    """The jobs of one part, so ordered that every row has walks early on."""
    if part == STEADY:
        return [
            Job(
                part=part, name=", ".join(walk), seed=1, mode=mode, do=compare,
                given=(family, *walk, mode),
            )
            for walk in steady_walks(family)
            for mode in ("felt", "blind")
        ]  # fmt: skip
    rows = crossings(part, 1, distance=distance)  # a walk is the same among however many
    return [
        Job(
            part=part, name=row.name, seed=seed, mode=mode, do=walk_crossing,
            given=(family, row, seed, mode),
        )
        for seed in range(seeds)
        for row in rows
        for mode in row.modes
    ]  # fmt: skip


def tables(part: str, answers: Sequence[Answer]) -> str:
    """The tables of one part, markdown."""
    if part == "grounds":
        made = [crossing_table(answers), ratio_table(answers), contact_table(answers)]
        return "\n\n".join(made)
    if part == "heights":
        return "\n\n".join([crossing_table(answers), telling_height(answers)])
    if part == "contact":
        return contact_table(answers)
    parts = ["Way:", way_table(answers), "All walks of a robot together:", summary_table(answers)]
    parts += ["Joint torque, planned over simulated RMS:", likeness_table(answers, "torque")]
    parts += ["Winding current, planned over simulated RMS:", likeness_table(answers, "current")]
    return "\n\n".join([*parts, "Battery:", power_table(answers)])


def renew(page: Path, part: str, text: str) -> None:
    """Put a part's tables between the page's marks ``<!-- part -->`` and ``<!-- /part -->``.

    Raises:
        RobotError: where the page has no such marks.
    """
    old = page.read_text(encoding="utf-8")
    begin, end = f"<!-- {part} -->\n", f"<!-- /{part} -->"
    before, found, rest = old.partition(begin)
    _, also, after = rest.partition(end)
    if not (found and also):
        raise RobotError(page, "", f"has no marks for {part}", f"Put {begin.strip()} and {end} in.")
    page.write_text(before + begin + text + end + after, encoding="utf-8")


def main(words: Sequence[str] | None = None) -> int:
    """Run; returns the exit code."""
    parser = argparse.ArgumentParser(prog="python -m legwright.study", description=__doc__)
    parser.add_argument("family", type=Path, help="folder of the robots")
    parser.add_argument("--part", action="append", choices=EVERY, help="only this part")
    parser.add_argument(
        "--row", action="append", default=[], help="walk only the row of this name now"
    )
    parser.add_argument(
        "--mode", choices=("felt", "blind"), help="walk only felt, or only blind, now"
    )
    parser.add_argument("--seeds", type=int, default=50, help="walks of each row and mode")
    parser.add_argument("--distance", type=float, default=3.0, help="of each walk [m]")
    parser.add_argument("--cores", type=int, default=None, help="processes; all cores if left out")
    parser.add_argument(
        "--minutes", type=float, default=inf, help="begin no walk later than this in a part"
    )
    parser.add_argument("--out", type=Path, default=Path("report/study"), help="folder to write to")
    parser.add_argument("--into", type=Path, help="markdown page whose tables are renewed too")
    asked = parser.parse_args(words)
    try:
        for part in asked.part or EVERY:
            _study(part, asked)
    except LegwrightError as error:
        sys.stderr.write(f"legwright: {error}\n")
        return 2
    except KeyboardInterrupt:
        sys.stderr.write("legwright: stopped; the same command goes on from here.\n")
        return 130
    return 0


def _study(part: str, asked: argparse.Namespace) -> None:
    code = code_mark(asked.family)

    def progress(done: int, total: int, what: str) -> None:
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{part}: {done} of {total} ({what})\x1b[K")
        elif done % 20 == 0 or done == total:
            sys.stderr.write(f"{part}: {done} of {total}\n")

    jobs = jobs_of(part, asked.family, asked.seeds, asked.distance)
    file = asked.out / f"{part}.jsonl"
    names = {job.name for job in jobs}
    for row in asked.row:
        if row not in names:
            raise RequestError("row", row, f"a row of {part}. {did_you_mean(row, tuple(names))}")
    now = [
        job
        for job in jobs
        if (not asked.row or job.name in asked.row) and asked.mode in (None, job.mode)
    ]
    run(now, file, code=code, cores=asked.cores, seconds=60.0 * asked.minutes, progress=progress)
    known = {one["key"]: one for one in answers(file, code=code)}
    found = [known[job.key] for job in jobs if job.key in known]
    sys.stderr.write("\n")
    wrong = [
        f"{one['name']}, seed {one['seed']}: {one['error']}" for one in found if "error" in one
    ]
    seeds = (
        "" if part == STEADY else f", seeds 0 to {max((one['seed'] for one in found), default=0)}"
    )
    head = f"Version {version('legwright')}, code {code}{seeds}, {datetime.now(UTC):%Y-%m-%d}."
    text = "\n\n".join([head, tables(part, found), *wrong]) + "\n"
    (asked.out / f"{part}.md").write_text(text, encoding="utf-8")
    if asked.into is not None:
        renew(asked.into, part, text)
    sys.stdout.write(text)


if __name__ == "__main__":
    raise SystemExit(main())
