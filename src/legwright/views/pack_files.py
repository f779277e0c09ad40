"""The build book as a folder: one page, lists, drawings, checksums."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from legwright.electrics.csv_lists import csv_files, csv_text
from legwright.errors import RobotError
from legwright.fabrication.stl import stl_bytes
from legwright.robot.whole_folder import write_whole
from legwright.study.packing import Pack, pack_as_json
from legwright.study.printing import PARTS, PRINTS
from legwright.views.frame import TitleBlock
from legwright.views.pack_sheets import pack_sheets
from legwright.views.parts_files import write_parts
from legwright.views.report import hashes_of, inputs_of, write_report
from legwright.views.sheet_files import sheet_svg, sheets_html
from legwright.views.wide_sheet import WideSheet
from legwright.views.wiring_files import wiring_sheets

PAGE, SUMS, DATA = "build-book.html", "SHA256SUMS", "build-book.json"
DRAWINGS, ELECTRICS, ROBOT, REPORT = "drawings", "electrics", "robot", "report"
CONTENTS = (
    (PAGE, "all sheets of this book in one page; prints on A4"),
    ("bom.csv", "bill of materials, with columns for prices"),
    ("screws.csv", "screws, nuts and washers, with their stacks"),
    ("assembly.csv", "steps of the assembly"),
    ("prints.csv", "printed parts: material, time, how they lie"),
    (f"{DRAWINGS}/", "every sheet as SVG"),
    (f"{PARTS}/", "plates, brackets, feet: DXF, STL, drilling tables"),
    (f"{PRINTS}/", "generated shells as STL"),
    (f"{ELECTRICS}/", "wire, cut, pin and part lists, test sequence"),
    (f"{REPORT}/", "the verdict with its evidence"),
    (f"{ROBOT}/", "the robot folder that all of this was made from"),
    (DATA, "all of it for programs"),
    (SUMS, "checksums: sha256sum -c SHA256SUMS"),
)


def write_pack(pack: Pack, folder: Path, *, issued: date | None = None) -> Sequence[Path]:
    """Write the build book into a folder, which is made when missing.

    Args:
        pack: The pack.
        folder: Where to.
        issued: Date of issue.

    Returns:
        The files, the page first, checksums last.

    Raises:
        RobotError: where the folder holds something else, or cannot be written.
    """
    _check_ours(folder)
    contents = [row for row in CONTENTS if row[0] not in _absent(pack)]
    sheets: list[WideSheet] = list(pack_sheets(pack, contents))
    texts: dict[str, str] = {}
    if pack.wiring is not None:
        drawings, lists = wiring_sheets(pack.wiring)
        sheets += [*drawings, *lists]
        texts |= {
            f"{ELECTRICS}/{name}": text
            for name, text in csv_files(pack.wiring.circuit, pack.robot).items()
        }
    block = _block(pack, issued)
    texts[PAGE] = sheets_html(sheets, block, heading=f"{pack.robot.name}: build book")
    for number, sheet in enumerate(sheets, start=1):
        texts[f"{DRAWINGS}/{number:02d}-{sheet.name}.svg"] = sheet_svg(
            sheet, block, number=number, count=len(sheets)
        )
    texts |= _lists(pack)
    data = json.dumps(pack_as_json(pack), indent=1, ensure_ascii=False, allow_nan=False)
    texts[DATA] = data + "\n"
    return _write(pack, folder, texts, issued)


def _write(
    pack: Pack, folder: Path, texts: Mapping[str, str], issued: date | None
) -> Sequence[Path]:
    written = []
    try:
        for name, text in texts.items():
            file = folder / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(text.encode("utf-8"))
            written.append(file)
        if _has_parts(pack):
            written += write_parts(pack.making, folder / PARTS, issued=issued)
        written += _shells(pack, folder)
        written.append(write_report(pack.study, folder / REPORT, issued=issued))
        copies, _ = write_whole(pack.robot, folder / ROBOT)
        written += copies
        sums = "".join(
            f"{hashlib.sha256(file.read_bytes()).hexdigest()}  {file.relative_to(folder)}\n"
            for file in written
        )
        (folder / SUMS).write_text(sums, encoding="utf-8")
    except OSError as error:
        raise RobotError(
            folder, "", f"cannot be written ({error.strerror})",
            "Choose a folder you may write to.",
        ) from None  # fmt: skip
    return (*written, folder / SUMS)


def _shells(pack: Pack, folder: Path) -> list[Path]:
    """Generated shells as STL; those that the robot brings are in its folder."""
    written = []
    files = {job.key: job.file for job in pack.prints if job.file}
    for one in pack.shells.studied:
        if f"shell.{one.shell.name}" in files:
            file = folder / files[f"shell.{one.shell.name}"]
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(stl_bytes(one.shell.mesh))
            written.append(file)
    return written


def _absent(pack: Pack) -> set[str]:
    """What this book does not hold."""
    absent = set()
    if pack.wiring is None:
        absent.add(f"{ELECTRICS}/")
    if not _has_parts(pack):
        absent.add(f"{PARTS}/")
    if not any(job.file.startswith(f"{PRINTS}/") for job in pack.prints):
        absent.add(f"{PRINTS}/")
    if not pack.prints:
        absent.add("prints.csv")
    return absent


def _has_parts(pack: Pack) -> bool:
    return bool(pack.making.parts.made) or pack.making.parts.foot.part is not None


def _check_ours(folder: Path) -> None:
    """A folder that holds something else is left alone."""
    if folder.is_dir() and any(folder.iterdir()) and not (folder / SUMS).is_file():
        raise RobotError(
            folder, "", "is not empty and no build book", "Name a new folder with --out."
        )


def _block(pack: Pack, issued: date | None) -> TitleBlock:
    sheet = pack.robot.sheet
    return TitleBlock(
        title=pack.robot.name,
        owner=sheet.owner,
        identification=sheet.identification,
        revision=sheet.revision,
        issued="" if issued is None else issued.isoformat(),
        made_from=tuple(hashes_of(inputs_of(pack.study))),
        reference="fabrication",
        document="Build book",
    )


def _lists(pack: Pack) -> dict[str, str]:
    currency = pack.robot.sheet.cost.currency
    bill = csv_text(
        (
            "number", "from", "part", "detail", "quantity", "unit", "mass_g", "cost_each",
            "cost", "currency", "supplier", "order_number", "where", "price_key",
        ),
        [
            (
                p.number, p.line.source.value, p.line.part, p.line.detail, p.line.quantity,
                p.line.unit, None if p.line.mass is None else round(1e3 * p.line.mass, 2),
                p.each, p.cost, currency, None, None, "; ".join(p.line.where), p.line.key,
            )
            for p in pack.bill
        ],
    )  # fmt: skip
    screws = csv_text(
        ("where", "count", "thread", "length_mm", "into", "grip_mm", "engaged_mm", "why"),
        [
            (
                one.where, one.count, None if one.choice is None else one.choice.thread.name,
                _mm(None if one.choice is None else one.choice.length), one.into.value,
                _mm(one.grip), _mm(None if one.choice is None else one.choice.engaged),
                one.missing if one.choice is None else one.choice.why,
            )
            for one in pack.fastenings
        ],
    )  # fmt: skip
    steps = csv_text(
        ("step", "bench", "times", "do", "brings"),
        [
            (task.number, bench.name, len(bench.units), task.words,
             "; ".join(piece.name for piece in task.comes))
            for bench in pack.benches
            for task in bench.tasks
        ],
    )  # fmt: skip
    lists = {"bom.csv": bill, "screws.csv": screws, "assembly.csv": steps}
    if pack.prints:
        lists["prints.csv"] = _prints(pack)
    return lists


def _prints(pack: Pack) -> str:
    return csv_text(
        (
            "part", "count", "file", "process", "material", "mass_g", "support_g", "time_h",
            "width_mm", "depth_mm", "height_mm", "fits", "pieces", "note",
        ),
        [
            (
                job.name, job.count, job.file, job.process, job.material,
                None if job.mass is None else 1e3 * job.mass,
                None if job.support is None else 1e3 * job.support,
                None if job.time is None else job.time / 3600.0,
                *((None, None, None) if job.size is None else map(_mm, job.size)),
                None if job.fits is None else "yes" if job.fits else "no", job.pieces,
                job.missing,
            )
            for job in pack.prints
        ],
    )  # fmt: skip


def _mm(length: float | None) -> float | None:
    return None if length is None else round(1e3 * length, 3)
