"""Buses as tables in and out: python-can's and raw sockets, and what goes wrong with them."""

from __future__ import annotations

import socket
from collections.abc import Iterator

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RigError
from legwright.rig.can import frames as f
from legwright.rig.can.wire import Raw, Wire, open_wires
from legwright.rig.choice import rig_of

Pair = tuple[Wire, Wire]


@pytest.fixture(params=["python-can", "raw"])
def pair(request: pytest.FixtureRequest) -> Iterator[Pair]:
    ends: Pair
    if request.param == "raw":
        one, two = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
        ends = Raw(one, "one"), Raw(two, "two")
    else:
        (first,), (second,) = (open_wires("virtual", ("pair",), 1_000_000) for _ in range(2))
        ends = first, second
    yield ends
    for end in ends:
        end.close()


def sample() -> f.Frames:
    rng = np.random.default_rng(3)
    told = f.answers(np.arange(1, 19), 0x1237, rng.integers(-9999, 9999, 18), 5)
    return np.concatenate([f.sync(), f.nmt(f.Nmt.START), told, f.heartbeats(127, 5)])


def test_what_is_sent_arrives_in_order(pair: Pair):
    ours, theirs = pair
    ours.send(sample())
    np.testing.assert_array_equal(theirs.take(100), sample())
    assert len(theirs.take(100)) == 0 and len(ours.take(100)) == 0
    assert ours.alive and theirs.alive


def test_no_more_is_taken_than_asked_for(pair: Pair):
    ours, theirs = pair
    ours.send(sample())
    assert len(theirs.take(7)) == 7
    assert len(theirs.take(100)) == len(sample()) - 7


def test_a_full_queue_counts_as_dead_until_frames_come_in():
    one, two = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    ours, theirs = Raw(one, "one"), Raw(two, "two")
    for _ in range(2000):
        ours.send(sample())
        if not ours.alive:
            break
    assert not ours.alive
    theirs.send(f.sync())
    assert len(ours.take(10)) == 1 and ours.alive
    ours.close()
    theirs.close()


def test_an_adapter_that_left_the_bus_is_dead():
    one, two = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    ours = Raw(one, "one")
    gone = f.table(f.ERROR_FLAG | f.BUS_OFF_FLAG, 8)
    two.send(gone.tobytes())
    ours.take(10)
    assert not ours.alive
    two.send(f.table(f.ERROR_FLAG | 0x04, 8).tobytes())
    ours.take(10)
    assert ours.alive, "an error-passive controller still talks"
    ours.close()
    two.close()


def test_a_closed_far_end_is_no_exception():
    one, two = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    ours = Raw(one, "one")
    two.close()
    ours.send(sample())
    assert not ours.alive and len(ours.take(10)) == 0
    ours.close()
    ours.close()


def test_an_unknown_adapter_is_answered_with_the_nearest():
    with pytest.raises(RigError, match=r"Did you mean .*'socketcan'"):
        open_wires("socketcam", ("can0",), 1_000_000)


def test_a_bus_that_cannot_be_opened_says_what_to_do():
    with pytest.raises(RigError, match="ip link set nocan9 up type can bitrate 1000000"):
        rig_of("can:socketcan:nocan9", lw.load("robots/rook-can"))
