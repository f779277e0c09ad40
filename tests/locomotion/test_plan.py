"""A planned cycle: no slip, no jump, and rates that are those of the positions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from legwright.errors import RequestError
from legwright.locomotion._rates import _direct, _rate, _rate_direct
from legwright.locomotion.gait import Gait, gait
from legwright.locomotion.plan import plan
from legwright.locomotion.stance import footing
from legwright.locomotion.walk import Pose, Walk
from legwright.mechanics.motion import Motion
from legwright.mechanics.screws import leg_screws

G = 9.80665
shared = settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
speeds = st.floats(-0.04, 0.04)
small = st.floats(-0.08, 0.08)


def in_ground(motion: Motion) -> np.ndarray:
    """Feet in the ground frame, (T, L, 3); referee: scipy's rotations."""
    body = Rotation.from_quat(motion.body[:, [4, 5, 6, 3]])
    feet = [body.apply(motion.feet[:, leg]) for leg in range(motion.feet.shape[1])]
    return np.stack(feet, axis=1) + motion.body[:, None, :3]


def slip(motion: Motion) -> float:
    """Largest shift between neighbouring samples of one stance [m]."""
    feet = in_ground(motion)
    both = motion.contact[1:] & motion.contact[:-1]
    return float(np.linalg.norm(np.diff(feet, axis=0), axis=-1)[both].max())


@shared
@given(speeds, speeds, st.floats(-0.4, 0.4), small, small, small)
def test_stance_feet_never_slip(rook, vx, vy, turn, roll, pitch, yaw):
    """Referee: a foot on the ground is fixed in the ground frame, whatever twist and pose."""
    pose = Pose(x=0.005, y=-0.003, z=0.004, roll=roll, pitch=pitch, yaw=yaw)
    motion = plan(rook, Walk(gait("ripple"), velocity=(vx, vy), turn=turn, pose=pose), samples=48)
    if motion.ok:
        assert slip(motion) <= 1e-12
        assert np.abs(in_ground(motion)[..., 2][motion.contact]).max() <= 1e-12


@pytest.mark.parametrize("turn", [1e-12, 1e-7, 1e-5, 1e-3])
def test_nearly_straight_is_as_exact_as_straight(rook, turn):
    """Both sides of the small-angle branches."""
    motion = plan(rook, Walk(gait("tripod"), velocity=(0.03, 0.01), turn=turn))
    assert slip(motion) <= 1e-12


@shared
@given(speeds, speeds, st.floats(-0.3, 0.3), small, small)
def test_feet_are_where_the_joints_put_them(rook, vx, vy, turn, roll, pitch):
    """Referee: forward kinematics."""
    walk = Walk(
        gait("wave"), velocity=(vx, vy), turn=turn, pose=Pose(roll=roll, pitch=pitch), cycle=2.0
    )
    motion = plan(rook, walk, samples=32)
    for index, leg in enumerate(rook.legs.values()):
        actual = leg.foot(motion.q[:, rook.columns[leg.name]])
        np.testing.assert_allclose(actual, motion.feet[:, index], atol=1e-9)


def test_rates_are_derivatives_of_positions(rook):
    """Referee: fourth-order differences at points away from lift-off and touch-down."""
    walk = Walk(
        gait("tripod"),
        velocity=(0.04, 0.02),
        turn=0.2,
        pose=Pose(roll=0.05, pitch=-0.04, z=0.005),
    )
    samples = 2048
    motion = plan(rook, walk, samples=samples)
    assert motion.ok
    h = motion.cycle / samples
    change = motion.contact != np.roll(motion.contact, 1, axis=0)
    near = np.zeros(samples, dtype=bool)
    for shift in range(-4, 5):
        near |= np.roll(change.any(axis=1), shift)
    q, v = (lambda k, x: np.roll(x, -k, axis=0)), motion.qd
    first = (8 * (q(1, motion.q) - q(-1, motion.q)) - (q(2, motion.q) - q(-2, motion.q))) / 12 / h
    second = (8 * (q(1, v) - q(-1, v)) - (q(2, v) - q(-2, v))) / 12 / h
    np.testing.assert_allclose(motion.qd[~near], first[~near], atol=1e-7)
    np.testing.assert_allclose(motion.qdd[~near], second[~near], atol=1e-5)


def test_a_leg_of_direct_joints_has_the_rates_of_any_leg(rook):
    """Referee: the way for coupled and sliding joints, on random poses and paths."""
    rng = np.random.default_rng(4)
    m = 3
    for screws in leg_screws(rook):
        assert _direct(screws)
        for _ in range(5):
            q, velocity, acceleration = rng.uniform(-1.0, 1.0, (3, 3))
            work = (np.empty(3), *(np.empty((m, 3)) for _ in range(4)))
            plain, short = np.empty((2, 3)), np.empty((2, 3))
            size = _rate(screws, q, velocity, acceleration, plain[0], plain[1], work)
            same = _rate_direct(screws, q, velocity, acceleration, short[0], short[1])
            np.testing.assert_allclose(short, plain, rtol=1e-9)
            assert same == pytest.approx(size, rel=1e-9)


def test_nothing_jumps_at_the_exchanges_or_the_cycles_end(rook):
    """Referee: positions, velocities and accelerations are continuous, so neighbouring
    samples differ by an amount that halves with the step."""
    walk = Walk(gait("ripple"), velocity=(0.04, -0.01), turn=0.1)
    gaps = []
    for samples in (512, 1024, 2048):
        m = plan(rook, walk, samples=samples)
        gaps.append([np.abs(x - np.roll(x, 1, axis=0)).max() for x in (m.q, m.qd, m.qdd, m.feet)])
    coarse, middle, fine = np.array(gaps)
    assert np.all(middle < 0.56 * coarse)
    assert np.all(fine < 0.56 * middle)


@pytest.mark.parametrize("name", ["tripod", "ripple", "wave"])
@pytest.mark.parametrize("twist", [(0.0, 0.03, 0.0), (0.0, 0.0, 0.3), (-0.03, 0.0, 0.0)])
def test_sideways_turning_and_backward(rook, name, twist):
    """Referee: over one cycle the body moves by the exponential of its twist."""
    motion = plan(rook, Walk(gait(name), velocity=twist[:2], turn=twist[2], cycle=1.2))
    assert motion.ok
    per = 1.2 / 128
    end = Rotation.from_quat(motion.body[-1, [4, 5, 6, 3]])
    assert end.as_rotvec()[2] == pytest.approx(twist[2] * 127 * per, abs=1e-12)
    if twist[2] == 0.0:
        np.testing.assert_allclose(motion.body[-1, :2], np.array(twist[:2]) * 127 * per, atol=1e-12)
    else:
        np.testing.assert_allclose(motion.body[:, :2], 0.0, atol=1e-12)


def test_the_foot_rises_to_the_lift_in_mid_swing(rook):
    motion = plan(rook, Walk(gait("tripod"), velocity=(0.03, 0.0), lift=0.02), samples=128)
    top = in_ground(motion)[..., 2].max(axis=0)
    np.testing.assert_allclose(top, 0.02, atol=1e-9)


@pytest.mark.parametrize(
    "stroke, duty, cycle, case", [(0.12, 5 / 6, 2.4, "kin_R0.12_b0.8333"), (0.1, 0.5, 1.0, None)]
)
def test_stroke_speed_and_swing_time(rook, reference, stroke, duty, cycle, case):
    """Source: Song & Waldron 1987 (identities, from memory): v = R/(βT), stride v T, swing
    (1-β)T, mean swing speed v β/(1-β) against the body. Scaled to rook: R by 1/3."""
    if case:
        want = reference("1_static_walking")[case]["expected"]
        v, swing_time, mean = (
            want["v_mps"],
            want["t_swing_s"],
            want["mean_swing_speed_rel_body_mps"],
        )
    else:
        v, swing_time, mean = 0.2, 0.5, 0.2
    scale = 1 / 3
    own = Gait(duty=duty, phases=dict(gait("wave").phases))
    motion = plan(rook, Walk(own, velocity=(v * scale, 0.0), cycle=cycle, lift=0.01), samples=1200)
    leg = 0
    x, down = motion.feet[:, leg, 0], motion.contact[:, leg]
    dt = cycle / 1200
    assert (~down).sum() * dt == pytest.approx(swing_time, abs=1.01 * dt)
    travel = x[down].max() - x[down].min()
    assert travel == pytest.approx(stroke * scale, abs=2 * v * scale * dt)
    assert travel / swing_time == pytest.approx(mean * scale, rel=0.01)


def test_a_mirrored_walk_is_the_mirror_image(rook):
    """Referee: symmetry of a robot whose right side mirrors its left."""
    half = len(rook.legs) // 2
    swap = [*range(half, 2 * half), *range(half)]
    tripod = gait("tripod")
    other = Gait(duty=0.5, phases={leg: tripod.phases[swap[leg]] for leg in range(2 * half)})
    here = plan(rook, Walk(tripod, velocity=(0.03, 0.02), turn=0.2))
    there = plan(rook, Walk(other, velocity=(0.03, -0.02), turn=-0.2))
    assert here.ok and there.ok
    np.testing.assert_allclose(there.feet[:, swap] * [1, -1, 1], here.feet, atol=1e-9)
    assert np.array_equal(there.contact[:, swap], here.contact)


def test_gravity_tilts_on_a_slope(rook):
    """Referee: uphill forward, gravity pulls backward; its size never changes."""
    forward = plan(rook, Walk(gait("wave"), slope=0.2)).gravity
    np.testing.assert_allclose(forward, [-G * np.sin(0.2), 0.0, -G * np.cos(0.2)], atol=1e-12)
    left = plan(rook, Walk(gait("wave"), slope=0.2, uphill=np.pi / 2)).gravity
    np.testing.assert_allclose(left, [0.0, -G * np.sin(0.2), -G * np.cos(0.2)], atol=1e-12)


def test_twist_and_acceleration_belong_to_the_body_path(rook):
    """Referee: differences of the body's path, turned into body axes."""
    walk = Walk(
        gait("wave"), velocity=(0.03, 0.01), turn=0.3, pose=Pose(x=0.01, y=0.02, roll=0.1, yaw=0.2)
    )
    m = plan(rook, walk, samples=4096)
    h = m.cycle / 4096
    R = Rotation.from_quat(m.body[1:-1, [4, 5, 6, 3]])
    speed = R.inv().apply((m.body[2:, :3] - m.body[:-2, :3]) / (2 * h))
    np.testing.assert_allclose(m.twist[1:-1, :3], speed, atol=1e-7)
    bend = R.inv().apply((m.body[2:, :3] - 2 * m.body[1:-1, :3] + m.body[:-2, :3]) / h**2)
    np.testing.assert_allclose(m.acceleration[1:-1, :3], bend, atol=1e-6)
    turning = (R[:-1].inv() * R[1:]).as_rotvec() / h
    np.testing.assert_allclose(m.twist[1:-2, 3:], turning, atol=1e-9)


def test_out_of_reach_is_said_not_raised(rook):
    motion = plan(rook, Walk(gait("tripod"), velocity=(1.0, 0.0), cycle=1.2))
    assert not motion.ok
    assert motion.reach_error[~motion.reached].min() > 0.0
    assert np.isfinite(motion.q).all() and np.isfinite(motion.qdd).all()
    for index, leg in enumerate(rook.legs.values()):
        span = rook.columns[leg.name]
        assert np.all(motion.q[:, span] >= leg.lower - 1e-9)
        assert np.all(motion.q[:, span] <= leg.upper + 1e-9)
        foot = leg.foot(motion.q[:, span])
        np.testing.assert_allclose(foot, motion.feet[:, index], atol=1e-9)


def test_wild_robots_walk_at_a_modest_speed(wild):
    """Referee: every target reached, no slip, rates finite, footing at rest on one plane."""
    stand = footing(wild)
    np.testing.assert_allclose(stand.feet[:, 2], -stand.height, atol=1e-9)
    speed = 0.1 * stand.height
    for name in ("tripod", "wave"):
        walk = Walk(gait(name, len(wild.legs)), velocity=(speed, 0.3 * speed), turn=0.1, cycle=1.2)
        motion = plan(wild, walk)
        assert motion.ok
        assert slip(motion) <= 1e-12
        step = np.abs(motion.q - np.roll(motion.q, 1, axis=0)).max()
        assert step < 0.25


@pytest.mark.parametrize(
    "wrong",
    [
        {"velocity": (np.nan, 0.0)},
        {"velocity": (0.1,)},
        {"turn": np.inf},
        {"cycle": 0.0},
        {"lift": -0.01},
        {"slope": 2.0},
        {"uphill": np.nan},
    ],
)
def test_senseless_walks_are_refused(wrong):
    with pytest.raises(RequestError, match=next(iter(wrong))):
        Walk(gait("tripod"), **wrong)


def test_other_senseless_requests_are_refused(rook):
    with pytest.raises(RequestError, match="gait"):
        Walk("tripod")
    with pytest.raises(RequestError, match="pose"):
        Pose(z=np.nan)
    with pytest.raises(RequestError, match="samples"):
        plan(rook, Walk(gait("tripod")), samples=1)
    with pytest.raises(RequestError, match="leg of this robot"):
        plan(rook, Walk(gait("tripod", 8)))
