"""The whole robot over CANopen: it walks as in the physics world, and outlives its master."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import textwrap
import time

import numpy as np
import pytest

import legwright as lw
from legwright.locomotion.command import Command, Kind
from legwright.rig.calibration import blank
from legwright.rig.can.cia402 import State
from legwright.rig.can.drives import DriveBench
from legwright.rig.can.rig import CanRig
from legwright.rig.can.virtual import VirtualCan, bench_of, virtual_wires
from legwright.rig.can.wire import Raw
from legwright.rig.request import Request, Word
from legwright.rig.runtime import Report, Runtime
from legwright.rig.simulated import Simulated
from legwright.rig.supervisor import Mode
from legwright.robot.robot import Robot

RATE = 100.0
STAND = Command(kind=Kind.STAND)
WALK = Command(kind=Kind.WALK, velocity=(0.05, 0.0))


@pytest.fixture(scope="module")
def on_can() -> Robot:
    return lw.load("robots/rook-can")


class Driver:
    """Runs a rig and keeps the reports' faults."""

    def __init__(self, rig: CanRig | Simulated) -> None:
        self.runtime, self.now = Runtime(rig), 0.0
        self.faults: set[str] = set()

    def go(
        self, seconds: float, word: Word | None = None, command: Command | None = None
    ) -> Report:
        requests = () if word is None else (Request(word=word, sender="test", command=command),)
        for _ in range(round(seconds * self.runtime.rig.rate)):
            report = self.runtime.cycle(self.now, requests)
            self.runtime.rig.advance()
            self.faults |= {fault.value for fault in report.faults}
            self.now, requests = self.now + 1.0 / self.runtime.rig.rate, ()
        return report

    def up(self) -> Report:
        self.go(0.1)
        self.go(0.1, Word.POWER)
        return self.go(2.5, Word.MOVE, STAND)


def test_the_robot_walks_over_canopen_as_it_does_without(on_can: Robot):
    """Within 15 %: seeds alone spread the distance by 10 %, because feet wait for the ground."""
    walked = []
    for make in (Simulated, VirtualCan):
        rig = make(on_can, rate=RATE)
        driver = Driver(rig)
        assert driver.up().mode is Mode.STANDING
        start = rig.world.truth().body[0]
        driver.go(5.0, Word.MOVE, WALK)
        walked.append(rig.world.truth().body[0] - start)
        assert driver.faults == set()
        rig.close()
    assert walked[0] > 0.1
    assert walked[1] == pytest.approx(walked[0], rel=0.15)


@pytest.mark.parametrize("after", [0.3, 0.8, 1.3])
def test_a_master_that_dies_while_walking_lets_nobody_fall(on_can: Robot, after: float):
    ours, theirs = virtual_wires(3)
    rig = VirtualCan(on_can, rate=RATE, wires=(ours, theirs))
    driver = Driver(rig)
    driver.up()
    driver.go(1.0 + after, Word.MOVE, WALK)
    bench, before = rig.bench, rig.world.truth().body
    bench.idle(3.0)
    body = rig.world.truth().body
    assert (bench.state == State.QUICK_STOP).all()
    assert body[2] > before[2] - 0.005, "it has not sunk"
    tilt = np.degrees(2.0 * np.arcsin(min(1.0, float(np.hypot(*body[4:6])))))
    assert tilt < 4.0
    follower = CanRig(
        on_can, ours, rate=RATE, real=False, clock=bench.clock, sleep=bench.idle,
        calibration=blank(on_can), inertial=lambda: bench.moved.up,
    )  # fmt: skip
    assert Runtime(follower).watch.mode in (Mode.HOLDING, Mode.STANDING)
    assert rig.world.truth().body[2] > before[2] - 0.005, "nor while it was taken over"
    for wire in (*ours, *theirs):
        wire.close()


MASTER = textwrap.dedent(
    """
    import socket, sys, time
    import numpy as np
    import legwright as lw
    from legwright.locomotion.signals import Targets
    from legwright.rig.calibration import blank
    from legwright.rig.can.rig import CanRig
    from legwright.rig.can.wire import Raw

    link = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM, fileno=int(sys.argv[1]))
    robot = lw.load("robots/rook-can")
    rig = CanRig(robot, [Raw(link, "pair")], rate=20.0, calibration=blank(robot), real=False)
    print("found", int(rig.drives().powered.sum()), flush=True)
    rig.power(True)
    start = rig.sense().q
    due = time.monotonic()
    for cycle in range(100_000):
        rig.sense()
        rig.apply(Targets(q=start + 0.1, qd=np.zeros_like(start)))
        if cycle == 20:
            print("holding", int(rig.drives().powered.sum()), flush=True)
        rig.advance()
        due = max(due + 0.05, time.monotonic() - 0.2)
        time.sleep(max(due - time.monotonic(), 0.0))
    """
)


def pumped(bench: DriveBench, seconds: float, until: subprocess.Popen[str] | None = None) -> str:
    """Let the drives live in real time; until a line comes from the master."""
    last, end = time.monotonic(), time.monotonic() + seconds
    while time.monotonic() < end:
        now = time.monotonic()
        bench.idle(min(now - last, 0.02))
        last = now
        if until is not None and until.stdout is not None:
            os.set_blocking(until.stdout.fileno(), False)
            line = until.stdout.readline()
            if line:
                return line.strip()
        time.sleep(0.002)
    return ""


def master(link: socket.socket) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", MASTER, str(link.fileno())],
        pass_fds=[link.fileno()], stdout=subprocess.PIPE, text=True,
    )  # fmt: skip


def test_a_killed_process_leaves_drives_that_hold_and_the_next_process_takes_over(on_can: Robot):
    """kill -9 of the master's process, the drives in this one, frames through a socket pair."""
    theirs, ours = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    bench = bench_of(on_can, [Raw(ours, "drives")], rate=20.0)
    first = master(theirs)
    try:
        assert pumped(bench, 60.0, first) == "found 0"
        assert pumped(bench, 60.0, first) == "holding 18"
        first.send_signal(signal.SIGKILL)
        first.wait(10.0)
        pumped(bench, 0.6)
        assert (bench.state == State.QUICK_STOP).all()
        held = bench.plant.read().q.copy()
        pumped(bench, 1.0)
        np.testing.assert_allclose(bench.plant.read().q, held, atol=1e-3)
        second = master(theirs)
        try:
            assert pumped(bench, 60.0, second) == "found 18"
            assert bench.holding.all()
            assert pumped(bench, 60.0, second) == "holding 18"
        finally:
            second.kill()
            second.communicate(timeout=10.0)
    finally:
        first.kill()
        first.communicate(timeout=10.0)
        theirs.close()
        ours.close()
