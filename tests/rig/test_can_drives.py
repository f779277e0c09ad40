"""CiA 402 drives over CANopen: opening, climbing, faults, dead masters, strange machines."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import canopen
import numpy as np
import pytest

import legwright as lw
from legwright.errors import RigError
from legwright.locomotion.signals import Targets
from legwright.rig.calibration import Calibration, JointCalibration, blank
from legwright.rig.can import frames as f
from legwright.rig.can import objects as o
from legwright.rig.can.cia402 import State
from legwright.rig.can.drive_faults import Ail
from legwright.rig.can.rig import CanRig
from legwright.rig.can.set_up import interpolation_period
from legwright.rig.can.virtual import VirtualCan, bench_of, virtual_wires
from legwright.rig.can.wire import open_wires
from legwright.robot.robot import Robot

RATE = 50.0


@pytest.fixture(scope="module")
def on_can() -> Robot:
    return lw.load("robots/rook-can")


@pytest.fixture
def rig(on_can: Robot) -> Iterator[VirtualCan]:
    rig = VirtualCan(on_can, rate=RATE, physics=False)
    yield rig
    rig.close()


def run(rig: VirtualCan, cycles: int) -> Any:
    """Readings and drives after so many cycles."""
    for _ in range(cycles):
        rig.sense()
        rig.drives()
        rig.advance()
    return rig.sense(), rig.drives()


def climb(rig: VirtualCan) -> None:
    rig.power(True)
    assert run(rig, 5)[1].powered.all()


def to(rig: VirtualCan, q: np.ndarray) -> None:
    rig.apply(Targets(q=q, qd=np.zeros_like(q)))


# Opening --------------------------------------------------------------------------------------


def test_drives_are_told_what_keeps_a_robot_on_its_feet(rig: VirtualCan):
    told = rig.bench.objects
    assert (told[o.MODE] == 8).all(), "cyclic synchronous position"
    assert (told[o.CONSUMER_HEARTBEAT] == (127 << 16 | 250)).all()
    assert (told[o.PRODUCER_HEARTBEAT] == 100).all()
    assert (told[o.ABORT_OPTION] == 3).all() and (told[o.QUICK_STOP_OPTION] == 6).all()
    assert (told[o.ERROR_BEHAVIOUR] == 1).all()
    assert (told[o.PERIOD] == 20).all() and (told[o.PERIOD_POWER] == -3).all()
    assert (told[o.FOLLOWING_WINDOW] == round(65536 / 12)).all(), "30°"
    assert told.carries(o.RPDO1, o.CONTROLWORD, o.TARGET).all()
    assert told.carries(o.TPDO1, o.STATUSWORD, o.POSITION, o.CURRENT).all()
    assert told.carries(o.TPDO2, o.SUPPLY, o.ERROR_CODE, o.WINDING).all()
    femur = rig.axes.names.index("left_front_femur")
    ends = np.degrees(rig.scales.position(told[o.LOWEST]))[femur]
    assert ends == pytest.approx(-60.0 - 2.0, abs=0.01)


def test_all_axes_are_enabled_three_cycles_after_the_first_word(rig: VirtualCan):
    rig.power(True)
    counts = []
    for _ in range(5):
        rig.sense()
        counts.append(int(rig.drives().powered.sum()))
        rig.advance()
    assert counts == [0, 0, 0, 18, 18]
    assert (rig.bench.state == State.ENABLED).all(), "the mast too"


def test_until_a_drive_is_enabled_its_target_is_its_position(on_can: Robot):
    seen: list[f.Frames] = []
    ours, theirs = virtual_wires(3)
    rig = VirtualCan(on_can, rate=RATE, physics=False, wires=(ours, theirs))
    for wire in ours:
        send = wire.send
        wire.send = lambda frames, send=send: (seen.append(frames.copy()), send(frames))[1]  # type: ignore[method-assign]
    rig.power(True)
    to(rig, np.full(18, 0.2))
    for _ in range(3):
        rig.sense()
        positions = dict(zip(rig.axes.node.tolist(), rig.bench.objects[o.POSITION], strict=True))
        seen.clear()
        rig.advance()
        for frames in seen:
            nodes, found = f.of_kind(frames, f.Kind.RPDO1, 6)
            for node, target in zip(nodes, f.read_commands(found)["target"], strict=True):
                assert target == positions[int(node)]
    assert np.abs(run(rig, 40)[0].q - 0.2).max() < 1e-3
    rig.close()


def test_a_second_implementation_finds_and_asks_the_simulated_drives(on_can: Robot):
    """Referee: canopen's scanner, SDO client and statusword decoding."""
    channel = "referee-0"
    (theirs,) = open_wires("virtual", (channel,), 1_000_000)
    robot = replace(on_can, sheet=on_can.sheet.model_copy(update={
        "bus": on_can.sheet.bus.model_copy(update={"buses": 1}),
    }))  # fmt: skip
    bench = bench_of(robot, (theirs,), rate=RATE)
    done = threading.Event()

    def pump() -> None:
        while not done.is_set():
            bench.idle(0.001)
            time.sleep(0.001)

    network = canopen.Network()
    network.connect(interface="virtual", channel=channel)
    thread = threading.Thread(target=pump)
    thread.start()
    try:
        network.scanner.search()
        end = time.monotonic() + 20.0
        while len(network.scanner.nodes) < 20 and time.monotonic() < end:
            time.sleep(0.02)
        assert sorted(network.scanner.nodes) == sorted(robot.sheet.bus.nodes.values())
        node = network.add_node(11, canopen.ObjectDictionary())
        node.sdo.RESPONSE_TIMEOUT = 10.0
        assert int.from_bytes(node.sdo.upload(0x1000, 0), "little") & 0xFFFF == 402
        assert int.from_bytes(node.sdo.upload(0x1018, 2), "little") == 0x0402
        node.sdo.download(0x6060, 0, bytes([8]))
        assert node.sdo.upload(0x6060, 0) == bytes([8])
        with pytest.raises(canopen.SdoAbortedError) as refusal:
            node.sdo.upload(0x5FFF, 0)
        assert refusal.value.code == 0x06020000
        with pytest.raises(canopen.SdoAbortedError):
            node.sdo.download(0x6041, 0, bytes(2))
    finally:
        done.set()
        thread.join()
        network.disconnect()
        theirs.close()


def changed(robot: Robot, **bus: Any) -> Robot:
    """The robot with another [bus]."""
    sheet = robot.sheet.model_copy(update={"bus": robot.sheet.bus.model_copy(update=bus)})
    return replace(robot, sheet=sheet)


def opened(
    robot: Robot, bench_robot: Robot, told: Calibration | None = None, **more: Any
) -> CanRig:
    """A rig for one description on the drives of another."""
    ours, theirs = virtual_wires(3)
    bench = bench_of(bench_robot, theirs, rate=RATE, mounting=more.pop("mounting", None))
    return CanRig(
        robot, ours, rate=RATE, real=False, clock=bench.clock, sleep=bench.idle,
        calibration=told or blank(robot), **more,
    )  # fmt: skip


def test_a_wrong_node_id_is_named_with_the_stranger(on_can: Robot):
    nodes = {**on_can.sheet.bus.nodes, "right_front_tibia": 44}
    with pytest.raises(RigError, match=r"right_front_tibia \(node 43\) does not answer.*Node 44"):
        opened(on_can, changed(on_can, nodes=nodes))


def test_a_stranger_beside_a_whole_robot_is_left_alone(on_can: Robot):
    nodes = {k: v for k, v in on_can.sheet.bus.nodes.items() if k != "mast_tilt"}
    rig = opened(changed(on_can, nodes=nodes), on_can)
    assert any("Node 72 answers but belongs to no joint" in note for note in rig.notes)
    rig.close()


@pytest.mark.parametrize(
    ("drive", "said"),
    [
        ({"vendor": 5}, "vendor id 2147483393, the sheet says 5"),
        ({"product": 7}, "product code 1026, the sheet says 7"),
        ({"counts": 4096}, "counts per turns of the shaft 65536, the sheet says 4096"),
        ({"rated_current": 2.0}, "rated current 800, the sheet says 2000"),
    ],
)
def test_another_drive_than_planned_is_refused(on_can: Robot, drive: dict[str, Any], said: str):
    asked = on_can.sheet.bus.drive.model_copy(update=drive)
    with pytest.raises(RigError, match=said):
        opened(changed(on_can, drive=asked), on_can)


def test_a_changed_drive_is_noticed_by_its_serial_number(on_can: Robot):
    told = blank(on_can).with_joint("left_front_femur", serial=77)
    with pytest.raises(RigError, match="serial number 1001, but 77 was calibrated"):
        opened(on_can, on_can, told)


def test_two_joints_with_one_node_are_refused(on_can: Robot):
    nodes = {**on_can.sheet.bus.nodes, "left_front_tibia": 12}
    with pytest.raises(RigError, match="both have node id 12"):
        opened(changed(on_can, nodes=nodes), on_can)


def test_an_object_that_cannot_be_written_is_named(on_can: Robot):
    asked = on_can.sheet.bus.drive.model_copy(update={"winding": "6077:0"})
    with pytest.raises(RigError, match=r"refuses 1A01h:3.*cannot be mapped.*docs/drives.md"):
        opened(changed(on_can, drive=asked), on_can)


def test_an_empty_bus_says_where_to_look(on_can: Robot):
    ours, theirs = virtual_wires(3)
    now = [0.0]

    def sleep(seconds: float) -> None:
        now[0] += seconds

    with pytest.raises(RigError, match="No node answers"):
        CanRig(on_can, ours, rate=RATE, clock=lambda: now[0], sleep=sleep)
    for wire in theirs:
        wire.close()


@pytest.mark.parametrize(
    ("rate", "told"), [(200.0, (5, -3)), (100.0, (10, -3)), (400.0, (25, -4)), (2.0, (50, -2))]
)
def test_the_period_is_told_exactly(rate: float, told: tuple[int, int]):
    value, power = interpolation_period(rate)
    assert (value, power) == told
    assert value * 10.0**power == pytest.approx(1.0 / rate, rel=1e-9)


def test_a_rate_that_cannot_be_told_is_refused():
    with pytest.raises(RigError, match="no period that drives can be told"):
        interpolation_period(150.0)


# Strange machines -----------------------------------------------------------------------------


def test_flips_zeros_and_swapped_nodes_are_undone_by_the_calibration(on_can: Robot):
    """Referee: the mechanics' own joint angles."""
    rng = np.random.default_rng(5)
    names = (*on_can.joint_names, *on_can.held)
    nodes = rng.permutation(list(on_can.sheet.bus.nodes.values())).tolist()
    mounting = Calibration(robot=on_can.name, joints={
        name: JointCalibration(node=node, direction=int(rng.choice([-1, 1])),
                               zero=float(rng.uniform(-2.0, 2.0)))
        for name, node in zip(names, nodes, strict=True)
    })  # fmt: skip
    rig = VirtualCan(on_can, rate=RATE, physics=False, mounting=mounting, calibration=mounting)
    true = rig.bench.moved.q[:18]
    np.testing.assert_allclose(rig.sense().q, true, atol=2 * np.pi / 65536)
    climb(rig)
    to(rig, true + 0.1)
    sensed, _ = run(rig, 40)
    np.testing.assert_allclose(rig.bench.moved.q[:18], true + 0.1, atol=1e-3)
    np.testing.assert_allclose(sensed.q, true + 0.1, atol=1e-3)
    to(rig, true + 0.3)
    rig.advance()
    run(rig, 1)
    sensed, _ = run(rig, 1)
    assert (sensed.qd > 0.0).all() and (sensed.current > 0.0).all(), "signs follow the joint axes"
    rig.close()


def test_without_calibration_the_rig_opens_but_says_so(on_can: Robot):
    ours, theirs = virtual_wires(3)
    bench = bench_of(on_can, theirs, rate=RATE)
    rig = CanRig(on_can, ours, rate=RATE, clock=bench.clock, sleep=bench.idle)
    assert not rig.calibrated
    assert any("Zeros of 18 joints are not known" in note for note in rig.notes)
    rig.close()


def test_a_drive_keeps_its_joint_inside_the_limits_whatever_it_is_told(rig: VirtualCan):
    climb(rig)
    joint = rig.robot.joint_names.index("left_front_femur")
    q = np.full(18, np.nan)
    q[joint] = 2.5
    to(rig, q)
    sensed, _ = run(rig, 40)
    assert np.degrees(sensed.q[joint]) == pytest.approx(85.0 + 2.0, abs=0.1)


# Faults ---------------------------------------------------------------------------------------


def test_a_drive_in_fault_tells_its_code_goes_limp_and_comes_back_after_power_off(rig: VirtualCan):
    climb(rig)
    name = rig.robot.joint_names[7]
    rig.bench.ailments.inflict(name, Ail.EMERGENCY, 0x3210)
    sensed, drives = run(rig, 2)
    assert drives.fault[7] == 0x3210 and not drives.powered[7]
    assert np.delete(drives.powered, 7).all() and np.isfinite(sensed.q).all()
    _, drives = run(rig, 60)
    assert drives.fault[7] == 0x3210, "not reset while the robot stands"
    rig.power(False)
    _, drives = run(rig, 60)
    assert drives.fault[7] == 0x3210, "its cause is still there"
    rig.bench.ailments.heal(name)
    _, drives = run(rig, 60)
    assert not drives.fault.any()
    climb(rig)


def test_a_lost_frame_is_bridged_and_two_are_told(rig: VirtualCan):
    climb(rig)
    rig.bench.ailments.mute[3] = True
    rig.advance()
    assert np.isfinite(rig.sense().q).all()
    rig.advance()
    assert list(np.flatnonzero(np.isnan(rig.sense().q))) == [3]
    rig.bench.ailments.mute[3] = False
    rig.advance()
    sensed = rig.sense()
    assert np.isfinite(sensed.q).all() and abs(sensed.qd[3]) < 0.01, "no jump in speed"


def test_one_lost_frame_in_fifty_does_no_harm(rig: VirtualCan):
    climb(rig)
    rig.bench.ailments.trouble(1, loss=0.02)
    start = rig.sense().q
    blind = 0
    for cycle in range(300):
        sensed = rig.sense()
        blind += int(np.isnan(sensed.q).sum())
        to(rig, start + 0.1 * np.sin(2.0 * np.pi * cycle / 100.0))
        rig.advance()
    assert 0 < 18 * 300 * 0.02, "losses happened"
    assert blind < 6 * 300 * 0.02**2 * 6.0
    assert rig.drives().powered.all()


def test_late_answers_are_read_a_cycle_later(rig: VirtualCan):
    climb(rig)
    rig.bench.ailments.trouble(0, late=0.7 / RATE)
    sensed, drives = run(rig, 20)
    assert np.isfinite(sensed.q).all() and drives.powered.all()


def test_a_cut_bus_is_told_and_the_others_go_on(rig: VirtualCan):
    climb(rig)
    rig.bench.ailments.trouble(2, cut=True)
    sensed, drives = run(rig, 3)
    assert drives.buses == (True, True, False)
    on_it = np.array(rig.buses) == 2
    assert np.isnan(sensed.q[on_it]).all() and np.isfinite(sensed.q[~on_it]).all()
    assert drives.powered[~on_it].all()
    rows = rig.axes.wire == 2
    assert (rig.bench.state[rows] == State.ENABLED).all()
    run(rig, round(0.4 * RATE))
    assert (rig.bench.state[rows] == State.QUICK_STOP).all(), "its drives hold by themselves"
    assert rig.bench.holding.all()
    rig.bench.ailments.trouble(2)
    sensed, drives = run(rig, 4)
    assert drives.buses == (True, True, True) and drives.powered.all()


def test_a_babbling_node_does_not_stop_the_loop(rig: VirtualCan):
    climb(rig)
    rig.bench.ailments.trouble(1, babble=True)
    began = time.process_time()
    sensed, drives = run(rig, 20)
    assert time.process_time() - began < 5.0
    assert drives.buses == (True, False, True)
    assert np.isfinite(sensed.q[np.array(rig.buses) != 1]).all()


def test_a_frozen_drive_goes_on_answering_and_holds(rig: VirtualCan):
    climb(rig)
    start = rig.sense().q
    rig.bench.ailments.inflict(rig.robot.joint_names[2], Ail.FROZEN)
    to(rig, start + 0.2)
    sensed, drives = run(rig, 30)
    gap = np.abs(sensed.q - start - 0.2)
    assert gap[2] == pytest.approx(0.2, abs=1e-3) and np.delete(gap, 2).max() < 1e-3
    assert drives.powered.all() and not drives.fault.any(), "only the following error tells"


def test_a_blocked_joint_ends_in_a_following_error_after_its_time(rig: VirtualCan):
    climb(rig)
    rig.bench.ailments.inflict(rig.robot.joint_names[0], Ail.BLOCKED)
    to(rig, rig.sense().q + np.radians(35.0))
    _, drives = run(rig, round(0.4 * RATE))
    assert not drives.fault.any()
    _, drives = run(rig, round(0.2 * RATE))
    assert drives.fault[0] == 0x8611 and not drives.fault[1:].any()


def test_heat_current_and_voltage_are_told(rig: VirtualCan):
    climb(rig)
    ailments, names = rig.bench.ailments, rig.robot.joint_names
    ailments.inflict(names[1], Ail.HOT, 50.0)
    ailments.trouble(0, low=3.0)
    to(rig, rig.sense().q + 0.3)
    rig.advance()
    ailments.inflict(names[2], Ail.OVER_CURRENT, 4.0)
    sensed, drives = run(rig, 2)
    assert sensed.current[2] == pytest.approx(4.0 * sensed.current[5], rel=0.02)
    _, drives = run(rig, round(0.3 * RATE))
    assert drives.winding[1] == pytest.approx(298.15 + 50.0, abs=0.06)
    assert drives.winding[0] == pytest.approx(298.15, abs=0.06)
    assert rig.sense().voltage == pytest.approx(11.1, abs=0.001), "the highest that is told"
    for bus in (1, 2):
        ailments.trouble(bus, low=3.0)
    run(rig, round(0.3 * RATE))
    assert rig.sense().voltage == pytest.approx(8.1, abs=0.001)
    ailments.inflict(names[1], Ail.HOT, 90.0)
    _, drives = run(rig, round(0.3 * RATE))
    assert drives.fault[1] == 0x4310


def test_a_rebooted_drive_is_silent_until_the_rig_is_opened_anew(rig: VirtualCan):
    climb(rig)
    rig._network._wires[0].send(f.nmt(f.Nmt.RESET, 11))
    sensed, drives = run(rig, 4)
    assert np.isnan(sensed.q[0]) and not drives.powered[0] and drives.powered[1:].all()


# A dead master --------------------------------------------------------------------------------


def test_when_the_master_dies_all_drives_hold_and_the_next_one_takes_over(on_can: Robot):
    ours, theirs = virtual_wires(3)
    rig = VirtualCan(on_can, rate=RATE, physics=False, wires=(ours, theirs))
    climb(rig)
    to(rig, rig.sense().q + 0.2)
    run(rig, 30)
    bench, held = rig.bench, rig.bench.moved.q.copy()
    bench.idle(0.25 - 0.06)
    assert (bench.state == State.ENABLED).all(), "too early"
    bench.idle(0.1)
    assert (bench.state == State.QUICK_STOP).all() and bench.holding.all()
    bench.idle(5.0)
    np.testing.assert_allclose(bench.plant.read().q, held, atol=1e-3)
    follower = CanRig(
        on_can, ours, rate=RATE, real=False, clock=bench.clock, sleep=bench.idle,
        calibration=blank(on_can),
    )  # fmt: skip
    assert follower.drives().powered.all(), "found holding, left holding"
    for _ in range(5):
        follower.sense()
        follower.advance()
        bench.idle(0.6 / RATE)
    assert (bench.state == State.ENABLED).all()
    np.testing.assert_allclose(follower.sense().q, held[:18], atol=1e-3)
    follower.power(False)
    bench.idle(0.0)
    assert not bench.holding.any()
    follower.close()
    for wire in theirs:
        wire.close()


def test_a_closed_rig_leaves_limp_drives(rig: VirtualCan):
    climb(rig)
    bench = rig.bench
    CanRig.close(rig)
    bench.idle(0.0)
    assert not bench.holding.any() and (bench.state == State.DISABLED).all()


def test_sync_keeps_its_own_beat_while_the_loop_jitters(on_can: Robot):
    """With wake-ups that jitter by ±10 % of the period, SYNC jitters by far less."""
    ours, theirs = virtual_wires(3)
    bench = bench_of(on_can, theirs, rate=RATE)
    rig = CanRig(on_can, ours, rate=RATE, clock=bench.clock, sleep=bench.idle)
    beats, send = [], ours[0].send

    def watched(frames: f.Frames) -> None:
        if len(frames) == 1 and frames["id"][0] == f.Kind.SYNC:
            beats.append(bench.time)
        send(frames)

    ours[0].send = watched  # type: ignore[method-assign]
    rng, due = np.random.default_rng(2), bench.time
    wakes = []
    for _ in range(200):
        due += 1.0 / RATE
        bench.idle(max(due + rng.uniform(-0.1, 0.1) / RATE - bench.time, 0.0))
        wakes.append(bench.time)
        rig.sense()
        rig.advance()
    jitter = np.std(np.diff(beats[50:])) * RATE
    assert np.std(np.diff(wakes[50:])) * RATE > 0.07
    assert jitter < 0.015
    assert np.mean(np.diff(beats[50:])) == pytest.approx(1.0 / RATE, rel=1e-3)
    rig.close()
    for wire in theirs:
        wire.close()
