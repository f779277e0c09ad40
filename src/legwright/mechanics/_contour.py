"""The outline of a region that is only known point by point: marching squares, refined."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats

Inside = Callable[[Floats], NDArray[np.bool_]]
HALVINGS = 16
"""Bisections of each grid edge that the outline crosses."""

# For each of the 16 patterns of a cell's corners (bit 0: lower left, then counterclockwise),
# the cell sides that the outline joins, region to the left; sides: 0 bottom, 1 right, 2 top, 3 left
SIDES: tuple[tuple[tuple[int, int], ...], ...] = (
    (), ((0, 3),), ((1, 0),), ((1, 3),), ((2, 1),), ((0, 3), (2, 1)), ((2, 0),), ((2, 3),),
    ((3, 2),), ((0, 2),), ((1, 0), (3, 2)), ((1, 2),), ((3, 1),), ((0, 1),), ((3, 0),), (),
)  # fmt: skip


def contour(inside: Inside, low: Floats, high: Floats, cells: int) -> Floats:
    """Largest closed outline of a planar region.

    Args:
        inside: Tells of points (N, 2) which lie in the region.
        low: Lower left corner of the searched rectangle, (2,).
        high: Upper right corner, (2,).
        cells: Grid cells along each side.

    Returns:
        (N, 2) corners, counterclockwise, the first not repeated; (0, 2) for no region.
    """
    ticks = [np.linspace(low[axis], high[axis], cells + 1) for axis in range(2)]
    grid = np.stack(np.meshgrid(*ticks, indexing="ij"), axis=-1)
    full = inside(grid.reshape(-1, 2)).reshape(cells + 1, cells + 1)
    full[[0, -1]] = False
    full[:, [0, -1]] = False
    code = full[:-1, :-1] + 2 * full[1:, :-1] + 4 * full[1:, 1:] + 8 * full[:-1, 1:]
    following: dict[tuple[int, int, int], tuple[int, int, int]] = {}
    for i, j in np.argwhere((code > 0) & (code < 15)).tolist():
        for start, end in SIDES[int(code[i, j])]:
            following[_edge(i, j, start)] = _edge(i, j, end)
    loops = _loops(following)
    if not loops:
        return np.empty((0, 2))
    outlines = [_refined(inside, grid, full, loop) for loop in loops]
    return max(outlines, key=_area)


def _edge(i: int, j: int, side: int) -> tuple[int, int, int]:
    """A cell's side as a grid edge: its lower or left node, and its axis."""
    return ((i, j, 0), (i + 1, j, 1), (i, j + 1, 0), (i, j, 1))[side]


def _loops(following: dict[tuple[int, int, int], tuple[int, int, int]]) -> list[Floats]:
    loops = []
    while following:
        first, edge = following.popitem()
        loop = [first]
        while edge != first:
            loop.append(edge)
            edge = following.pop(edge)
        loops.append(np.array(loop))
    return loops


def _refined(inside: Inside, grid: Floats, full: NDArray[np.bool_], loop: Floats) -> Floats:
    """Where the outline crosses each grid edge of a loop, by bisection."""
    i, j, axis = loop.T
    one, two = grid[i, j], grid[i + (axis == 0), j + (axis == 1)]
    swap = ~full[i, j][:, None]
    yes, no = np.where(swap, two, one), np.where(swap, one, two)
    for _ in range(HALVINGS):
        middle = (yes + no) / 2.0
        hit = inside(middle)[:, None]
        yes, no = np.where(hit, middle, yes), np.where(hit, no, middle)
    corners: Floats = yes
    return corners


def _area(corners: Floats) -> float:
    x, y = corners.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2.0
