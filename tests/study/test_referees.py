"""Findings on the demo walker against referees that share no code with the checks.

Referees: Pinocchio (centre of mass, feet, inverse dynamics) with least-norm foot forces from
numpy's least squares; shapely's polygons; scipy's integrator; and arithmetic by hand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pinocchio as pin
import pytest
from asking import named
from dynamics_referee import Referee
from scipy.integrate import solve_ivp
from shapely import MultiPoint, Point

from legwright.mechanics.pose import rotations, still
from legwright.robot.urdf_writing import urdf_text
from legwright.study.check import check
from legwright.study.finding import Verdict

GAITS = ("tripod", "ripple", "wave")
PAYLOAD, AT = 0.6, np.array([0.0, 0.0, 0.045])
"""As rook's sheet states them."""
MU = 0.6
R20, R_TH, TAU, AMBIENT = 4.64, 14.0, 420.0, 308.15
"""Servo 'dunnock' of rook's sheet [Ω, K/W, s], and its noon [K]."""
SEGMENT = {"coxa": 0, "femur": 1, "tibia": 2}


class Judge:
    """Pinocchio's rook, its payload on board."""

    def __init__(self, robot, folder):
        path = folder / "rook.urdf"
        path.write_text(urdf_text(robot.tree), encoding="utf-8")
        self.robot = robot
        self.referee = Referee(replace(robot, source=path))
        body = self.referee.model.frames[self.referee.model.getFrameId(robot.body)]
        lever = body.placement.act(AT)
        self.referee.model.appendBodyToJoint(
            body.parentJoint, pin.Inertia(PAYLOAD, lever, np.zeros((3, 3))), pin.SE3.Identity()
        )
        self.referee.data = self.referee.model.createData()
        servo = robot.servos[robot.joint_names[0]]
        self.reflected = 0.8e-7 * 250.0**2  # rotor_inertia times gear_ratio squared [kg·m²]
        assert servo.id == "dunnock"

    def placed(self, motion, t):
        """Centre of mass (3,) and feet (L, 3) in the ground frame, and total mass."""
        model, data = self.referee.model, self.referee.data
        q, *_ = self.referee.state(motion, t)
        com = np.array(pin.centerOfMass(model, data, q))
        pin.framesForwardKinematics(model, data, q)
        return com, np.array([data.oMf[frame].translation for frame in self.referee.feet])

    @property
    def mass(self):
        return pin.computeTotalMass(self.referee.model)

    def torque(self, motion, t):
        """(J,) with the least-norm forces of the standing feet; None where they leave the cones."""
        _, wrench = self.referee.rnea(motion, t)
        contact = np.flatnonzero(motion.contact[t])
        feet = motion.feet[t]
        rows = np.hstack(
            [np.vstack([np.eye(3), np.cross(feet[leg], np.eye(3)).T]) for leg in contact]
        )
        found, *_ = np.linalg.lstsq(rows, wrench, rcond=None)
        force = np.zeros_like(feet)
        force[contact] = found.reshape(-1, 3)
        normal = rotations(motion.body[t, 3:])[2]
        up = force[contact] @ normal
        side = np.linalg.norm(force[contact] - up[:, None] * normal, axis=1)
        if (side > MU * up).any():
            return None
        torque, left = self.referee.rnea(motion, t, force)
        np.testing.assert_allclose(left, 0.0, atol=1e-6)
        return torque + self.reflected * motion.qdd[t]


@pytest.fixture(scope="module")
def judge(rook, tmp_path_factory):
    return Judge(rook, tmp_path_factory.mktemp("referee"))


def inside_by(points, point):
    """Signed distance of a point from the hull's edges, positive inside; shapely."""
    hull = MultiPoint(points).convex_hull
    gap = hull.exterior.distance(Point(point))
    return gap if hull.contains(Point(point)) else -gap


def level(gravity):
    """Two axes square to gravity, (2, 3)."""
    down = np.asarray(gravity) / np.linalg.norm(gravity)
    first = np.cross(down, [0.0, 1.0, 0.0])
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(down, first)])


@pytest.mark.parametrize("name", ["stability margin", "margin on slope"])
@pytest.mark.parametrize("gait", GAITS)
def test_stability_margin_is_shapelys_distance(name, gait, rook_study, judge):
    sloped = name.endswith("slope")
    least = np.inf
    for case in rook_study.cases.values():
        motion = case.motion
        if case.gait != gait or bool(motion.gravity[:2].any()) is not sloped:
            continue
        axes = level(motion.gravity)
        for t in range(len(motion.t)):
            com, feet = judge.placed(motion, t)
            least = min(least, inside_by(feet[motion.contact[t]] @ axes.T, axes @ com))
    found = named(rook_study.findings, f"{name}, {gait}")
    assert found.value == pytest.approx(least * 1e3, abs=1e-5)
    assert found.limit == 20.0


@pytest.fixture(scope="module")
def refereed(rook_study, judge):
    """Case name -> (T, J) torques by the referee, nan where the least-norm forces would slip."""
    every = {}
    for name, case in rook_study.cases.items():
        rows = [judge.torque(case.motion, t) for t in range(len(case.motion.t))]
        blank = np.full(len(judge.robot.joint_names), np.nan)
        every[name] = np.array([blank if row is None else row for row in rows])
    return every


def test_torques_of_every_case_agree_with_pinocchio(rook_study, refereed):
    known = 0
    for name, case in rook_study.cases.items():
        sure = ~np.isnan(refereed[name]).any(axis=1)
        np.testing.assert_allclose(case.loads.torque[sure], refereed[name][sure], atol=2e-6)
        known += sure.mean()
    assert known > 0.8 * len(refereed)


@pytest.mark.parametrize("segment", SEGMENT)
def test_peak_torque_is_that_of_the_worst_instant(segment, rook_study, refereed):
    found = named(rook_study.findings, f"peak torque, {segment}")
    worst = (0.0, 0.0, 0.0)
    for name, case in rook_study.cases.items():
        torque = np.where(np.isnan(refereed[name]), case.loads.torque, refereed[name])
        needed = np.abs(torque[:, SEGMENT[segment] :: 3])
        given = case.draw.available[:, SEGMENT[segment] :: 3]
        at = np.unravel_index(int((needed / given).argmax()), needed.shape)
        worst = max(worst, (needed[at] / given[at], needed[at], given[at] / 1.3))
    assert found.value == pytest.approx(worst[1], abs=1e-5)
    assert found.limit == pytest.approx(worst[2], rel=1e-4)


@pytest.mark.parametrize("segment", SEGMENT)
def test_continuous_torque_is_the_root_mean_square(segment, rook_study, refereed):
    found = named(rook_study.findings, f"continuous torque, {segment}")
    most = 0.0
    for name, case in rook_study.cases.items():
        torque = np.where(np.isnan(refereed[name]), case.loads.torque, refereed[name])
        most = max(most, np.sqrt((torque**2).mean(axis=0))[SEGMENT[segment] :: 3].max())
    assert found.value == pytest.approx(most, abs=1e-5)


def warmed(square, time):
    """°C of a winding after a time at a mean square current; scipy's integrator."""

    def rate(_, T):
        heat = square * R20 * (1.0 + 0.00393 * (T - 293.15))
        return (heat * R_TH - (T - AMBIENT)) / TAU

    done = solve_ivp(rate, (0.0, time), [AMBIENT], rtol=1e-10, atol=1e-8)
    return float(done.y[0, -1]) - 273.15


@pytest.mark.parametrize("segment", SEGMENT)
def test_winding_temperature_by_integration(segment, rook_study):
    found = named(rook_study.findings, f"winding temperature, {segment}")
    square = max(
        float((case.draw.winding_current[:, column] ** 2).mean())
        for case in rook_study.cases.values()
        for column in range(SEGMENT[segment], 18, 3)
    )
    assert found.value == pytest.approx(warmed(square, 60 * TAU), abs=1e-4)


def test_an_hour_of_standing_by_integration(rook, rook_study, judge):
    """Torque from Pinocchio's statics, held by friction-free arithmetic on the motor's data."""
    motion = still(rook, rook_study.footing.q, np.ones(6, dtype=bool))
    torque = judge.torque(motion, 0)
    assert torque is not None
    from legwright.mechanics.drive import drives_of
    from legwright.mechanics.servo_current import winding_current

    current = winding_current(drives_of(rook), torque[None], np.zeros((1, 18)))[0]
    hottest = max(warmed(float(i) ** 2, 3600.0) for i in current)
    found = named(rook_study.findings, "standing still for an hour")
    assert found.value == pytest.approx(hottest, abs=1e-3)


def test_margin_while_probing_by_moments(rook, rook_study, judge):
    """8 N under one foot: weight and push act where their moments about the ground cancel."""
    motion = still(rook, rook_study.footing.q, np.ones(6, dtype=bool))
    com, feet = judge.placed(motion, 0)
    weight, push = judge.mass * 9.80665, 8.0
    margins = []
    for leg in range(6):
        landing = (weight * com[:2] - push * feet[leg, :2]) / (weight - push)
        margins.append(inside_by(np.delete(feet[:, :2], leg, axis=0), landing))
    found = named(rook_study.findings, "margin while probing")
    assert found.value == pytest.approx(min(margins) * 1e3, abs=1e-5)
    assert found.parts == (tuple(rook.legs)[int(np.argmin(margins))],)


@pytest.mark.parametrize("gait", GAITS)
def test_ground_clearance_by_hand(gait, rook_study):
    """Body 105 mm over the foot's centre, ball 9 mm; half the gap of 50 mm and 3 mm of plate."""
    found = named(rook_study.findings, f"ground clearance, {gait}")
    assert found.value == pytest.approx(105.0 + 9.0 - 25.0 - 3.0, abs=1e-6)


@pytest.mark.parametrize("degrees", [6, 12, 20])
def test_friction_on_a_slope_is_its_tangent(degrees, variant):
    """Coulomb: a body that hardly accelerates holds where the coefficient is the tangent."""
    robot = variant(
        {
            'gaits = ["tripod", "ripple", "wave"]': 'gaits = ["wave"]',
            'slope = "12 deg"': f'slope = "{degrees} deg"',
            'speed_forward = "0.05 m/s"': 'speed_forward = "0.005 m/s"',
            'speed_sideways = "0.04 m/s"': 'speed_sideways = "0.004 m/s"',
            'turn_rate = "10 deg/s"': 'turn_rate = "1 deg/s"',
        },
        {'lift = "28 mm"': 'lift = "28 mm"\ncycle = "20 s"'},
    )
    found = named(check(robot, only=["grip"]), "foot grip on slope, wave")
    assert found.value == pytest.approx(np.tan(np.radians(degrees)), abs=0.006)
    assert found.verdict is Verdict.PASS
