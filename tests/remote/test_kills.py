"""kill -9 of service, control process and client at random moments of a walk, many times.

`pytest tests/remote/test_kills.py -m long -s` prints the table of `docs/kills.md`. A small run is
enough to see that the study itself works: set KILLS to a number of kills.
"""

from __future__ import annotations

import json
import os
import random
import signal
import socket
import tempfile
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import pytest
from driven import Driven, eventually, notices, words

import legwright as lw
from legwright.rig.control import CONTROL, SERVICE
from legwright.rig.faults import RULES, Fault
from legwright.rig.handover import LARGEST, unpack_report
from legwright.rig.replay import Recording, read_recording
from legwright.rig.supervisor import Mode

KILLS = int(os.environ.get("KILLS", "100"))
SEED = 20
SETTLED = 5.5
"""Both processes have run for so long before one is killed: else the keeper counts it as ending at
once [s]."""
STANDS = (Fault.COMMAND_STALE.value, Fault.SERVICE_SILENT.value)
DUMB = 0.5
"""After so long without a report the service says that the control process is silent [s]."""
CYCLE = 0.04
"""Of the loop here: a reaction is told with the cycle after it [s]."""
LOST = 0.2
"""What a killed recorder may lose [s]."""


@dataclass(frozen=True)
class Kill:
    """One row."""

    number: int
    who: str
    moment: float
    """After the walk began [s]."""
    reaction: float
    """From the kill to the reaction [s]."""
    back: float
    """From the kill to a robot that walks again for a new client [s]."""
    lost: float | None = None
    """End of the recording that is missing [s]; where the recorder was killed."""


def walls(run: Recording) -> float:
    """Wall clock at the start of a recording: the least late of all that it tells [s]."""
    state = run.tracks["/state"]
    return float(np.min(np.asarray(state.fields["wall"], dtype=float) - state.time))


def latest(driven: Driven) -> Path:
    return max(driven.logs.glob("*.mcap"), key=lambda path: path.stat().st_ctime_ns)


def newest(driven: Driven) -> Recording:
    return read_recording(latest(driven))


def client(address: str) -> int:
    """A program that stands the robot up and walks it; its process."""
    pid = os.fork()
    if pid:
        return pid
    try:
        while True:
            try:
                robot = lw.connect(address)
                robot.stand()
                robot.walk(forward=0.05, seconds=600.0)
            except lw.LegwrightError:
                time.sleep(0.1)
    finally:
        os._exit(1)


def reap(pid: int) -> None:
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)


def walks(driven: Driven) -> tuple[str, int]:
    """The newest recording, and how often the robot began to walk in it."""
    if not list(driven.logs.glob("*.mcap")):
        return "", 0
    path = latest(driven)
    run = read_recording(path)
    return str(path), sum("walking" in text for _, word, text in notices(run) if word == "mode")


def walks_since(driven: Driven, before: tuple[str, int]) -> bool:
    """Whether it began to walk since then."""
    path, count = walks(driven)
    return count > (before[1] if path == before[0] else 0)


def kill_service(driven: Driven, folder: Path) -> tuple[float, float]:
    """Kill it, and hear the control process in its place: reaction, and what the log lost [s]."""
    path = latest(driven)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ear:
        old = driven.kill("service")
        killed, wall = time.monotonic(), time.time()
        (folder / SERVICE).unlink()
        ear.bind(str(folder / SERVICE))
        ear.settimeout(5.0)
        while True:
            report = unpack_report(ear.recv(LARGEST))
            if any(notice.word in STANDS for notice in report.notices):
                break
        reaction = report.time - killed
        while report.mode is not Mode.STANDING:
            report = unpack_report(ear.recv(LARGEST))
    cut = read_recording(path)
    lost = wall - (walls(cut) + float(cut.tracks["/sensed"].time[-1]))
    driven.pid("service", other_than=old)
    return reaction, lost


def kill_control(driven: Driven) -> float:
    """Kill it; when the service says so [s]."""
    run = newest(driven)
    seen = words(run).count("control silent")
    old = driven.kill("control")
    wall = time.time()
    driven.pid("control", other_than=old)
    eventually(lambda: words(newest(driven)).count("control back") > seen, text="control back")
    run = newest(driven)
    at = [time for time, word, _ in notices(run) if word == "control silent"][-1]
    return walls(run) + float(at) - wall


def kill_client(driven: Driven, pid: int) -> float:
    """Kill it; when the robot stops walking [s]."""
    count = words(newest(driven)).count(Fault.COMMAND_STALE.value)
    reap(pid)
    wall = time.time()
    eventually(lambda: words(newest(driven)).count(Fault.COMMAND_STALE.value) > count)
    run = newest(driven)
    at = [time for time, word, _ in notices(run) if word == Fault.COMMAND_STALE.value][-1]
    return walls(run) + float(at) - wall


def table(kills: list[Kill]) -> str:
    """The table of the docs."""
    lines = [
        "| killed | times | moment of the walk | reaction: median, worst | walks again: median, "
        "worst | recording lost: median, worst |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for who in ("service", "control", "client"):
        rows = [kill for kill in kills if kill.who == who]
        if not rows:
            continue
        moments = [kill.moment for kill in rows]
        cells = [who, str(len(rows)), f"{min(moments):.2f} to {max(moments):.2f} s"]
        for values, digits in (
            ([kill.reaction for kill in rows], 3),
            ([kill.back for kill in rows], 1),
            ([kill.lost for kill in rows if kill.lost is not None], 3),
        ):
            text = f"{np.median(values):.{digits}f}, {max(values):.{digits}f} s" if values else "—"
            cells.append(text)
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


@pytest.fixture
def place() -> Iterator[Path]:
    """A folder with a short name: names of sockets are bounded."""
    with tempfile.TemporaryDirectory(prefix="kills-") as folder:
        yield Path(folder)


@pytest.mark.long
def test_a_hundred_kills(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TMPDIR", str(place))
    rng, kills = random.Random(SEED), list[Kill]()
    whom = (["service"] * 4 + ["control"] * 2 + ["client"] * 4) * (KILLS // 10 + 1)
    whom = whom[:KILLS]
    rng.shuffle(whom)
    driven, pid = Driven(place / "logs"), 0
    try:
        address = driven.started()
        (folder,) = place.glob("legwright-*")
        assert (folder / CONTROL).exists()
        pid, begun = client(address), time.monotonic()
        eventually(lambda: walks(driven)[1], text="walking")
        for number, who in enumerate(whom):
            before = walks(driven)
            moment = rng.uniform(0.0, 2.0)
            wait = begun + SETTLED - time.monotonic() if who != "client" else 0.0
            time.sleep(max(wait, 0.0) + moment)
            killed, lost = time.monotonic(), None
            if who == "service":
                reaction, lost = kill_service(driven, folder)
            elif who == "control":
                reaction = kill_control(driven)
            else:
                reaction = kill_client(driven, pid)
                pid = client(address)
            if who != "client":
                begun = time.monotonic()
            text = f"walking after kill {number}, {who}"
            eventually(lambda before=before: walks_since(driven, before), text=text)
            back = time.monotonic() - killed
            kills.append(Kill(number, who, round(moment, 3), reaction, back, lost))
            print(json.dumps(asdict(kills[-1])), flush=True)
        os.kill(driven.keeper.pid, signal.SIGTERM)
        assert driven.ended() == 0, driven.said
        runs = driven.recordings()
        assert [run.whole for run in runs].count(False) == whom.count("service")
        assert runs[-1].whole
    finally:
        if pid:
            reap(pid)
        driven.clear()
        print(table(kills))
    most = {
        "service": RULES[Fault.SERVICE_SILENT].within,
        "control": DUMB + 0.05,
        "client": 0.25 + RULES[Fault.COMMAND_STALE].within,
    }
    for kill in kills:
        assert kill.reaction < most[kill.who] + CYCLE, kill
        assert kill.lost is None or kill.lost < LOST, kill
