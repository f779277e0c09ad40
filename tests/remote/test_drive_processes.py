"""The processes of a robot that runs, and what is left when one of them is killed.

Times are those of the robot's own reports: how late this test is does not count.
"""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import legwright as lw
from legwright.cli.driving import run_drive
from legwright.errors import LegwrightError, LinkError
from legwright.rig.control import SILENT
from legwright.rig.faults import RULES, Fault
from legwright.rig.replay import Recording, read_recording

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads process lists of Linux")

ROOK = Path(__file__).parents[2] / "robots" / "rook"
QUICK = ("--rig", "can:virtual", "--set", "physics=no", "--set", "rate=25", "--no-feel")
"""Axes without a body: they need little time, and what is tested here does not fall."""
PATIENCE = 240.0
"""For a start on a busy computer, kernels included [s]."""
LOST = 0.2
"""What a killed recorder may lose [s]."""
CALL = "from legwright.cli.main import run; run()"
CLIENT = """
import sys, legwright as lw
robot = lw.connect(sys.argv[1])
robot.stand()
robot.walk(forward=0.05, seconds=600)
"""


def eventually(what: Callable[[], Any], *, within: float = PATIENCE, text: str = "") -> Any:
    """The first true answer."""
    end = time.monotonic() + within
    while time.monotonic() < end:
        if found := what():
            return found
        time.sleep(0.1)
    raise AssertionError(f"not within {within:g} s: {text or what}")


class Driven:
    """A robot that runs in processes of its own."""

    def __init__(self, logs: Path, *more: str, quick: bool = True, robot: str = "rook") -> None:
        self.logs = logs
        said = logs.with_suffix(".out").open("w+")
        command = ("drive", str(ROOK.with_name(robot)), "--port", "0", "--logs", str(logs))
        self.keeper = subprocess.Popen(
            [sys.executable, "-c", CALL, *command, *(QUICK if quick else ()), *more],
            stdout=said, stderr=subprocess.STDOUT, text=True, start_new_session=True,
        )  # fmt: skip
        said.close()
        self.pids = {"keeper": self.keeper.pid}

    @property
    def said(self) -> str:
        return self.logs.with_suffix(".out").read_text()

    def started(self) -> str:
        """Wait until it listens; where."""

        def listening() -> re.Match[str] | None:
            assert self.keeper.poll() is None, self.said
            return re.search(r"Listening at (\S+)\.\n", self.said)

        found = eventually(listening, text="listening")
        for name in ("control", "service"):
            self.pid(name)
        return str(found[1])

    def pid(self, name: str, *, other_than: int = 0) -> int:
        """The process of that name, as soon as there is one."""

        def find() -> int:
            for task in Path(f"/proc/{self.keeper.pid}/task").iterdir():
                for child in (task / "children").read_text().split():
                    comm = Path(f"/proc/{child}/comm")
                    if comm.exists() and comm.read_text().strip() == f"lw-{name}":
                        return int(child) if int(child) != other_than else 0
            return 0

        self.pids[name] = int(eventually(find, text=name))
        return self.pids[name]

    def kill(self, name: str) -> int:
        """kill -9; the process that was."""
        os.kill(self.pids[name], signal.SIGKILL)
        return self.pids[name]

    def ended(self) -> int:
        """Wait for its end."""
        return self.keeper.wait(PATIENCE)

    def recordings(self) -> list[Recording]:
        return [read_recording(path) for path in sorted(self.logs.glob("*.mcap"))]

    def mode(self) -> str:
        """What the recorder was told last; a connection may break on a busy computer."""
        runs = self.recordings()
        return [mode for run in runs for mode in modes(run)][-1] if runs else ""

    def clear(self) -> None:
        """End whatever is left."""
        for pid in self.pids.values():
            if not _gone(pid):
                os.kill(pid, signal.SIGKILL)
        self.keeper.wait(10.0)


def _gone(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        return True


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


def notices(run: Recording) -> list[tuple[float, str, str]]:
    track = run.tracks.get("/notice")
    if track is None:
        return []
    return list(zip(track.time, track.fields["word"], track.fields["text"], strict=True))


def words(run: Recording) -> list[str]:
    return [word for _, word, _ in notices(run)]


def modes(run: Recording) -> list[str]:
    found = [text for _, word, text in notices(run) if word == "mode"]
    return [text.removeprefix("The robot is ").rstrip(".") for text in found]


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
    assert all(_gone(pid) for pid in driven.pids.values())
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
            eventually(lambda name=name: _gone(driven.pids[name]), within=60.0, text=name)
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
