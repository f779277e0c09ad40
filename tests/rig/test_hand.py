"""Hand control: stick response, deadman, presses, and a device that lies or leaves."""

from __future__ import annotations

import itertools
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import legwright as lw
from legwright.errors import RigError
from legwright.locomotion.command import Kind
from legwright.rig.hand.device import ABSOLUTE, EVENT, KEY, SYNC, Device
from legwright.rig.hand.mapping import Hand, Reading, asked, gaits_of, shaped
from legwright.rig.request import Word
from legwright.robot.sheet_hand import Pad

ROOK = Path(__file__).parents[2] / "robots" / "rook"
PAD = Pad()


@pytest.fixture(scope="module")
def rook():
    return lw.load(ROOK)


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_response_is_bounded_odd_and_quiet_in_the_dead_zone(value: float):
    out = shaped(value, PAD)
    assert abs(out) <= 1.0
    assert shaped(-value, PAD) == -out
    if abs(value) <= PAD.dead_zone or value != value:
        assert out == 0.0


def test_response_rises_from_the_dead_zone_to_one():
    values = [shaped(PAD.dead_zone + k / 100 * (1 - PAD.dead_zone), PAD) for k in range(101)]
    assert values[0] == 0.0 and values[-1] == pytest.approx(1.0)
    assert all(a < b for a, b in itertools.pairwise(values))
    assert values[50] == pytest.approx(0.5 * 0.5 + 0.5 * 0.125)


def test_it_walks_only_while_the_deadman_is_held(rook):
    gaits = gaits_of(rook)
    pushed = {"left y": -1.0, "right x": -1.0}
    hand, found = asked(rook, gaits, Hand(), Reading(axes=pushed), 1.0)
    assert found == []
    held = Reading(axes=pushed, buttons=frozenset({PAD.deadman}))
    hand, found = asked(rook, gaits, hand, held, 1.1)
    command = found[0].command
    assert command is not None and command.kind is Kind.WALK
    assert command.velocity == (pytest.approx(0.10), 0.0), "the sheet's speed, forward"
    assert command.turn > 0.0, "stick to the left turns to the left"
    assert 1.1 < found[0].expires < 1.5
    hand, found = asked(rook, gaits, hand, Reading(axes=pushed), 1.2)
    assert [request.command.kind for request in found] == [Kind.STAND]
    hand, found = asked(rook, gaits, hand, Reading(axes=pushed), 1.3)
    assert found == []


def test_a_press_counts_once_and_stop_comes_first(rook):
    gaits, hand = gaits_of(rook), Hand()
    press = Reading(buttons=frozenset({PAD.stop, PAD.stand, PAD.next_gait}))
    hand, found = asked(rook, gaits, hand, press, 0.0)
    assert [request.word for request in found] == [Word.STOP, Word.MOVE] and hand.gait == 1
    hand, found = asked(rook, gaits, hand, press, 0.1)
    assert found == [] and hand.gait == 1
    for _ in range(len(gaits) - 1):
        hand, _found = asked(rook, gaits, hand, Reading(), 0.2)
        hand, _found = asked(rook, gaits, hand, press, 0.3)
    assert hand.gait == 0


def write(pipe: int, *events: tuple[int, int, int]) -> None:
    os.write(pipe, b"".join(EVENT.pack(1, 2, *event) for event in events))


@pytest.fixture
def plugged(tmp_path: Path):
    path = tmp_path / "event0"
    os.mkfifo(path)
    reader = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    writer = os.open(path, os.O_WRONLY)
    device = Device(path)
    yield device, writer
    os.close(reader)
    device.close()


def test_events_become_a_reading(plugged):
    device, pipe = plugged
    assert device.read() == Reading(axes=dict.fromkeys(device.read().axes, 0.0))
    write(pipe, (ABSOLUTE, 1, -32768), (KEY, 0x137, 1), (ABSOLUTE, 0x10, -1), (SYNC, 0, 0))
    reading = device.read()
    assert reading.axes["left y"] == -1.0
    assert reading.buttons == {"right shoulder", "left"}
    write(pipe, (KEY, 0x137, 0), (ABSOLUTE, 0x10, 0), (ABSOLUTE, 1, 99999))
    assert device.read().buttons == frozenset() and device.read().axes["left y"] == 1.0


def test_half_an_event_waits_for_its_rest(plugged):
    device, pipe = plugged
    data = EVENT.pack(0, 0, KEY, 0x131, 1)
    os.write(pipe, data[:7])
    assert device.read().buttons == frozenset()
    os.write(pipe, data[7:])
    assert device.read().buttons == {"east"}


def test_lost_events_and_a_lost_device_let_everything_go(plugged):
    device, pipe = plugged
    write(pipe, (KEY, 0x137, 1), (SYNC, 3, 0))
    assert device.read().buttons == frozenset()
    write(pipe, (KEY, 0x137, 1))
    assert device.read().buttons == {"right shoulder"}
    os.close(pipe)
    assert device.read() == Reading() and device.gone


def test_no_device_says_what_to_do(tmp_path: Path):
    with pytest.raises(RigError, match="plugged in"):
        Device(tmp_path / "event9")
