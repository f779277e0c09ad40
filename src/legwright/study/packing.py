"""The build book as one value: verdict, bill, fastenings, order of assembly, wiring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from legwright.electrics.bill import BillRow, bill_of
from legwright.errors import RobotError
from legwright.fabrication.assembly_order import Assembly, assembly_order
from legwright.fabrication.fastenings import Fastening, fastenings_of
from legwright.fabrication.mechanical_bill import Line, Source, mechanical_bill, total_mass
from legwright.fabrication.pieces import Pieces, pieces_of
from legwright.fabrication.screws import Into, nut_mass, screw_mass, washer_mass
from legwright.fabrication.steps import Bench, benches
from legwright.robot.robot import Robot
from legwright.study.check import Progress, study
from legwright.study.evidence import Study
from legwright.study.export import finding_as_json
from legwright.study.finding import Verdict
from legwright.study.making import Making, making_of
from legwright.study.printing import PrintJob, boss_lines, print_jobs, print_lines
from legwright.study.shells import Shells, shells_of
from legwright.study.wiring import Wiring, wiring_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """A line of the bill with its number and its price."""

    number: int
    line: Line
    each: float | None
    """What one costs; None where the sheet states nothing."""

    @property
    def cost(self) -> float | None:
        """Of the whole quantity."""
        return None if self.each is None else self.each * self.line.quantity


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pack:
    """All that a workshop and an assembler need, computed; `views` writes it down."""

    study: Study
    pieces: Pieces
    assembly: Assembly
    benches: tuple[Bench, ...]
    fastenings: tuple[Fastening, ...]
    bill: tuple[Priced, ...]
    wiring: Wiring | None
    making: Making
    shells: Shells
    prints: tuple[PrintJob, ...]
    notes: tuple[str, ...]
    """What is missing or assumed, one sentence each."""

    @property
    def robot(self) -> Robot:
        """The robot."""
        return self.study.robot

    @property
    def listed_mass(self) -> float:
        """Mass of all lines that state one [kg]."""
        return total_mass(priced.line for priced in self.bill)[0]

    @property
    def cost(self) -> tuple[float, int]:
        """Sum of all prices that are stated, and how many lines state none."""
        costs = [priced.cost for priced in self.bill]
        known = [cost for cost in costs if cost is not None]
        return sum(known), len(costs) - len(known)

    @property
    def failed(self) -> bool:
        """Whether the robot fails, cannot be put together, or a screw does not fit."""
        return (
            any(finding.verdict is Verdict.FAIL for finding in self.study.findings)
            or not self.assembly.ok
            or any(one.choice is not None and one.choice.length is None for one in self.fastenings)
        )


def pack_of(robot: Robot, *, progress: Progress | None = None) -> Pack:
    """Everything for the build book.

    Args:
        robot: The robot.
        progress: Told what is being done.

    Returns:
        The pack.

    Raises:
        RobotError: when the robot cannot stand at all.
    """
    found = study(robot, progress=progress)
    pieces = pieces_of(robot)
    assembly = assembly_order(pieces)
    fastenings = fastenings_of(robot)
    notes = [*pieces.notes, *_overlaps(assembly)]
    wiring = None
    try:
        wiring = wiring_of(robot, found=found)
    except RobotError as error:
        notes.append(f"No electrical lists: {error}")
    making = making_of(robot, found.footing, found.cases)
    shells = shells_of(robot)
    prints = print_jobs(making.parts, shells)
    made = making.parts.made
    bosses, printed = boss_lines(making.parts), print_lines(prints)
    feet = any(line.key.startswith("part.") for line in printed)
    lines = [*mechanical_bill(pieces, electrical=wiring is not None, made=made, feet=feet)]
    lines += [*bosses, *printed]
    notes += [f"No plates or brackets: {words}" for words in making.parts.missing]
    notes += [f"{job.name}: {job.missing}" for job in prints if job.missing]
    lines += _screws(fastenings)
    if wiring is not None:
        lines += [_electrical(row) for row in bill_of(wiring.circuit, robot)]
    order = list(Source)
    lines.sort(key=lambda line: order.index(line.source))
    notes += [f"{one.where}: {one.missing}" for one in fastenings if one.missing]
    pack = Pack(
        study=found,
        pieces=pieces,
        assembly=assembly,
        benches=benches(pieces, assembly),
        fastenings=fastenings,
        bill=tuple(
            Priced(number=number, line=line, each=robot.sheet.cost.each.get(line.key))
            for number, line in enumerate(lines, start=1)
        ),
        wiring=wiring,
        making=making,
        shells=shells,
        prints=prints,
        notes=(),
    )
    return replace(pack, notes=(*notes, *_masses(pack), *_prices(pack)))


def _overlaps(assembly: Assembly) -> list[str]:
    """Pieces described as being in each other, alike pairs told once."""
    if not assembly.overlaps:
        return []
    one, other, depth = max(assembly.overlaps, key=lambda pair: pair[2])
    return [
        f"{len(assembly.overlaps)} pairs of pieces are in each other as described, the deepest "
        f"{one} and {other} by {depth * 1e3:.1f} mm: cut-outs are taken for granted there, and "
        f"neither is said to be in the other's way."
    ]


def _masses(pack: Pack) -> list[str]:
    listed, unknown = total_mass(priced.line for priced in pack.bill)
    robot = pack.robot
    words = f"The bill weighs {listed:.3f} kg, the description {robot.mass:.3f} kg"
    return [f"{words}; {unknown} lines state no mass." if unknown else words + "."]


def _prices(pack: Pack) -> list[str]:
    _, unknown = pack.cost
    if len(pack.bill) == unknown:
        return ["No prices are stated ([cost.each]); the cost columns are left for you to fill in."]
    more = f"; {unknown} lines state none" if unknown else ""
    invented = " Prices are invented." if pack.robot.sheet.cost.invented else ""
    return [f"Prices are those of the sheet{more}.{invented}"]


def _screws(fastenings: Sequence[Fastening]) -> list[Line]:
    """Screws, nuts and washers, alike ones together."""
    screws: dict[tuple[str, float], list[Fastening]] = {}
    nuts: dict[str, list[Fastening]] = {}
    for one in fastenings:
        if one.choice is None or one.choice.length is None:
            continue
        screws.setdefault((one.choice.thread.name, one.choice.length), []).append(one)
        if one.into is Into.NUT:
            nuts.setdefault(one.choice.thread.name, []).append(one)
    lines = []
    for (name, length), group in sorted(screws.items()):
        thread = _thread(group)
        count = sum(one.count for one in group)
        label = f"{name} × {length * 1e3:g}"
        lines.append(
            _fastener("cap screw", f"ISO 4762 {label}", count, screw_mass(thread, length),
                      f"screw.{label.replace(' ', '')}", group)
        )  # fmt: skip
    for name, group in sorted(nuts.items()):
        thread, count = _thread(group), sum(one.count for one in group)
        lines += [
            _fastener("nut", f"ISO 4032 {name}", count, nut_mass(thread), f"nut.{name}", group),
            _fastener("washer", f"ISO 7089 {name}", count, washer_mass(thread),
                      f"washer.{name}", group),
        ]  # fmt: skip
    return lines


def _thread(group: Sequence[Fastening]) -> Any:
    choice = group[0].choice
    return None if choice is None else choice.thread


def _fastener(
    part: str, detail: str, count: int, each: float, key: str, group: Sequence[Fastening]
) -> Line:
    return Line(
        source=Source.SCREW, part=part, detail=detail, quantity=count, mass=each * count, key=key,
        where=tuple(one.where for one in group),
    )  # fmt: skip


def _electrical(row: BillRow) -> Line:
    return Line(
        source=Source.ELECTRICAL, part=row.part, detail=row.detail, quantity=row.quantity,
        unit=row.unit, mass=row.mass, key=row.place, where=row.designations,
    )  # fmt: skip


def pack_as_json(pack: Pack) -> dict[str, Any]:
    """The pack as JSON-ready data, SI units; the shape is described in docs/json.md."""
    cost, unpriced = pack.cost
    return {
        "robot": pack.robot.name,
        "verdict": "fail" if pack.failed else "pass",
        "mass": pack.robot.mass,
        "listed_mass": pack.listed_mass,
        "cost": cost,
        "currency": pack.robot.sheet.cost.currency,
        "unpriced": unpriced,
        "bill": [
            {
                "number": priced.number,
                **asdict(priced.line),
                "source": priced.line.source.value,
                "cost_each": priced.each,
                "cost": priced.cost,
            }
            for priced in pack.bill
        ],
        "fastenings": [_fastening(one) for one in pack.fastenings],
        "prints": [asdict(job) for job in pack.prints],
        "assembly": [
            {
                "number": task.number,
                "bench": bench.name,
                "times": len(bench.units),
                "words": task.words,
                "brings": [piece.name for piece in task.comes],
                "way": None if task.way is None else [float(v) for v in task.way],
                "blocked": task.troubled,
            }
            for bench in pack.benches
            for task in bench.tasks
        ],
        "findings": [finding_as_json(finding) for finding in pack.study.findings],
        "notes": list(pack.notes),
    }


def _fastening(one: Fastening) -> dict[str, Any]:
    choice = one.choice
    return {
        "where": one.where,
        "count": one.count,
        "thread": None if choice is None else choice.thread.name,
        "length": None if choice is None else choice.length,
        "into": one.into.value,
        "grip": one.grip,
        "engaged": None if choice is None else choice.engaged,
        "why": one.missing if choice is None else choice.why,
    }
