"""Bring-up on a bench with secrets: nodes swapped, drives flipped, zeros anywhere."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RigError
from legwright.rig.bringup.calibrated import CalibratedBench
from legwright.rig.bringup.hidden import AllSeeing, HiddenBench, Secrets
from legwright.rig.bringup.identify import identify
from legwright.rig.bringup.matching import direction_of, match_nodes, question_of
from legwright.rig.bringup.motions import glide, place_of
from legwright.rig.bringup.zeros import TRAVEL_OFF, Zero, zero_by_pose, zero_by_stops

ROOK = Path(__file__).parents[2] / "robots" / "rook"


@pytest.fixture(scope="module")
def rook():
    return lw.load(ROOK)


def bench_of(robot, seed: int) -> tuple[HiddenBench, Secrets, AllSeeing]:
    secrets = Secrets.drawn(robot, seed)
    bench = HiddenBench(robot, secrets, seed=seed)
    return bench, secrets, AllSeeing(bench, secrets)


def limits_of(robot, joint: str) -> tuple[float, float]:
    for leg in robot.legs.values():
        if joint in leg.joint_names:
            k = leg.joint_names.index(joint)
            return float(leg.chain.lower[k]), float(leg.chain.upper[k])
    raise AssertionError(joint)


def test_every_secret_of_a_leg_is_found(rook):
    bench, secrets, witness = bench_of(rook, 5)
    found, wrong = match_nodes(bench, witness, rook.joint_names)
    assert wrong == []
    for match in found:
        j = rook.joint_names.index(match.joint)
        assert secrets.nodes[j] == match.node
    for match in found[::4]:
        j = rook.joint_names.index(match.joint)
        way = direction_of(bench, witness, rook, match)
        assert way == secrets.direction[j]
        zero = zero_by_stops(bench, match.node, way, *limits_of(rook, match.joint))
        assert zero is not None and zero.wrong == ""
        assert zero.zero == pytest.approx(secrets.zero[j], abs=np.radians(0.1))


def test_a_bench_led_as_a_rig_tells_tilt_and_turn_rates(rook):
    bench, secrets, _ = bench_of(rook, 5)
    nodes = dict(zip(rook.joint_names, map(int, secrets.nodes), strict=True))
    rig = CalibratedBench(bench, rook, nodes, secrets.direction, secrets.zero)
    sensed = rig.sense()
    assert sensed.up is not None and sensed.spin is not None
    assert sensed.spin.shape == (3,) and np.abs(sensed.spin).max() < 0.1, "it hangs still"


def test_a_dead_drive_is_missed_by_name(rook):
    bench, _, witness = bench_of(rook, 6)
    bench.world.silence("left_rear_femur")
    _, wrong = match_nodes(bench, witness, rook.joint_names)
    assert wrong == ["No node turns left_rear_femur."]


def test_a_zero_set_by_hand_is_as_good_as_the_hand(rook):
    bench, secrets, witness = bench_of(rook, 7)
    joint = "right_middle_tibia"
    j = rook.joint_names.index(joint)
    node, way = int(secrets.nodes[j]), int(secrets.direction[j])
    zero = zero_by_pose(bench, witness, node, joint, way, 0.2, jig=False)
    assert zero is not None and zero.way == "hand"
    assert abs(zero.zero - secrets.zero[j]) < np.radians(1.5)
    assert abs(zero.zero - secrets.zero[j]) > np.radians(0.1), "the hand was half a degree off"


def test_a_blocked_leg_shows_in_its_travel(rook):
    free = Zero(zero=0.1, way="stops", travel=1.7, wanted=1.7 + 0.5 * TRAVEL_OFF)
    blocked = Zero(zero=0.1, way="stops", travel=1.2, wanted=1.7)
    assert free.wrong == "" and "blocks the leg" in blocked.wrong
    assert Zero(zero=np.radians(12.3), way="jig").rounded == pytest.approx(np.radians(12.5))


def test_friction_and_gravity_of_a_femur(rook):
    bench, secrets, _ = bench_of(rook, 8)
    joint = "left_middle_femur"
    j = rook.joint_names.index(joint)
    node, way, zero = int(secrets.nodes[j]), int(secrets.direction[j]), float(secrets.zero[j])
    pose = bench.world._stance.q.copy()
    for k in range(len(pose)):
        glide(
            bench, int(secrets.nodes[k]), secrets.direction[k] * (pose[k] - secrets.zero[k]),
            speed=1.0,
        )  # fmt: skip
    found = identify(bench, rook, joint, node, way, zero, pose)
    stated = bench.world._constants
    from legwright.rig import _servo_kernel as kernel

    truth = float(stated[kernel.COULOMB, j])
    assert found.friction == pytest.approx(truth, rel=0.25), "load-dependent loss comes on top"
    assert found.gravity == pytest.approx(found.expected, abs=0.04)
    assert 0.0 < found.threshold < 0.3


def test_questions_say_where_the_foot_goes(rook):
    assert question_of(rook, "left_middle_tibia").startswith("Did the foot of left-middle move")
    words = {question_of(rook, joint).rsplit("move ", 1)[1] for joint in rook.joint_names}
    assert words <= {"forward?", "backward?", "to the left?", "to the right?", "up?", "down?"}
    leg = rook.legs["left-middle"]
    step = 1e-6 * np.eye(3)[0]
    moved = leg.foot(step) - leg.foot(np.zeros(3))
    assert np.abs(moved).argmax() == 0
    expected = "forward" if moved[0] > 0.0 else "backward"
    assert question_of(rook, "left_middle_coxa").endswith(f"move {expected}?")


def test_a_node_that_left_says_what_to_do(rook):
    bench, _, _ = bench_of(rook, 9)
    with pytest.raises(RigError, match="cable"):
        place_of(bench, 999)
