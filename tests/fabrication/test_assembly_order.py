"""Order of assembly; referees: Coal for what is in the way, a replay of the steps for the rest."""

from __future__ import annotations

from pathlib import Path

import coal
import numpy as np
import pytest

import legwright as lw
from legwright.fabrication.assembly_order import assembly_order
from legwright.fabrication.block import Block, Blocks, block, blocks_way, overlap
from legwright.fabrication.pieces import TRUNK, Piece, Pieces, Sort, pieces_of
from legwright.robot.tree import read_only

ROBOTS = Path(__file__).parents[2] / "robots"


def any_block(rng: np.random.Generator) -> Block:
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn[2] *= np.linalg.det(turn)
    return Block(
        centre=read_only(rng.uniform(-0.1, 0.1, 3)),
        axes=read_only(turn),
        half=read_only(rng.uniform(0.005, 0.05, 3)),
    )


def parted(one: Block, other: Block, shift: np.ndarray) -> float:
    """Distance of two boxes after Coal; negative where they overlap [m]."""

    def solid(of: Block, by: np.ndarray) -> tuple[coal.Box, coal.Transform3s]:
        box = coal.Box(*(2.0 * of.half))
        return box, coal.Transform3s(np.array(of.axes.T), np.array(of.centre + by))

    (a, at), (b, there) = solid(one, shift), solid(other, np.zeros(3))
    return float(coal.distance(a, at, b, there, coal.DistanceRequest(), coal.DistanceResult()))


def test_depth_agrees_with_coal() -> None:
    """Two boxes overlap in our arithmetic exactly where they do for Coal."""
    rng = np.random.default_rng(3)
    for _ in range(300):
        one, other = any_block(rng), any_block(rng)
        depth = overlap(Blocks.of([one]), Blocks.of([other]))[0, 0]
        apart = parted(one, other, np.zeros(3))
        if abs(apart) > 1e-6:
            assert (depth > 0.0) == (apart < 0.0)


def test_what_is_in_the_way_agrees_with_coal() -> None:
    """Sliding in small steps through Coal meets the same boxes as the closed form."""
    rng = np.random.default_rng(4)
    met = 0
    for _ in range(300):
        one, other = any_block(rng), any_block(rng)
        way = rng.normal(size=3)
        way /= np.linalg.norm(way)
        nearest = min(parted(one, other, way * far) for far in np.linspace(0.0, 0.6, 241))
        ours = blocks_way(Blocks.of([one]), Blocks.of([other]), [way], touch=0.0)[0, 0, 0]
        if nearest < -1e-4 or nearest > 2e-3:
            assert ours == (nearest < 0.0)
            met += int(ours)
    assert 30 < met < 270


def box_piece(name: str, size: tuple, at: tuple, *on: str, sort: Sort = Sort.LINK) -> Piece:
    return Piece(name=name, sort=sort, unit=TRUNK, blocks=(block(size, at),), on=on)


def test_what_closes_the_way_comes_later() -> None:
    """A board in a tray with a lid: the lid comes after the board."""
    sides = ((1, 0), (-1, 0), (0, 1), (0, -1))
    walls = [
        box_piece(
            f"wall {n}",
            (0.004, 0.1, 0.04) if x else (0.1, 0.004, 0.04),
            (x * 0.048, y * 0.048, 0.022),
            "floor",
        )
        for n, (x, y) in enumerate(sides)
    ]
    tray = [
        box_piece("floor", (0.1, 0.1, 0.004), (0.0, 0.0, 0.0)),
        *walls,
        box_piece("lid", (0.1, 0.1, 0.004), (0.0, 0.0, 0.044), "floor"),
        box_piece("board", (0.06, 0.06, 0.01), (0.0, 0.0, 0.02), "floor"),
    ]
    order = assembly_order(Pieces(pieces=tuple(tray)))
    names = [step.brings for step in order.steps]
    assert order.ok
    assert names[0] == "floor"
    assert names.index("board") < names.index("lid")
    board = next(step for step in order.steps if step.brings == "board")
    np.testing.assert_allclose(board.way, [0.0, 0.0, -1.0])
    assert "lid" in board.before


def test_a_piece_without_a_way_in_is_told() -> None:
    """A ball in a closed box that is one piece cannot be put in."""
    walls = [
        block(np.where(np.arange(3) == axis, 0.004, 0.104), np.eye(3)[axis] * side * 0.05)
        for axis in range(3)
        for side in (-1.0, 1.0)
    ]
    box = Piece(name="box", sort=Sort.LINK, unit=TRUNK, blocks=tuple(walls))
    inner = box_piece("inner", (0.02, 0.02, 0.02), (0.0, 0.0, 0.0), "box")
    order = assembly_order(Pieces(pieces=(box, inner)))
    assert not order.ok
    assert order.steps[-1].blocked == ("box",)
    assert order.steps[-1].way is None


@pytest.mark.parametrize("name", ["rook", "wren", "heron"])
def test_the_order_can_be_walked_through(name: str) -> None:
    """Every piece comes in once, after all that it is fixed to, past nothing that is there."""
    pieces = pieces_of(lw.load(ROBOTS / name))
    order = assembly_order(pieces)
    assert order.ok
    solids = {piece.name: piece for piece in pieces.pieces}
    units = {piece.unit for piece in pieces.pieces} - {TRUNK}
    brought = [step.brings for step in order.steps if step.brings not in units]
    assert sorted(brought) == sorted(solids)
    inside = {frozenset(pair[:2]) for pair in order.overlaps}
    here: dict[str, list[Piece]] = {}
    for step in order.steps:
        unit = step.brings in units
        comes = [p for p in pieces.pieces if p.unit == step.brings] if unit else []
        comes = comes or [solids[step.brings]]
        there = here.setdefault(step.bench, [])
        names = {piece.name for piece in there}
        assert set(step.on) <= names
        if step.way is not None:
            for one in comes:
                for other in there:
                    if {one.name, other.name} not in inside:
                        pair = Blocks.of(one.blocks), Blocks.of(other.blocks)
                        met = blocks_way(*pair, [-step.way], touch=5e-4)
                        assert not met.any(), (one.name, other.name)
        there += comes


def test_cells_go_in_last() -> None:
    """Nothing is live while the robot is put together."""
    order = assembly_order(pieces_of(lw.load(ROBOTS / "rook")))
    assert order.steps[-1].brings == "battery"
