"""The contact observer on synthetic currents."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from legwright.locomotion import _state as at
from legwright.locomotion.contact import Contact
from legwright.locomotion.controller import Controller
from legwright.locomotion.signals import Sensed
from legwright.mechanics.drive import drives_of
from legwright.mechanics.loads import standing
from legwright.robot.robot import Robot

RATE = 200.0
NOISE = 0.012
"""The sheet's current noise [A]."""


class Bench:
    """One leg falls in still air; its currents follow from statics, friction and a push."""

    def __init__(self, robot: Robot, seed: int = 0) -> None:
        self.robot, self.random = robot, np.random.default_rng(seed)
        controller = Controller(robot, rate=RATE, feel=True)
        self.able, self.state = controller.able, controller._state
        self.boxes = controller._boxes[:2]
        self.observer = Contact(robot, self.able)
        self.q = np.array(self.able.footing.q)
        self.state.q[:] = self.q
        self.state.mode[:] = at.STAND
        self.state.mode[0] = at.FALL
        self.state.since[:] = 0.0
        lever = robot.legs["left-front"].jacobian(self.q[robot.columns["left-front"]])[2]
        self.femur = int(np.abs(lever).argmax())
        self.lever = float(lever[self.femur])
        self.state.qd[self.femur] = -0.04 / self.lever
        self.state.foot_v[0] = 0.0, 0.0, -0.04
        self.state.clock[at.SIGMA] = 1.0

    def stand_out(self, out: float) -> None:
        """Put foot 0 farther from its hip [m], and send it there."""
        leg, span = self.robot.legs["left-front"], self.robot.columns["left-front"]
        foot = np.array(self.able.footing.feet[0])
        away = (foot - self.robot.hips[0])[:2]
        foot[:2] += out * away / np.hypot(*away)
        self.q[span] = leg.reach(foot, near=self.able.footing.q[span]).q
        self.state.q[:] = self.observer.feeling.asked[:] = self.q
        self.levers = leg.jacobian(self.q[span])[2]
        self.lever = float(self.levers[self.femur])

    def step(
        self,
        push: float,
        *,
        friction: float = 0.0,
        behind: float = 0.0,
        tips: float = 0.0,
        up: float = 0.0,
        beside: float = 0.0,
    ) -> bool:
        """One step with a push on foot 0 [N], which stays ``behind`` [m] over where it was sent.

        It is told so when what is asked now has reached the servos, two steps later. The body tips
        at ``tips`` [rad/s]; the femur has risen by ``up`` [m at the foot], the tibia has slipped in
        its backlash by ``beside`` [rad].

        Referee: torques by `mechanics.loads.standing`.
        """
        contact = np.zeros(len(self.robot.legs), dtype=bool)
        torque = standing(
            self.robot, self.q, contact=contact, push=("left-front", (0.0, 0.0, push))
        ).torque[0]
        gain = drives_of(self.robot).torque_constant
        current = (torque + friction) / gain + NOISE * self.random.standard_normal(len(torque))
        q = self.q.copy()
        q[self.femur] += up / self.lever
        q[self.femur + 1] += beside
        self.state.q[self.femur] = self.q[self.femur] - behind / self.lever
        spin = np.array([0.6 * tips, -0.8 * tips, 3.0])  # turning in the plane says nothing
        sensed = Sensed(q=q, qd=0 * q, current=current, voltage=11.0, spin=spin)
        self.state.since[0] += 1.0 / RATE
        self.observer.update(*self.boxes, sensed, 1.0 / RATE)
        return bool(self.observer.touch[0])


def test_estimates_the_push_in_newtons(rook: Robot) -> None:
    bench = Bench(rook)
    for _ in range(40):
        bench.step(0.0)
    for _ in range(20):
        bench.step(5.0)
    assert bench.observer.force[0] == pytest.approx(5.0, abs=0.5)


@pytest.mark.parametrize("friction", [-0.2, 0.0, 0.2])
def test_an_unknown_friction_neither_alarms_nor_delays(rook: Robot, friction: float) -> None:
    bench = Bench(rook, seed=3)
    assert not any(bench.step(0.0, friction=friction) for _ in range(100))
    felt = [bench.step(4.0, friction=friction) for _ in range(4)]
    assert felt[1]


def test_a_foot_that_lags_and_presses_a_little_has_touched(rook: Robot) -> None:
    """What neither the force nor the lag alone would tell."""
    for push, behind, expected in ((0.9, 0.0, False), (0.0, 1.6e-4, False), (0.9, 1.6e-4, True)):
        bench = Bench(rook, seed=5)
        assert not any(bench.step(0.0) for _ in range(40))
        assert any(bench.step(push, behind=behind) for _ in range(8)) == expected


def test_a_foot_that_trails_with_nothing_pushing_it_has_not_touched(rook: Robot) -> None:
    """Gears that stick leave a foot behind by half a millimetre; with a push it has touched."""
    for push, expected in ((0.0, False), (1.2, True)):
        bench = Bench(rook, seed=6)
        assert not any(bench.step(0.0) for _ in range(40))
        felt = any(bench.step(push, behind=k * 1e-4) for k in range(1, 8))
        assert felt == expected


def test_a_body_that_tips_moves_its_feet_in_the_air_too(rook: Robot) -> None:
    """The same readings are a touch where the gyro says that the body rests."""
    for tips, expected in ((0.0, True), (0.15, True), (0.8, False)):
        bench = Bench(rook, seed=9)
        assert not any(bench.step(0.0) for _ in range(40))
        felt = any(bench.step(1.5, behind=2e-4, tips=tips) for _ in range(7))
        assert felt == expected


def test_a_foot_that_is_flung_about_does_not_stand(rook: Robot) -> None:
    """Readings of 3 N are a touch, but not while the foot moves twice as fast as it was sent."""
    for rise, expected in ((0.0, True), (1e-4, True), (4e-4, False)):
        bench = Bench(rook, seed=12)
        assert not any(bench.step(0.0) for _ in range(40))
        assert any(bench.step(3.0, up=rise * k) for k in range(1, 6)) == expected
        bench.step(3.0, up=rise * 5)
        assert bench.step(3.0, up=rise * 5) or expected, "once it is still"


def test_two_readings_must_say_more_than_three(rook: Robot) -> None:
    """A foot that strikes is off the ground again for an instant 15 to 20 ms after it touched."""
    soon, later = [], []
    bench = Bench(rook, seed=18)
    feeling = bench.observer.feeling
    for push in np.tile(np.linspace(1.0, 4.0, 13), 6):
        bench.observer.forget()
        assert not any(bench.step(0.0) for _ in range(40))
        for _ in range(12):
            if bench.step(float(push)):
                (soon if feeling.run[0] <= 2.0 else later).append(float(feeling.score[0]))
                break
    assert min(soon) > 6.5
    assert 4.5 < min(later) < 5.5


def test_a_femur_that_is_sent_up_hears_nothing_nor_for_a_while_after(rook: Robot) -> None:
    """The body moves such a foot, and its gear turns back: readings rise with no ground there."""
    for turns, expected in ((False, True), (True, False)):
        bench = Bench(rook, seed=16)
        down = float(bench.state.qd[bench.femur])
        assert not any(bench.step(0.0) for _ in range(40))
        if turns:
            bench.state.qd[bench.femur] = -0.2 * down
            assert not any(bench.step(3.0, behind=3e-4) for _ in range(10))
            bench.state.qd[bench.femur] = down
        assert any(bench.step(0.9, behind=1.6e-4) for _ in range(16)) == expected
    assert any(bench.step(8.0, behind=5e-4) for _ in range(8)), "but a hard touch is heard"


def test_a_usual_zero_that_speaks_too_soon_is_forgotten(rook: Robot) -> None:
    """Where the leg stands otherwise now, it would send the foot up again and again."""
    bench = Bench(rook, seed=17)
    assert not any(bench.step(0.0) for _ in range(40))
    bench.observer.feeling.seen[0] = 0.0  # the next descent, with another friction
    other = -2.0 * bench.lever  # reads as 2 N upward
    assert any(bench.step(0.0, friction=other, behind=2e-3) for _ in range(15))
    assert bench.state.bump[0] == -1.0, "it draws back"
    assert np.isnan(bench.observer.feeling.usual[:, 0]).all()
    bench.observer.feeling.seen[0] = bench.state.bump[0] = 0.0
    assert not any(bench.step(0.0, friction=other, behind=2e-3) for _ in range(40))


def test_a_tibia_that_rattles_is_not_heard(rook: Robot) -> None:
    """Ten milliradians in its backlash, 0.4 mm on a foot that stands out, and too small a push."""
    bench = Bench(rook, seed=13)
    bench.stand_out(0.045)
    assert abs(bench.levers[2]) > 0.03
    assert not any(bench.step(0.0) for _ in range(40))
    assert not any(bench.step(0.9, beside=0.01 * (k % 2)) for k in range(60))


def test_readings_that_rise_evenly_all_along_are_gears_that_turn_back(rook: Robot) -> None:
    """As much in the end as their friction, and as those of a touch, which come at once."""
    bench = Bench(rook, seed=15)
    friction = bench.observer.feeling.friction[bench.femur] / abs(bench.lever)
    rise = friction / 40.0
    assert not any(bench.step(rise * k, behind=4e-5 * k) for k in range(40))
    bench = Bench(rook, seed=15)
    assert not any(bench.step(0.0) for _ in range(40))
    assert any(bench.step(rise * 20, behind=4e-5 * 20) for _ in range(8))


def test_a_foot_in_doubt_is_felt_once_friction_explains_its_load_no_more(rook: Robot) -> None:
    """Zero and trend go along with a force that grows all along; not with all that it reaches."""
    for mode, most in ((at.DOUBT, 1.5), (at.FALL, np.inf)):
        bench = Bench(rook, seed=16)
        assert not any(bench.step(0.0) for _ in range(40))
        bench.state.mode[0] = mode
        friction = bench.observer.feeling.friction[bench.femur] / abs(bench.lever)
        rise = friction / 40.0
        felt = next((k for k in range(64) if bench.step(rise * k, behind=2e-6 * k)), None)
        assert 1.25 < (felt or np.inf) * rise / friction <= most


def test_every_joint_of_a_leg_tells_whether_its_foot_bears(rook: Robot) -> None:
    """What a pull inward hides from the femur is left over in the tibia."""
    bench = Bench(rook, seed=17)
    bench.state.mode[0], bench.state.qd[:] = at.STAND, 0.0
    for _ in range(60):
        bench.step(0.0)
    assert bench.state.surplus[0] < 0.3
    sheared = np.zeros(len(bench.q))
    sheared[bench.femur + 1] = 2.0 * bench.observer.feeling.friction[bench.femur + 1]
    for _ in range(60):
        bench.step(0.0, friction=sheared)
    assert abs(bench.observer.force[0]) < 0.5
    assert bench.state.surplus[0] > 1.5


def test_a_descent_keeps_the_joint_that_it_began_with(rook: Robot) -> None:
    """Friction reads the other way round at the tibia: changing over is no touch."""
    bench = Bench(rook, seed=14)
    for out, joint in ((-0.028, bench.femur), (-0.036, bench.femur), (-0.06, bench.femur + 1)):
        bench.stand_out(out)
        assert not any(bench.step(0.0, friction=0.3) for _ in range(60))
        assert bench.observer.feeling.joint[0] == joint
    assert abs(bench.levers[2]) > 1.5 * abs(bench.levers[1])


def test_a_fine_sensor_does_not_make_a_walking_body_calm(rook: Robot) -> None:
    bench = Bench(rook)
    found = bench.observer.calibration
    bench.observer.calibrate(
        replace(found, force_noise=0.01 * found.force_noise, error_noise=0.01 * found.error_noise)
    )
    assert (bench.observer.feeling.noise[0] >= 0.009 * bench.able.weight).all()
    assert (bench.observer.feeling.noise[1] >= 5e-5).all()


def test_a_slow_drift_is_no_contact(rook: Robot) -> None:
    """Warm grease: 1 N in four seconds."""
    bench = Bench(rook, seed=8)
    assert not any(bench.step(0.0, friction=k / 800.0 * bench.lever) for k in range(800))


def test_no_alarm_in_a_minute_of_noise(rook: Robot) -> None:
    """12 000 readings with the sheet's current noise."""
    bench = Bench(rook, seed=11)
    assert sum(bench.step(0.0) for _ in range(12000)) == 0


def test_a_lost_reading_gives_no_touch(rook: Robot) -> None:
    bench = Bench(rook)
    for _ in range(40):
        bench.step(0.0)
    sensed = Sensed(q=bench.q, qd=0 * bench.q, current=np.full(18, np.nan), voltage=11.0)
    bench.observer.update(*bench.boxes, sensed, 1.0 / RATE)
    assert not bench.observer.touch.any()
    assert np.isfinite(bench.observer.force).all()
