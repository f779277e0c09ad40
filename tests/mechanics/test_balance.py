"""Support polygon and stability margins against published values and shapely."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import MultiPoint, Point

from legwright.errors import RequestError
from legwright.mechanics.balance import (
    energy_heights,
    force_angle_margin,
    force_angles,
    horizontal,
    longitudinal_margin,
    normalised_energy_margin,
    static_margin,
    support_polygon,
)

HEADINGS = {"+x": (1.0, 0.0, 0.0)}
SQUARE = np.array([[0.2, 0.15, 0], [-0.2, 0.15, 0], [-0.2, -0.15, 0], [0.2, -0.15, 0]])


def level(points, height=0.0):
    flat = np.asarray(points, dtype=float)
    return np.concatenate([flat, np.full((*flat.shape[:-1], 1), height)], axis=-1)


@pytest.mark.parametrize("case", ["SSM_1", "SSM_2", "SSM_3", "SSM_4", "SSM_5"])
def test_static_margin_as_published(reference, case):
    """Source: McGhee & Frank, Math. Biosciences 3:331-351, 1968 (values recomputed)."""
    known = reference("1_static_walking")[case]
    feet = level(known["inputs"]["polygon_ccw_m"])
    found = static_margin(feet, level(known["inputs"]["com_xy_m"], 0.17))
    assert found == pytest.approx(known["expected"]["static_stability_margin_m"], rel=1e-8)


@pytest.mark.parametrize("case", ["LSM_line_1", "LSM_line_3"])
def test_longitudinal_margin_as_published(reference, case):
    """Source: McGhee & Frank, Math. Biosciences 3:331-351, 1968 (values recomputed)."""
    known = reference("1_static_walking")[case]
    feet, com = level(known["inputs"]["polygon_ccw_m"]), level(known["inputs"]["com_xy_m"])
    found = longitudinal_margin(feet, com, HEADINGS[known["inputs"]["heading"]])
    assert found == pytest.approx(known["expected"]["longitudinal_stability_margin_m"], rel=1e-9)


CYCLES = [
    "cycle_n3_b3/4_backfront",
    "cycle_n3_b5/6_backfront",
    "cycle_n3_b5/6_frontback",
    "cycle_n3_b3/4_frontback",
    "cycle_n2_b3/4_frontback",
    "cycle_n2_b5/6_backfront",
]


@pytest.mark.parametrize("case", CYCLES)
def test_least_margins_of_a_wave_gait(reference, case):
    """Source: McGhee & Frank 1968; Song & Waldron, IJRR 6(2):60-71, 1987 (brute force)."""
    known = reference("1_static_walking")[case]
    given_ = known["inputs"]
    n, beta = given_["legs"] // 2, float(Fraction(given_["beta"]))
    R, P, track = given_["R_m"], given_["P_m"], given_["track_width_m"]
    order = np.arange(n) if "back-to-front" in given_["wave"] else np.arange(n)[::-1]
    phase = np.concatenate([order * beta % 1.0, (order * beta + 0.5) % 1.0])
    hips = np.concatenate([((n - 1) / 2 - np.arange(n)) * P] * 2)
    side = np.repeat([track / 2, -track / 2], n)
    events = np.concatenate([phase, (beta + phase) % 1.0])
    times = np.concatenate([events - 1e-10, events + 1e-10])[:, None]
    along = (times - phase) % 1.0  # McGhee: the phase is a lag
    contact = along < beta
    feet = np.stack(
        [hips + R / 2 - R * along / beta, np.broadcast_to(side, along.shape), 0 * along], axis=-1
    )
    margin = static_margin(feet, np.zeros((len(times), 3)), contact=contact)
    assert margin.min() == pytest.approx(known["expected"]["min_SSM_m"], rel=1e-6, abs=1e-9)
    ahead = [
        longitudinal_margin(p, np.zeros(3), contact=c) for p, c in zip(feet, contact, strict=True)
    ]
    assert min(ahead) == pytest.approx(known["expected"]["min_LSM_m"], rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("case", ["ESM_1", "ESM_2", "ESM_3", "ESM_4"])
def test_energy_margin_as_published(reference, case):
    """Source: Messuri & Klein 1985; Hirose, Tsukagoshi & Yoneda, ICRA 2001 (recomputed)."""
    known = reference("1_static_walking")[case]
    feet, com = np.array(known["inputs"]["feet_m"]), known["inputs"]["com_m"]
    least = normalised_energy_margin(feet, com)
    assert least == pytest.approx(known["expected"]["NESM_m"], rel=1e-7)
    weight = known["inputs"]["mass_kg"] * known["inputs"]["g"]
    assert weight * least == pytest.approx(known["expected"]["ESM_J"], rel=1e-7)
    ours = np.sort(energy_heights(feet, com))
    np.testing.assert_allclose(ours, np.sort(known["expected"]["h_per_edge_m"]), rtol=1e-7)


@pytest.mark.parametrize("case", ["FASM_1", "FASM_2"])
def test_force_angle_as_published(reference, case):
    """Source: Papadopoulos & Rey, ICRA 1996 [form from memory]; Veh. Syst. Dyn. 2000."""
    known = reference("1_static_walking")[case]
    feet = np.array(known["inputs"]["feet_clockwise_m"])
    about = feet, known["inputs"]["com_m"], known["inputs"]["force_N"]
    expected = known["expected"]
    assert force_angle_margin(*about) == pytest.approx(expected["beta_min_theta_d_f"], rel=1e-8)
    short = force_angle_margin(*about, levers=False)
    assert short == pytest.approx(expected["alpha_min_theta_f"], rel=1e-8)
    found = np.sort(np.stack(force_angles(*about)), axis=1)
    listed = np.sort([expected["theta_rad"], expected["d_m"], expected["f_norm_N"]], axis=1)
    np.testing.assert_allclose(found, listed, rtol=1e-8)


def test_a_pure_moment_tips_like_a_shifted_weight():
    """Referee: statics. A moment M about +y acts like the weight moved ahead by M/W."""
    com, weight, ahead = np.array([0.0, 0.0, 1e-6]), 40.0, 0.05
    moved = force_angles(SQUARE, np.add(com, (ahead, 0, 0)), (0, 0, -weight))
    turned = force_angles(SQUARE, com, (0, 0, -weight), (0, weight * ahead, 0))
    front = int(np.argmin(moved[1]))
    assert turned[0][front] > 0.0
    tipped = force_angles(SQUARE, com, (0, 0, -weight), (0, weight * 0.21, 0))
    assert tipped[0].min() < 0.0
    assert force_angles(SQUARE, com, (0, 0, -weight), (0, weight * 0.19, 0))[0].min() > 0.0


def test_a_robot_past_its_edge_has_negative_margins():
    com = np.array([0.25, 0.0, 0.2])
    assert static_margin(SQUARE, com) == pytest.approx(-0.05)
    assert longitudinal_margin(SQUARE, com) == pytest.approx(-0.05)
    assert normalised_energy_margin(SQUARE, com) == pytest.approx(-(np.hypot(0.05, 0.2) - 0.2))
    assert force_angle_margin(SQUARE, com, (0, 0, -9.0)) < 0.0


@pytest.mark.parametrize(
    ("feet", "margin"),
    [
        ([[0.3, 0.0, 0], [0.3, 0.0, 0]], -0.3),
        ([[0.3, 0.4, 0]], -0.5),
        ([[0.3, 0.1, 0], [0.3, -0.1, 0]], -0.3),
        ([[-0.3, 0.1, 0], [0.3, 0.1, 0], [0.0, 0.1, 0]], -0.1),
        ([[-0.3, 0.0, 0], [0.3, 0.0, 0]], 0.0),
        ([[0.1, 0.2, 0], [0.2, 0.3, 0], [0.3, 0.4, 0]], -np.hypot(0.1, 0.2)),
    ],
)
def test_supports_without_area_have_no_inside(feet, margin):
    assert static_margin(np.array(feet), np.zeros(3)) == pytest.approx(margin, abs=1e-15)
    with pytest.raises(RequestError, match="three stance feet"):
        force_angles(np.array(feet), np.array([0, 0, 0.1]), (0, 0, -1))


@pytest.mark.parametrize(
    ("feet", "away"),
    [
        ([[-0.3, 0.1, 0], [0.3, 0.1, 0]], 0.1),
        ([[-0.3, 0.0, 0], [0.3, 0.0, 0]], 0.0),
        ([[0.3, 0.4, 0]], 0.5),
    ],
)
def test_supports_without_area_hold_no_energy(feet, away):
    """Referee: geometry; the centre of mass falls from above the line or point."""
    energy = normalised_energy_margin(np.array(feet), np.array([0, 0, 0.1]))
    assert energy == pytest.approx(-(np.hypot(away, 0.1) - 0.1), abs=1e-12)


def test_no_feet_no_support():
    none = np.zeros(4, dtype=bool)
    assert static_margin(SQUARE, np.zeros(3), contact=none) == -np.inf
    assert longitudinal_margin(SQUARE, np.zeros(3), contact=none) == -np.inf
    assert normalised_energy_margin(SQUARE, np.zeros(3), contact=none) == -np.inf
    assert len(support_polygon(SQUARE, contact=none)) == 0


def test_gravity_of_zero_is_refused():
    with pytest.raises(RequestError, match="gravity"):
        horizontal((0.0, 0.0, 0.0))


coordinate = st.floats(-0.5, 0.5).map(lambda v: round(v, 4))
points = st.lists(st.tuples(coordinate, coordinate), min_size=1, max_size=9)


@given(points, st.tuples(coordinate, coordinate))
@settings(max_examples=300, deadline=None)
def test_static_margin_agrees_with_shapely(corners, com):
    """Referee: shapely's convex hull and distances."""
    shape = MultiPoint(corners).convex_hull
    distance = shape.boundary.distance(Point(com)) if shape.area > 1e-7 else None
    assume(distance is not None or shape.area == 0.0)
    if distance is None:
        expected = -shape.distance(Point(com))
    else:
        expected = distance if shape.contains(Point(com)) else -distance
    assert static_margin(level(corners), level(com)) == pytest.approx(expected, abs=1e-9)
    if distance is not None:
        ring = support_polygon(level(corners))
        x, y = np.array(corners)[ring].T
        area = 0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1))
        assert area == pytest.approx(shape.area, rel=1e-6)  # positive: counter-clockwise


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_margins_belong_to_no_frame(seed):
    """Referee: a rigid motion of everything, gravity included, changes no margin."""
    rng = np.random.default_rng(seed)
    feet, com = rng.uniform(-0.3, 0.3, (5, 3)), rng.uniform(-0.1, 0.1, 3)
    com[2] += 0.5
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn = turn * np.linalg.det(turn)
    shift = rng.normal(size=3)
    moved = feet @ turn.T + shift, com @ turn.T + shift
    down = turn @ [0, 0, -9.81]
    assert static_margin(*moved, gravity=down) == pytest.approx(static_margin(feet, com), abs=1e-9)
    ahead = turn @ [1.0, 0, 0]
    found = longitudinal_margin(*moved, ahead, gravity=down)
    assert found == pytest.approx(longitudinal_margin(feet, com), abs=1e-9)
    np.testing.assert_allclose(
        np.sort(energy_heights(*moved, gravity=down)), np.sort(energy_heights(feet, com)), atol=1e-9
    )
    push = np.array([1.0, 2.0, -30.0])
    found = force_angle_margin(*moved, turn @ push, gravity=down)
    assert found == pytest.approx(force_angle_margin(feet, com, push), rel=1e-9)


def test_energy_heights_are_those_of_a_turn_about_the_edge():
    """Referee: the robot turned about each edge in small steps (brute force)."""
    rng = np.random.default_rng(5)
    feet = SQUARE + rng.uniform(-0.03, 0.03, SQUARE.shape)
    com = np.array([0.03, -0.02, 0.22])
    ring = support_polygon(feet)
    for edge, height in enumerate(energy_heights(feet, com)):
        a, b = feet[ring[edge]], feet[ring[(edge + 1) % len(ring)]]
        e = (b - a) / np.linalg.norm(b - a)
        arm = com - a
        angles = np.linspace(-np.pi, np.pi, 200_001)[:, None]
        turned = (
            np.cos(angles) * arm + np.sin(angles) * np.cross(e, arm)
            + (1 - np.cos(angles)) * (e @ arm) * e
        )  # fmt: skip
        assert (turned[:, 2] - arm[2]).max() == pytest.approx(height, abs=1e-8)
