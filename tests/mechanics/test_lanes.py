"""The recursion with samples side by side against the one sample by sample."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bare_walkers import Walked

from legwright.locomotion._rates import rates
from legwright.mechanics._lanes import BLOCK, lanes, outputs
from legwright.mechanics._recursion import recursion
from legwright.mechanics.dynamics import packed
from legwright.mechanics.screws import leg_screws
from legwright.robot.loading import load

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))
SINGULAR = 1e-6


@pytest.fixture(scope="module", params=WILD, ids=lambda path: path.stem)
def wild(request):
    return load(request.param, Walked)


def states(robot, samples, seed=4):
    """Positions, velocities, accelerations of the drives, and what the body does and feels."""
    rng, J = np.random.default_rng(seed), len(robot.joint_names)
    wide = (1.5, 6.0, 60.0)
    drives = [rng.uniform(-most, most, (samples, J)) for most in wide]
    return *drives, rng.uniform(-2, 2, (samples, 6)), rng.uniform(-8, 8, (samples, 6))


def weighed(robot, q, moves, twist, felt, given):
    """What `lanes` fills, rows of samples first."""
    out = outputs(*q.shape, len(robot.legs))
    lanes(packed(robot), q, moves, twist, felt, given, out)
    return out[0].T, out[1], out[2], out[3].transpose(2, 1, 0), out[4]


@pytest.mark.parametrize("samples", [1, BLOCK - 1, BLOCK, BLOCK + 1, 3 * BLOCK + 5])
def test_rates_given_they_agree(wild, samples):
    """Referee: `recursion`; the number of samples need not fill blocks."""
    q, qd, qdd, twist, felt = states(wild, samples)
    none = np.empty((0, 0, 3)), np.empty((0, 0, 3)), np.ones(0, dtype=bool), 0.0, SINGULAR
    ours = weighed(wild, q, none, twist, felt, (qd.T.copy(), qdd.T.copy()))
    theirs = recursion(packed(wild), q, qd, qdd, twist, felt)
    for one, other in zip(ours, theirs, strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-12, atol=1e-12 * abs(other).max())


@pytest.mark.parametrize("samples", [BLOCK - 1, 2 * BLOCK + 3])
def test_rates_from_feet_agree(wild, samples):
    """Referee: `rates`, and differences of positions where a leg is left out or singular."""
    if any(leg.n != 3 for leg in wild.legs.values()):
        pytest.skip("rates are found from feet for legs of three drives alone")
    q, _, _, twist, felt = states(wild, samples)
    rng, legs, cycle = np.random.default_rng(9), len(wild.legs), 0.7
    velocity, push = (rng.normal(size=(samples, legs, 3)) for _ in range(2))
    off = np.arange(legs) == 1
    theirs = np.empty_like(q), np.empty_like(q)
    ahead, behind, step = np.roll(q, -1, axis=0), np.roll(q, 1, axis=0), cycle / samples
    bars = {}
    for leg, screws in enumerate(leg_screws(wild)):
        bars[leg] = rates(screws, 3 * leg, leg, q, velocity, push, *theirs)
    # half of the legs are taken for singular, so that there are both kinds
    bar = float(np.median(list(bars.values()))) * (1.0 + 1e-9)
    for leg in range(legs):
        if off[leg] or not bars[leg] > bar:
            span = slice(3 * leg, 3 * leg + 3)
            theirs[0][:, span] = ((ahead - behind) / (2 * step))[:, span]
            theirs[1][:, span] = ((ahead - 2 * q + behind) / step**2)[:, span]
    given = np.empty(q.T.shape), np.empty(q.T.shape)
    ours = weighed(wild, q, (velocity, push, off, cycle, bar), twist, felt, given)
    for one, other in zip(given, theirs, strict=True):
        np.testing.assert_allclose(one.T, other, rtol=1e-8, atol=1e-9 * abs(other).max())
    rest = recursion(packed(wild), q, *theirs, twist, felt)
    np.testing.assert_allclose(ours[0], rest[0], rtol=1e-7, atol=1e-8 * abs(rest[0]).max())
