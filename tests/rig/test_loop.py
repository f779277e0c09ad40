"""Loop and hand-over on clocks and sockets of their own: nothing here depends on real time."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import msgspec
import numpy as np
import pytest

from legwright.locomotion.command import Command, Kind
from legwright.locomotion.gait import gait
from legwright.locomotion.signals import Event, Sensed, Targets
from legwright.locomotion.walk import Pose
from legwright.rig.faults import Fault, Stop
from legwright.rig.handover import (
    Mailbox,
    Pulse,
    pack_pulse,
    pack_report,
    pack_request,
    unpack_report,
    unpack_request,
)
from legwright.rig.loop import Loop
from legwright.rig.port import Drives
from legwright.rig.request import Answer, Request, Word
from legwright.rig.runtime import Report, Runtime
from legwright.rig.supervisor import Mode, Notice
from legwright.rig.symptoms import Outside


def report(**more: Any) -> Report:
    rng = np.random.default_rng(1)
    J, L = 18, 6
    return Report(
        time=3.5,
        mode=Mode.WALKING,
        sensed=Sensed(
            q=rng.normal(size=J), qd=rng.normal(size=J), current=rng.normal(size=J),
            voltage=11.1, up=np.array([0.0, 0.1, 0.99]), spin=np.array([0.1, -0.2, 0.3]),
        ),
        drives=Drives(
            powered=rng.random(J) > 0.5, fault=rng.integers(0, 0xFFFF, J), winding=rng.random(J),
            buses=(True, False), voltage=rng.random(J),
        ),
        targets=Targets(q=rng.normal(size=J), qd=rng.normal(size=J)),
        faults=(Fault.TILT,),
        contact=rng.random(L) > 0.5,
        force=rng.normal(size=L),
        margin=0.03,
        place=rng.normal(size=3),
        answers=(Answer(number=7, ok=False, text="why"),),
        notices=(Notice(word="mode", text="walking"),),
        events=(
            Event(what="touched", text="it touches", leg="left-front"),
            Event(
                what="probed", text="it pushes", leg="left-rear", limit="reach", share=0.5,
                position=(0.1, -0.2, -0.1), place=(0.3, -0.2, 0.0), force=3.5,
            ),
        ),
        **more,
    )  # fmt: skip


def test_a_report_survives_the_hand_over():
    sent = report()
    got = unpack_report(pack_report(sent))
    for part, names in (
        ("sensed", ("q", "qd", "current", "voltage", "up", "spin")),
        ("drives", ("powered", "fault", "winding", "buses", "voltage")),
        ("targets", ("q", "qd")),
    ):
        for name in names:
            ours, theirs = getattr(getattr(sent, part), name), getattr(getattr(got, part), name)
            np.testing.assert_array_equal(ours, theirs)
    np.testing.assert_array_equal(sent.contact, got.contact)
    np.testing.assert_array_equal(sent.force, got.force)
    same = ("time", "mode", "faults", "margin", "answers", "notices", "events")
    assert [getattr(sent, n) for n in same] == [getattr(got, n) for n in same]


def test_requests_and_pulses_survive_the_hand_over():
    command = Command(
        kind=Kind.PROBE, velocity=(0.01, -0.02), turn=0.1, gait=gait("ripple", 6), height=0.1,
        pose=Pose(z=0.01, roll=0.1), leg="left-front", target=(0.1, 0.2), force=4.0,
    )  # fmt: skip
    for request in (
        Request(word=Word.MOVE, sender="a", number=5, command=command, expires=12.5),
        Request(word=Word.STOP, stop=Stop.AT_ONCE),
    ):
        assert unpack_request(pack_request(request)) == request
    pulse = Pulse(disk_full=True)
    assert unpack_request(pack_pulse(pulse)) == pulse


@pytest.mark.parametrize("data", [b"", b"\x00", b"\x93", b"nonsense" * 50, pack_report(report())])
def test_what_is_no_request_is_refused_by_one_error(data: bytes):
    with pytest.raises(ValueError):
        unpack_request(data)
    with pytest.raises(msgspec.DecodeError):
        unpack_report(data[:-1])


def test_a_full_or_absent_mailbox_never_waits(tmp_path: Path):
    here, there = tmp_path / "a", tmp_path / "b"
    box = Mailbox(here, there)
    assert not box.send(b"nobody")
    other = Mailbox(there, here)
    sent = sum(box.send(b"x" * 1000) for _ in range(5000))
    assert 0 < sent < 5000 and box.lost == 5001 - sent
    assert len(list(other.take(10_000))) == sent
    other.close()
    assert not box.send(b"gone")
    again = Mailbox(there, here)
    assert box.send(b"back") and list(again.take()) == [b"back"]
    box.close()
    again.close()


class Clock:
    """A clock that moves only when somebody sleeps or works."""

    def __init__(self) -> None:
        self.now, self.offset = 100.0, 1000.0

    def steady(self) -> float:
        return self.now

    def wall(self) -> float:
        return self.now + self.offset

    def sleep(self, seconds: float) -> None:
        self.now += seconds


class Stub:
    """A runtime that takes time and remembers what it was told."""

    def __init__(self, clock: Clock, work: dict[int, float]) -> None:
        self.clock, self.work = clock, work
        self.rig = SimpleNamespace(rate=100.0, advance=lambda: None)
        self.began: list[float] = []
        self.outside: list[Outside] = []

    def cycle(self, now: float, requests: Any, outside: Outside) -> int:
        self.began.append(now)
        self.outside.append(outside)
        self.clock.now += self.work.get(len(self.began) - 1, 0.002)
        return len(self.began)


def run(work: dict[int, float], cycles: int, jump_at: int = -1) -> tuple[Stub, Loop]:
    clock = Clock()
    stub = Stub(clock, work)
    loop = Loop(cast(Runtime, stub), clock=clock.steady, wall=clock.wall, sleep=clock.sleep)

    def until(count: Any) -> bool:
        if count == jump_at:
            clock.offset += 7.0
        return bool(count >= cycles)

    loop.run(until)
    return stub, loop


def test_cycles_begin_on_absolute_deadlines():
    stub, loop = run({}, 500)
    np.testing.assert_allclose(np.diff(stub.began), 0.01, atol=1e-9)
    assert loop.lateness.worst < 1e-9


def test_a_late_cycle_is_told_and_made_up_for():
    stub, loop = run({10: 0.025}, 40)
    assert stub.outside[11].late == pytest.approx(0.015)
    assert stub.began[30] == pytest.approx(100.0 + 0.30), "back on the old grid"
    assert loop.lateness.skipped == 0


def test_a_long_stall_skips_what_was_missed():
    stub, loop = run({10: 0.5}, 40)
    assert loop.lateness.skipped >= 45
    assert stub.outside[11].late_row == 1 and stub.outside[12].late_row <= 1


def test_a_jump_of_the_wall_clock_is_told_once():
    stub, _ = run({}, 30, jump_at=10)
    jumps = [outside.jump for outside in stub.outside]
    assert jumps[10] == pytest.approx(7.0)
    assert np.abs(jumps[:10] + jumps[11:]).max() < 1e-6


def test_what_the_other_end_has_no_room_for_goes_later_and_in_order(tmp_path: Path):
    ours, theirs = (Mailbox(tmp_path / a, tmp_path / b) for a, b in (("a", "b"), ("b", "a")))
    told = [str(number).encode() for number in range(60)]
    for data in told:
        ours.post(data)
    heard = list(theirs.take())
    assert len(heard) < len(told), "the system holds few"
    while len(heard) < len(told):
        ours.post(b"more")
        heard += [data for data in theirs.take() if data != b"more"]
    assert heard == told
    theirs.close()
    ours.post(b"nobody")
    assert ours.lost > 0
    ours.close()
