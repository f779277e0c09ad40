"""Tolerances over the stride, against every pose sampled through exact kinematics."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from asking import named

import legwright as lw
from legwright.locomotion.stance import footing
from legwright.mechanics.tolerance_chain import deviated_feet
from legwright.mechanics.tolerance_stack import INSIDE, drawn_by, draws_of
from legwright.mechanics.tolerance_stand import stand_error
from legwright.study.check import glimpse
from legwright.study.checks.tolerance import judged_strides
from legwright.study.finding import Verdict
from legwright.study.stride_tolerances import PHASES, stride_tolerances
from legwright.study.tolerances import tolerances_of

ROBOTS = Path(__file__).parents[2] / "robots"
BUILT = 3_000


@pytest.fixture(scope="module", params=["rook", "heron"])
def walked(request):
    robot = lw.load(ROBOTS / request.param)
    stand = footing(robot)
    walks = {
        f"{name} {way}": glimpse(robot, lw.Walk(lw.gait(name, legs=6), velocity=v, turn=turn))
        for name, way, v, turn in (
            ("tripod", "forward", (0.08, 0.0), 0.0), ("wave", "turning", (0.0, 0.0), 0.15),
        )
    }  # fmt: skip
    return robot, tolerances_of(robot, stand), walks


def test_no_sampled_pose_is_much_worse(walked) -> None:
    """Referee: every pose with thousands of legs through exact kinematics, all three offsets."""
    robot, found, walks = walked
    ours = stride_tolerances(robot, walks)
    built, tilts, heights = {}, [], []
    for name, case in walks.items():
        total = len(case.motion.t)
        for pick in np.arange(PHASES) * total // PHASES:
            feet, contact = case.motion.feet[pick], case.motion.contact[pick]
            offsets = []
            for number, (leg, each) in enumerate(robot.legs.items()):
                deviations = found.sources[leg].deviations
                low, span = drawn_by(deviations)
                shapes = tuple(one.shape for one in deviations)
                values = low + span * draws_of(shapes, BUILT, 100 + number).T
                q = case.motion.q[pick][robot.columns[leg]]
                offsets.append(deviated_feet(each.chain, q, deviations, values) - feet[number])
                away = np.linalg.norm(offsets[-1], axis=1)
                built[leg, name, pick / total] = float(np.quantile(away, INSIDE))
            down = np.array(offsets)[contact].transpose(1, 0, 2)
            one = stand_error(
                feet[contact], down, case.loads.com[pick, :2], np.zeros(down.shape[1])
            )
            tilts.append(one.tilt)
            heights.append(one.height)
    assert ours.poses == len(tilts)
    # A quantile of 3000 samples is good to some 4 %, the largest of many lies above it.
    assert ours.foot.built == pytest.approx(max(built.values()), rel=0.08)
    assert built[ours.leg, ours.foot_at.case, ours.foot_at.phase] > 0.92 * max(built.values())
    assert ours.tilt == pytest.approx(max(tilts), rel=0.1)
    assert ours.height == pytest.approx(max(heights), rel=0.1)


def test_walking_is_less_exact_than_standing(walked) -> None:
    """Fewer feet on the ground, legs farther out."""
    robot, found, walks = walked
    ours = stride_tolerances(robot, walks)
    assert ours.foot.worst > 1.02 * max(error.worst for error in found.feet.values())
    assert ours.tilt > 1.2 * found.stand.tilt
    assert ours.tilt_at.case in walks and ours.height_at.case in walks
    foot, tilt = judged_strides(robot, ours)
    assert {foot.verdict, tilt.verdict} == {Verdict.PASS}
    assert ours.leg in foot.why and ours.foot_at.case in foot.why
    assert named([foot, tilt], "body tilt, walking").value == pytest.approx(np.degrees(ours.tilt))


def test_a_check_tells_of_walks_and_stance() -> None:
    found = [one.name for one in lw.check(lw.load(ROBOTS / "rook"), only=["tolerance"])]
    want = ["foot position", "body tilt"]
    assert found == [f"{name}, {when}" for when in ("as built", "walking") for name in want]


def test_nothing_is_said_where_nothing_is_known(walked) -> None:
    robot, _, walks = walked
    assert stride_tolerances(robot, {}) is None
    bare = lw.load(ROBOTS / "heron" / "heron.urdf")
    assert stride_tolerances(bare, walks) is None
    assert list(judged_strides(robot, None)) == []
