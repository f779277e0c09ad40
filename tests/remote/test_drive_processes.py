"""The processes of a robot that runs, and what is left when one of them is killed.

Times are those of the robot's own reports: how late this test is does not count.
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from driven import PATIENCE, ROOK, Driven, eventually, gone, modes, notices, words

import legwright as lw
from legwright.cli.driving import run_drive
from legwright.errors import LegwrightError, LinkError
from legwright.rig.control import SILENT
from legwright.rig.faults import RULES, Fault

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads process lists of Linux")

LOST = 0.2
"""What a killed recorder may lose [s]."""
CLIENT = """
import sys, legwright as lw
robot = lw.connect(sys.argv[1])
robot.stand()
robot.walk(forward=0.05, seconds=600)
"""


Drive = Callable[..., Driven]


@pytest.fixture
def drive(tmp_path: Path) -> Iterator[Drive]:
    """Starts robots, and ends them whatever happens."""
    made: list[Driven] = []

    def start(*more: str, **options: Any) -> Driven:
        made.append(Driven(tmp_path / f"logs{len(made)}", *more, **options))
        return made[-1]

    yield start
    for robot in made:
        robot.clear()


def begin_walking(address: str) -> tuple[lw.ConnectedRobot, Any]:
    """A client whose walk goes on in a thread."""
    from concurrent.futures import ThreadPoolExecutor

    robot = lw.connect(address)
    robot.stand()
    pool = ThreadPoolExecutor(1)
    walk = pool.submit(robot.walk, forward=0.05, seconds=600.0)
    pool.shutdown(wait=False)
    return robot, walk


def test_stand_walk_and_a_signal_that_sits_it_down(drive: Drive) -> None:
    driven = drive()
    with lw.connect(driven.started()) as robot:
        robot.stand()
        robot.walk(forward=0.05, seconds=0.5)
    os.kill(driven.pids["keeper"], signal.SIGTERM)
    assert driven.ended() == 0, driven.said
    assert all(gone(pid) for pid in driven.pids.values())
    (run,) = driven.recordings()
    assert run.whole
    assert modes(run) == ["holding", "standing", "walking", "standing", "sitting down", "fault"]
    lit = run.tracks["/lights"].fields["colours"]
    assert {np.asarray(one).shape for one in lit} == {(12, 3)}


def test_a_killed_service_then_a_killed_control_then_a_killed_client(drive: Drive) -> None:
    driven = drive()
    address = driven.started()

    # The service dies while the robot walks.
    robot, walk = begin_walking(address)
    eventually(lambda: driven.mode() == "walking", text="walking")
    before = driven.kill("service")
    with pytest.raises(LinkError):
        walk.result(PATIENCE)
    robot.close()
    cut = driven.recordings()[0]
    assert not cut.whole
    last = cut.tracks["/sensed"].time[-1]
    assert last > cut.tracks["/sensed"].time[0]
    driven.pid("service", other_than=before)
    robot = eventually(lambda: _connected(address), text="the service is back")
    assert robot.state.mode == "standing"
    robot.walk(forward=0.05, seconds=0.3)

    # The control process dies: the simulated drives die with it, so the robot is limp.
    before = driven.kill("control")
    driven.pid("control", other_than=before)
    eventually(lambda: "control back" in words(driven.recordings()[-1]), text="control is back")
    robot.close()

    # A client dies.
    client = subprocess.Popen([sys.executable, "-c", CLIENT, address])
    try:
        eventually(lambda: driven.mode() == "walking", text="the client walks it")
        client.kill()
        eventually(lambda: driven.mode() == "standing", text="it stands still")
    finally:
        client.kill()
        client.wait()

    # Ctrl-C twice, as a terminal sends it: to all processes.
    robot = lw.connect(address)
    robot.stand()
    os.killpg(driven.pids["keeper"], signal.SIGINT)
    eventually(lambda: driven.mode() == "sitting down", text="sitting down")
    os.killpg(driven.pids["keeper"], signal.SIGINT)
    assert driven.ended() == 0, driven.said
    robot.close()
    assert "Traceback" not in driven.said

    runs = driven.recordings()
    assert [run.whole for run in runs] == [False, True]
    told = words(runs[1])
    assert told.index("control silent") < told.index("control back")
    assert Fault.COMMAND_STALE.value in told
    assert "limp." in next(text for _, word, text in notices(runs[1]) if word == "control back")
    assert modes(runs[1])[-2:] == ["sitting down", "fault"]


def _connected(address: str) -> lw.ConnectedRobot | None:
    try:
        return lw.connect(address)
    except LinkError:
        return None


def test_a_killed_keeper_leaves_nothing_running_and_a_robot_that_sits(drive: Drive) -> None:
    driven = drive()
    with lw.connect(driven.started()) as robot:
        robot.stand()
        driven.kill("keeper")
        for name in ("control", "service"):
            eventually(lambda name=name: gone(driven.pids[name]), within=60.0, text=name)
    (run,) = driven.recordings()
    assert run.whole
    assert modes(run)[-2:] == ["sitting down", "fault"]


def test_ctrl_c_while_it_starts_ends_it_quietly(drive: Drive) -> None:
    driven = drive()
    driven.pid("control")
    os.killpg(driven.pids["keeper"], signal.SIGINT)
    assert driven.ended() == 0, driven.said
    assert "Traceback" not in driven.said


def test_a_rig_that_does_not_open_is_refused_in_a_sentence(drive: Drive) -> None:
    driven = drive("--rig", "can:socketcan:nowhere9", robot="rook-can", quick=False)
    assert driven.ended() == 2, driven.said
    errors = [line for line in driven.said.splitlines() if line.startswith("legwright: ")]
    assert len(errors) == 1, driven.said
    assert "nowhere9" in errors[0]
    assert "Traceback" not in driven.said


def refusal(**more: Any) -> str:
    """What `legwright drive` says before it starts anything."""
    with pytest.raises(LegwrightError) as caught:
        run_drive(
            ROOK, **{
                "rig": "sim", "options": [], "host": "127.0.0.1", "port": 0, "keys": None,
                "origins": [], "logs": None, "pad": None, "lights": "state", "feel": True,
                "realtime": False, **more,
            },
        )  # fmt: skip
    return str(caught.value)


def test_what_can_be_seen_to_fail_fails_before_anything_starts(tmp_path: Path) -> None:
    assert "Did you mean 'can'" in refusal(rig="cna:virtual")
    assert "legwright key add" in refusal(host="0.0.0.0", keys=tmp_path)
    assert "log folder" in refusal(logs=Path("/proc/nowhere"))
    assert "state, gait" in refusal(lights="blinking")
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        assert "cannot be had" in refusal(port=other.getsockname()[1])


def test_the_stated_times_are_those_of_the_fault_table() -> None:
    """The service counts as silent from `SILENT` on; the table's patience comes on top of it."""
    rule = RULES[Fault.SERVICE_SILENT]
    assert SILENT + rule.after <= rule.within + 1e-9
