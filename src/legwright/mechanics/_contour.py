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

_STARTS, _ENDS = (
    np.array([[pair[end] for pair in (*pairs, (-1, -1), (-1, -1))[:2]] for pairs in SIDES])
    for end in range(2)
)
"""(16, 2): sides that the outline leaves and enters by; -1 for none."""
_BESIDE = np.array([(0, 0, 0), (1, 0, 1), (0, 1, 0), (0, 0, 1)])
"""Of each side of a cell: its lower or left node, from the cell's own, and its axis."""


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
    loops = _loops(_following(full))
    if not loops:
        return np.empty((0, 2))
    corners = _refined(inside, grid, full, np.concatenate(loops))
    ends = np.cumsum([len(loop) for loop in loops])
    return max(np.split(corners, ends[:-1]), key=_area).copy()


def _following(full: NDArray[np.bool_]) -> dict[int, int]:
    """Grid edge that the outline crosses -> the one that it crosses next.

    An edge is a number: that of its lower or left node, twice, and its axis.
    """
    wide = full.shape[1]
    code = full[:-1, :-1] + 2 * full[1:, :-1] + 4 * full[1:, 1:] + 8 * full[:-1, 1:]
    i, j = np.nonzero((code > 0) & (code < 15))
    sides = code[i, j]
    there = _STARTS[sides] >= 0

    def edges(ends: NDArray[np.int64]) -> list[int]:
        di, dj, axis = np.moveaxis(_BESIDE[ends[sides]], -1, 0)
        numbers = ((i[:, None] + di) * wide + j[:, None] + dj) * 2 + axis
        return numbers[there].tolist()  # type: ignore[no-any-return]

    return dict(zip(edges(_STARTS), edges(_ENDS), strict=True))


def _loops(following: dict[int, int]) -> list[NDArray[np.int64]]:
    loops = []
    while following:
        first, edge = following.popitem()
        loop = [first]
        while edge != first:
            loop.append(edge)
            edge = following.pop(edge)
        loops.append(np.array(loop))
    return loops


def _refined(
    inside: Inside, grid: Floats, full: NDArray[np.bool_], edges: NDArray[np.int64]
) -> Floats:
    """Where outlines cross grid edges, by bisection."""
    (i, j), axis = np.divmod(edges // 2, full.shape[1]), edges % 2
    rows = np.arange(len(edges))
    corners: Floats = grid[i, j]
    one, two = corners[rows, axis], grid[i + (axis == 0), j + (axis == 1)][rows, axis]
    swap = ~full[i, j]
    yes, no = np.where(swap, two, one), np.where(swap, one, two)
    for _ in range(HALVINGS):
        middle = (yes + no) / 2.0
        corners[rows, axis] = middle
        hit = inside(corners)
        yes, no = np.where(hit, middle, yes), np.where(hit, no, middle)
    corners[rows, axis] = yes
    return corners


def _area(corners: Floats) -> float:
    x, y = corners.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2.0
