"""A changed robot is judged anew where the change reaches, and nowhere else; same findings."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from legwright.locomotion.gait import gait
from legwright.locomotion.stance import footing
from legwright.locomotion.walk import Pose, Walk
from legwright.mechanics.opening import edited
from legwright.robot.editing import opened
from legwright.study.asked import asked_of
from legwright.study.check import again, check, glimpse, study
from legwright.study.stages import Content
from legwright.study.straining import REACHED, WHOLE, scale_of
from legwright.study.strains import used_by
from legwright.study.trial import COARSE, tilted, trial

ROBOTS = Path(__file__).parents[2] / "robots"

EDITS = (
    ("rook", {"dimensions.femur": "90 mm"}, ()),
    (
        "rook",
        {"harness.conductor.leg.gauge": "18 AWG"},
        ("walks", "check_clash", "check_tolerance", "check_strides", "maps"),
    ),
    ("rook", {"requirements.speed_forward": "0.14 m/s"}, ("check_tolerance", "maps")),
    ("rook", {"requirements.gaits": ["wave"]}, ("check_tolerance", "maps")),
    ("rook", {"about": "another one", "making.kerf": "0.2 mm"}, ("walks", "envelope", "maps")),
    ("wren", {"servo.goldcrest.stall_torque": "1.1 N*m"}, ()),
    ("wren", {"requirements.payload": "0.9 kg"}, ("check_tolerance", "maps")),
    ("wren", {"stance.body_height": "70 mm", "stance.cycle": "1.0 s"}, ()),
    ("wren", {"protection.fuse": "5 A"}, ("walks", "check_reach", "maps")),
    ("heron", {"requirements.payload": "2 kg", "battery.capacity": "4 A*h"}, ()),
)


def same(one: object, other: object) -> bool:
    """Equal field by field, nan like nan."""
    if isinstance(one, float) and isinstance(other, float):
        return one == other or (math.isnan(one) and math.isnan(other))
    if dataclasses.is_dataclass(one) and type(one) is type(other):
        names = [field.name for field in dataclasses.fields(one)]
        return all(same(getattr(one, name), getattr(other, name)) for name in names)
    return bool(one == other)


@pytest.fixture(scope="module")
def before():
    """Studies of the robots as they are; each edit is made to the latest one."""
    return {}


LONG = (3, 6, 9)
"""Places of edits that are tried where there is time."""


@pytest.mark.parametrize(
    ("name", "edit", "kept"),
    [
        pytest.param(*edit, id=str(edit[1]), marks=[pytest.mark.long] if at in LONG else [])
        for at, edit in enumerate(EDITS)
    ],
)
def test_the_quick_verdict_is_the_verdict(before, name, edit, kept):
    """Referee: a check of the edited robot that knows nothing of what was there before."""
    text = opened(ROBOTS / name)
    if name not in before:
        before[name] = study(edited(text, {}))
    robot = edited(text, edit)
    quick = again(before[name], robot)
    whole = check(edited(text, edit))
    assert len(quick.findings) == len(whole)
    for one, other in zip(quick.findings, whole, strict=True):
        assert same(one, other), (one, other)
    taken = {at for at, one in quick.stages.items() if before[name].stages.get(at) is one}
    assert taken >= set(kept)
    assert quick.robot is robot
    if "femur" in str(edit) or "stance" in str(edit):
        assert not taken & {"walks", "fed", "envelope", "maps", "check_reach", "check_clash"}


def test_nothing_changed_is_nothing_to_do(before):
    text = opened(ROBOTS / "wren")
    first = before.get("wren") or study(edited(text, {}))
    second = again(first, edited(text, {}))
    assert all(second.stages[name] is stage for name, stage in first.stages.items())
    assert second.findings == first.findings


def test_a_key_changes_with_whatever_the_stage_reads():
    text = opened(ROBOTS / "rook")
    as_is = Content(edited(text, {}))
    for edit, same_keys, other_keys in (
        ({}, ("walks", "fed", "envelope", "check_bus"), ()),
        ({"battery.mass": "0.5 kg"}, (), ("walks", "fed", "maps", "check_tolerance")),
        ({"hub.branch.mast.fuse": "2 A"}, ("walks", "envelope"), ("fed", "check_wiring")),
        ({"fit.mast_*": "dunnock"}, (), ("walks", "fed", "check_held")),
        ({"foot.friction": 0.7}, (), ("walks", "check_grip")),
    ):
        now = Content(edited(text, edit))
        assert all(now.key(stage) == as_is.key(stage) for stage in same_keys), edit
        assert all(now.key(stage) != as_is.key(stage) for stage in other_keys), edit


@pytest.mark.parametrize("name", ["rook", "wren", "heron"])
def test_the_kernel_weighs_a_cycle_as_the_long_way_does(name):
    """Referee: plan, loads and draw, sample by sample, on walks of all kinds."""
    robot = edited(ROBOTS / name, {})
    stand = footing(robot)
    asked = asked_of(robot, stand)
    scale = scale_of(robot, asked, asked.payload)
    rng = np.random.default_rng(3)
    weighed = reached = ruled_out = 0
    for at in range(14):
        speed = rng.uniform(-0.1, 0.1, 2) * (1.0 if at % 3 else 3.0)
        walk = Walk(
            gait(("tripod", "ripple", "wave")[at % 3], legs=6),
            velocity=(speed[0], speed[1]), turn=rng.uniform(-0.4, 0.4), cycle=rng.uniform(0.6, 2.5),
            slope=rng.uniform(0.0, 0.2), uphill=rng.uniform(-3.0, 3.0), footing=stand,
            pose=Pose(x=0.005, z=0.006, roll=0.04, pitch=-0.03, yaw=0.06) if at % 2 else Pose(),
        )  # fmt: skip
        quick = scale.used(walk, COARSE, least=WHOLE)
        if quick is None:
            continue
        case = trial(robot, asked, walk, payload=asked.payload, samples=COARSE)
        for field, value in used_by(robot, case)._asdict().items():
            if field == "stretch" and quick.reached:
                continue  # means nothing where the feet reach
            np.testing.assert_allclose(
                np.asarray(getattr(quick, field), dtype=float), np.asarray(value, dtype=float),
                rtol=1e-5, atol=1e-8, err_msg=f"{field} of walk {at}",
            )  # fmt: skip
        weighed, reached = weighed + 1, reached + quick.reached
        has = float(quick.headroom[quick.weakest])
        for share in (0.4, 0.99, 1.01, 1.3, 2.0):  # what it lacks is seen in a fourth of it, or not
            part = scale.used(walk, COARSE, least=REACHED._replace(headroom=share * has))
            if quick.reached and not part.whole:
                assert share > 1.0 or not quick.feasible
                assert part.headroom[part.weakest] >= has * (1.0 - 1e-9)
                ruled_out += 1
    assert weighed >= 10
    assert reached >= 3
    assert ruled_out >= 2


def test_a_slope_is_walked_as_it_would_be_alone():
    """Referee: a trial of the walk on that slope."""
    robot = edited(ROBOTS / "rook", {})
    stand = footing(robot)
    asked = asked_of(robot, stand)
    level = Walk(gait("ripple", legs=6), velocity=(0.06, 0.01), cycle=1.4, footing=stand)
    known = trial(robot, asked, level, payload=asked.payload)
    for uphill in (0.0, 2.0):
        alone = trial(
            robot, asked, dataclasses.replace(level, slope=0.2, uphill=uphill),
            payload=asked.payload,
        )  # fmt: skip
        found = tilted(robot, asked, known, 0.2, uphill, asked.payload, "")
        assert found.walk == alone.walk
        np.testing.assert_array_equal(found.motion.gravity, alone.motion.gravity)
        np.testing.assert_array_equal(found.loads.torque, alone.loads.torque)
        np.testing.assert_array_equal(found.draw.headroom, alone.draw.headroom)


def test_a_glimpse_is_a_case_of_the_study(before):
    """Referee: the same case in the study, before the wiring is minded."""
    text = opened(ROBOTS / "rook")
    robot = edited(text, {})
    case = glimpse(robot)
    there = (before.get("rook") or study(robot)).cases["tripod forward"]
    assert case.walk.cycle == there.walk.cycle
    np.testing.assert_array_equal(case.motion.q, there.motion.q)
    np.testing.assert_array_equal(case.loads.torque, there.loads.torque)
    np.testing.assert_array_equal(case.loads.margin, there.loads.margin)
    sideways = Walk(gait("wave", legs=6), velocity=(0.0, 0.03), cycle=1.5)
    assert glimpse(robot, sideways, samples=32).motion.q.shape == (32, 18)


def test_the_first_part_is_of_the_first_gait_and_final() -> None:
    """What is told before the other gaits have walked stands in the whole study as well."""
    parts = []
    robot = edited(opened(ROBOTS / "wren"), {})
    whole = study(robot, only=["build", "reach", "balance"], partly=parts.append)
    early = parts[0].findings
    assert {finding.area for finding in early} == {"build", "reach", "balance"}
    assert [finding for finding in whole.findings if finding in early] == list(early)
