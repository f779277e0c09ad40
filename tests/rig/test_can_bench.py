"""Bring-up over CAN: swapped nodes, flips and zeros of simulated drives are found by the bus."""

from __future__ import annotations

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError, RigError
from legwright.rig.bringup.hidden import AllSeeing, Secrets
from legwright.rig.bringup.matching import Match, direction_of, match_nodes
from legwright.rig.bringup.motions import glide
from legwright.rig.bringup.zeros import zero_by_stops
from legwright.rig.calibration import Calibration
from legwright.rig.can.drive_faults import Ail
from legwright.rig.can.rig import CanRig
from legwright.rig.can.virtual_bench import VirtualBench, mounting_of
from legwright.robot.robot import Robot


@pytest.fixture(scope="module")
def on_can() -> Robot:
    return lw.load("robots/rook-can")


def test_one_drive_with_secrets_is_found_over_the_bus(on_can: Robot):
    secrets = Secrets.drawn(on_can, 12)
    bench = VirtualBench(on_can, secrets, seed=12, rate=50.0)
    assert bench.find() == tuple(sorted(secrets.nodes.tolist())), "mast and tools left alone"
    leg, joint = on_can.legs["left-front"], "left_front_femur"
    j, k = on_can.joint_names.index(joint), leg.joint_names.index(joint)
    match = Match(node=int(secrets.nodes[j]), joint=joint, moved=1.0)
    way = direction_of(bench, AllSeeing(bench, secrets), on_can, match)
    assert way == secrets.direction[j]
    zero = zero_by_stops(
        bench, match.node, way, float(leg.chain.lower[k]), float(leg.chain.upper[k])
    )
    assert zero is not None and zero.zero == pytest.approx(secrets.zero[j], abs=np.radians(0.1))
    bench.close()


@pytest.mark.long
def test_a_leg_with_secrets_is_found_over_the_bus_and_driven_by_what_was_found(on_can: Robot):
    secrets = Secrets.drawn(on_can, 11)
    bench = VirtualBench(on_can, secrets, seed=11, rate=50.0)
    witness = AllSeeing(bench, secrets)
    assert bench.find() == tuple(sorted(secrets.nodes.tolist())), "mast and tools left alone"
    leg = on_can.legs["right-middle"]
    found, wrong = match_nodes(bench, witness, on_can.joint_names)
    assert wrong == []
    told = Calibration(robot=on_can.name)
    for match in found:
        j = on_can.joint_names.index(match.joint)
        assert match.node == secrets.nodes[j]
        told = told.with_joint(match.joint, node=match.node)
        if match.joint not in leg.joint_names:
            continue
        way = direction_of(bench, witness, on_can, match)
        assert way == secrets.direction[j]
        k = leg.joint_names.index(match.joint)
        zero = zero_by_stops(
            bench, match.node, way, float(leg.chain.lower[k]), float(leg.chain.upper[k])
        )
        assert zero is not None and zero.wrong == ""
        assert zero.zero == pytest.approx(secrets.zero[j], abs=np.radians(0.1))
        told = told.with_joint(match.joint, direction=way, zero=zero.zero)
    true = bench.world.truth().q
    ours, rig = bench._network._wires, None
    try:
        bench._network.let_go(np.ones(20 - 2, dtype=np.bool_))
        rig = CanRig(
            on_can, ours, rate=50.0, real=False, clock=bench.drives.clock, sleep=bench.drives.idle,
            calibration=told,
        )  # fmt: skip
        columns = on_can.columns["right-middle"]
        np.testing.assert_allclose(rig.sense().q[columns], true[columns], atol=np.radians(0.5))
    finally:
        if rig is not None:
            rig.close()
        bench.close()


def test_a_blocked_drive_ends_the_step_with_its_code(on_can: Robot):
    bench = VirtualBench(on_can, Secrets.drawn(on_can, 3), seed=3, rate=50.0)
    node = bench.find()[4]
    joint = bench.drives.names[int(np.flatnonzero(bench.drives._node == node)[0])]
    bench.drives.ailments.inflict(joint, Ail.BLOCKED)
    with pytest.raises(RigError, match=rf"Node {node} reports error 0x8611"):
        glide(bench, node, float(bench.read().angle[4]) + 1.5, speed=1.0)
    with pytest.raises(RequestError, match="one that answers"):
        bench.hold(99, 0.0)
    bench.close()
    assert not bench.drives.holding.any()


def test_secrets_are_a_mounting(on_can: Robot):
    secrets = Secrets.drawn(on_can, 1)
    mounted = mounting_of(on_can, secrets)
    assert [one.node for one in mounted.joints.values()] == secrets.nodes.tolist()
