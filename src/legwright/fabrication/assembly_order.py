"""In which order a robot is put together, from what stands in whose way.

A robot is taken apart in thought: whatever carries nothing and has a straight way out goes
next. What came off last goes on first. Legs and mast are put together on the bench and come
to the trunk as one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from legwright.fabrication.block import Blocks, blocks_way, overlap
from legwright.fabrication.pieces import MAST, TRUNK, Piece, Pieces, Sort
from legwright.robot.tree import Floats, read_only

TOUCH = 0.0005
"""Depth by which pieces that only touch may seem to overlap [m]; a sheet's rounding."""
LATE = (Sort.CAMERA, Sort.FOOT, Sort.PLATE)
"""Single pieces that come off first where several could."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Body:
    """What moves as one: a piece, or a unit that was put together before."""

    name: str
    pieces: tuple[Piece, ...]
    on: frozenset[str]
    """Names of the bodies that it is fixed to."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Step:
    """One thing put on."""

    bench: str
    """What is being put together: a unit's name, or ``trunk``."""
    brings: str
    """The piece, or the unit."""
    on: tuple[str, ...]
    """What it is fixed to."""
    way: Floats | None
    """Unit vector along which it comes in, (3,), body axes; None for the first, where no straight
    way was found, and where its place is not known."""
    before: tuple[str, ...]
    """What would close its way, and therefore comes later."""
    blocked: tuple[str, ...] = ()
    """What stands in its way though it must be there already; empty when all is well."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Assembly:
    """All steps, bench by bench."""

    steps: tuple[Step, ...]
    overlaps: tuple[tuple[str, str, float], ...]
    """Pieces that are in each other as described, and how deep [m]: a cut-out, or a mistake."""

    @property
    def ok(self) -> bool:
        """Whether everything has a straight way in."""
        return not any(step.blocked for step in self.steps)


def assembly_order(pieces: Pieces) -> Assembly:
    """The order of assembly.

    Args:
        pieces: All pieces, joints at zero.

    Returns:
        Steps of each leg and the mast on the bench, then of the trunk and what comes to it.
    """
    overlaps = _overlaps(pieces.pieces)
    inside = frozenset(frozenset(pair[:2]) for pair in overlaps)
    steps: list[Step] = []
    units = list(dict.fromkeys(p.unit for p in pieces.pieces if p.unit != TRUNK))
    units.sort(key=lambda unit: unit == MAST)
    groups = {unit: [p for p in pieces.pieces if p.unit == unit] for unit in units}
    for unit, members in groups.items():
        steps += _ordered(unit, [_single(piece, members) for piece in members], inside)
    trunk = [p for p in pieces.pieces if p.unit == TRUNK]
    bodies = [_single(piece, trunk) for piece in trunk]
    bodies += [_unit(unit, members) for unit, members in groups.items()]
    steps += _ordered(TRUNK, bodies, inside)
    return Assembly(steps=tuple(steps), overlaps=overlaps)


def _single(piece: Piece, among: Sequence[Piece]) -> Body:
    names = {other.name for other in among}
    return Body(name=piece.name, pieces=(piece,), on=frozenset(names.intersection(piece.on)))


def _unit(name: str, members: Sequence[Piece]) -> Body:
    inside = {piece.name for piece in members}
    on = {held for piece in members for held in piece.on} - inside
    return Body(name=name, pieces=tuple(members), on=frozenset(on))


def _overlaps(pieces: Sequence[Piece]) -> tuple[tuple[str, str, float], ...]:
    owner = [number for number, piece in enumerate(pieces) for _ in piece.blocks]
    blocks = Blocks.of([block for piece in pieces for block in piece.blocks])
    depth = overlap(blocks, blocks)
    deepest: dict[tuple[int, int], float] = {}
    for n, m in zip(*np.nonzero(depth > TOUCH), strict=True):
        pair = (owner[n], owner[m])
        if pair[0] < pair[1]:
            deepest[pair] = max(deepest.get(pair, 0.0), float(depth[n, m]))
    return tuple((pieces[a].name, pieces[b].name, d) for (a, b), d in sorted(deepest.items()))


Way = tuple[float, float, float]
Ways = Mapping[Way, frozenset[str]]
"""Direction -> names of the bodies in the way, were all of them there."""


def _ordered(bench: str, bodies: Sequence[Body], inside: frozenset[frozenset[str]]) -> list[Step]:
    """Take apart; the reverse is the order."""
    ways = {body.name: _ways(body, bodies, inside) for body in bodies}
    place = {body.name: number for number, body in enumerate(bodies)}
    left = list(bodies)
    removed: list[Step] = []
    while left:
        here = frozenset(body.name for body in left)
        free = [body for body in left if not any(body.name in other.on for other in left)]
        open_ = [body for body in free if _fewest(ways[body.name], here) == 0]
        if open_:
            body = max(open_, key=lambda b: (_rank(b), place[b.name]))
        else:
            body = min(free or left, key=lambda b: _fewest(ways[b.name], here))
        removed.append(_step(bench, body, ways[body.name], here))
        left.remove(body)
    return removed[::-1]


def _ways(body: Body, bodies: Sequence[Body], inside: frozenset[frozenset[str]]) -> Ways:
    directions = _directions(body)
    others = [other for other in bodies if other is not body]
    owner = [(other.name, piece.name) for other in others for piece in other.pieces
             for _ in piece.blocks]  # fmt: skip
    fixed = Blocks.of([b for other in others for piece in other.pieces for b in piece.blocks])
    hits: dict[Way, set[str]] = {way: set() for way in directions}
    for piece in body.pieces:
        if not piece.blocks:
            continue
        met = blocks_way(Blocks.of(piece.blocks), fixed, directions, touch=TOUCH).any(axis=1)
        for way, column in zip(*np.nonzero(met), strict=True):
            name, other = owner[column]
            if frozenset((piece.name, other)) not in inside:
                hits[directions[way]].add(name)
    return {way: frozenset(names) for way, names in hits.items()}


def _directions(body: Body) -> tuple[Way, ...]:
    """Up first, then the other body axes, then the body's own edges."""
    rows = [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)]
    rows.append((0.0, 0.0, -1.0))
    blocks = [block for piece in body.pieces for block in piece.blocks]
    for block in blocks[:1]:
        for edge in block.axes:
            rows += [_tidy(edge), _tidy(-edge)]
    return tuple(dict.fromkeys(rows))


def _tidy(edge: Floats) -> Way:
    x, y, z = (round(float(v), 9) + 0.0 for v in edge)
    return (x, y, z)


def _fewest(ways: Ways, here: frozenset[str]) -> int:
    return min(len(hit & here) for hit in ways.values())


def _rank(body: Body) -> int:
    """Cells come off first, so that nothing is live while it is built; units before pieces."""
    sort = body.pieces[0].sort
    if sort is Sort.BATTERY:
        return len(LATE) + 2
    if len(body.pieces) > 1:
        return len(LATE) + 1
    return len(LATE) - LATE.index(sort) if sort in LATE else 0


def _step(bench: str, body: Body, ways: Ways, here: frozenset[str]) -> Step:
    alone = len(here) == 1
    placed = any(piece.blocks for piece in body.pieces)
    way = min(ways, key=lambda w: len(ways[w] & here)) if placed and not alone else None
    blocked = frozenset() if way is None else ways[way] & here
    later = frozenset() if way is None else ways[way] - here
    return Step(
        bench=bench,
        brings=body.name,
        on=tuple(sorted(body.on)),
        way=None if way is None or blocked else read_only([-v for v in way]),
        before=tuple(sorted(later)),
        blocked=tuple(sorted(blocked)),
    )
