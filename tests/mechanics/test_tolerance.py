"""Tolerance stacks: published sums, brute force, and the legs' real kinematics as referees."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import product
from math import degrees, radians
from pathlib import Path

import numpy as np
import pytest

from legwright.errors import RequestError
from legwright.mechanics.kinematics import kinematics_of
from legwright.mechanics.opening import load
from legwright.mechanics.tolerance_chain import deviated_feet, sensitivities
from legwright.mechanics.tolerance_sources import (
    Deviation,
    Kind,
    Shape,
    labels_of,
    sources_of,
)
from legwright.mechanics.tolerance_stack import (
    INSIDE,
    drawn_by,
    draws_of,
    foot_error,
    quantile,
    stack,
    widest,
)
from legwright.mechanics.tolerance_stand import stand_error
from legwright.robot.sheet_making import Tolerances

TOP = Path(__file__).parents[2]
VALUES = json.loads((TOP / "tests" / "data" / "reference_values.json").read_text())
STACKS = VALUES["topics"]["14_tolerance"]
Q = np.array([0.2, 0.4, -0.5])


@pytest.fixture(scope="module", params=["rook", "heron"])
def leg(request):
    robot = load(TOP / "robots" / request.param)
    leg = robot.legs["left-front"]
    medium = Tolerances.model_validate({"general": "m"})
    return leg, sources_of(leg.chain, medium, robot.servos).deviations


@pytest.mark.parametrize("case", STACKS, ids=lambda case: case["id"])
def test_stacks_are_the_published_sums(case):
    found = stack(case["inputs"]["t"])
    assert found.worst == pytest.approx(case["expected"]["worst_case"], rel=1e-6)
    assert found.rss == pytest.approx(case["expected"]["rss"], rel=1e-6)


def test_the_widest_sum_is_that_of_brute_force():
    """Referee: all 2^P choices of signs; also with arms in one plane, parallel, or none."""
    rng = np.random.default_rng(3)
    for count in (1, 2, 3, 5, 9, 12):
        for kind in range(4):
            arms = rng.normal(size=(3, count))
            if kind == 1:
                arms[2, : count // 2 + 1] = 0.0
            if kind == 2:
                arms[:, 1:3] = arms[:, :1] * -2.0
            if kind == 3:
                arms[:, 0] = 0.0
                arms[1] = 0.0
            signs = np.array(list(product((-1.0, 1.0), repeat=count)))
            best = np.linalg.norm(signs @ arms.T, axis=1).max()
            assert widest(arms) == pytest.approx(best, rel=1e-12)
    assert widest(np.zeros((3, 4))) == 0.0


def test_undeviated_legs_have_their_foot_where_kinematics_say(leg):
    """Referee: the leg's own closed form."""
    one, deviations = leg
    still = deviated_feet(one.chain, Q, deviations, np.zeros((2, len(deviations))))
    assert still == pytest.approx(np.tile(one.foot(Q), (2, 1)), abs=1e-12)


def test_lengths_deviate_as_a_chain_of_other_lengths_does(leg):
    """Referee: the closed form of a leg whose chain is built with the other lengths."""
    one, deviations = leg
    rng = np.random.default_rng(1)
    shifts = [d for d in deviations if d.kind is Kind.SHIFT]
    values = rng.uniform(-2e-3, 2e-3, (4, len(shifts)))
    ours = deviated_feet(one.chain, Q, shifts, values)
    for row, wanted in zip(values, ours, strict=True):
        placements, foot = one.chain.placements.copy(), one.chain.foot.copy()
        for deviation, value in zip(shifts, row, strict=True):
            if deviation.joint < len(placements):
                placements[deviation.joint][:3, 3] += value * deviation.direction
            else:
                foot += value * deviation.direction
        other = kinematics_of(replace(one.chain, placements=placements, foot=foot))
        assert other.foot(Q) == pytest.approx(wanted, abs=1e-12)


def test_play_about_a_joint_is_the_jacobian(leg):
    """Referee: the leg's Jacobian."""
    one, deviations = leg
    about = [d for d in deviations if d.name.endswith("backlash")]
    assert [d.joint for d in about] == [0, 1, 2]
    assert sensitivities(one.chain, Q, about) == pytest.approx(one.jacobian(Q), abs=1e-12)


def test_derivatives_are_finite_differences(leg):
    """Referee: central differences of the exact place."""
    one, deviations = leg
    step = 1e-6 * np.eye(len(deviations))
    ahead = deviated_feet(one.chain, Q, deviations, step)
    behind = deviated_feet(one.chain, Q, deviations, -step)
    slopes = (ahead - behind).T / 2e-6
    assert sensitivities(one.chain, Q, deviations) == pytest.approx(slopes, abs=1e-9)


def test_samples_spread_as_the_root_sum_square(leg):
    """Referee: 8000 built legs through exact kinematics; their spread within 4 sigma of chance."""
    one, deviations = leg
    found = foot_error(one.chain, Q, deviations, seed=5)
    count = len(found.offsets)
    assert found.sampled == pytest.approx(found.rss, rel=4.0 / np.sqrt(2.0 * count))
    assert found.built < found.worst
    assert np.mean(np.linalg.norm(found.offsets, axis=1) <= found.built) == pytest.approx(
        INSIDE, abs=1.0 / count
    )
    assert sum(share for _, share in found.shares) == pytest.approx(1.0)


def test_no_corner_of_the_limits_lies_beyond_the_worst_case(leg):
    """Referee: exact kinematics of 4000 legs with every deviation at one of its limits."""
    one, deviations = leg
    found = foot_error(one.chain, Q, deviations, samples=200)
    rng = np.random.default_rng(2)
    limits = np.array([d.limit for d in deviations])
    corners = rng.choice([-1.0, 1.0], (4000, len(limits))) * limits
    away = np.linalg.norm(deviated_feet(one.chain, Q, deviations, corners) - one.foot(Q), axis=1)
    assert away.max() < found.worst * 1.01
    arms = sensitivities(one.chain, Q, deviations) * limits
    greedy = np.where(arms.T @ arms[:, 0] > 0.0, 1.0, -1.0) * limits
    (reached,) = deviated_feet(one.chain, Q, deviations, greedy[None]) - one.foot(Q)
    assert np.linalg.norm(reached) > 0.5 * found.worst


def test_drawn_values_have_the_spread_that_is_stated():
    shapes = {Shape.NORMAL: 1.0 / 3.0, Shape.UNIFORM: 1.0 / np.sqrt(3.0)}
    for shape, sigma in shapes.items():
        one = Deviation(
            name="x", kind=Kind.TURN, joint=0, direction=np.array([0.0, 0.0, 1.0]), limit=2.0,
            shape=shape, why="",
        )  # fmt: skip
        low, span = drawn_by([one])
        values = low + span * draws_of((shape,), 40_000, 0)[0]
        assert values.std() == pytest.approx(2.0 * sigma, rel=0.02)
        assert one.sigma == pytest.approx(2.0 * sigma)
        if shape is Shape.UNIFORM:
            assert np.abs(values).max() <= 2.0


def test_quantiles_are_those_of_numpy() -> None:
    """Referee: numpy's, row by row, also where a share falls on a value."""
    values = np.random.default_rng(4).normal(size=(3, 101))
    for share in (0.0, 0.5, 0.97, 0.9973, 1.0):
        assert quantile(values, share) == pytest.approx(np.quantile(values, share, axis=1))


def test_what_is_missing_is_named():
    robot = load(TOP / "robots" / "rook")
    chain = robot.legs["left-front"].chain
    assert labels_of(chain) == ("coxa", "femur", "tibia")
    bare = sources_of(chain, Tolerances(), {})
    assert set(bare.missing) == {"making.tolerance.general", "fit"}
    keys = {name: 1e-4 for name in ("hip", "coxa", "femur", "tibia")}
    stated = Tolerances.model_construct(
        general=None, lengths=keys, angle=1e-3, foot_error=None, body_tilt=None
    )
    assert sources_of(chain, stated, robot.servos).missing == ()


# -- how it stands ---------------------------------------------------------------------------

SQUARE = np.array([[1.0, 1.0, -1.0], [-1.0, 1.0, -1.0], [-1.0, -1.0, -1.0], [1.0, -1.0, -1.0]])


def lowered(*drops):
    offsets = np.zeros((1, 4, 3))
    offsets[0, :, 2] = drops
    return offsets


def test_a_table_with_one_long_leg_rocks_about_the_diagonal():
    """Referee: by hand. It stands on the long leg, the one across, and one neighbour: the
    plane through (1, 1, -1.1), (-1, -1, -1) and (-1, 1, -1) falls by 0.05 along x."""
    found = stand_error(SQUARE, lowered(-0.1, 0.0, 0.0, 0.0), np.array([0.1, 0.2]), np.zeros(4))
    assert found.tilt == pytest.approx(np.arctan(0.05))
    assert found.gap == pytest.approx(0.1)


def test_a_raised_foot_hangs_and_nothing_tilts():
    found = stand_error(SQUARE, lowered(0.05, 0.0, 0.0, 0.0), np.array([-0.2, -0.2]), np.zeros(4))
    assert found.tilt == pytest.approx(0.0, abs=1e-12)
    assert found.gap == pytest.approx(0.05)
    assert found.height == pytest.approx(0.0, abs=1e-12)


def test_equal_errors_only_change_the_height():
    found = stand_error(SQUARE, lowered(-0.1, -0.1, -0.1, -0.1), np.zeros(2), np.full(4, 0.1))
    assert found.height == pytest.approx(0.1)
    assert found.tilt == pytest.approx(0.0, abs=1e-12)
    saddle = np.arctan(0.1 * np.sqrt(2.0))  # two feet across low, the others high
    assert degrees(found.worst_tilt) == pytest.approx(degrees(saddle), rel=1e-9)


def test_samples_never_exceed_the_bound():
    rng = np.random.default_rng(4)
    offsets = np.zeros((500, 4, 3))
    offsets[:, :, 2] = rng.uniform(-0.01, 0.01, (500, 4))
    found = stand_error(SQUARE, offsets, np.array([0.05, -0.02]), np.full(4, 0.01))
    assert found.tilts.max() <= found.worst_tilt + 1e-12
    assert found.worst_tilt < radians(2.0)


def test_two_feet_or_a_mass_beside_them_are_refused():
    with pytest.raises(RequestError, match="three"):
        stand_error(SQUARE[:2], np.zeros((1, 2, 3)), np.zeros(2), np.zeros(2))
    with pytest.raises(RequestError, match="support polygon"):
        stand_error(SQUARE, np.zeros((1, 4, 3)), np.array([5.0, 0.0]), np.zeros(4))
