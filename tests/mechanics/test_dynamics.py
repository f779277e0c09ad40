"""Inverse dynamics against Pinocchio and against conservation of energy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pinocchio as pin
import pytest
from bare_walkers import Walked, leg_chain, walker
from dynamics_referee import Referee

from legwright.errors import RequestError
from legwright.mechanics.dynamics import inverse_dynamics, packed, reflected, with_payload
from legwright.mechanics.loading import PointMass
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import rotations
from legwright.robot.loading import load
from legwright.robot.servo import Servo

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))


def random_motion(robot, rng, samples=12):
    T, J, L = samples, len(robot.joint_names), len(robot.legs)
    turns = rng.normal(size=(T, 4))
    return Motion(
        t=np.arange(T) / T,
        q=rng.uniform(-1.5, 1.5, (T, J)),
        qd=rng.uniform(-6, 6, (T, J)),
        qdd=rng.uniform(-60, 60, (T, J)),
        feet=np.zeros((T, L, 3)),
        contact=rng.random((T, L)) < 0.6,
        body=np.concatenate(
            [rng.normal(size=(T, 3)), turns / np.linalg.norm(turns, axis=1, keepdims=True)], axis=1
        ),
        twist=rng.uniform(-2, 2, (T, 6)),
        acceleration=rng.uniform(-8, 8, (T, 6)),
        gravity=np.array([1.0, -2.0, -9.0]),
        reach_error=np.zeros((T, L)),
        reached=np.ones((T, L), dtype=bool),
        cycle=1.0,
        joint_names=robot.joint_names,
        leg_names=tuple(robot.legs),
    )


def weigh(robot, motion, **options):
    gravity = motion.gravity @ rotations(motion.body[:, 3:])
    return inverse_dynamics(
        options.pop("arrays", packed(robot)),
        motion.q,
        motion.qd,
        motion.qdd,
        twist=motion.twist,
        acceleration=motion.acceleration,
        gravity=gravity,
        **options,
    )


@pytest.fixture(scope="module", params=WILD, ids=lambda path: path.stem)
def wild(request):
    return load(request.param, Walked)


def test_inverse_dynamics_agrees_with_pinocchio(wild):
    """Referee: Pinocchio's rnea on a free-flying base, random states; <= 1e-6 N·m."""
    motion = random_motion(wild, np.random.default_rng(1))
    found, referee = weigh(wild, motion), Referee(wild)
    for t in range(len(motion.t)):
        torque, wrench = referee.rnea(motion, t)
        np.testing.assert_allclose(found.torque[t], torque, atol=1e-6, rtol=0)
        np.testing.assert_allclose(found.wrench[t], wrench, atol=1e-6, rtol=0)


def test_mass_motion_agrees_with_pinocchio(wild):
    """Referee: Pinocchio's centre of mass, centroidal momentum, energy, foot and Jacobian."""
    motion = random_motion(wild, np.random.default_rng(2), samples=5)
    found, referee = weigh(wild, motion), Referee(wild)
    model, data = referee.model, referee.data
    for t in range(len(motion.t)):
        q, v, _ = referee.state(motion, t)
        R, p = rotations(motion.body[t, 3:]), motion.body[t, :3]
        np.testing.assert_allclose(
            found.com[t], R.T @ (pin.centerOfMass(model, data, q) - p), atol=1e-9
        )
        momentum = pin.computeCentroidalMomentum(model, data, q, v)
        np.testing.assert_allclose(found.momentum[t, :3], R.T @ momentum.linear, atol=1e-8)
        np.testing.assert_allclose(found.momentum[t, 3:], R.T @ momentum.angular, atol=1e-8)
        kinetic = pin.computeKineticEnergy(model, data, q, v)
        assert found.kinetic[t] == pytest.approx(kinetic, rel=1e-9)
        pin.computeJointJacobians(model, data, q)
        pin.updateFramePlacements(model, data)
        for leg, frame in enumerate(referee.feet):
            where = R.T @ (data.oMf[frame].translation - p)
            np.testing.assert_allclose(found.feet[t, leg], where, atol=1e-9)
            world = pin.getFrameJacobian(model, data, frame, pin.LOCAL_WORLD_ALIGNED)
            own = R.T @ world[:3][:, referee.columns]
            span = list(wild.columns.values())[leg]
            np.testing.assert_allclose(found.jacobian[t][:, span], own[:, span], atol=1e-8)


def test_rotor_inertia_is_pinocchios_armature(wild):
    """Referee: Pinocchio's rnea with armature inertia · ratio² at every drive."""
    rng = np.random.default_rng(3)
    motion, arrays = random_motion(wild, rng, samples=4), packed(wild)
    armature = rng.uniform(1e-4, 1e-3, len(wild.joint_names))
    referee = Referee(wild)
    model_armature = referee.model.armature.copy()
    model_armature[referee.columns] = armature
    referee.model.armature = model_armature
    with_rotors = weigh(wild, motion, arrays=arrays._replace(rotor=armature))
    without = weigh(wild, motion, arrays=arrays._replace(rotor=armature), rotors=False)
    for t in range(len(motion.t)):
        np.testing.assert_allclose(with_rotors.torque[t], referee.rnea(motion, t)[0], atol=1e-6)
    np.testing.assert_allclose(with_rotors.torque - without.torque, armature * motion.qdd)
    np.testing.assert_array_equal(with_rotors.wrench, without.wrench)


def test_payload_is_a_point_mass_on_the_trunk(wild):
    """Referee: Pinocchio's model with a point inertia appended to the base."""
    payload = PointMass(mass=0.7, at=np.array([0.05, -0.02, 0.11]))
    motion = random_motion(wild, np.random.default_rng(4), samples=4)
    referee = Referee(wild)
    extra = pin.Inertia(payload.mass, np.zeros(3), np.zeros((3, 3)))
    body = referee.root_to_body
    referee.model.appendBodyToJoint(1, extra, body * pin.SE3(np.eye(3), payload.at))
    referee.data = referee.model.createData()
    found = weigh(wild, motion, arrays=with_payload(packed(wild), payload))
    for t in range(len(motion.t)):
        torque, wrench = referee.rnea(motion, t)
        np.testing.assert_allclose(found.torque[t], torque, atol=1e-6)
        np.testing.assert_allclose(found.wrench[t], wrench, atol=1e-6)


def coupled_walker():
    """Four legs: plain; a mimic joint; a sliding joint; two joints. No referee reads a file."""
    from dataclasses import replace

    plain = leg_chain(0.1, 0.1, "a")
    mimic = replace(
        leg_chain(-0.1, 0.1, "b"),
        joint_names=("b_coxa", "b_femur"),
        coupling=np.array([[1.0, 0], [0, 1], [0, -0.7]]),
        offset=np.array([0.0, 0.0, 0.3]),
        lower=np.full(2, -2.0),
        upper=np.full(2, 2.0),
    )
    slides = replace(leg_chain(0.1, -0.1, "c"), prismatic=(False, False, True))
    short = leg_chain(-0.1, -0.1, "d")
    short = replace(
        short,
        joint_names=short.joint_names[1:],
        moving_names=short.moving_names[1:],
        link_names=short.link_names[1:],
        placements=short.placements[1:],
        axes=short.axes[1:],
        prismatic=short.prismatic[1:],
        coupling=np.eye(2),
        offset=np.zeros(2),
        lower=short.lower[1:],
        upper=short.upper[1:],
        solids=short.solids[1:],
    )
    return walker({"a": plain, "b": mimic, "c": slides, "d": short})


@pytest.mark.parametrize("robot", [walker(), coupled_walker()], ids=["six legs", "coupled"])
def test_power_goes_into_energy(robot):
    """Referee: conservation of energy. Power of drives, base wrench and feet = d(T + V)/dt."""
    rng = np.random.default_rng(6)
    J, g, h = len(robot.joint_names), np.array([0.3, -0.5, -9.7]), 1e-5
    q0, q1, q2, q3 = rng.uniform(-0.8, 0.8, (4, J))
    spin, swing, force = (
        rng.normal(size=3),
        rng.normal(size=3),
        rng.normal(size=(len(robot.legs), 3)),
    )

    def at(t):
        """Joints move by a cubic, the body turns about a fixed axis and sways."""
        q, qd, qdd = (
            q0 + t * q1 + t**2 * q2 + t**3 * q3,
            q1 + 2 * t * q2 + 3 * t**2 * q3,
            (2 * q2 + 6 * t * q3),
        )
        angle, rate, gain = np.sin(t), np.cos(t), -np.sin(t)
        size = np.linalg.norm(spin)
        w = np.r_[np.cos(size * angle / 2), np.sin(size * angle / 2) * spin / size]
        R = rotations(w)
        place, speed, push = (
            swing * np.sin(2 * t),
            2 * swing * np.cos(2 * t),
            -4 * swing * np.sin(2 * t),
        )
        twist = np.r_[R.T @ speed, spin * rate]
        felt = np.r_[R.T @ push, spin * gain]
        found = inverse_dynamics(
            packed(robot), q, qd, qdd, twist=twist, acceleration=felt, gravity=R.T @ g
        )
        mass = packed(robot).mass.sum()
        energy = found.kinetic[0] - mass * g @ (place + R @ found.com[0])
        return qd, twist, found, energy

    t = 0.3
    qd, twist, found, _ = at(t)
    rate = (at(t + h)[3] - at(t - h)[3]) / (2 * h)
    columns = [robot.columns[name] for name in robot.legs]
    torque, wrench, power = found.torque[0].copy(), found.wrench[0].copy(), 0.0
    for leg, (span, f) in enumerate(zip(columns, force, strict=True)):
        J_leg, foot = found.jacobian[0][:, span], found.feet[0, leg]
        torque[span] -= J_leg.T @ f
        wrench -= np.r_[f, np.cross(foot, f)]
        power += f @ (twist[:3] + np.cross(twist[3:], foot) + J_leg @ qd[span])
    power += torque @ qd + wrench @ twist
    assert power == pytest.approx(rate, rel=1e-6, abs=1e-6)
    assert abs(rate) > 0.1


def test_coupled_and_sliding_joints_weigh_as_the_potential_says():
    """Referee: at rest the torques are the gradient of the potential energy."""
    robot, rng, g = coupled_walker(), np.random.default_rng(7), np.array([0.0, 0.0, -9.80665])
    J, mass, h = len(robot.joint_names), packed(robot).mass.sum(), 1e-6
    q, none = rng.uniform(-1, 1, J), np.zeros(J)

    def com(q):
        rest = inverse_dynamics(
            packed(robot), q, none, none, twist=np.zeros(6), acceleration=np.zeros(6), gravity=g
        )
        return rest, -mass * g @ rest.com[0]

    gradient = [(com(q + h * e)[1] - com(q - h * e)[1]) / (2 * h) for e in np.eye(J)]
    np.testing.assert_allclose(com(q)[0].torque[0], gradient, atol=1e-8)


def test_reflected_rotor_inertia_is_the_square_law():
    servo = Servo(
        stall_torque="2 N*m", no_load_speed="5 rad/s", rotor_inertia="40 g*cm**2", gear_ratio=200.0
    )
    assert reflected(servo) == pytest.approx(4e-6 * 200.0**2)
    assert reflected(None) == 0.0


def test_arrays_that_do_not_fit_are_refused():
    robot = walker()
    rest = {"twist": np.zeros(6), "acceleration": np.zeros(6), "gravity": (0, 0, -9.8)}
    with pytest.raises(RequestError, match="qd "):
        inverse_dynamics(packed(robot), np.zeros(18), np.zeros(17), np.zeros(18), **rest)
    with pytest.raises(RequestError, match="q "):
        inverse_dynamics(packed(robot), np.zeros(17), np.zeros(17), np.zeros(17), **rest)
