"""Referee: shapely (clipping, buffers) and scipy (convex hull)."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
import shapely
from scipy.spatial import ConvexHull

from legwright.views.hatching import clip_lines, inset
from legwright.views.projection import convex_hull


@pytest.mark.parametrize("seed", range(8))
def test_hatch_length_is_area_over_gap(seed):
    rng = np.random.default_rng(seed)
    ring = convex_hull(rng.uniform(0.0, 100.0, size=(12, 2)))
    gap = 0.2
    total = sum(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in clip_lines([ring], gap))
    assert total * gap == pytest.approx(shapely.Polygon(ring).area, rel=0.01)


def test_hatch_stays_inside_and_out_of_the_hole():
    outer = [(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0)]
    hole = [(10.0, 10.0), (25.0, 8.0), (22.0, 24.0)]
    area = shapely.Polygon(outer, [hole]).buffer(1e-6)
    pieces = clip_lines([outer, hole], 1.5)
    assert pieces
    assert all(area.covers(shapely.LineString(piece)) for piece in pieces)


@pytest.mark.parametrize("seed", range(8))
def test_inset_is_a_mitred_negative_buffer(seed):
    rng = np.random.default_rng(seed)
    ring = convex_hull(rng.uniform(0.0, 100.0, size=(9, 2)))
    expected = shapely.Polygon(ring).buffer(-6.0, join_style="mitre", mitre_limit=1e6)
    got = inset(ring, 6.0)
    area = shapely.Polygon(got).area if len(got) > 2 else 0.0
    assert area == pytest.approx(expected.area, rel=1e-9, abs=1e-9)


def test_inset_of_a_small_polygon_is_nothing():
    assert inset([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)], 1.0) == []


def test_hull_area_agrees_with_qhull():
    points = np.random.default_rng(3).normal(size=(60, 2))
    assert shapely.Polygon(convex_hull(points)).area == pytest.approx(
        ConvexHull(points).volume, rel=1e-6
    )
    assert sqrt(2.0) == pytest.approx(
        shapely.LineString(convex_hull(np.array([[0, 0], [1, 1], [0.5, 0.5]]))).length
    )
