"""Loads of a cycle: our kernels against a Python loop over Pinocchio, in one run."""

from __future__ import annotations

import statistics
from pathlib import Path
from time import perf_counter

import numpy as np
import pinocchio as pin
import pytest

import legwright as lw
from legwright.mechanics.dynamics import packed
from legwright.mechanics.loads import loads
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import rotations, still
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

WILD = Path(__file__).parents[1] / "tests" / "data" / "wild"
SAMPLES = 128


def swaying(robot: Robot) -> Motion:
    """A six-legged tripod cycle of swaying joints; smooth, exact in its rates."""
    legs, J = len(robot.legs), len(robot.joint_names)
    middle = np.zeros(J)
    t = np.arange(SAMPLES) / SAMPLES
    phase = np.linspace(0.0, 3.0, J)
    w = 2.0 * np.pi
    base = still(robot, np.tile(middle, (SAMPLES, 1)))
    turn = w * t[:, None] + phase
    contact = np.zeros((SAMPLES, legs), dtype=np.bool_)
    contact[: SAMPLES // 2, ::2] = True
    contact[SAMPLES // 2 :, 1::2] = True
    return Motion(
        t=t,
        q=middle + 0.2 * np.sin(turn),
        qd=0.2 * w * np.cos(turn),
        qdd=-0.2 * w * w * np.sin(turn),
        feet=base.feet,
        contact=contact,
        body=np.tile([0.0, 0.0, 0.15, 1.0, 0.0, 0.0, 0.0], (SAMPLES, 1)),
        twist=np.tile([0.1, 0.0, 0.0, 0.0, 0.0, 0.0], (SAMPLES, 1)),
        acceleration=np.zeros((SAMPLES, 6)),
        gravity=base.gravity,
        reach_error=np.zeros((SAMPLES, legs)),
        reached=np.ones((SAMPLES, legs), dtype=np.bool_),
        cycle=1.0,
        joint_names=robot.joint_names,
        leg_names=tuple(robot.legs),
    )


class Looped:
    """The same numbers by a loop: rnea, frame Jacobians, least-squares forces by numpy."""

    def __init__(self, robot: Robot) -> None:
        self.robot = robot
        self.model = pin.buildModelFromUrdf(str(robot.source), pin.JointModelFreeFlyer())
        self.data = self.model.createData()
        self.root_to_body = self.model.frames[self.model.getFrameId(robot.body)].placement
        joints = [self.model.joints[self.model.getJointId(name)] for name in robot.joint_names]
        self.single = np.array([joint.nq == 1 for joint in joints])
        self.at = np.array([joint.idx_q for joint in joints])
        self.columns = np.array([joint.idx_v for joint in joints])
        self.feet = [self.model.getFrameId(leg.chain.foot_link) for leg in robot.legs.values()]
        self.neutral = pin.neutral(self.model)
        for name, angle in robot.held.items():
            joint = self.model.joints[self.model.getJointId(name)]
            stored = [angle] if joint.nq == 1 else [np.cos(angle), np.sin(angle)]
            self.neutral[joint.idx_q : joint.idx_q + joint.nq] = stored

    def torques(self, motion: Motion) -> tuple[Floats, Floats]:
        """Torques (T, J) and foot forces (T, L, 3), body axes."""
        model, data, to_body = self.model, self.data, self.root_to_body
        model.gravity.linear = np.array(motion.gravity)
        back, v, a = to_body.inverse(), np.zeros(model.nv), np.zeros(model.nv)
        q, single, L = self.neutral.copy(), self.single, len(self.feet)
        torque, forces = np.zeros_like(motion.q), np.zeros((len(motion.t), L, 3))
        turned = rotations(motion.body[:, 3:])
        for t in range(len(motion.t)):
            R = turned[t]
            q[:7] = pin.SE3ToXYZQUAT(pin.SE3(R, motion.body[t, :3]) * back)
            q[self.at[single]] = motion.q[t, single]
            q[self.at[~single]] = np.cos(motion.q[t, ~single])
            q[self.at[~single] + 1] = np.sin(motion.q[t, ~single])
            twist, felt = motion.twist[t], motion.acceleration[t].copy()
            felt[:3] -= np.cross(twist[3:], twist[:3])
            v[:6], a[:6] = (
                to_body.act(pin.Motion(twist)).vector,
                to_body.act(pin.Motion(felt)).vector,
            )
            v[self.columns], a[self.columns] = motion.qd[t], motion.qdd[t]
            tau = pin.rnea(model, data, q, v, a)
            pin.computeJointJacobians(model, data, q)
            pin.updateFramePlacements(model, data)
            stance = np.flatnonzero(motion.contact[t])
            blocks = np.hstack(
                [
                    pin.getFrameJacobian(model, data, self.feet[i], pin.LOCAL_WORLD_ALIGNED)[:3].T
                    for i in stance
                ]
            )
            f = np.linalg.lstsq(blocks[:6], tau[:6], rcond=None)[0]
            torque[t] = (tau - blocks @ f)[self.columns]
            forces[t, stance] = f.reshape(-1, 3) @ R
        return torque, forces

    def angles(self, feet: Floats, start: Floats) -> Floats:
        """Joint positions (T, J) that put the feet on (T, L, 3), by Newton steps, warm-started."""
        model, data, L = self.model, self.data, len(self.feet)
        body = model.getFrameId(self.robot.body)
        spans = [self.columns[span] for span in self.robot.columns.values()]
        found, now = np.empty((len(feet), len(start))), start.copy()
        q, single = self.neutral.copy(), self.single
        for t in range(len(feet)):
            for _ in range(20):
                q[self.at[single]] = now[single]
                q[self.at[~single]] = np.cos(now[~single])
                q[self.at[~single] + 1] = np.sin(now[~single])
                pin.computeJointJacobians(model, data, q)
                pin.updateFramePlacements(model, data)
                where, worst = data.oMf[body], 0.0
                for i in range(L):
                    target = where.act(feet[t, i])
                    miss = target - data.oMf[self.feet[i]].translation
                    worst = max(worst, np.abs(miss).max())
                    own = pin.getFrameJacobian(model, data, self.feet[i], pin.LOCAL_WORLD_ALIGNED)[
                        :3, spans[i]
                    ]
                    now[list(self.robot.columns.values())[i]] += np.linalg.solve(own, miss)
                if worst < 1e-9:
                    break
            found[t] = now
        return found


@pytest.fixture(scope="module")
def robot() -> Robot:
    """A six-legged robot that nobody here drew."""
    return next(
        robot
        for robot in map(lw.load, sorted(WILD.glob("*.urdf")))
        if len(robot.legs) == 6 and len(robot.joint_names) == 18
    )


def test_loads_of_a_cycle(benchmark, robot: Robot) -> None:
    """128 samples of a six-legged robot, and how much faster than the loop."""
    motion, looped = swaying(robot), Looped(robot)
    ours, (torque, forces) = (
        loads(robot, motion, friction=50.0, rotors=False),
        looped.torques(motion),
    )
    settled = ours.feasible & (np.abs(ours.force - forces).max(axis=(1, 2)) < 1e-6)
    assert settled.mean() > 0.5  # idle cones: the least-squares forces are ours
    np.testing.assert_allclose(ours.torque[settled], torque[settled], atol=1e-6)
    loop = []
    for _ in range(7):
        start = perf_counter()
        looped.torques(motion)
        loop.append(perf_counter() - start)
    assert packed(robot) is packed(robot)
    benchmark(loads, robot, motion, friction=50.0, rotors=False)
    ratio = statistics.median(loop) / benchmark.stats.stats.median
    benchmark.extra_info["times faster than a loop over Pinocchio"] = round(ratio, 1)
    assert ratio >= 10.0


def test_plan_and_loads_of_a_cycle(benchmark, robot: Robot) -> None:
    """Plan and loads of 128 samples, against inverse kinematics and dynamics in the loop."""
    walk = lw.Walk(lw.gait("tripod", legs=6), velocity=(0.05, 0.0), cycle=1.5)

    def both() -> Motion:
        motion = lw.plan(robot, walk, samples=SAMPLES)
        loads(robot, motion)
        return motion

    motion, looped = both(), Looped(robot)
    assert motion.ok
    np.testing.assert_allclose(looped.angles(motion.feet, motion.q[0]), motion.q, atol=1e-6)
    loop = []
    for _ in range(5):
        start = perf_counter()
        looped.angles(motion.feet, motion.q[0])
        looped.torques(motion)
        loop.append(perf_counter() - start)
    benchmark(both)
    ours = benchmark.stats.stats.median
    benchmark.extra_info["times faster than a loop over Pinocchio"] = round(
        statistics.median(loop) / ours, 1
    )
    assert ours <= 10e-3
    assert statistics.median(loop) >= 10.0 * ours


def test_loads_of_one_pose(benchmark, robot: Robot) -> None:
    """The overhead of a single pose."""
    pose = still(robot, np.zeros(len(robot.joint_names)))
    benchmark(loads, robot, pose)
