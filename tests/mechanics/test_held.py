"""Holding torque of joints that belong to no leg."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pinocchio as pin
import pytest
from bare_walkers import Walked, stance, walker
from dynamics_referee import Referee

from legwright.mechanics.held import held_torques
from legwright.mechanics.loads import standing
from legwright.mechanics.pose import GRAVITY
from legwright.robot.loading import load
from legwright.robot.tree import Joint, JointKind, Link, Mimic, Solid, Tree

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))


@pytest.mark.parametrize("path", WILD, ids=lambda path: path.stem)
def test_holding_torques_agree_with_pinocchio(path):
    """Referee: Pinocchio's generalised gravity, body level, held joints turned at random."""
    robot = load(path, Walked)
    rng = np.random.default_rng(1)
    robot = replace(robot, held={name: rng.uniform(-1, 1) for name in robot.held})
    referee = Referee(robot)
    q = pin.neutral(referee.model)
    q[:7] = pin.SE3ToXYZQUAT(referee.root_to_body.inverse())
    for name, angle in robot.held.items():
        referee._set(q, name, angle)
    referee.model.gravity.linear = np.array([0, 0, -GRAVITY])
    torque = pin.computeGeneralizedGravity(referee.model, referee.data, q)
    model = referee.model
    expected = [torque[model.joints[model.getJointId(name)].idx_v] for name in robot.held]
    np.testing.assert_allclose(held_torques(robot), expected, atol=1e-9)


def test_some_wild_robots_hold_a_mast():
    assert sum(bool(load(path, Walked).held) for path in WILD) >= 2


def mast(*, up: bool = False, kind: JointKind = JointKind.REVOLUTE) -> Tree:
    """body - tilt - head, and a lid that mimics the tilt; the root is the head when ``up``."""
    still = np.eye(4)
    ahead = np.eye(4)
    ahead[0, 3] = 0.1
    arm = Solid(mass=0.5, com=np.array([0.2, 0.0, 0.0]), inertia=np.eye(3) * 1e-4)
    heavy = Solid(mass=3.0, com=np.zeros(3), inertia=np.eye(3))
    axis = np.array([0.0, 1.0, 0.0]) if kind is JointKind.REVOLUTE else np.array([0.0, 0, 1])
    parent, child = ("head", "body") if up else ("body", "head")
    joints = {
        "tilt": Joint(name="tilt", kind=kind, parent=parent, child=child, placement=still,
                      axis=axis, lower=-1.0, upper=1.0),
        "lid": Joint(name="lid", kind=JointKind.REVOLUTE, parent="head", child="lid",
                     placement=ahead, axis=np.array([0.0, 1, 0]), lower=-1.0, upper=1.0,
                     mimic=Mimic(source="tilt", multiplier=2.0)),
    }  # fmt: skip
    carried: dict[str, tuple[str, ...]] = {}
    for name, joint in joints.items():
        carried[joint.parent] = (*carried.get(joint.parent, ()), name)
    return Tree(
        name="mast",
        root="head" if up else "body",
        links={
            "body": Link(name="body", solid=heavy),
            "head": Link(name="head", solid=arm),
            "lid": Link(name="lid", solid=arm),
        },
        joints=MappingProxyType(joints),
        parent_joint=MappingProxyType({joint.child: name for name, joint in joints.items()}),
        child_joints=MappingProxyType(carried),
    )


def test_a_mimic_joint_weighs_on_the_joint_it_follows():
    """Referee: statics by hand, all level: arm at 0.2 m, lid's arm at 0.1 + 0.2 m."""
    robot = replace(walker(), tree=mast(), held={"tilt": 0.0})
    own, lid = -0.5 * GRAVITY * (0.2 + 0.3), -0.5 * GRAVITY * 0.2
    assert held_torques(robot)[0] == pytest.approx(own + 2.0 * lid)


def test_a_joint_above_the_body_holds_what_the_body_does_not_carry():
    """Referee: statics by hand; the same mast, described from the head down, turns the sign."""
    robot = replace(walker(), tree=mast(up=True), held={"tilt": 0.0})
    own, lid = 0.5 * GRAVITY * (0.2 + 0.3), -0.5 * GRAVITY * 0.2
    assert held_torques(robot)[0] == pytest.approx(own + 2.0 * lid)


def test_a_sliding_joint_holds_a_force():
    """Referee: statics by hand: two arms' weight, and twice the lid's moment."""
    robot = replace(walker(), tree=mast(kind=JointKind.PRISMATIC), held={"tilt": 0.0})
    assert held_torques(robot)[0] == pytest.approx(GRAVITY - 2.0 * 0.5 * GRAVITY * 0.2)


def test_loads_carry_the_holding_torques():
    robot = replace(walker(), tree=mast(), held={"tilt": 0.3})
    np.testing.assert_array_equal(standing(robot, stance(robot)).held_torque, held_torques(robot))
