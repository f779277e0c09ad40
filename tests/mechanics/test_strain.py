"""Legs that give, on feet that stay where they touched."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError
from legwright.locomotion.stance import footing
from legwright.mechanics import strain
from legwright.mechanics._lag import GIVES, lag
from legwright.mechanics.dynamics import inverse_dynamics, packed
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import still
from legwright.mechanics.strain import Give, strained
from legwright.robot.robot import Robot

ROOK = Path(__file__).parents[2] / "robots" / "rook"


@pytest.fixture(scope="module")
def robot() -> Robot:
    return lw.load(ROOK)


def springs(joints: int = 18, **changes: object) -> Give:
    """Frictionless drives of 40 N·m/rad on feet of 20 N/mm."""
    none = np.zeros(joints)
    plain = Give(
        servo=none + 40.0, friction=none, driving_loss=none, backdrive_loss=none,
        gear=none + 1e6, play=none, foot=20e3,
    )  # fmt: skip
    return replace(plain, **changes)


def sticky(joints: int = 18) -> Give:
    """With friction, loss and play as of a small servo."""
    none = np.zeros(joints)
    return springs(
        friction=none + 0.2, driving_loss=none + 0.2, backdrive_loss=none + 0.4,
        gear=none + 170.0, play=none + 0.0035,
    )  # fmt: skip


def walk(robot: Robot, name: str = "tripod", turn: float = 0.0) -> Motion:
    gait = lw.gait(name, legs=6)
    return lw.plan(robot, lw.Walk(gait, velocity=(0.08, 0.0), turn=turn, cycle=1.4), samples=128)


def standing(robot: Robot, samples: int = 4) -> Motion:
    """The neutral stance, feet on the ground, as a cycle."""
    stand = footing(robot)
    one = still(robot, np.tile(stand.q, (samples, 1)), None)
    body = one.body.copy()
    body[:, 2] = stand.height
    return replace(one, body=body)


def test_springs_share_like_the_least_complementary_energy(robot: Robot) -> None:
    """Referee: the closed linear system of Castigliano's theorem, solved on its own.

    Frictionless legs at rest: the foot forces make Σ τ²/2K + Σ fn²/2k least, less the work of
    the lag that every leg had when it touched, among all forces that carry the weight.
    """
    motion = standing(robot)
    give = springs()
    got = strained(robot, motion, give, friction=50.0)
    need = inverse_dynamics(
        packed(robot), motion.q[:1], motion.qd[:1], motion.qdd[:1], twist=np.zeros(6)[None],
        acceleration=np.zeros(6)[None], gravity=[0.0, 0.0, -9.80665],
    )  # fmt: skip
    radius = robot.legs["left-front"].chain.foot_radius
    turned = [strain._axes(robot, name, leg, motion)[0] for name, leg in robot.legs.items()]
    H, g, E = np.zeros((18, 18)), np.zeros(18), np.zeros((6, 18))
    for i, (name, span) in enumerate(robot.columns.items()):
        arm = np.cross(turned[i].T, [0.0, 0.0, -radius]).T
        J = robot.legs[name].jacobian(motion.q[0, span]) + arm
        C = np.diag(1.0 / give.servo[span])
        own = slice(3 * i, 3 * i + 3)
        H[own, own] = J @ C @ J.T + np.diag([0.0, 0.0, 1.0 / give.foot])
        lagged = -J @ C @ need.torque[0, span]  # of the contact point, before it touched
        g[own] = np.array([0.0, 0.0, lagged[2]])  # sideways it keeps the place where it touched
        x, y, z = need.feet[0, i] - [0.0, 0.0, radius]
        E[:3, own] = np.eye(3)
        E[3:, own] = [[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]]
    K = np.block([[H, E.T], [E, np.zeros((6, 6))]])
    f = np.linalg.solve(K, np.concatenate([-g, need.wrench[0]]))[:18].reshape(6, 3)
    assert got.lost == 0
    np.testing.assert_allclose(got.force[-1], f, atol=2e-3)


def test_three_feet_carry_what_statics_says(robot: Robot) -> None:
    """Referee: `lw.loads`; on three feet the vertical forces are those of statics alone."""
    motion = walk(robot)
    none = np.zeros(18)
    got = strained(robot, motion, springs(servo=none + 400.0, foot=2e5), friction=0.8)
    plain = lw.loads(robot, motion)
    on_three = (got.force[:, :, 2] > 0.05).sum(axis=1) == 3
    assert got.lost == 0 and on_three.sum() > 60
    np.testing.assert_allclose(got.force[on_three, :, 2], plain.force[on_three, :, 2], atol=0.05)


@pytest.mark.parametrize("turn", [0.0, 0.3])
@pytest.mark.parametrize("give", [springs(), sticky()], ids=["springs", "friction"])
def test_the_ground_carries_the_robot(robot: Robot, give: Give, turn: float) -> None:
    """Laws: forces and moments balance, no foot pulls, none leaves its friction cone."""
    motion = walk(robot, turn=turn)
    got = strained(robot, motion, give, friction=0.7)
    assert got.lost == 0
    need = inverse_dynamics(
        packed(robot), motion.q, motion.qd, motion.qdd, twist=motion.twist,
        acceleration=motion.acceleration, gravity=[0.0, 0.0, -9.80665],
    )  # fmt: skip
    radius = robot.legs["left-front"].chain.foot_radius
    points = need.feet - [0.0, 0.0, radius]
    total = np.concatenate([got.force.sum(axis=1), np.cross(points, got.force).sum(axis=1)], axis=1)
    np.testing.assert_allclose(total, need.wrench, atol=2e-3)
    assert got.force[:, :, 2].min() > -2e-3
    side = np.linalg.norm(got.force[:, :, :2], axis=2)
    assert (side <= 0.7 * 1.03 * got.force[:, :, 2] + 0.02).all()


def test_friction_is_never_more_than_it_can_be(robot: Robot) -> None:
    """Law: pull and load of a drive differ by at most its friction."""
    give = sticky()
    got = strained(robot, walk(robot, "ripple"), give, friction=0.8)
    most = give.friction + 0.4 * np.abs(got.torque)
    assert (np.abs(got.pull - got.torque) <= most + 1e-6).all()
    assert (np.abs(got.pull - got.torque) > 0.5 * give.friction).mean() > 0.3


def test_the_cycle_repeats(robot: Robot) -> None:
    """What is kept is the same from round to round, and does not depend on their number."""
    motion = walk(robot)
    few = strained(robot, motion, sticky(), friction=0.8, rounds=4)
    more = strained(robot, motion, sticky(), friction=0.8, rounds=7)
    assert few.change < 0.01
    assert np.sqrt(np.mean((few.torque - more.torque) ** 2)) < 0.01


def test_stiff_legs_on_rolling_feet_push_harder(robot: Robot) -> None:
    """A foot that rolls carries its centre along, which the plan leaves out: strain grows with
    stiffness; without friction to hold it, least forces are never exceeded by much."""
    motion = walk(robot)
    none = np.zeros(18)
    soft = strained(robot, motion, springs(servo=none + 10.0), friction=50.0)
    stiff = strained(robot, motion, springs(servo=none + 80.0), friction=50.0)
    side = [float(np.sqrt((one.force[:, :, :2] ** 2).mean())) for one in (soft, stiff)]
    assert side[1] > 2.0 * side[0]


def test_feet_that_creep_let_strain_go(robot: Robot) -> None:
    """Law of the damper: fast creep leaves the sideways force that the plan itself needs."""
    motion = walk(robot)
    size = {}
    for creep in (0.0, 1e-3, 1.0):
        got = strained(robot, motion, springs(creep=creep), friction=50.0)
        size[creep] = float(np.sqrt((got.force[:, :, :2] ** 2).mean()))
    assert size[1.0] < 0.25 * size[1e-3] < 0.25 * size[0.0]


def test_way_of_a_rolling_foot(robot: Robot) -> None:
    """Law of rolling: the material point that touches stands still while the centre moves on.

    Referee: finite differences of a point fixed to the last link, found by turning its joint.
    """
    motion = walk(robot)
    axes = np.concatenate(
        [strain._axes(robot, name, leg, motion) for name, leg in robot.legs.items()], axis=2
    )
    leg, span = robot.legs["left-middle"], robot.columns["left-middle"]
    radius = leg.chain.foot_radius
    legs = np.repeat(np.arange(6), 3)
    offset = np.broadcast_to([0.0, 0.0, -radius], (128, 6, 3))
    rolls = strain._rolls(motion, axes, legs, offset) * 128 / motion.cycle  # [m/s]
    small = 1e-6
    for t in (3, 40, 90):
        q, qd = motion.q[t, span], motion.qd[t, span]
        lifted = replace(leg.chain, foot=leg.chain.foot + _down(robot, leg, motion, t) * radius)
        from legwright.mechanics.kinematics import kinematics_of

        touching = kinematics_of(lifted)
        centre = (leg.foot(q + small * qd) - leg.foot(q - small * qd)) / (2 * small)
        point = (touching.foot(q + small * qd) - touching.foot(q - small * qd)) / (2 * small)
        # v_point = v_centre + spin x (point - centre): what the centre must move on by
        np.testing.assert_allclose(rolls[t, 1], centre - point, atol=1e-6)


def _down(robot: Robot, leg: lw.Leg, motion: Motion, t: int) -> np.ndarray:
    """Straight down in the last link's frame, by asking where shifted feet come to lie."""
    from legwright.mechanics.kinematics import kinematics_of

    q = motion.q[t, robot.columns["left-middle"]]
    columns = []
    for axis in np.eye(3):
        moved = kinematics_of(replace(leg.chain, foot=leg.chain.foot + axis))
        columns.append(moved.foot(q) - leg.foot(q))
    return np.array(columns) @ [0.0, 0.0, -1.0]


def test_a_drive_holds_until_friction_gives_way() -> None:
    """Closed form of one drive: 0.2 N·m of friction on 40 N·m/rad."""
    c = np.array([[40.0], [0.2], [0.0], [0.0], [1e9], [0.0]])
    assert len(c) == GIVES
    e, slope, wound = np.empty(1), np.empty(1), np.empty(1)
    lag(c, np.array([0.1]), np.array([0.0]), np.array([0.0]), e, slope, wound)
    assert e[0] == pytest.approx(0.0, abs=1e-9)  # stuck
    lag(c, np.array([0.5]), np.array([0.0]), np.array([0.0]), e, slope, wound)
    assert e[0] == pytest.approx(-(0.5 - 0.2) / 40.0)  # pushed back until friction holds
    lag(c, np.array([0.5]), np.array([0.0]), np.array([1.0]), e, slope, wound)
    assert e[0] == pytest.approx(-(0.5 + 0.2) / 40.0)  # lagging behind a target that went ahead
    assert slope[0] == pytest.approx(-1.0 / 40.0)


def test_loads_with_give_are_the_strained_ones(robot: Robot) -> None:
    motion = walk(robot)
    got = lw.loads(robot, motion, give=sticky(), friction=0.8)
    alone = strained(robot, motion, sticky(), friction=0.8)
    np.testing.assert_array_equal(got.torque, alone.torque)
    np.testing.assert_array_equal(got.margin, lw.loads(robot, motion).margin)
    with pytest.raises(RequestError, match="push"):
        lw.loads(robot, motion, give=sticky(), push=(0, [0.0, 0.0, 5.0]))


def test_what_no_leg_is_made_of_is_refused(robot: Robot) -> None:
    with pytest.raises(RequestError, match="servo"):
        springs(servo=np.zeros(18))
    with pytest.raises(RequestError, match="backdrive"):
        springs(backdrive_loss=np.ones(18))
    with pytest.raises(RequestError, match="rounds"):
        strained(robot, walk(robot), springs(), friction=0.8, rounds=0)
