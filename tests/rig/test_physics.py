"""The world against formulas: each test names its own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import mujoco
import numpy as np
import pytest

import legwright as lw
from legwright.errors import RigError
from legwright.locomotion.signals import Targets
from legwright.locomotion.stance import footing
from legwright.mechanics.pose import still
from legwright.rig import _servo_kernel as k
from legwright.rig import grounds
from legwright.rig.ground import Patch
from legwright.rig.scene import scene_of
from legwright.rig.supply import Stiff, supply_of
from legwright.rig.world import World
from legwright.robot.robot import Robot

G = 9.81


def _hold(world: World, q: np.ndarray, seconds: float) -> None:
    for _ in range(round(seconds * world.rate)):
        world.apply(Targets(q=q, qd=np.zeros_like(q)))
        world.advance()


def test_free_fall(rook: Robot) -> None:
    """Formula: z = z0 - g t²/2 for the centre of mass, whatever the joints do."""
    world = World(rook, grounds.flat(), seed=1)
    world.reset(lift=0.5)
    data = world._data
    start, q = data.subtree_com[0].copy(), footing(rook).q
    _hold(world, q, 0.25)
    mujoco.mj_forward(world._model, data)
    fallen = start[2] - data.subtree_com[0, 2]
    # The engine's semi-implicit step falls g t dt / 2 further than the continuous law.
    assert fallen == pytest.approx(0.5 * G * 0.25**2 + 0.5 * G * 0.25 * 0.001, rel=1e-4)
    assert np.allclose(data.subtree_com[0, :2], start[:2], atol=1e-6)


def test_energy_is_conserved_without_friction(rook: Robot) -> None:
    """Law: kinetic plus potential energy of the linkage tumbling without servos is constant."""
    scene = scene_of(rook, grounds.flat(), timestep=0.0002, payload=None)
    model, data = scene.model, mujoco.MjData(scene.model)
    model.opt.enableflags |= mujoco.mjtEnableBit.mjENBL_ENERGY
    model.jnt_limited[:] = 0
    data.qpos[:3] = [0.0, 0.0, 50.0]
    data.qpos[scene.at_q] = footing(rook).q
    data.qvel[scene.at_v] = np.random.default_rng(2).uniform(-12.0, 12.0, 18)
    data.qvel[3:6] = [0.5, -0.3, 0.4]
    mujoco.mj_forward(model, data)
    start, kinetic = data.energy.sum(), data.energy[1]
    worst = 0.0
    for _ in range(2500):
        mujoco.mj_step(model, data)
        worst = max(worst, abs(data.energy.sum() - start))
    assert kinetic > 0.1
    # First-order step: half a step of potential power, m g v dt / 2, is the integrator's own.
    fall = rook.mass * G * (G * 0.5) * 0.0002 / 2.0
    assert worst < fall + 0.02 * kinetic


def test_pendulum_period(rook: Robot) -> None:
    """Formula: T = 2π √(I / (m g d)) of a lower leg that swings from a body held still."""
    scene = scene_of(rook, grounds.flat(), timestep=0.0005, payload=None)
    model, data = scene.model, mujoco.MjData(scene.model)
    leg = rook.legs["left-middle"]
    solid = leg.chain.solids[-1]
    axis = leg.chain.axes[-1]
    across = solid.com - axis * (axis @ solid.com)
    arm = float(np.linalg.norm(across))
    about = float(axis @ solid.inertia @ axis) + solid.mass * arm**2
    column = list(rook.joint_names).index(leg.joint_names[-1])
    held = np.ones(model.nv, dtype=bool)
    held[scene.at_v[column]] = False
    model.dof_armature[held] = 1e9
    model.jnt_limited[:] = 0
    data.qpos[2] = 5.0
    # Hang the leg: turn the joint until its centre of mass is lowest, then by 2° more.
    angles = np.linspace(-np.pi, np.pi, 2001)
    heights = []
    body = model.jnt_bodyid[model.joint(leg.joint_names[-1]).id]
    for angle in angles:
        data.qpos[scene.at_q[column]] = angle
        mujoco.mj_kinematics(model, data)
        heights.append(data.xipos[body, 2])
    rest = angles[int(np.argmin(heights))]
    data.qpos[scene.at_q[column]] = rest + np.radians(2.0)
    crossings, before = [], 1.0
    for step in range(8000):
        mujoco.mj_step(model, data)
        now = data.qpos[scene.at_q[column]] - rest
        if before < 0.0 <= now:
            crossings.append((step + now / (before - now)) * 0.0005)
        before = now
    period = float(np.mean(np.diff(crossings)))
    expected = 2.0 * np.pi * np.sqrt(about / (solid.mass * G * arm))
    # Above 2° the period is longer by (1 + θ²/16).
    assert period == pytest.approx(expected * (1.0 + np.radians(2.0) ** 2 / 16.0), rel=0.003)


def test_feet_sink_as_far_as_their_stiffness_says(rook: Robot) -> None:
    """Formula: depth = force / stiffness, foot by foot, for the sheet's 20 N/mm."""
    world = World(rook, grounds.flat(), seed=1, supply=Stiff(11.1, 18))
    _hold(world, footing(rook).q, 2.0)
    truth = world.truth()
    depth = world._scene.foot_radius - truth.feet[:, 2]
    stiffness = rook.sheet.foot.stiffness
    assert np.allclose(depth, truth.force[:, 2] / stiffness, rtol=0.02)
    assert truth.force[:, 2].sum() == pytest.approx(rook.mass * G, rel=0.002)


@pytest.mark.parametrize("up", [("left-front", "left-rear", "right-middle"), ("left-middle",)])
def test_static_forces_agree_with_loads(rook: Robot, up: tuple[str, ...]) -> None:
    """Referee: `lw.loads` of the pose that the world settled in; on three feet it is unique."""
    world = World(rook, grounds.flat(), seed=1, supply=Stiff(11.1, 18))
    q = footing(rook).q.copy()
    for name in up:
        leg, columns = rook.legs[name], rook.columns[name]
        q[columns] = leg.reach(leg.foot(q[columns]) + np.array([0.0, 0.0, 0.04]), near=q[columns]).q
    world.reset(q)
    _hold(world, q, 3.0)
    truth = world.truth()
    contact = np.array([name not in up for name in rook.legs])
    loads = lw.loads(rook, still(rook, truth.q, contact))
    weight = rook.mass * G
    if contact.sum() == 3:
        apart = np.abs(truth.force[:, 2] - loads.force[0, :, 2]) / weight
        assert apart.max() < 0.02
    assert truth.force[~contact].max() == 0.0
    # The joints carry what the feet bear: torques from the true forces, by virtual work.
    for name, columns in rook.columns.items():
        if name in up:
            continue
        leg = rook.legs[name]
        turned = np.empty(9)
        mujoco.mju_quat2Mat(turned, truth.body[3:])
        force = turned.reshape(3, 3).T @ truth.force[list(rook.legs).index(name)]
        lifted = still(
            rook,
            truth.q,
            [other != name and ok for other, ok in zip(rook.legs, contact, strict=True)],
        )
        own = lw.loads(rook, lifted).torque[0, columns]
        expected = own - leg.jacobian(truth.q[columns]).T @ force
        # The contact lies one foot radius below the foot point: its lever is left out.
        slack = 0.009 * np.linalg.norm(force) * 0.35 + 0.02
        assert np.allclose(truth.torque[columns], expected, atol=slack)


def test_grip_ends_at_the_cone(rook: Robot) -> None:
    """Formula: a body slides down a slope steeper than atan μ and rests on a flatter one."""
    moved = {}
    for friction in (0.2, 0.4):
        ground = grounds.slope(np.arctan(0.3), length=3.0)
        ground = replace(ground, friction=friction)
        world = World(rook, ground, seed=1, supply=Stiff(11.1, 18))
        world.reset(at=(1.2, 0.0))
        _hold(world, footing(rook).q, 1.0)
        start = world.truth().body[0]
        _hold(world, footing(rook).q, 1.0)
        moved[friction] = start - world.truth().body[0]
    assert moved[0.2] > 0.05
    assert abs(moved[0.4]) < 0.004


def test_a_walk_goes_as_far_as_planned(rook: Robot) -> None:
    """Referee: the plan's own velocity; within 5 %, feet not slipping."""
    walk = lw.Walk(lw.gait("tripod", legs=6), velocity=(0.1, 0.0))
    motion = lw.plan(rook, walk, samples=200)
    world = World(rook, grounds.flat(), seed=1)
    world.reset(motion.q[0])
    count = round(motion.cycle * world.rate)
    at = (np.arange(count) * 200 // count) % 200
    places = []
    for _ in range(4):
        places.append(world.truth().body[0])
        for index in at:
            world.apply(Targets(q=motion.q[index], qd=motion.qd[index]))
            world.advance()
        assert world.truth().others == 0.0
    walked = (places[-1] - places[1]) / (2 * count / world.rate)
    assert walked == pytest.approx(0.1, rel=0.05)


def test_the_same_seed_gives_the_same_run_bit_for_bit(rook: Robot) -> None:
    runs = []
    for seed in (5, 5, 6):
        world = World(rook, grounds.steps(0.02, seed=1), seed=seed)
        world.reset(at=(0.5, 0.0))
        seen = []
        for _ in range(60):
            sensed = world.sense()
            world.apply(Targets(q=sensed.q + 0.01, qd=sensed.qd * 0.0))
            world.advance()
            seen.append(np.concatenate([sensed.q, sensed.current, world.truth().body]))
        runs.append(np.array(seen))
    assert np.array_equal(runs[0], runs[1])
    assert not np.array_equal(runs[0], runs[2])


def test_targets_arrive_one_cycle_late(rook: Robot) -> None:
    world = World(rook, grounds.flat(), seed=1)
    world.reset(lift=0.3)
    q = footing(rook).q + 0.2
    world.apply(Targets(q=q, qd=np.zeros(18)))
    world.advance()
    assert np.abs(world.truth().current).max() < 0.1
    world.advance()
    assert np.abs(world.truth().current).min() > 0.5


def test_a_silent_servo_goes_limp_and_says_nothing(rook: Robot) -> None:
    world = World(rook, grounds.flat(), seed=1)
    world.silence("left_front_femur")
    sensed = world.sense()
    index = rook.joint_names.index("left_front_femur")
    assert np.flatnonzero(np.isnan(sensed.q)).tolist() == [index]
    _hold(world, footing(rook).q, 0.5)
    assert world.truth().current[index] == 0.0
    with pytest.raises(lw.RequestError, match="left_front_femur"):
        world.silence("left_front_femor")


def test_an_empty_battery_resets_servos_and_the_robot_sinks(rook: Robot) -> None:
    """Law: below its lowest voltage a servo is off; a full battery holds the robot up.

    With the friction of light gears: rook's own holds it up without current.
    """
    q, height = footing(rook).q, {}
    for charge in (1.0, 1e-6):
        world = World(rook, grounds.flat(), seed=1, supply=supply_of(rook, charge=charge))
        world.drift_friction(0.2)
        _hold(world, q, 12.0)
        height[charge] = world.pose()[2]
        assert (world._state[k.RESETS].min() > 0.0) == (charge < 1.0)
    assert height[1e-6] < height[1.0] - 0.02


def test_physics_that_bursts_says_so(rook: Robot, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)  # the engine writes a log of its own
    world = World(rook, grounds.flat(), seed=1)
    world.advance()
    world._data.qvel[3] = 1e12
    with pytest.raises(RigError, match=r"unstable at 0\.010 s with a time step of 0\.001 s"):
        world.advance()


def test_one_call_for_a_cycle_is_the_same_as_step_by_step(rook: Robot) -> None:
    """Law: the same arithmetic in the same order, bit for bit."""
    seen = []
    for whole in (True, False):
        world = World(rook, grounds.steps(0.02, seed=1), seed=5)
        assert all(world._engine)
        if not whole:
            world._engine = (0, 0, 0)
        world.reset(at=(0.5, 0.0))
        for _ in range(60):
            sensed = world.sense()
            world.apply(Targets(q=sensed.q + 0.01, qd=sensed.qd * 0.0))
            world.advance()
        seen.append(np.concatenate([world.truth().body, world.trace.ravel()]))
    assert np.array_equal(*seen)


def test_what_no_world_can_be_built_from_is_refused(rook: Robot) -> None:
    flat = grounds.flat()
    for wrong, match in (
        ({"timestep": 0.01, "rate": 100.0}, "timestep is 0.01, must be more than 0 and at most"),
        ({"timestep": 0.0007}, "whole number of steps"),
        ({"timestep": -1.0}, "timestep"),
        ({"rate": 0.0}, "rate"),
        ({"seed": -1}, "seed"),
        ({"seed": 1.5}, "seed"),
    ):
        with pytest.raises(lw.RequestError, match=match):
            World(rook, flat, **({"seed": 1} | wrong))
    world = World(rook, flat, seed=1)
    with pytest.raises(lw.RequestError, match="target of left_front_coxa"):
        world.apply(Targets(q=np.full(18, np.inf), qd=np.zeros(18)))
    with pytest.raises(lw.RequestError, match="joint targets"):
        world.apply(Targets(q=np.zeros(3), qd=np.zeros(3)))
    with pytest.raises(lw.RequestError, match="friction"):
        world.drift_friction(-1.0)
    with pytest.raises(lw.RequestError, match="joint positions"):
        world.reset(np.zeros(3))


def test_a_bare_description_walks_on_stiff_servos_and_says_so(tmp_path, rook: Robot) -> None:
    from legwright.robot.urdf_writing import urdf_text

    path = tmp_path / "bare.urdf"
    path.write_text(urdf_text(rook.tree), encoding="utf-8")
    bare = lw.load(path)
    world = World(bare, grounds.flat(), seed=1)
    assert any("stiff servos" in note.lower() for note in world.notes)
    assert any("stiff supply" in note for note in world.notes)
    q = footing(bare).q
    _hold(world, q, 1.5)
    truth = world.truth()
    assert truth.force[:, 2].sum() == pytest.approx(bare.mass * G, rel=0.01)
    assert np.abs(truth.q - q).max() < 0.02
    assert world.sense().up is None


WILD = sorted(Path("tests/data/wild").rglob("*.urdf"))[:8]


@pytest.mark.parametrize("path", [*WILD, Path("robots/wren"), Path("robots/heron")], ids=str)
def test_every_robot_stands_on_its_feet(path: Path) -> None:
    """Law: the ground's forces on the feet sum up to the weight; four, six and eight legs."""
    robot = lw.load(path)
    world = World(robot, grounds.flat(), seed=1)
    q = footing(robot).q
    _hold(world, q, 1.0)
    truth = world.truth()
    assert truth.force[:, 2].sum() == pytest.approx(robot.mass * G, rel=0.01)
    assert truth.others == 0.0
    assert np.abs(truth.q - q).max() < 0.03


def test_a_crouched_robot_is_set_on_its_belly(rook: Robot) -> None:
    world = World(rook, grounds.flat(), seed=1)
    q = footing(rook).q.copy()
    for name, columns in rook.columns.items():
        leg = rook.legs[name]
        up = leg.foot(q[columns]) + np.array([0.0, 0.0, 0.12])
        q[columns] = leg.reach(up, near=q[columns]).q
    world.reset(q)
    assert world.truth().feet[:, 2].min() > 0.015
    _hold(world, q, 0.5)
    assert world.truth().others == pytest.approx(rook.mass * G, rel=0.02)


def test_a_joint_without_a_target_keeps_its_last(rook: Robot) -> None:
    world = World(rook, grounds.flat(), seed=1)
    world.reset(lift=0.3)
    q = footing(rook).q + 0.2
    world.apply(Targets(q=q, qd=np.zeros(18)))
    world.advance()
    world.apply(Targets(q=np.full(18, np.nan), qd=np.full(18, np.nan)))
    for _ in range(30):
        world.advance()
    assert np.allclose(world.truth().q, q, atol=0.03)


def test_soft_soil_is_a_spring_in_series_with_the_foot(rook: Robot) -> None:
    """Formula: depth = force (1/K_foot + 1/K_soil)."""
    soft = replace(grounds.flat(), stiffness=5e3)
    world = World(rook, soft, seed=1, supply=Stiff(11.1, 18))
    _hold(world, footing(rook).q, 2.0)
    truth = world.truth()
    depth = world._scene.foot_radius - truth.feet[:, 2]
    expected = truth.force[:, 2] * (1.0 / rook.sheet.foot.stiffness + 1.0 / 5e3)
    assert np.allclose(depth, expected, rtol=0.02)


def test_a_slippery_patch_lets_feet_slide_where_the_rest_holds(rook: Robot) -> None:
    """Formula: as the friction cone on the whole slope, here for one patch of it."""
    slope = grounds.slope(np.arctan(0.3), length=3.0)
    patch = Patch(x=(0.0, 3.0), y=(-1.0, 1.0), friction=0.15)
    moved = []
    for patches in ((), (patch,)):
        world = World(rook, replace(slope, patches=patches), seed=1, supply=Stiff(11.1, 18))
        world.reset(at=(1.2, 0.0))
        _hold(world, footing(rook).q, 1.0)
        start = world.truth().body[0]
        _hold(world, footing(rook).q, 0.5)
        moved.append(start - world.truth().body[0])
    assert abs(moved[0]) < 0.004 and moved[1] > 0.03
