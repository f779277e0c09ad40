"""Loads of motions: balance, Pinocchio, symmetry, and what may not matter."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from bare_walkers import PLACES, Walked, leg_chain, stance, walker
from dynamics_referee import Referee
from hypothesis import given, settings
from hypothesis import strategies as st
from test_dynamics import random_motion

import legwright as lw
from legwright.errors import RequestError
from legwright.mechanics.balance import static_margin
from legwright.mechanics.forces import distribute
from legwright.mechanics.loading import PointMass
from legwright.mechanics.loads import ASSUMED_FRICTION, friction_of, loads, standing
from legwright.mechanics.pose import GRAVITY, gravity_on, rotations, still
from legwright.robot.loading import load
from legwright.robot.servo import Servo
from legwright.robot.sheet import Requirements, Sheet
from legwright.robot.tree import Solid

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))
ROBOT = walker()
TRIPOD = np.array([True, False, True, False, True, False])
MIRROR = [3, 4, 5, 0, 1, 2]


def poses(seed, spread=0.25):
    rng = np.random.default_rng(seed)
    return stance(ROBOT) + rng.uniform(-spread, spread, 18)


@pytest.mark.parametrize("path", WILD, ids=lambda path: path.stem)
def test_torques_and_forces_agree_with_pinocchio(path):
    """Referee: Pinocchio's rnea with our foot forces as outside forces.

    Where the forces are feasible nothing may be left for the floating base to supply.
    """
    robot = load(path, Walked)
    motion = random_motion(robot, np.random.default_rng(9), samples=8)
    calm = replace(
        motion,
        q=motion.q * 0.3,
        qd=motion.qd * 0.1,
        qdd=motion.qdd * 0.05,
        body=np.tile([0, 0, 0.2, 1, 0, 0, 0.0], (8, 1)),
        twist=motion.twist * 0.1,
        acceleration=motion.acceleration * 0.05,
        gravity=np.array([0.2, -0.3, -9.8]),
        contact=motion.contact | True,
    )
    found, referee, carried = loads(robot, calm), Referee(robot), 0
    for t in range(8):
        torque, base = referee.rnea(calm, t, found.force[t])
        np.testing.assert_allclose(found.torque[t], torque, atol=1e-6, rtol=0)
        if found.feasible[t]:
            carried += 1
            np.testing.assert_allclose(base, 0.0, atol=1e-5)
    assert carried >= 4
    wild = loads(robot, motion)
    for t in range(8):  # whatever the forces, the torques follow from them
        torque, _ = referee.rnea(motion, t, wild.force[t])
        np.testing.assert_allclose(wild.torque[t], torque, atol=1e-6, rtol=0)


@given(st.integers(0, 2**32 - 1), st.floats(0.0, 0.3), st.floats(-3.1, 3.1))
@settings(max_examples=80, deadline=None)
def test_foot_forces_sum_to_the_weight(seed, slope, uphill):
    """Referee: statics. Forces balance weight and its moment wherever they are feasible."""
    gravity = gravity_on(slope, uphill)
    motion = still(ROBOT, poses(seed), gravity=gravity)
    found = loads(ROBOT, motion, friction=0.7)
    R = rotations(motion.body[0, 3:])
    weight = ROBOT.mass * R.T @ gravity
    if found.feasible[0]:
        np.testing.assert_allclose(found.force[0].sum(axis=0), -weight, atol=1e-6)
        moment = np.cross(motion.feet[0], found.force[0]).sum(axis=0)
        np.testing.assert_allclose(moment + np.cross(found.com[0], weight), 0.0, atol=1e-6)
    assert (found.grip[0] <= 0.7 * (1 + 1e-9)).all()
    assert (found.force[0] @ R[2] >= -1e-9).all()


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=30, deadline=None)
def test_standing_torques_lift_the_body(seed):
    """Referee: virtual work. A small move of joints and body with feet held does no net work."""
    rng = np.random.default_rng(seed)
    motion = still(ROBOT, poses(seed))
    found = loads(ROBOT, motion)
    if not found.feasible[0]:
        return
    turned = rotations(motion.body[0, 3:])
    shift, turn = rng.normal(size=(2, 3))
    work = 0.0
    for index, leg in enumerate(ROBOT.legs.values()):
        span, foot = ROBOT.columns[leg.name], motion.feet[0, index]
        back = -(shift + np.cross(turn, foot))  # the foot, seen from the body
        move = np.linalg.solve(leg.jacobian(motion.q[0, span]), back)
        work += found.torque[0, span] @ move
        for i in range(3):
            q, h = motion.q[0].copy(), 1e-6
            q[span.start + i] += h
            rise = loads(ROBOT, replace(motion, q=q[None])).com[0] - found.com[0]
            work += ROBOT.mass * (turned.T @ motion.gravity) @ rise / h * move[i]
    weight = ROBOT.mass * turned.T @ motion.gravity
    work += weight @ (shift + np.cross(turn, found.com[0]))
    assert work == pytest.approx(0.0, abs=1e-3)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_a_mirrored_pose_has_mirrored_loads(seed):
    """Referee: left-right symmetry of the walker; yaw joints change sign, pitch joints do not."""
    q = poses(seed)
    sign = np.tile([-1.0, 1, 1], 6)
    order = np.arange(18).reshape(6, 3)[MIRROR].ravel()
    ours, theirs = standing(ROBOT, q), standing(ROBOT, (sign * q)[order])
    np.testing.assert_allclose(theirs.torque[0], (sign * ours.torque[0])[order], atol=1e-7)
    np.testing.assert_allclose(theirs.force[0], (ours.force[0] * [1, -1, 1])[MIRROR], atol=1e-7)
    assert theirs.margin[0] == pytest.approx(ours.margin[0], abs=1e-9)


@given(st.permutations(list(PLACES)), st.integers(0, 2**32 - 1))
@settings(max_examples=25, deadline=None)
def test_names_and_order_of_legs_do_not_matter(order, seed):
    """Referee: the same machine with its legs listed and named otherwise."""
    renamed = {f"limb{i}": leg_chain(*PLACES[name], f"x{i}") for i, name in enumerate(order)}
    other, q = walker(renamed), poses(seed)
    legs = [list(PLACES).index(name) for name in order]
    columns = np.arange(18).reshape(6, 3)[legs].ravel()
    ours, theirs = standing(ROBOT, q), standing(other, q[columns])
    np.testing.assert_allclose(theirs.torque[0], ours.torque[0][columns], atol=1e-7)
    np.testing.assert_allclose(theirs.force[0], ours.force[0][legs], atol=1e-7)
    np.testing.assert_allclose(theirs.margin, ours.margin, atol=1e-12)
    assert theirs.feasible[0] == ours.feasible[0]


def test_swing_feet_carry_nothing():
    found = standing(ROBOT, stance(ROBOT), contact=TRIPOD)
    assert (found.force[0][~TRIPOD] == 0.0).all()
    assert (found.grip[0][~TRIPOD] == 0.0).all()
    assert found.feasible[0]
    assert found.force[0, :, 2].sum() == pytest.approx(ROBOT.mass * GRAVITY)


@pytest.mark.parametrize("push", [("left-front", (0, 0, 6.0)), (3, (-2.0, 1.0, 5.0))])
def test_a_pushing_foot_is_balanced_by_the_others(push):
    """Referee: statics; the push counts like any outside force."""
    leg = list(ROBOT.legs).index(push[0]) if isinstance(push[0], str) else push[0]
    found = standing(ROBOT, stance(ROBOT), push=push)
    np.testing.assert_allclose(found.force[0, leg], push[1])
    assert found.feasible[0]
    np.testing.assert_allclose(found.force[0].sum(axis=0), [0, 0, ROBOT.mass * GRAVITY], atol=1e-6)
    motion = still(ROBOT, stance(ROBOT))
    moment = np.cross(motion.feet[0] - found.com[0], found.force[0]).sum(axis=0)
    np.testing.assert_allclose(moment, 0.0, atol=1e-6)
    assert found.grip[0, leg] == 0.0


def test_legs_that_push_in_turn_are_weighed_as_each_alone():
    """Referee: one pose after the other."""
    legs, force = np.arange(len(ROBOT.legs)), (0.5, 0.0, 5.0)
    poses = np.repeat(np.reshape(stance(ROBOT), (1, -1)), len(legs), axis=0)
    turns = standing(ROBOT, poses, push=(legs, force))
    for leg in legs.tolist():
        alone = standing(ROBOT, stance(ROBOT), push=(leg, force))
        assert turns.margin[leg] == pytest.approx(alone.margin[0])
        np.testing.assert_allclose(turns.force[leg], alone.force[0], atol=1e-9)


def test_the_margin_under_a_push_ends_where_the_feet_let_go():
    """Referee: the force distribution. Its feasibility changes where the margin changes sign."""
    q, seen = stance(ROBOT), []
    for push in np.linspace(0.0, 22.0, 45):
        found = standing(ROBOT, q, push=("left-front", (0, 0, push)))
        assert bool(found.feasible[0]) is bool(found.margin[0] > 0.0)
        seen.append(bool(found.feasible[0]))
    assert seen[0] and not seen[-1]
    plain = standing(ROBOT, q, contact=[False, *[True] * 5])
    zero = standing(ROBOT, q, push=("left-front", (0, 0, 0)))
    np.testing.assert_allclose(zero.margin, plain.margin, atol=1e-12)
    lifted = standing(ROBOT, q, push=("left-front", (0, 0, 1000.0)))
    assert lifted.margin[0] == -np.inf


def test_payload_moves_weight_and_centre():
    """Referee: a walker whose trunk holds the payload from the start."""
    payload, q = PointMass(mass=0.9, at=np.array([0.06, 0.01, 0.05])), poses(1)
    at = payload.at
    loaded = Solid(
        mass=2.1,
        com=0.9 * at / 2.1,
        inertia=np.diag([4e-3, 8e-3, 1e-2])
        + 0.9 * 1.2 / 2.1 * (at @ at * np.eye(3) - np.outer(at, at)),
    )
    ours, theirs = standing(ROBOT, q, payload=payload), standing(walker(trunk=loaded), q)
    np.testing.assert_allclose(ours.torque, theirs.torque, atol=1e-9)
    np.testing.assert_allclose(ours.com, theirs.com, atol=1e-12)
    assert ours.com[0, 0] > standing(ROBOT, q).com[0, 0]


def test_margin_is_measured_along_gravity():
    """Referee: on a slope the centre of mass projects downhill by height · tan(slope)."""
    q, slope = stance(ROBOT), 0.2
    level, tilted = standing(ROBOT, q), standing(ROBOT, q, gravity=gravity_on(slope, np.pi / 2))
    motion = still(ROBOT, q)
    height = (level.com[0] - motion.feet[0].mean(axis=0))[2]
    shifted = level.com[0] - [0, height * np.tan(slope), 0]
    shrunk = motion.feet[0] * [1, np.cos(slope), 1]
    expected = static_margin(shrunk, shifted * [1, np.cos(slope), 1])
    assert tilted.margin[0] == pytest.approx(float(expected), abs=1e-9)


def test_friction_comes_from_the_sheet_or_is_assumed():
    icy = walker(sheet=Sheet(requirements=Requirements(friction=0.1)))
    assert friction_of(icy) == 0.1
    assert friction_of(ROBOT) == ASSUMED_FRICTION
    slope = gravity_on(0.2)
    q = stance(ROBOT)
    assert not standing(icy, q, gravity=slope).feasible[0]
    assert standing(icy, q, gravity=slope, friction=0.4).feasible[0]
    assert standing(ROBOT, q, gravity=slope).feasible[0]
    with pytest.raises(RequestError, match="friction"):
        standing(ROBOT, q, friction=-1.0)


def test_rotors_add_to_the_drives_alone():
    servo = Servo(
        stall_torque="2 N*m", no_load_speed="5 rad/s", rotor_inertia="40 g*cm**2", gear_ratio=100.0
    )
    robot = walker(servos=dict.fromkeys(ROBOT.joint_names, servo))
    motion = replace(still(robot, np.tile(stance(robot), (4, 1))), qdd=np.full((4, 18), 3.0))
    ours, bare = loads(robot, motion), loads(robot, motion, rotors=False)
    np.testing.assert_allclose(ours.torque - bare.torque, 4e-6 * 100**2 * 3.0, atol=1e-12)
    np.testing.assert_array_equal(ours.force, bare.force)


def test_forces_are_those_of_the_public_distribution():
    """Referee: `distribute`, fed by hand with the weight."""
    motion = still(ROBOT, poses(2), TRIPOD)
    found, R = loads(ROBOT, motion), rotations(motion.body[0, 3:])
    lift = -ROBOT.mass * R.T @ motion.gravity
    wrench = np.r_[lift, np.cross(found.com[0], lift)]
    by_hand = distribute(motion.feet[0], R[2], wrench, friction=ASSUMED_FRICTION, contact=TRIPOD)
    np.testing.assert_allclose(found.force[0], by_hand.forces, atol=1e-8)


def test_nothing_stands_on_no_feet():
    found = standing(ROBOT, stance(ROBOT), contact=np.zeros(6, dtype=bool))
    assert not found.feasible[0]
    assert found.margin[0] == -np.inf
    assert (found.force == 0).all()


def test_motions_of_another_robot_are_refused():
    other = walker({"a": leg_chain(0.1, 0.1, "a"), "b": leg_chain(0.1, -0.1, "b")})
    with pytest.raises(RequestError, match="motion"):
        loads(other, still(ROBOT, stance(ROBOT)))
    with pytest.raises(RequestError, match="push"):
        standing(ROBOT, stance(ROBOT), push=("left-wing", (0, 0, -1)))
    with pytest.raises(RequestError, match="push"):
        standing(ROBOT, stance(ROBOT), push=(6, (0, 0, -1)))
    with pytest.raises(RequestError, match="q "):
        standing(ROBOT, np.zeros(5))


@given(st.lists(st.booleans(), min_size=6, max_size=6), st.integers(0, 2**32 - 1))
@settings(max_examples=120, deadline=None)
def test_level_ground_carries_where_the_margin_is_positive(contact, seed):
    """Source: Bretl & Lall 2008: on level ground equilibrium means the centre over the hull."""
    payload = PointMass(mass=1.5, at=np.random.default_rng(seed).uniform(-0.35, 0.35, 3))
    found = standing(ROBOT, stance(ROBOT), contact=contact, payload=payload)
    assert bool(found.feasible[0]) is bool(found.margin[0] > 0.0)


def test_one_broken_sample_leaves_the_others_alone():
    """A pose that is no number (a target out of reach) is infeasible, not contagious."""
    q = np.tile(stance(ROBOT), (3, 1))
    whole = loads(ROBOT, still(ROBOT, q))
    motion = still(ROBOT, q)
    broken = q.copy()
    broken[1, 4] = np.nan
    found = loads(ROBOT, replace(motion, q=broken))
    assert list(found.feasible) == [True, False, True]
    np.testing.assert_array_equal(found.torque[[0, 2]], whole.torque[[0, 2]])
    np.testing.assert_array_equal(found.force[[0, 2]], whole.force[[0, 2]])


def shuffled(text: str, seed: int) -> tuple[str, dict[str, str]]:
    """A URDF with its links and joints in another order and under other names."""
    root, rng = ElementTree.fromstring(text), np.random.default_rng(seed)
    parts = list(root)
    names = {part.get("name", ""): f"n{rng.integers(10**9)}" for part in parts}
    for part in parts:
        root.remove(part)
        part.set("name", names[part.get("name", "")])
        for child in part.iter():
            for key in ("link", "joint"):
                if child.get(key) in names:
                    child.set(key, names[child.get(key, "")])
    root.extend([parts[i] for i in rng.permutation(len(parts))])
    return ElementTree.tostring(root, encoding="unicode"), names


@pytest.mark.parametrize("path", WILD[:4], ids=lambda path: path.stem)
def test_names_and_order_in_the_description_do_not_matter(path, tmp_path):
    """Referee: the same description, its links and joints renamed and in another order."""
    robot = load(path, Walked)
    text, names = shuffled(path.read_text(encoding="utf-8"), seed=len(robot.legs))
    other_path = tmp_path / path.name
    other_path.write_text(text, encoding="utf-8")
    other = load(other_path, Walked)
    assert list(other.legs) == list(robot.legs)
    assert [names[name] for name in robot.joint_names] == list(other.joint_names)
    motion = random_motion(robot, np.random.default_rng(12), samples=4)
    ours = loads(robot, motion)
    theirs = loads(other, replace(motion, joint_names=other.joint_names))
    carried = ours.feasible  # elsewhere the nearest forces are settled to a millionth
    np.testing.assert_array_equal(theirs.feasible, carried)
    for found, known in ((theirs.torque, ours.torque), (theirs.force, ours.force)):
        np.testing.assert_allclose(found[carried], known[carried], atol=1e-8)
        np.testing.assert_allclose(found, known, atol=1e-5)
    np.testing.assert_allclose(theirs.margin, ours.margin, atol=1e-9)
    held = {names[name]: torque for name, torque in zip(robot.held, ours.held_torque, strict=True)}
    for name, torque in zip(other.held, theirs.held_torque, strict=True):
        assert torque == pytest.approx(held[name], abs=1e-12)


@pytest.mark.parametrize("path", WILD[:3], ids=lambda path: path.stem)
def test_a_walking_cycle_is_carried_by_the_ground(path):
    """Referee: momentum. Over a closed cycle the ground's mean force is the weight, upward.

    And at each moment the net force is the rate of change of the momentum (finite difference,
    away from lift and touch-down).
    """
    robot = lw.load(path)
    gait = lw.gait("wave", legs=len(robot.legs))
    motion = lw.plan(robot, lw.Walk(gait, velocity=(0.04, 0.01), turn=0.1), samples=512)
    found = loads(robot, motion)
    assert found.feasible.all()
    R = rotations(motion.body[:, 3:])
    force = np.einsum("tij,tj->ti", R, found.force.sum(axis=1))
    weight = -robot.mass * motion.gravity
    np.testing.assert_allclose(force.mean(axis=0), weight, atol=0.01 * robot.mass * GRAVITY)
    place = np.einsum("tij,tj->ti", R, found.com) + motion.body[:, :3]
    h = motion.cycle / 512
    rate = robot.mass * (place[2:] - 2 * place[1:-1] + place[:-2]) / h**2
    error = np.abs(rate + weight - force[1:-1]).max(axis=1)
    assert np.median(error) < 0.02 * np.abs(force - weight).max()
