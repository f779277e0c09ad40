"""Sheets of the build book: cover, bill of materials, screws."""

from __future__ import annotations

from collections.abc import Sequence

from legwright.study.finding import Verdict
from legwright.study.packing import Pack
from legwright.views import tokens
from legwright.views.assembly_sheets import assembly_sheets
from legwright.views.ink import Ink
from legwright.views.lettering import Face, wrap
from legwright.views.list_sheets import Column, Table, table_sheets
from legwright.views.numbers import plain, significant, with_unit
from legwright.views.ranking import ranked, stamp_of
from legwright.views.symbols import limit_mark, title
from legwright.views.wide_sheet import ROOM, WideSheet

CAUTIONS = (
    "Lithium cells: charged attended, stored at half charge, never below cut-off, never dented.",
    "First power-up on a stand, feet in the air, current-limited supply, a stop within reach.",
    "Walking robots pinch and fall. Cutting, drilling and wiring follow local codes.",
)


def pack_sheets(pack: Pack, contents: Sequence[tuple[str, str]]) -> tuple[WideSheet, ...]:
    """Cover, bill, screws and assembly.

    Args:
        pack: The pack.
        contents: File or folder, and what it is.

    Returns:
        Landscape sheets.
    """
    return (
        _cover(pack, contents),
        *table_sheets(_bill(pack)),
        *table_sheets(_screws(pack)),
        *(table_sheets(_prints(pack)) if pack.prints else ()),
        *assembly_sheets(pack.benches),
    )


def _cover(pack: Pack, contents: Sequence[tuple[str, str]]) -> WideSheet:
    ink = Ink(*ROOM, about=f"Build book of {pack.robot.name}")
    title(ink, f"Build book: {pack.robot.name}", pack.robot.sheet.about)
    stamp = stamp_of(pack.study.findings)
    colour = "red" if stamp.verdict is Verdict.FAIL else "ink"
    ink.rect(4.0, 16.0, 82.0, 19.0, stroke=colour, weight=tokens.FRAME)
    ink.rect(5.2, 17.2, 79.6, 16.6, stroke=colour)
    limit_mark(ink, 9.0, 21.5, 7.0, stamp.verdict)
    ink.text(25.0, 26.0, stamp.words, size=5.0, face=Face.LETTER_STRONG, colour=colour)
    ink.text(25.0, 31.0, stamp.count, colour=colour)
    y = _facts(ink, pack, 42.0)
    _open(ink, pack, y + 4.0)
    _contents(ink, contents)
    return WideSheet(name="cover", subtitle="cover", drawing=ink.finish(), notes=CAUTIONS)


def _facts(ink: Ink, pack: Pack, y: float) -> float:
    cost, unpriced = pack.cost
    currency = pack.robot.sheet.cost.currency
    priced = len(pack.bill) - unpriced
    money = f"{plain(cost, 2)} {currency}".strip() if priced else "not stated"
    if priced and unpriced:
        money += f", {unpriced} lines without a price"
    screws = sum(one.count for one in pack.fastenings)
    rows = (
        ("mass as described", with_unit(significant(pack.robot.mass, 4), "kg")),
        ("mass of the bill", with_unit(significant(pack.listed_mass, 4), "kg")),
        ("lines of the bill", str(len(pack.bill))),
        ("screws", str(screws)),
        ("steps of assembly", str(sum(len(bench.tasks) for bench in pack.benches))),
        ("cost", money),
    )
    for name, value in rows:
        ink.text(4.0, y, name, face=Face.LETTER, colour="ink2")
        ink.text(40.0, y, value)
        y += 4.4
    return y


def _open(ink: Ink, pack: Pack, y: float) -> None:
    """What to settle before building: findings that are no pass, then notes."""
    ink.text(4.0, y, "before you build", face=Face.LETTER_STRONG, size=tokens.SMALL)
    y += 5.0
    worst = [f for f in ranked(pack.study.findings) if f.verdict is not Verdict.PASS]
    lines = [(f.verdict, f"{f.area}: {f.name}. {f.cure or f.why}") for f in worst]
    open_: list[tuple[Verdict | None, str]] = [*lines, *((None, note) for note in pack.notes)]
    for verdict, words in open_:
        broken = wrap(words, 2.7, 118.0, Face.TEXT)
        if y + 3.3 * len(broken) > ROOM[1] - 3.0:
            ink.text(4.0, y, "more in the report", face=Face.LETTER, colour="ink2")
            return
        if verdict is not None:
            limit_mark(ink, 4.0, y - 2.3, 2.6, verdict)
        for line in broken:
            ink.text(11.0, y, line, size=2.7, face=Face.TEXT)
            y += 3.3
        y += 0.8


def _contents(ink: Ink, contents: Sequence[tuple[str, str]]) -> None:
    x, y = 145.0, 20.0
    ink.text(x, y, "in this folder", face=Face.LETTER_STRONG, size=tokens.SMALL)
    y += 5.0
    for file, what in contents:
        if y > ROOM[1] - 4.0:
            ink.text(x, y, "and more", face=Face.LETTER, colour="ink2")
            return
        ink.text(x, y, file)
        ink.text(x + 42.0, y, what, face=Face.LETTER, colour="ink2")
        y += 4.0


def _bill(pack: Pack) -> Table:
    currency = pack.robot.sheet.cost.currency
    rows = tuple(
        (
            str(priced.number), priced.line.source.value, priced.line.part, priced.line.detail,
            f"{priced.line.quantity:g} {priced.line.unit}",
            "" if priced.line.mass is None else plain(1e3 * priced.line.mass, 1),
            "" if priced.each is None else plain(priced.each, 2),
            "" if priced.cost is None else plain(priced.cost, 2),
            _places(priced.line.where),
        )
        for priced in pack.bill
    )  # fmt: skip
    names = (
        ("no.", 9.0), ("from", 18.0), ("part", 30.0), ("detail", 60.0), ("quantity", 20.0),
        ("g", 14.0), (f"{currency or 'cost'} each", 17.0), ("sum", 16.0), ("where", 76.0),
    )  # fmt: skip
    numbers = {"no.", "quantity", "g", f"{currency or 'cost'} each", "sum"}
    return Table(
        name="parts",
        heading="Bill of materials",
        more="masses worked out or stated; blank where the sheet states none",
        columns=tuple(Column(name=n, width=w, right=n in numbers) for n, w in names),
        rows=rows,
    )


def _places(where: Sequence[str]) -> str:
    if len(where) <= 4:
        return ", ".join(where)
    return ", ".join(where[:2]) + f" and {len(where) - 2} more"


def _screws(pack: Pack) -> Table:
    rows = []
    for one in pack.fastenings:
        choice = one.choice
        length = "none fits" if choice is not None else "not known"
        if choice is not None and choice.length is not None:
            length = f"{choice.thread.name} × {choice.length * 1e3:g}"
        rows.append(
            (
                one.where, "" if choice is None else str(one.count), length, one.into.value,
                one.stack, one.missing if choice is None else choice.why,
            )
        )  # fmt: skip
    names = (("where", 62.0), ("count", 12.0), ("screw", 18.0), ("into", 18.0), ("through", 45.0),
             ("stack", 104.0))  # fmt: skip
    return Table(
        name="screws",
        heading="Screws",
        more="cap screws ISO 4762, nuts ISO 4032, washers ISO 7089; the shortest length that works",
        columns=tuple(Column(name=n, width=w, right=n == "count") for n, w in names),
        rows=tuple(rows),
    )


def _prints(pack: Pack) -> Table:
    rows = []
    for job in pack.prints:
        size = "" if job.size is None else " × ".join(plain(1e3 * edge, 0) for edge in job.size)
        fits = {None: "not known", True: "fits", False: f"in {job.pieces} pieces"}[job.fits]
        rows.append(
            (
                job.name, str(job.count),
                ", ".join(word for word in (job.material, job.process) if word),
                "" if job.mass is None else plain(1e3 * job.mass, 1),
                "" if job.support is None else plain(1e3 * job.support, 1),
                "" if job.time is None else plain(job.time / 3600.0, 1), size, fits,
                job.missing or job.file,
            )
        )  # fmt: skip
    names = (("part", 30.0), ("pcs", 10.0), ("of", 60.0), ("g", 14.0), ("supports, g", 20.0),
             ("h", 12.0), ("lies, mm", 32.0), ("printer", 22.0), ("file", 60.0))  # fmt: skip
    return Table(
        name="prints",
        heading="Printed parts",
        more="masses and times of one, estimates from the process in the sheet",
        columns=tuple(
            Column(name=n, width=w, right=n in {"pcs", "g", "supports, g", "h"}) for n, w in names
        ),
        rows=tuple(rows),
    )
