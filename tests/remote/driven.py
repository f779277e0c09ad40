"""A robot driven in processes of its own, as a test sees it from outside."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from legwright.errors import RequestError
from legwright.rig.replay import Recording, read_recording

ROOK = Path(__file__).parents[2] / "robots" / "rook"
QUICK = ("--rig", "can:virtual", "--set", "physics=no", "--set", "rate=25", "--no-feel")
"""Axes without a body: they need little time, and what is tested here does not fall."""
PATIENCE = 240.0
"""For a start on a busy computer, kernels included [s]."""
CALL = "from legwright.cli.main import run; run()"


def eventually(what: Callable[[], Any], *, within: float = PATIENCE, text: str = "") -> Any:
    """The first true answer."""
    end = time.monotonic() + within
    while time.monotonic() < end:
        with suppress(RequestError):  # a recording that was just begun holds nothing yet
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
            if not gone(pid):
                os.kill(pid, signal.SIGKILL)
        self.keeper.wait(10.0)


def gone(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        return True


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
