"""The MJCF specification against Pinocchio's reading of the same URDF."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import mujoco
import numpy as np
import pinocchio as pin
import pytest

from legwright.errors import RobotError
from legwright.robot.loading import load
from legwright.robot.mjcf import body_name, model_of, spec_of
from legwright.robot.tree import ShapeKind

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_places_and_inertia_against_pinocchio(path):
    """Referee: Pinocchio's frame placements and joint-space inertia matrix (crba).

    Links without mass get 1e-9 kg here, so the matrices agree to 1e-8 kg·m².
    """
    robot = load(path, solver=lambda chain: None)
    model = spec_of(robot).compile()
    data = mujoco.MjData(model)
    theirs = pin.buildModelFromUrdf(str(path))
    their_data = theirs.createData()
    rng = np.random.default_rng(4)
    names = [theirs.names[i] for i in range(1, theirs.njoints)]
    columns = [theirs.joints[theirs.getJointId(name)].idx_v for name in names]
    rows = [int(model.joint(name).dofadr[0]) for name in names]
    for _ in range(3):
        full = pin.neutral(theirs)
        for name, value in zip(names, rng.uniform(-1.0, 1.0, len(names)), strict=True):
            at = theirs.joints[theirs.getJointId(name)]
            full[at.idx_q : at.idx_q + at.nq] = (
                value if at.nq == 1 else (np.cos(value), np.sin(value))
            )
            data.qpos[model.joint(name).qposadr[0]] = value
        mujoco.mj_forward(model, data)
        pin.framesForwardKinematics(theirs, their_data, full)
        for name in robot.tree.links:
            pose = their_data.oMf[theirs.getFrameId(name)]
            np.testing.assert_allclose(data.body(name).xpos, pose.translation, atol=1e-9)
            np.testing.assert_allclose(data.body(name).xmat.reshape(3, 3), pose.rotation, atol=1e-9)
        ours = np.zeros((model.nv, model.nv))
        mujoco.mj_fullM(model, data, ours)
        want = pin.crba(theirs, their_data, full)
        want = np.triu(want) + np.triu(want, 1).T
        np.testing.assert_allclose(
            ours[np.ix_(rows, rows)], want[np.ix_(columns, columns)], atol=1e-8
        )


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_mass_limits_and_names(path):
    """Mass, joint limits and names are those of the description."""
    robot = load(path, solver=lambda chain: None)
    model = spec_of(robot, free=True).compile()
    assert float(model.body_mass.sum()) == pytest.approx(robot.mass, abs=1e-6)
    assert model.nq == 7 + sum(joint.moves for joint in robot.tree.joints.values())
    for joint in robot.tree.joints.values():
        if not joint.moves:
            continue
        row = model.joint(joint.name)
        assert bool(row.limited[0]) == bool(np.isfinite(joint.lower) and np.isfinite(joint.upper))
        if row.limited[0]:
            np.testing.assert_allclose(row.range, [joint.lower, joint.upper])


def test_mimic_joint_is_held_by_an_equality(tmp_path):
    """q = 2 q_source + 0.1: MuJoCo's own constraint residual vanishes there and only there."""
    text = WILD[0].read_text(encoding="utf-8")
    robot = load(WILD[0], solver=lambda chain: None)
    source = next(iter(robot.legs.values())).joint_names[1]
    follower = next(iter(robot.held))
    mark = f'name="{follower}"'
    start = text.index(mark)
    end = text.index("</joint>", start)
    text = text[:end] + f'<mimic joint="{source}" multiplier="2" offset="0.1"/>' + text[end:]
    (tmp_path / "mimic.urdf").write_text(text, encoding="utf-8")
    coupled = load(tmp_path / "mimic.urdf", solver=lambda chain: None)
    model = spec_of(coupled).compile()
    data = mujoco.MjData(model)
    assert model.neq == 1
    for value, follows in ((0.3, 0.7), (0.3, 0.6)):
        data.joint(source).qpos = value
        data.joint(follower).qpos = follows
        mujoco.mj_forward(model, data)
        residual = data.efc_pos[data.efc_type == mujoco.mjtConstraint.mjCNSTR_EQUALITY]
        assert residual == pytest.approx([follows - 0.7], abs=1e-12)


def test_link_called_world_and_a_joint_without_range(tmp_path):
    """``world`` is the engine's own name, and it refuses an empty range; both are usual."""
    text = WILD[0].read_text(encoding="utf-8")
    robot = load(WILD[0], solver=lambda chain: None)
    text = text.replace(f'"{robot.tree.root}"', '"world"')
    (tmp_path / "world.urdf").write_text(text, encoding="utf-8")
    renamed = load(tmp_path / "world.urdf", solver=lambda chain: None)
    assert renamed.tree.root == "world"
    model = model_of(renamed)
    assert float(model.body_mass.sum()) == pytest.approx(robot.mass, abs=1e-6)
    assert model.body(body_name("world")).parentid[0] == 0


def test_what_the_engine_refuses_is_a_robot_error(tmp_path):
    """A sphere too small to be one: the engine's own word, with the file named."""
    robot = load(WILD[0], solver=lambda chain: None)
    name, link = next((n, x) for n, x in robot.tree.links.items() if x.collision)
    speck = replace(link.collision[0], kind=ShapeKind.SPHERE, size=(0.0,))
    links = {**robot.tree.links, name: replace(link, collision=(speck,))}
    broken = replace(robot, tree=replace(robot.tree, links=links))
    with pytest.raises(RobotError, match=r"refuses it: .*size") as caught:
        model_of(broken)
    assert caught.value.file == robot.source
