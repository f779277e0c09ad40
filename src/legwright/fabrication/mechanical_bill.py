"""The bill of what is made or bought beside the electrical parts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import Enum

from legwright.fabrication.parts import MadePart
from legwright.fabrication.pieces import Piece, Pieces, Sort


class Source(Enum):
    """Where a part comes from; the order of the bill."""

    MADE = "made"
    PRINTED = "printed"
    BOUGHT = "bought"
    SCREW = "fastener"
    ELECTRICAL = "electrical"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One kind of part."""

    source: Source
    part: str
    detail: str
    quantity: float
    unit: str = "pcs"
    mass: float | None = None
    """Of the whole quantity [kg]; None where nothing is known of it."""
    key: str = ""
    """What a price is stated under: ``servo.dunnock``."""
    where: tuple[str, ...] = field(default=())
    """Names of the places it goes to."""


LISTED_ELSEWHERE = (Sort.SERVO, Sort.BATTERY, Sort.HUB, Sort.LOAD)
"""Sorts that the electrical bill holds where there is one."""


def mechanical_bill(
    pieces: Pieces, *, electrical: bool, made: Sequence[MadePart] = (), feet: bool = False
) -> tuple[Line, ...]:
    """Plates, cheeks, tubes, feet and the like, alike ones together.

    Args:
        pieces: All pieces.
        electrical: Whether there is an electrical bill, which holds servos, battery and boards.
        made: Plates and folded parts that were laid out; they stand for the plates and for what
            turns with the coxae.
        feet: Whether the feet's parts are listed elsewhere.

    Returns:
        Lines.
    """
    kinds = {part.kind for part in made}
    kept = [
        piece
        for piece in pieces.pieces
        if not (electrical and piece.sort in LISTED_ELSEWHERE)
        and piece.sort is not Sort.BRACKET
        and not (feet and piece.sort is Sort.FOOT)
        and not ("plate" in kinds and piece.sort is Sort.PLATE)
        and not ("folded" in kinds and piece.sort is Sort.CHEEK and "coxa" in piece.name)
    ]
    groups: dict[tuple[object, ...], list[Piece]] = {}
    for piece in kept:
        groups.setdefault(_likeness(piece), []).append(piece)
    return (*(_made(part) for part in made), *(_line(members) for members in groups.values()))


def total_mass(lines: Iterable[Line]) -> tuple[float, int]:
    """Mass of all lines that state one [kg], and how many do not."""
    masses = [line.mass for line in lines]
    known = [mass for mass in masses if mass is not None]
    return sum(known), len(masses) - len(known)


def _made(part: MadePart) -> Line:
    length, width = (f"{1e3 * edge:.4g}" for edge in part.blank)
    bends = {0: "", 1: ", 1 bend"}.get(part.bends, f", {part.bends} bends")
    return Line(
        source=Source.MADE,
        part=part.name,
        detail=f"{part.material or 'material not stated'}, {1e3 * part.thickness:.3g} mm, blank "
        f"{length} × {width} mm, {part.openings} openings{bends}",
        quantity=part.count,
        mass=part.mass * part.count,
        key=f"part.{part.name}",
        where=(part.name,),
    )


def _likeness(piece: Piece) -> tuple[object, ...]:
    sizes = tuple(tuple(round(2e3 * edge, 2) for edge in block.half) for block in piece.blocks)
    mass = None if piece.mass is None else round(1e6 * piece.mass)
    return (piece.sort, sizes, mass, piece.place if piece.sort is Sort.SERVO else "")


def _line(members: Sequence[Piece]) -> Line:
    first = members[0]
    mass = None if first.mass is None else first.mass * len(members)
    bought = first.sort in (*LISTED_ELSEWHERE, Sort.CAMERA)
    return Line(
        source=Source.BOUGHT if bought else Source.MADE,
        part=first.sort.value if len(members) > 1 else first.name,
        detail=_size(first),
        quantity=len(members),
        mass=mass,
        key=first.place if first.sort is not Sort.LINK else f"link.{first.name}",
        where=tuple(piece.name for piece in members),
    )


def _size(piece: Piece) -> str:
    if not piece.blocks:
        return "size not stated"
    edges = sorted((2e3 * float(edge) for edge in piece.blocks[0].half), reverse=True)
    words = " × ".join(f"{edge:.4g}" for edge in edges)
    more = "" if len(piece.blocks) == 1 else f", {len(piece.blocks)} boxes, the first"
    return f"{words} mm over all{more}"
