"""A standing foot that slides is told while it slides; feet that hold, and roll, are not."""

from __future__ import annotations

from dataclasses import replace

import mujoco
import numpy as np
import pytest

import legwright as lw
from legwright.locomotion import _state as at
from legwright.locomotion._grip import SLIDES, turn_of
from legwright.locomotion.abilities import abilities
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.planted import plant
from legwright.locomotion.signals import Sensed, Targets
from legwright.locomotion.stance import footing
from legwright.rig.ground import Patch
from legwright.rig.grounds import flat
from legwright.rig.scatter import Scatter
from legwright.rig.world import World
from legwright.robot.robot import Robot

RATE = 200.0
SLIDE, TIME = 0.015, 0.3
"""Of the foot that is made to slide [m, s]."""
STEP = 2.0 * np.pi / 4096.0
"""Of a position sensor with 12 bits [rad]."""


class Feet:
    """Rook's six feet on the ground under a body that moves: joints by inverse kinematics."""

    def __init__(self, rook: Robot) -> None:
        self.robot = rook
        controller = Controller(rook, rate=RATE, feel=True)
        self.slips, self.able = controller.slips, controller.able
        self.boxes, self.state = controller._boxes, controller._state
        plant(self.state, self.able, np.array(self.able.footing.q), self.able.footing.height)
        controller._goal.n[at.WEIGHT] = self.able.weight
        self.state.load[:] = self.able.weight / 6.0
        self.radius = [leg.chain.foot_radius for leg in rook.legs.values()]
        self.places = self.state.foot.copy()
        self.near = np.array(self.able.footing.q)

    def joints(self, body: np.ndarray, slide: dict[str, tuple[float, float]]) -> np.ndarray:
        """Joint positions, as a 12-bit sensor reads them, for the body at x, y, yaw."""
        c, s = np.cos(body[2]), np.sin(body[2])
        turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        at_height = np.array([body[0], body[1], self.state.posture[2]])
        for n, (name, leg) in enumerate(self.robot.legs.items()):
            place = self.places[n].copy()
            place[:2] += slide.get(name, (0.0, 0.0))
            columns = self.robot.columns[name]
            self.near[columns] = leg.reach(turn.T @ (place - at_height), self.near[columns]).q
        return np.round(self.near / STEP) * STEP

    def feel(self, body: np.ndarray, slide: dict[str, tuple[float, float]]) -> list[int]:
        q = self.joints(body, slide)
        self.state.twist[2] = 0.1
        sensed = Sensed(q=q, qd=q, current=q, voltage=11.0)
        return list(self.slips.update(*self.boxes, sensed, 0.1, 1.0 / RATE))


def way(t: float) -> np.ndarray:
    return np.array([0.05 * t, 0.02 * np.sin(3.0 * t), 0.1 * t])


@pytest.mark.parametrize("leg", ["left-front", "right-middle"])
@pytest.mark.parametrize("toward", [0.0, 2.0, 4.0])
def test_one_of_four_feet_slides_under_a_moving_body(
    rook: Robot, leg: str, toward: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Referee: the slide is made, by inverse kinematics. Points for feet: they do not roll."""
    feet = Feet(rook)
    feet.slips._memory.radius[:] = 0.0
    names = list(rook.legs)
    for flying in ("left-rear", "right-front"):
        feet.state.mode[names.index(flying)] = at.SWING
    told = []
    for k in range(200):
        t = k / RATE
        gone = SLIDE * min(max(t - 0.4, 0.0) / TIME, 1.0)
        slide = {leg: (gone * np.cos(toward), gone * np.sin(toward))}
        told += [(n, t - 0.4) for n in feet.feel(way(t), slide)]
    assert [n for n, _ in told] == [names.index(leg)]
    assert SLIDES / SLIDE * TIME < told[0][1] < TIME
    assert feet.slips.slid[names.index(leg)] == pytest.approx(SLIDE, abs=2e-3)
    rest = np.delete(feet.slips.slid, names.index(leg))
    assert rest.max() < 2e-3
    moved = feet.slips.way - way(0.0)
    np.testing.assert_allclose(moved, way(199 / RATE), atol=2e-3)


def test_the_last_link_turns_as_the_engine_has_it(rook: Robot) -> None:
    """Referee: orientation of the foot's link in the physics engine, by finite difference."""
    packed = abilities(rook, footing(rook)).fixed.packed
    model = World(rook, flat(), seed=1).model
    data, rng, found = mujoco.MjData(model), np.random.default_rng(3), np.empty(3)
    q = np.array(footing(rook).q)
    before = q - 1e-6 * rng.normal(size=len(q))
    for n, leg in enumerate(rook.legs.values()):
        turn_of(packed, n, q, before, found)
        frames = []
        for pose in (before, q):
            mujoco.mj_resetData(model, data)
            for joint, value in zip(rook.joint_names, pose, strict=True):
                data.joint(joint).qpos[0] = value
            mujoco.mj_kinematics(model, data)
            frames.append(data.body(leg.chain.foot_link).xmat.reshape(3, 3).copy())
            trunk = data.body(rook.tree.root).xmat.reshape(3, 3).copy()
        skew = trunk.T @ (frames[1] @ frames[0].T) @ trunk
        turn = 0.5 * np.array([skew[2, 1] - skew[1, 2], skew[0, 2] - skew[2, 0],
                               skew[1, 0] - skew[0, 1]])  # fmt: skip
        np.testing.assert_allclose(found, turn, atol=1e-10)


@pytest.mark.parametrize("grip", [0.2, 0.4])
def test_a_foot_that_is_dragged_over_a_slippery_patch(rook: Robot, grip: float) -> None:
    """In the physics world: the servos of one leg push its foot over ground of little grip."""
    patch = Patch(x=(-0.05, 0.1), y=(0.05, 0.5), friction=grip)  # under left-middle
    world = World(
        rook, replace(flat(), patches=(patch,)), seed=3, rate=RATE,
        scatter=Scatter(friction=0.3, torque_constant=0.1),
    )  # fmt: skip
    controller, told = Controller(rook, rate=RATE, feel=True), []
    leg, name = 1, "left-middle"
    start = None
    for k in range(1000):
        sensed = world.sense()
        targets, events = controller.step(sensed, Command(kind=Kind.STAND), 1.0 / RATE)
        told += [(k, event.leg) for event in events if event.what == "slipped"]
        q, span, push = targets.q.copy(), rook.columns[name], min(max(k - 600, 0) / 60.0, 1.0)
        if push > 0.0:
            ahead = np.linalg.solve(rook.legs[name].jacobian(q[span]), (0.018, 0.0, 0.0))
            q[span] += push * ahead
        world.apply(Targets(q=q, qd=targets.qd))
        world.advance()
        start = world.truth().feet if k == 600 else start
        if k == 700:
            slid, felt = world.truth().feet - start, controller.slips.slid
    size = np.hypot(slid[:, 0], slid[:, 1])
    assert size[leg] > 0.010 and np.delete(size, leg).max() < 0.004
    assert [of for _, of in told] == [name]
    assert 600 < told[0][0] < 600 + 60 + 20
    assert felt[leg] == pytest.approx(size[leg], abs=3e-3)


def test_a_walk_on_flat_ground_slides_nowhere(rook: Robot) -> None:
    controller = Controller(rook, rate=RATE, feel=True)
    world = World(rook, flat(), seed=5, rate=RATE)
    walk = Command(kind=Kind.WALK, velocity=(0.05, 0.0), gait=lw.gait("ripple", 6))
    events = []
    begin = None
    for k in range(1600):
        targets, more = controller.step(world.sense(), walk, 1.0 / RATE)
        world.apply(targets)
        world.advance()
        events += [event.leg for event in more if event.what == "slipped"]
        if k == 400:
            begin = world.truth().body[:2], controller.slips.way[:2], controller.place[:2]
    assert events == []
    gone = [
        float(np.hypot(*(now - then)))
        for now, then in zip(
            (world.truth().body[:2], controller.slips.way[:2], controller.place[:2]), begin,
            strict=True,
        )
    ]  # fmt: skip
    assert gone[0] > 0.2
    assert gone[1] == pytest.approx(gone[0], rel=0.02), "measured joints, rolling feet"
    assert gone[2] == pytest.approx(gone[0], rel=0.02), "the odometry follows them"
