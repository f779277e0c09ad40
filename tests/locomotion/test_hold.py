"""In the physics world: holding still, probing against truth, and a servo that dies in mid-walk."""

from __future__ import annotations

import numpy as np
import pytest

import legwright as lw
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller, Stage
from legwright.locomotion.gait import gait
from legwright.locomotion.signals import Event
from legwright.rig.ground_choice import ground_of
from legwright.rig.scatter import Scatter
from legwright.rig.world import World
from legwright.robot.robot import Robot

RATE = 100.0
NOTHING = Scatter()
SPREAD = Scatter(friction=0.3, torque_constant=0.1)


class Outing:
    """A controller on a robot in the world."""

    def __init__(self, robot: Robot, *, seed: int = 1, scatter: Scatter = NOTHING) -> None:
        self.world = World(
            robot, ground_of(robot, "flat", seed=seed), seed=seed, rate=RATE, scatter=scatter
        )
        self.controller = Controller(robot, rate=RATE, feel=True)
        self.events: list[Event] = []
        self.worst_tilt = 0.0

    def run(self, command: Command, seconds: float, *, until: str = "") -> None:
        for _ in range(round(seconds * RATE)):
            targets, events = self.controller.step(self.world.sense(), command, 1.0 / RATE)
            self.world.apply(targets)
            self.world.advance()
            self.events += events
            x, y = self.world.truth().body[4:6]
            self.worst_tilt = max(self.worst_tilt, float(2.0 * np.arcsin(np.hypot(x, y))))
            if until and any(event.what == until for event in events):
                return


def test_holds_still_for_a_minute(rook: Robot) -> None:
    """Truth of the engine: body within half a millimetre, feet too, no joint told to creep."""
    outing = Outing(rook)
    outing.run(Command(), 3.0)
    start = outing.world.truth()
    hold = Command(kind=Kind.HOLD)
    outing.run(hold, 60.0)
    end = outing.world.truth()
    assert np.abs(end.body[:3] - start.body[:3]).max() < 5e-4
    assert np.abs(end.feet - start.feet).max() < 5e-4


@pytest.mark.parametrize(("name", "leg"), [("rook", "left-middle"), ("rook", "right-rear"),
                                           ("heron", "left-front")])  # fmt: skip
def test_probes_with_the_push_of_its_sheet(name: str, leg: str) -> None:
    """Referee: the engine's contact force, friction scattered by 30 % and motors by 10 %."""
    robot = lw.load(f"robots/{name}")
    outing = Outing(robot, seed=3, scatter=SPREAD)
    asked = robot.sheet.requirements.probe_push
    assert asked is not None
    outing.run(Command(), 1.0)
    x, y, _ = 1.05 * outing.controller.able.fixed.neutral[tuple(robot.legs).index(leg)]
    outing.run(Command(kind=Kind.PROBE, leg=leg, target=(x, y)), 20.0, until="probed")
    told = outing.events[-1]
    assert told.what == "probed" and told.leg == leg and told.limit == ""
    true = outing.world.truth().force[tuple(robot.legs).index(leg), 2]
    assert told.force == pytest.approx(asked, rel=0.1)
    assert true == pytest.approx(asked, rel=0.25)
    np.testing.assert_allclose(told.position[:2], (x, y), atol=3e-3)
    assert outing.worst_tilt < np.radians(3.0)


@pytest.mark.parametrize("part", ["coxa", "femur", "tibia"])
@pytest.mark.parametrize(("name", "moment"), [("ripple", 2.5), ("tripod", 2.7)])
def test_a_dead_servo_in_mid_walk_ends_sitting(
    rook: Robot, part: str, name: str, moment: float
) -> None:
    """No fall: the body stays within 10° of level and ends low, on the mean of three moments.

    How far the legs fold hangs on where the feet stood just then: 0.66 to 0.71 of the height.
    """
    walk, low = Command(kind=Kind.WALK, velocity=(0.08, 0.0), gait=gait(name, 6)), []
    for later in (0.0, 0.05, 0.1):
        outing = Outing(rook)
        outing.run(Command(), 0.5)
        outing.run(walk, moment - 0.5 + later)
        outing.world.silence(f"left_front_{part}")
        outing.run(walk, 15.0, until="down")
        lost = [event.leg for event in outing.events if event.what == "joint lost"]
        assert outing.controller.stage is Stage.DOWN
        assert lost == ["left-front"]
        assert outing.worst_tilt < np.radians(10.0)
        low.append(outing.world.truth().body[2] / outing.controller.able.footing.height)
    assert np.mean(low) < 0.7
