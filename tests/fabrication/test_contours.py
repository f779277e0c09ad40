"""Outlines of lines and arcs: closed forms, shapely and an independent kernel as referees."""

from __future__ import annotations

from itertools import pairwise
from math import pi, sin

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from legwright.errors import RequestError
from legwright.fabrication.contour import Contour, Rounded, circle, rectangle


def test_a_circle_has_the_moments_of_a_circle():
    """Referee: closed forms, moved by Steiner's theorem."""
    x, y, r = 0.03, -0.02, 0.007
    found = circle((x, y), 2 * r).moments
    area = pi * r**2
    own = pi * r**4 / 4
    wanted = (area, area * x, area * y, own + area * x * x, own + area * y * y, area * x * y)
    assert tuple(found) == pytest.approx(wanted, rel=1e-13)
    assert circle((x, y), 2 * r).length == pytest.approx(2 * pi * r, rel=1e-13)


@pytest.mark.parametrize("turn", [0.3, 1.5, 3.0, 5.0])
def test_a_segment_has_the_area_of_a_segment(turn):
    """Referee: r²/2 (θ − sin θ)."""
    r = 0.02
    a, b = (-r * sin(turn / 2), 0.0), (r * sin(turn / 2), 0.0)
    bulge = float(np.tan(turn / 4))
    # The chord runs to the right, its arc below: counter-clockwise with the chord back.
    shape = Contour(points=(a, b), bulges=(bulge, 0.0))
    assert shape.moments.area == pytest.approx(r * r / 2 * (turn - sin(turn)), rel=1e-12)


def test_a_rounded_rectangle_has_its_closed_form():
    """Referee: l·w − (4 − π) r²; length 2 (l + w) − (8 − 2π) r."""
    shape = rectangle((0.01, 0.02), 0.08, 0.05, radius=0.006, turned=0.7).contour
    assert shape.moments.area == pytest.approx(0.08 * 0.05 - (4 - pi) * 0.006**2, rel=1e-13)
    assert shape.length == pytest.approx(2 * 0.13 - (8 - 2 * pi) * 0.006, rel=1e-13)
    assert shape.moments.centroid == pytest.approx((0.01, 0.02), abs=1e-15)


@pytest.fixture(scope="module")
def shapes():
    rng = np.random.default_rng(8)
    found = []
    for _ in range(12):
        count = int(rng.integers(3, 11))
        angles = np.sort(rng.uniform(0, 2 * pi, count))
        if np.diff(np.append(angles, angles[0] + 2 * pi)).max() > 2.8:
            continue
        far = rng.uniform(0.03, 0.09, count)
        corners = tuple(zip((far * np.cos(angles)).tolist(), (far * np.sin(angles)).tolist(),
                            strict=True))  # fmt: skip
        found.append(Rounded(corners=corners, radii=(0.004,) * count))
    assert len(found) > 5
    return found


def test_moments_are_those_of_fine_polygons(shapes):
    """Referee: shapely, corners every 20 nm of sagitta."""
    for shape in shapes:
        fine = Polygon(shape.contour.polygon(2e-8))
        assert fine.is_valid
        assert shape.contour.moments.area == pytest.approx(fine.area, rel=1e-6)
        middle = fine.centroid
        assert shape.contour.moments.centroid == pytest.approx((middle.x, middle.y), abs=1e-8)


def test_arcs_are_tangent_to_their_sides(shapes):
    for shape in shapes:
        for a, b, arc in shape.contour.pieces:
            if arc is not None:
                for point in (a, b):
                    far = np.hypot(point[0] - arc.centre[0], point[1] - arc.centre[1])
                    assert far == pytest.approx(arc.radius, rel=1e-9)
        outline = shape.contour.polygon(1e-7)
        turns = np.diff(np.unwrap([np.arctan2(b[1] - a[1], b[0] - a[0]) for a, b in
                                   pairwise(outline)]))  # fmt: skip
        sharp = [r for r, h in zip(shape.radii, shape.held, strict=True) if h < 1e-6]
        assert np.abs(turns).max() < 0.6 or sharp


@pytest.mark.parametrize("by", [1e-4, -1e-4])
def test_kerf_moves_every_point_by_the_same_distance(shapes, by):
    """Referee: shapely's distance between both outlines, and its buffer."""
    for shape in shapes:
        if min(shape.held) < 3e-4:
            continue
        inner, outer = shape.contour.polygon(1e-7), shape.grown(by).contour.polygon(1e-7)
        ring = LineString([*inner, inner[0]])
        gaps = [ring.distance(p) for p in map(_point, outer)]
        assert gaps == pytest.approx([abs(by)] * len(gaps), abs=3e-7)
        grown = Polygon(inner).buffer(by, quad_segs=256).area
        assert shape.grown(by).contour.moments.area == pytest.approx(grown, rel=1e-5)


def _point(pair):
    from shapely.geometry import Point

    return Point(pair)


def test_what_the_beam_cannot_follow_is_refused():
    with pytest.raises(RequestError, match=r"radius of 0\.05"):
        rectangle((0, 0), 0.02, 0.02, radius=5e-5).grown(-1e-4)


def test_corners_get_less_where_sides_are_short():
    shape = rectangle((0, 0), 0.01, 0.002, radius=0.005)
    assert shape.held == pytest.approx([0.499 * 0.002] * 4)
    assert Polygon(shape.contour.polygon(1e-7)).is_valid


@pytest.mark.parametrize("turn", [0.0, 0.3, 1.1])
@pytest.mark.parametrize("radius", [0.0, 2e-3])
def test_the_narrowest_side_is_that_of_the_smallest_rectangle(turn, radius):
    """Referee: shapely's rectangle, around an outline with a notch, turned."""
    flat = [(0.0, 0.0), (0.04, 0.0), (0.04, 0.02), (0.025, 0.008), (0.01, 0.025), (0.0, 0.02)]
    c, s = np.cos(turn), np.sin(turn)
    corners = tuple((float(c * x - s * y), float(s * x + c * y)) for x, y in flat)
    contour = Rounded(corners=corners, radii=(radius,) * len(corners)).contour
    around = Polygon(contour.polygon(1e-6)).minimum_rotated_rectangle
    ring = np.asarray(around.exterior.coords)
    sides = np.linalg.norm(np.diff(ring, axis=0), axis=1)
    assert contour.narrowest == pytest.approx(sides.min(), abs=1e-9)
