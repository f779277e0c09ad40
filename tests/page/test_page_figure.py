"""The figure as an engineer draws it: parts that pass through each other show where they do."""

from __future__ import annotations

from itertools import combinations, product
from typing import Any

import numpy as np
import pytest
from browsing import Sheet

SCENE = """(({figure, store}) => ({
  solids: store.shape.now.solids.filter(s => s.kind === 'box'),
  poses: Object.fromEntries([...figure.placed.tree.links].map(([k, v]) => [k, [...v.rows]])),
  trunk: store.shape.now.body,
  eye: figure.sight.axes().back.list(),
}))(legwright)"""
COPY = """(() => {
  const shown = document.querySelector('.ink3d'), copy = document.createElement('canvas');
  [copy.width, copy.height] = [shown.width, shown.height];
  window.copy = copy.getContext('2d', {willReadFrequently: true});
  window.copy.drawImage(shown, 0, 0);
})()"""
INK = """(([x, y]) => {
  const {data} = window.copy.getImageData(Math.round(x) - 1, Math.round(y) - 1, 3, 3);
  let most = 0;
  for (let i = 3; i < data.length; i += 4) most = Math.max(most, data[i]);
  return most / 255;
})"""
"""Ink within a pixel and a half of a place; the canvas is clear where nothing is drawn."""


class Box:
    """A box where it stands: corners, edges, planes."""

    def __init__(self, solid: Any, pose: Any) -> None:
        place = np.vstack([np.reshape(pose, (3, 4)), [0, 0, 0, 1]])
        place = place @ np.reshape(solid["placement"], (4, 4))
        half = np.array(solid["size"]) / 2
        signs = np.array(list(product((-1, 1), repeat=3)))
        self.corners = (place @ np.c_[signs * half, np.ones(8)].T).T[:, :3]
        self.edges = [
            (self.corners[i], self.corners[k])
            for i, k in combinations(range(8), 2)
            if np.abs(signs[i] - signs[k]).sum() == 2
        ]
        self.planes = [
            (sign * place[:3, axis], place[:3, 3] + sign * half[axis] * place[:3, axis])
            for axis in range(3)
            for sign in (-1, 1)
        ]

    def holds(self, point: np.ndarray) -> bool:
        return all((point - on) @ normal < 1e-9 for normal, on in self.planes)

    def on(self, point: np.ndarray) -> set[int]:
        return {
            n for n, (normal, on) in enumerate(self.planes) if abs((point - on) @ normal) < 1e-9
        }

    def front(self, eye: np.ndarray) -> set[int]:
        return {n for n, (normal, _) in enumerate(self.planes) if normal @ eye > 0.05}

    def pierced(self, other: Box) -> list[np.ndarray]:
        """Where edges of another box go in."""
        found = []
        for a, b in other.edges:
            for normal, on in self.planes:
                down, along = (on - a) @ normal, (b - a) @ normal
                if abs(along) < 1e-9 or not 0 < down / along < 1:
                    continue
                at = a + (b - a) * down / along
                if self.holds(at):
                    found.append(at)
        return found


@pytest.mark.parametrize("aspect", ["isometric", "plan"])
def test_where_parts_pass_through_each_other_a_line_is_drawn(sheet: Sheet, aspect: str) -> None:
    """Referee: both boxes cut in three dimensions, here."""
    sheet.get("(legwright.cursor.set(0.3), Object.assign(legwright.figure.layers, {gaps: false}))")
    sheet.get(f"legwright.figure.look('{aspect}')")
    sheet.settled()
    sheet.get(COPY)
    scene = sheet.get(SCENE)
    eye = np.array(scene["eye"])
    boxes = [(each["link"], Box(each, scene["poses"][each["link"]])) for each in scene["solids"]]

    def place(point: np.ndarray) -> tuple[float, float]:
        x, y, z = point.tolist()
        sight = "legwright.figure.sight"
        of = "legwright.figure.feet()[0].at.constructor"
        px, py = sheet.get(f"(p => [p.x, p.y])({sight}.project(new ({of})({x}, {y}, {z})))")
        return px, py

    def seen(point: np.ndarray) -> bool:
        """Nothing stands before it."""
        x, y = place(point)
        gap = sheet.get(
            f"(t => t && t.point.list().reduce((s, v, i) => s + v * {eye.tolist()}[i], 0))"
            f"(legwright.figure.touched({x}, {y}))"
        )
        return gap is None or gap < point @ eye + 1e-3

    def ink(point: np.ndarray) -> float:
        return float(sheet.page.evaluate(INK, place(point)))

    def crossing(a: Box, b: Box, p: np.ndarray, q: np.ndarray) -> bool:
        """Whether both points lie on the line in which a front of each cuts the other's."""
        shared = product(a.on(p) & a.on(q) & a.front(eye), b.on(p) & b.on(q) & b.front(eye))
        return any(abs(a.planes[n][0] @ b.planes[m][0]) < 0.999 for n, m in shared)

    drawn = 0
    for (one, a), (two, b) in combinations(boxes, 2):
        if one == two:
            continue
        for p, q in combinations([*a.pierced(b), *b.pierced(a)], 2):
            for share in (0.35, 0.65):
                middle = p + share * (q - p)
                if crossing(a, b, p, q) and np.linalg.norm(p - q) > 0.008 and seen(middle):
                    assert ink(middle) > 0.3, (one, two, place(middle))
                    drawn += 1
    assert drawn >= 40  # of some 50; six legs enter the body, and femora their coxae
