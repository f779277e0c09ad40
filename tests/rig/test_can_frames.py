"""Frames against independent decoders: tshark's CANopen dissector, and the `canopen` package."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import canopen
import numpy as np
import pytest

from legwright.electrics.can_frame import exact_bits
from legwright.locomotion.signals import Targets
from legwright.rig.can import frames as f
from legwright.rig.can import objects as o
from legwright.rig.can.candump import lines, read_log
from legwright.rig.can.set_up import Limits, Plan, writes
from legwright.rig.can.virtual import VirtualCan
from legwright.rig.choice import rig_of
from legwright.robot.robot import Robot

TSHARK = shutil.which("tshark")


@pytest.fixture(scope="module")
def log(rook: Robot, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Opening, climbing, moving and closing of the whole robot, written down."""
    path = tmp_path_factory.mktemp("can") / "bus.log"
    rig = rig_of("can:virtual", rook, {"physics": "no", "rate": "50", "log": str(path)})
    assert isinstance(rig, VirtualCan)
    rig.power(True)
    for cycle in range(20):
        sensed = rig.sense()
        if cycle == 8:
            rig.apply(Targets(q=sensed.q + 0.05, qd=np.zeros_like(sensed.q)))
        if cycle == 15:
            rig.bench.ailments.code[2] = 0x3210
        rig.advance()
    rig.close()
    return path


def dissected(path: Path, *fields: str, only: str = "canopen") -> list[list[str]]:
    """What tshark reads: rows of fields."""
    if TSHARK is None:
        pytest.skip("tshark is not installed (Debian: apt-get install tshark)")
    shown = [part for field in fields for part in ("-e", field)]
    run = subprocess.run(
        [TSHARK, "-r", str(path), "-d", "can.subdissector,canopen", "-Y", only, "-T", "fields",
         "-E", "separator=|", *shown],
        capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    return [row.split("|") for row in run.stdout.splitlines()]


def test_tshark_reads_every_frame_of_a_run_as_canopen(log: Path):
    rows = dissected(log, "can.id", "canopen.function_code", "canopen.node_id", only="can")
    written = [line for line in log.read_text().splitlines() if line]
    assert len(rows) == len(written) > 2000
    functions = {row[1] for row in rows}
    wanted = {f.Kind.NMT, f.Kind.SYNC, f.Kind.TPDO1, f.Kind.RPDO1, f.Kind.RPDO2, f.Kind.TPDO2}
    wanted |= {f.Kind.SDO_ANSWER, f.Kind.SDO_REQUEST, f.Kind.HEARTBEAT}
    assert {int(function, 16) for function in functions if function} == {k >> 7 for k in wanted}
    for identifier, _, node in rows:
        number = int(identifier, 0)
        assert number == f.Kind.SYNC or not node or int(node, 0) == number & f.NODE


def test_tshark_reads_the_set_up_as_it_was_meant(rook: Robot, log: Path):
    """Object, sub-index and value of every SDO download to one drive, in order, by tshark."""
    rows = dissected(
        log, "canopen.sdo.main_idx", "canopen.sdo.sub_idx", "canopen.sdo.data.bytes",
        only="canopen.sdo.ccs == 1 && can.id == 0x60b",
    )  # fmt: skip
    read = [
        (
            int(index, 16),
            int(sub, 16),
            int.from_bytes(bytes.fromhex(data.replace(":", "")), "little"),
        )
        for index, sub, data in rows
    ]
    place = (0, 11)
    plan = Plan(rate=50.0, winding=None, limits={
        place: Limits(lowest=-9466, highest=9466, window=5461),
    })  # fmt: skip
    meant = [
        (item.index, item.sub, values[place] & (1 << 8 * item.size) - 1)
        for item, values in writes(plan)
    ]
    assert read == meant


def test_tshark_sees_no_abort(log: Path):
    assert dissected(log, "frame.number", only="canopen.sdo.abort_code") == []


def test_tshark_reads_emergency_and_heartbeat(log: Path):
    first, *_ = dissected(
        log, "can.id", "canopen.em.err_code", "canopen.em.err_reg", only="canopen.em.err_code"
    )
    assert [int(number, 0) for number in first] == [0x80 + 13, 0x3210, 1]
    states = dissected(log, "canopen.nmt_guard.state", only="can.id == 0x70b")
    assert "0x05" in {row[0] for row in states}


def test_second_implementation_reads_our_pdos():
    """Referee: canopen's PdoMap, mapped with the same entries."""
    rng = np.random.default_rng(4)
    nodes = np.array([5])
    for _ in range(200):
        status, position = int(rng.integers(0, 65536)), int(rng.integers(-(2**31), 2**31))
        current, volts = int(rng.integers(-(2**15), 2**15)), int(rng.integers(0, 2**32))
        error, winding = int(rng.integers(0, 65536)), int(rng.integers(-(2**15), 2**15))
        told = decoded(f.answers(nodes, status, position, current), o.TPDO1,
                       (o.STATUSWORD, o.POSITION, o.CURRENT))  # fmt: skip
        assert told == [status, position, current]
        told = decoded(f.slow_answers(nodes, volts, error, winding), o.TPDO2,
                       (o.SUPPLY, o.ERROR_CODE, o.WINDING))  # fmt: skip
        assert told == [volts, error, winding]
        told = decoded(f.commands(nodes, [status], [position]), o.RPDO1,
                       (o.CONTROLWORD, o.TARGET))  # fmt: skip
        assert told == [status, position]


def decoded(frames: f.Frames, pdo: o.Pdo, items: tuple[o.Object, ...]) -> list[int]:
    """What canopen's own PDO decoding reads in a frame."""
    from canopen.pdo.base import PdoMap

    node = canopen.RemoteNode(5, dictionary())
    mapped = (node.tpdo if pdo in (o.TPDO1, o.TPDO2) else node.rpdo)[1 + (pdo.settings & 0xFF)]
    assert isinstance(mapped, PdoMap)
    mapped.clear()
    for item in items:
        mapped.add_variable(item.index, item.sub)
    assert int(frames["id"][0]) == pdo.base + 5
    assert int(frames["size"][0]) == sum(variable.length for variable in mapped.map or ()) // 8
    mapped.data = bytearray(frames["data"][0, : int(frames["size"][0])])
    return [int(variable.raw) for variable in mapped.map or ()]


def dictionary() -> canopen.ObjectDictionary:
    """An object dictionary with what the PDOs carry, for canopen."""
    book = canopen.ObjectDictionary()
    kinds = {(1, False): 5, (2, False): 6, (4, False): 7, (1, True): 2, (2, True): 3, (4, True): 4}
    for item in (o.STATUSWORD, o.POSITION, o.CURRENT, o.SUPPLY, o.ERROR_CODE, o.CONTROLWORD,
                 o.TARGET, o.WINDING):  # fmt: skip
        variable = canopen.objectdictionary.ODVariable(item.name, item.index, item.sub)
        variable.data_type = kinds[item.size, item.signed]
        if item.sub:
            record = canopen.objectdictionary.ODRecord(item.name, item.index)
            record.add_member(variable)
            book.add_object(record)
        else:
            book.add_object(variable)
    for pdo in (o.RPDO1, o.TPDO1, o.TPDO2):
        for index in (pdo.settings, pdo.mapping):
            book.add_object(canopen.objectdictionary.ODRecord("pdo", index))
    return book


def test_a_log_read_back_is_what_was_written(tmp_path: Path):
    told = f.answers(np.array([3, 127]), [0x237, 0x250], [-5, 7], [1, -1])
    frames = np.concatenate([f.sync(), f.nmt(f.Nmt.START), told])
    path = tmp_path / "a.log"
    path.write_text(lines(frames, "can0", 1.25), encoding="ascii")
    np.testing.assert_array_equal(read_log(path)["can0"], frames)


def test_frames_have_the_length_that_the_bus_check_counts(log: Path):
    """Our own bit-level framing agrees that no frame is longer than the worst case."""
    for frames in read_log(log).values():
        for number, size, data in zip(frames["id"], frames["size"], frames["data"], strict=True):
            assert exact_bits(int(number), bytes(data[:size])) <= 55 + 10 * int(size)


def test_only_whole_frames_of_the_right_kind_are_read():
    mixed = np.concatenate([
        f.sync(), f.emergencies(9, 0x8130, 1), f.answers(np.array([9]), 0x237, 1, 2),
        f.table(0x189, 4), f.table(0x089, 2), f.heartbeats(9, 5),
    ])  # fmt: skip
    nodes, found = f.of_kind(mixed, f.Kind.TPDO1, 8)
    assert nodes.tolist() == [9] and f.read_answers(found)["status"].tolist() == [0x237]
    nodes, found = f.of_kind(mixed, f.Kind.EMERGENCY, 3)
    assert nodes.tolist() == [9] and f.read_emergencies(found)["error"].tolist() == [0x8130]
