"""Foot points, Jacobians and round trips, against Pinocchio and published values."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pinocchio as pin
import pytest
from chains import chain_of, plain_leg, random_chain
from hypothesis import given, settings
from hypothesis import strategies as st

from legwright.errors import RequestError
from legwright.mechanics.kinematics import ClosedForm, Numeric, kinematics_of
from legwright.mechanics.reach import feet_of, jacobians, reach_feet
from legwright.robot.loading import load
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

ROOT = Path(__file__).parents[2]
WILD = sorted((ROOT / "tests" / "data" / "wild").glob("*.urdf"))
DEMO = sorted(path.parent for path in (ROOT / "robots").glob("*/robot.toml"))
seeds = st.integers(min_value=0, max_value=2**31)


def joints_of(robot: Robot, count: int, seed: int = 5) -> Floats:
    lower = np.concatenate([leg.lower for leg in robot.legs.values()])
    upper = np.concatenate([leg.upper for leg in robot.legs.values()])
    rng = np.random.default_rng(seed)
    return rng.uniform(np.maximum(lower, -np.pi), np.minimum(upper, np.pi), (count, len(lower)))


def pinocchio_feet(path: Path, robot: Robot, q: Floats) -> tuple[Floats, dict[str, Floats]]:
    """Referee: Pinocchio's frame placements and frame Jacobians of the same URDF."""
    model = pin.buildModelFromUrdf(str(path))
    data = model.createData()
    full = pin.neutral(model)
    for name, angle in zip(robot.joint_names, q, strict=True):
        joint = model.joints[model.getJointId(name)]
        if joint.nq == 2:  # a continuous joint is a point on the unit circle there
            full[joint.idx_q : joint.idx_q + 2] = np.cos(angle), np.sin(angle)
        else:
            full[joint.idx_q] = angle
    pin.computeJointJacobians(model, data, full)
    pin.updateFramePlacements(model, data)
    body = data.oMf[model.getFrameId(robot.body)]
    feet, rates = [], {}
    for leg in robot.legs.values():
        frame = model.getFrameId(leg.chain.foot_link)
        feet.append(body.actInv(data.oMf[frame].translation))
        J = pin.getFrameJacobian(model, data, frame, pin.LOCAL_WORLD_ALIGNED)[:3]
        columns = [model.joints[model.getJointId(name)].idx_v for name in leg.joint_names]
        rates[leg.name] = body.rotation.T @ J[:, columns]
    return np.array(feet), rates


@pytest.mark.parametrize("path", WILD, ids=lambda path: path.stem)
def test_feet_and_jacobians_are_pinocchios(path: Path) -> None:
    """Referee: Pinocchio on the same URDF."""
    robot = load(path, kinematics_of)
    q = joints_of(robot, 20)
    ours = feet_of(robot, q)
    for row, angles in enumerate(q):
        feet, rates = pinocchio_feet(path, robot, angles)
        np.testing.assert_allclose(ours[row], feet, atol=1e-9, rtol=0)
        for leg, J in zip(robot.legs, jacobians(robot, angles), strict=True):
            np.testing.assert_allclose(J, rates[leg], atol=1e-8, rtol=0)


@pytest.mark.parametrize("path", WILD + DEMO, ids=lambda path: path.stem)
def test_ten_thousand_targets_come_back(path: Path) -> None:
    """Referee: forward kinematics, itself held to Pinocchio above; Pinocchio on a few rows."""
    robot = load(path, kinematics_of)
    targets = feet_of(robot, joints_of(robot, 10_000))
    answer = reach_feet(robot, targets)
    assert answer.ok.all()
    assert np.abs(feet_of(robot, answer.q) - targets).max() <= 1e-9
    for leg in robot.legs.values():
        q = answer.q[:, robot.columns[leg.name]]
        assert np.all((q >= leg.lower) & (q <= leg.upper))
    if path.suffix == ".urdf":
        for row in range(5):
            feet, _ = pinocchio_feet(path, robot, answer.q[row])
            np.testing.assert_allclose(feet, targets[row], atol=1e-9, rtol=0)


@pytest.mark.parametrize("path", WILD + DEMO, ids=lambda path: path.stem)
def test_all_legs_at_once_are_the_legs_one_by_one(path: Path) -> None:
    robot = load(path, kinematics_of)
    q = joints_of(robot, 40)
    targets = feet_of(robot, q) + np.random.default_rng(1).normal(size=(40, len(robot.legs), 3)) / 9
    together = reach_feet(robot, targets, near=q)
    for index, leg in enumerate(robot.legs.values()):
        columns = robot.columns[leg.name]
        alone = leg.reach(targets[:, index], q[:, columns])
        np.testing.assert_array_equal(together.q[:, columns], alone.q)
        np.testing.assert_array_equal(together.error[:, index], alone.error)
        np.testing.assert_array_equal(together.ok[:, index], alone.ok)


@pytest.mark.parametrize("case", ["FK_2", "FK_3", "FK_5"])
def test_published_foot_points(reference, case: str) -> None:
    """Referee: reference_values.json, 2_leg_ik (Craig; Siciliano et al.)."""
    known = reference("2_leg_ik")[case]
    given_, expected = known["inputs"], known["expected"]
    solver = kinematics_of(plain_leg(given_["L1"], given_["L2"], given_["L3"], -3.0, 3.0))
    q = np.radians(given_["q_deg"])
    place = [expected["x_m"], expected["y_m"], expected["z_m"]]
    np.testing.assert_allclose(solver.foot(q), place, atol=1e-9)
    size = abs(np.linalg.det(solver.jacobian(q)))
    np.testing.assert_allclose(size, expected["abs_det_J"], rtol=known["tol_rel"])


def test_published_elbows(reference) -> None:
    """Referee: reference_values.json, 2_leg_ik, IK_both."""
    known = reference("2_leg_ik")["IK_both"]
    given_ = known["inputs"]
    solver = kinematics_of(plain_leg(given_["L1"], given_["L2"], given_["L3"], -3.0, 3.0))
    for name in ("elbow_neg_deg", "elbow_pos_deg"):
        expected = np.radians(known["expected"][name])
        answer = solver.reach(np.array(given_["target_m"]), expected + 0.1)
        assert answer.ok
        np.testing.assert_allclose(answer.q, expected, atol=1e-6)


def test_published_annulus(reference) -> None:
    """Referee: reference_values.json, 2_leg_ik, annulus: just inside reached, outside not."""
    known = reference("2_leg_ik")["annulus"]
    femur, tibia = known["inputs"]["L2"], known["inputs"]["L3"]
    # the coxa cannot turn round, where it would reach inside the annulus from behind
    solver = kinematics_of(plain_leg(0.05, femur, tibia, [-1.0, -4.0, -4.0], [1.0, 4.0, 4.0]))
    for distance, outward in (
        (known["expected"]["d_min_m"], -1.0),
        (known["expected"]["d_max_m"], 1.0),
    ):
        for gap in (-1e-3, -1e-5, 0.0, 1e-5, 1e-3):
            target = np.array([0.05 + distance + outward * gap, 0.0, 0.0])
            answer = solver.reach(target, None)
            assert bool(answer.ok) == (gap <= 0.0)
            np.testing.assert_allclose(answer.error, max(gap, 0.0), atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(seed=seeds)
def test_any_leg_with_parallel_last_axes_is_closed(seed: int) -> None:
    """Round trip and nearest branch on random offsets, tilts, flips and zeros."""
    chain = random_chain(3, seed, parallel=True)
    solver = kinematics_of(chain)
    assert isinstance(solver, ClosedForm)
    q = np.random.default_rng(seed).uniform(chain.lower, chain.upper, (50, 3))
    targets = solver.foot(q)
    for near in (None, q):
        answer = solver.reach(targets, near)
        assert answer.ok.all()
        assert np.linalg.norm(solver.foot(answer.q) - targets, axis=1).max() <= 1e-9
        assert np.all((answer.q >= chain.lower) & (answer.q <= chain.upper))
    np.testing.assert_allclose(answer.q, q, atol=1e-6)  # its own branch is the nearest to q


@pytest.mark.parametrize("joints", [2, 3, 4, 5])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_any_other_leg_is_solved_numerically(joints: int, seed: int) -> None:
    """Round trip, and the Jacobian against central differences."""
    chain = random_chain(joints, seed)
    solver = kinematics_of(chain)
    assert isinstance(solver, Numeric)
    q = np.random.default_rng(seed).uniform(chain.lower, chain.upper, (100, joints))
    targets = solver.foot(q)
    answer = solver.reach(targets, None)
    assert answer.ok.all()
    assert np.linalg.norm(solver.foot(answer.q) - targets, axis=1).max() <= 1e-6
    assert np.all((answer.q >= chain.lower) & (answer.q <= chain.upper))
    step = 1e-6 * np.eye(joints)
    slope = (solver.foot(q[0] + step) - solver.foot(q[0] - step)).T / 2e-6
    np.testing.assert_allclose(solver.jacobian(q[0]), slope, atol=1e-9)


def test_mimic_and_sliding_joints_are_solved_numerically() -> None:
    """A tibia that follows the femur, and a telescope; round trip."""
    plain = plain_leg(0.05, 0.08, 0.12, -1.0, 1.0)
    coupled = chain_of(
        plain.placements,
        plain.axes,
        plain.foot,
        [-1, -1],
        [1, 1],
        coupling=[[1, 0], [0, 1], [0, -1.5]],
        offset=[0, 0, 0.3],
    )
    axes = [[0, 0, 1], [0, 1, 0], [1, 0, 0]]
    telescope = chain_of(
        plain.placements,
        axes,
        plain.foot,
        [-1, -1, -0.05],
        [1, 1, 0.05],
        prismatic=(False, False, True),
    )
    for chain in (coupled, telescope):
        solver = kinematics_of(chain)
        q = np.random.default_rng(3).uniform(chain.lower, chain.upper, (100, len(chain.lower)))
        answer = solver.reach(solver.foot(q), None)
        assert answer.ok.all()
        step = 1e-6 * np.eye(len(chain.lower))
        slope = (solver.foot(q[0] + step) - solver.foot(q[0] - step)).T / 2e-6
        np.testing.assert_allclose(solver.jacobian(q[0]), slope, atol=1e-9)


def test_continuous_joints_stay_near() -> None:
    """Whole turns are added so that the answer lies nearest to where the joints are."""
    solver = kinematics_of(plain_leg(0.05, 0.08, 0.12, -np.inf, np.inf))
    q = np.array([0.3, -0.4, 1.2]) + 2.0 * np.pi * np.array([3.0, -2.0, 1.0])
    answer = solver.reach(solver.foot(q), q)
    np.testing.assert_allclose(answer.q, q, atol=1e-9)


def test_singular_targets_are_plain_numbers() -> None:
    """Foot on the coxa axis, foot on the femur axis, straight leg, knee at a limit."""
    solver = kinematics_of(plain_leg(0.05, 0.08, 0.08, [-1.0, -3.0, -2.9], [1.0, 3.0, 0.0]))
    straight = solver.foot(np.array([0.5, 0.2, 0.0]))
    for target in ([0.0, 0.0, 0.05], [0.05, 0.0, 0.0], [0.0, 0.0, 0.0], straight):
        answer = solver.reach(np.array(target), None)
        assert np.isfinite(answer.q).all()
        found = np.linalg.norm(solver.foot(answer.q) - target)
        np.testing.assert_allclose(answer.error, found, atol=1e-12)
    assert answer.ok


def test_bad_requests_are_refused() -> None:
    robot = load(WILD[0], kinematics_of)
    leg = next(iter(robot.legs.values()))
    L, J = len(robot.legs), len(robot.joint_names)
    for call in (
        lambda: leg.reach([np.nan, 0.0, 0.0]),
        lambda: leg.reach([0.1, 0.2]),
        lambda: leg.reach(0.1),
        lambda: leg.reach([0.1, 0.2, 0.3], near=[0.0, 0.0]),
        lambda: leg.reach(np.zeros((5, 3)), near=np.zeros((4, 3))),
        lambda: leg.reach([0.1, 0.2, 0.3], near=[np.inf, 0.0, 0.0]),
        lambda: leg.foot([0.0, 0.0]),
        lambda: leg.jacobian(np.zeros((4, 5))),
        lambda: reach_feet(robot, np.zeros((L - 1, 3))),
        lambda: reach_feet(robot, np.full((L, 3), np.nan)),
        lambda: reach_feet(robot, np.zeros((L, 3)), near=np.zeros(J - 1)),
        lambda: feet_of(robot, np.zeros(J + 1)),
    ):
        with pytest.raises(RequestError):
            call()


def test_empty_batches_and_leading_axes() -> None:
    robot = load(WILD[0], kinematics_of)
    leg = next(iter(robot.legs.values()))
    L, J = len(robot.legs), len(robot.joint_names)
    assert leg.reach(np.empty((0, 3))).q.shape == (0, 3)
    assert leg.foot(np.empty((2, 0, 3))).shape == (2, 0, 3)
    assert reach_feet(robot, np.empty((0, L, 3))).error.shape == (0, L)
    q = np.zeros((4, 5, J))
    feet = feet_of(robot, q)
    assert feet.shape == (4, 5, L, 3)
    answer = reach_feet(robot, feet, near=np.zeros(J))
    assert answer.q.shape == (4, 5, J) and answer.ok.shape == (4, 5, L)
    assert leg.reach(feet[..., 0, :], near=np.zeros((5, 3))).q.shape == (4, 5, 3)
    assert leg.jacobian(np.zeros((4, 5, 3))).shape == (4, 5, 3, 3)
