"""Foot forces against published cases, linear programmes and a general optimiser."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog, minimize

from legwright.errors import RequestError
from legwright.mechanics.forces import distribute

UP = (0.0, 0.0, 1.0)
RECTANGLE = np.array([[0.2, 0.15, 0], [0.2, -0.15, 0], [-0.2, 0.15, 0], [-0.2, -0.15, 0]])


def weight_at(com, weight):
    """Wrench about the origin that carries a weight (3,) at ``com``."""
    lift = -np.asarray(weight, dtype=float)
    return np.r_[lift, np.cross(com, lift)]


def grasp(feet):
    """A (6, 3L): wrench about the origin of stacked foot forces."""
    blocks = []
    for x, y, z in feet:
        blocks.append(np.vstack([np.eye(3), [[0, -z, y], [z, 0, -x], [-y, x, 0]]]))
    return np.hstack(blocks)


@pytest.mark.parametrize("case", ["three_feet", "four_feet_minnorm", "six_feet_minnorm"])
def test_least_forces_as_published(reference, case):
    """Source: topic 13, barycentric and pseudo-inverse values (recomputed)."""
    known = reference("13_statics")[case]
    flat = np.array(known["inputs"]["feet_m"])
    feet = np.column_stack([flat, np.zeros(len(flat))])
    com = [*known["inputs"]["com_m"], 0.2]
    wrench = weight_at(com, (0, 0, -known["inputs"]["W_N"]))
    found = distribute(feet, UP, wrench, friction=0.5)
    assert found.feasible
    np.testing.assert_allclose(found.forces[:, 2], known["expected"]["N"], rtol=5e-8)
    np.testing.assert_allclose(found.forces[:, :2], 0.0, atol=1e-9)


@pytest.mark.parametrize("case", ["LP_flat_0.19_0.14", "LP_flat_0_0"])
def test_flat_ground_carries_inside_the_hull(reference, case):
    """Source: Bretl & Lall, IEEE Trans. Robotics 24(4):794-807, 2008 (recomputed by LP)."""
    known = reference("13_statics")[case]
    wrench = weight_at(known["inputs"]["com"], (0, 0, -50))
    found = distribute(RECTANGLE, UP, wrench, friction=known["inputs"]["mu"])
    assert bool(found.feasible) is known["expected"]["feasible"]


def test_flat_ground_fails_outside_the_hull():
    """Source: Bretl & Lall 2008; CoM (0.21, 0) of REFERENCES section 13."""
    assert not distribute(
        RECTANGLE, UP, weight_at((0.21, 0, 0.3), (0, 0, -50)), friction=0.5
    ).feasible


@pytest.mark.parametrize("case", ["LP_slope_26.5_0.5", "LP_slope_26.6_0.5", "LP_slope_20_0.35"])
def test_slopes_hold_up_to_the_angle_of_friction(reference, case):
    """Source: Bretl & Lall 2008: critical angle atan(μ)."""
    known = reference("13_statics")[case]
    mu, critical = known["inputs"]["mu"], known["expected"]["critical_deg"]
    assert critical == pytest.approx(np.degrees(np.arctan(mu)), abs=1e-6)
    cases = [
        (known["inputs"]["slope_deg"], known["expected"]["feasible"]),
        (critical - 1e-3, True),
        (critical + 1e-3, False),
    ]
    for slope, feasible in cases:
        a = np.radians(slope)
        wrench = weight_at((0, 0, 1e-6), (-50 * np.sin(a), 0, -50 * np.cos(a)))
        assert bool(distribute(RECTANGLE, UP, wrench, friction=mu).feasible) is feasible


@pytest.mark.parametrize("case", ["vgroove_mu0.0", "vgroove_mu0.5"])
def test_two_contacts_in_a_groove(reference, case):
    """Source: topic 13; the CoM line meets both cones: |x| <= 2μ/(1 + μ²)."""
    known = reference("13_statics")[case]
    mu, most = float(case.split("mu")[1]), known["expected"]["com_x_max"]
    feet, normals = [[-1, 0, 0], [1, 0, 0]], np.array([[1, 0, 1], [-1, 0, 1]]) / np.sqrt(2)
    for x, feasible in ((most - 1e-5, mu > 0), (most + 2e-5, False), (-most - 2e-5, False)):
        wrench = weight_at((x, 0, 0.4), (0, 0, -50))
        assert bool(distribute(feet, normals, wrench, friction=mu).feasible) is feasible


@pytest.mark.parametrize("case", ["ladder_45", "ladder_60", "ladder_75"])
def test_a_ladder_at_a_smooth_wall(reference, case):
    """Source: textbook, μ_min = 1/(2 tan θ) at the floor; the wall is smooth."""
    known = reference("13_statics")[case]
    angle, least = np.radians(known["inputs"]["theta_deg"]), known["expected"]["mu_min"]
    feet = np.array([[0, 0, 0], [np.cos(angle), 0, np.sin(angle)]])
    normals = np.array([[0, 0, 1.0], [-1.0, 0, 0]])
    wrench = weight_at(feet[1] / 2, (0, 0, -100))
    for mu, feasible in ((least * 1.0001, True), (least * 0.9999, False)):
        found = distribute(feet, normals, wrench, friction=[mu, 0.0])
        assert bool(found.feasible) is feasible


@pytest.mark.parametrize("case", ["pyramid_4", "pyramid_6", "pyramid_8"])
def test_circular_cones_lie_between_the_pyramids(reference, case):
    """Source: topic 13, k-sided pyramids; referee: HiGHS on the inner and outer pyramid."""
    known = reference("13_statics")[case]
    sides, ratio = known["inputs"]["sides"], known["expected"]["inner_worst_mu_ratio"]
    feet, mu = np.array([[0.0, 0, 0]]), 0.5
    heading = np.pi / sides  # the pyramid's flats, where it is narrowest
    for share, feasible in ((ratio * 0.999, True), (ratio * 1.001, False)):
        pull = mu * share * np.array([np.cos(heading), np.sin(heading), 0])
        wrench = np.r_[pull + UP, np.zeros(3)]
        assert possible(feet, wrench, mu, sides, outer=False) is feasible
        assert distribute(feet, UP, wrench, friction=mu).feasible  # the circle allows it
    for share in (0.9999, 1.0001):
        pull = mu * share * np.array([np.cos(heading), np.sin(heading), 0])
        found = distribute(feet, UP, np.r_[pull + UP, np.zeros(3)], friction=mu)
        assert bool(found.feasible) is (share < 1)


def possible(feet, wrench, mu, sides, *, outer):
    """Whether forces inside k-sided pyramids about z balance the wrench (HiGHS)."""
    around = 2 * np.pi * np.arange(sides) / sides
    wide = mu / np.cos(np.pi / sides) if outer else mu
    edges = np.stack([wide * np.cos(around), wide * np.sin(around), np.ones(sides)])
    A = grasp(feet) @ np.kron(np.eye(len(feet)), edges)
    found = linprog(np.ones(A.shape[1]), A_eq=A, b_eq=wrench, bounds=(0, None), method="highs")
    return found.status == 0


@given(st.integers(0, 2**32 - 1), st.integers(1, 7), st.floats(0.1, 1.2))
@settings(max_examples=150, deadline=None)
def test_feasibility_agrees_with_linear_programmes(seed, legs, mu):
    """Referee: HiGHS with 48-sided pyramids inside and outside the cones."""
    rng = np.random.default_rng(seed)
    feet = rng.uniform(-0.3, 0.3, (legs, 3))
    carried = np.array([rng.uniform(-1, 1, 3) * [mu, mu, 0] + [0, 0, 1] for _ in range(legs)])
    wrench = grasp(feet) @ carried.ravel() * rng.uniform(0.5, 30) + rng.choice([0, 1]) * rng.normal(
        size=6
    )
    found = distribute(feet, UP, wrench, friction=mu)
    if possible(feet, wrench, mu, 48, outer=False):
        assert found.feasible
    if not possible(feet, wrench, mu * 1.0001, 48, outer=True):
        assert not found.feasible
    normal = found.forces[:, 2]
    side = np.linalg.norm(found.forces[:, :2], axis=1)
    assert (side <= mu * normal + 1e-9 * np.abs(wrench).max()).all()
    if found.feasible:
        np.testing.assert_allclose(
            grasp(feet) @ found.forces.ravel(), wrench, atol=2e-6 * np.abs(wrench).max() + 1e-12
        )


def test_least_effort_agrees_with_a_general_optimiser():
    """Referee: scipy's SLSQP on the same problem, cones active."""
    rng = np.random.default_rng(11)
    compared = active = 0
    for _ in range(40):
        legs, mu = int(rng.integers(3, 7)), 0.5
        feet = rng.uniform(-0.2, 0.2, (legs, 3)) * [1, 1, 0.3]
        normals = rng.normal(size=(legs, 3)) * 0.2 + UP
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        wrench = weight_at(rng.normal(size=3) * 0.05, [4 * rng.normal(), 4 * rng.normal(), -20])
        found = distribute(feet, normals, wrench, friction=mu)
        if not found.feasible:
            continue
        A = grasp(feet)

        def slack(x, normals=normals, mu=mu):
            f = x.reshape(-1, 3)
            n = (f * normals).sum(axis=1)
            t = f - n[:, None] * normals
            return np.r_[mu**2 * n**2 - (t**2).sum(axis=1), n]

        best = minimize(
            lambda x: 0.5 * x @ x,
            found.forces.ravel() + rng.normal(size=3 * legs),
            jac=lambda x: x,
            method="SLSQP",
            constraints=[
                {"type": "eq", "fun": lambda x, A=A, w=wrench: A @ x - w, "jac": lambda x, A=A: A},
                {"type": "ineq", "fun": slack},
            ],
            options={"maxiter": 100, "ftol": 1e-13},  # what converges does so long before
        )
        if best.success:
            compared += 1
            active += bool((slack(best.x)[:legs] < 1e-6).any())
            np.testing.assert_allclose(found.forces.ravel(), best.x, atol=2e-4)
    assert compared >= 8 and active >= 4


def test_idle_cones_leave_the_pseudo_inverse():
    """Referee: numpy's pseudo-inverse."""
    rng = np.random.default_rng(3)
    feet = RECTANGLE + rng.normal(size=RECTANGLE.shape) * 0.01
    wrench = weight_at((0.02, -0.03, 0.1), (0.3, -0.2, -40))
    found = distribute(feet, UP, wrench, friction=0.8)
    least = np.linalg.pinv(grasp(feet)) @ wrench
    np.testing.assert_allclose(found.forces.ravel(), least, atol=1e-9)


def test_forces_do_not_jump_where_the_first_cone_gets_busy():
    """Referee: continuity. Closed form just above that friction, the iteration just below it."""
    rng = np.random.default_rng(5)
    jumped = 0
    for _ in range(30):
        feet = rng.uniform(-0.3, 0.3, (5, 3)) * (1, 1, 0.2)
        wrench = weight_at(rng.normal(size=3) * 0.02, (2, -3, -30))
        idle = distribute(feet, UP, wrench, friction=10.0).forces
        if not (idle[:, 2] > 0).all():
            continue
        busy = (np.hypot(*idle[:, :2].T) / idle[:, 2]).max()
        for share in (1.0 + 1e-7, 1.0 - 1e-7):
            found = distribute(feet, UP, wrench, friction=busy * share)
            np.testing.assert_allclose(found.forces, idle, atol=1e-5)
        jumped += 1
    assert jumped >= 10


@pytest.mark.parametrize("friction", [0.0, 0.5])
def test_feet_do_not_pull(friction):
    found = distribute(RECTANGLE, UP, weight_at((0, 0, 0.2), (0, 0, 50)), friction=friction)
    assert not found.feasible
    np.testing.assert_allclose(found.forces, 0.0, atol=1e-9)


def test_best_effort_leaves_the_least_residual():
    """Referee: SLSQP on the residual itself, in the metric that `Distribution` states."""
    wrench = weight_at((0.26, 0.05, 0.2), (0, 0, -50))
    found = distribute(RECTANGLE, UP, wrench, friction=0.5)
    assert not found.feasible
    length = np.sqrt((RECTANGLE**2).sum(axis=1).mean())
    scale = np.r_[np.ones(3), np.full(3, 1 / length)]
    A = grasp(RECTANGLE)

    def left(x):
        r = scale * (A @ x - wrench)
        return 0.5 * r @ r

    def slack(x):
        f = x.reshape(-1, 3)
        return np.r_[0.25 * f[:, 2] ** 2 - (f[:, :2] ** 2).sum(axis=1), f[:, 2]]

    best = minimize(
        left, np.tile([0.0, 0, 12.5], 4), method="SLSQP",
        constraints=[{"type": "ineq", "fun": slack}], options={"maxiter": 500, "ftol": 1e-14},
    )  # fmt: skip
    assert left(found.forces.ravel()) <= best.fun * (1 + 1e-5) + 1e-9


def test_batches_equal_single_calls():
    rng = np.random.default_rng(8)
    feet = RECTANGLE + rng.normal(size=(5, 3, 4, 3)) * 0.02
    wrench = np.concatenate(
        [rng.normal(size=(5, 3, 3)) * 3 + [0, 0, 40], rng.normal(size=(5, 3, 3))], -1
    )
    contact = rng.random((5, 3, 4)) < 0.8
    found = distribute(feet, UP, wrench, friction=0.6, contact=contact)
    assert found.forces.shape == (5, 3, 4, 3)
    for i in np.ndindex(5, 3):
        one = distribute(feet[i], UP, wrench[i], friction=0.6, contact=contact[i])
        np.testing.assert_array_equal(found.forces[i], one.forces)
        assert found.feasible[i] == one.feasible
    assert (found.forces[~contact] == 0).all()


def test_no_feet_carry_nothing_and_nothing_needs_no_feet():
    none = np.zeros(4, dtype=bool)
    assert not distribute(RECTANGLE, UP, [0, 0, 9, 0, 0, 0], friction=0.5, contact=none).feasible
    assert distribute(RECTANGLE, UP, np.zeros(6), friction=0.5, contact=none).feasible


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"friction": -0.1}, "friction"),
        ({"friction": np.nan}, "friction"),
        ({"wrench": np.zeros(5)}, "wrench"),
        ({"feet": np.zeros(3)}, "feet"),
    ],
)
def test_arguments_that_do_not_fit_are_refused(change, named):
    given_ = {"feet": RECTANGLE, "wrench": np.zeros(6), "friction": 0.5, **change}
    with pytest.raises(RequestError, match=named):
        distribute(given_["feet"], UP, given_["wrench"], friction=given_["friction"])


@given(st.integers(0, 2**32 - 1), st.floats(0.01, 1000.0))
@settings(max_examples=300, deadline=None)
def test_forces_scale_and_belong_to_no_frame(seed, factor):
    """Referee: similarity. Scaled, turned and moved: the same forces, scaled and turned."""
    rng = np.random.default_rng(seed)
    legs = int(rng.integers(2, 7))
    feet, mu = rng.uniform(-0.3, 0.3, (legs, 3)), rng.uniform(0.1, 1.0)
    normals = rng.normal(size=(legs, 3)) * 0.3 + UP
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    wrench = weight_at(rng.normal(size=3) * 0.1, rng.normal(size=3) * 3 - (0, 0, 20))
    ours = distribute(feet, normals, wrench, friction=mu)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn, shift = turn * np.linalg.det(turn), rng.normal(size=3)
    size = 3.0
    moved = size * feet @ turn.T + shift
    force, moment = factor * turn @ wrench[:3], factor * size * turn @ wrench[3:]
    theirs = distribute(
        moved, normals @ turn.T, np.r_[force, moment + np.cross(shift, force)], friction=mu
    )
    assert theirs.feasible == ours.feasible
    exact = 1e-6 if ours.feasible else 1e-3  # nearest forces settle more slowly
    np.testing.assert_allclose(theirs.forces, factor * ours.forces @ turn.T, atol=exact * factor)


def test_swing_feet_and_extra_feet_change_as_they_must():
    """Referee: optimality. More feet never cost more effort; feet in the air change nothing."""
    rng = np.random.default_rng(21)
    for _ in range(50):
        feet = rng.uniform(-0.3, 0.3, (6, 3)) * (1, 1, 0.2)
        wrench = weight_at(rng.normal(size=3) * 0.03, (1, -2, -20))
        few = np.array([True] * 4 + [False] * 2)
        masked = distribute(feet, UP, wrench, friction=0.6, contact=few)
        alone = distribute(feet[:4], UP, wrench, friction=0.6)
        np.testing.assert_array_equal(masked.forces[:4], alone.forces)
        everyone = distribute(feet, UP, wrench, friction=0.6)
        if alone.feasible:
            assert everyone.feasible
            assert (everyone.forces**2).sum() <= (alone.forces**2).sum() * (1 + 1e-9)
