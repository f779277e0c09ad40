"""`legwright desk` as a process: it says where it is, serves, and leaves nobody behind."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

COMMAND = [sys.executable, "-c", "from legwright.cli.main import run; run()", "desk"]


def children(pid: int) -> list[int]:
    """Processes whose parent is this one (Linux)."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == pid:
            found.append(int(stat.parent.name))
    return found


@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGKILL])
def test_it_serves_and_ends_with_all_its_processes(small: Path, end: signal.Signals) -> None:
    process = subprocess.Popen(
        [*COMMAND, str(small), "--no-open", "--port", "0"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        said, address = "", None
        while address is None:
            assert process.stdout is not None
            line = process.stdout.readline()
            assert line, process.stderr.read() if process.stderr else said
            said += line
            address = re.search(r"http://127\.0\.0\.1:\d+/", said)
        try:
            with urllib.request.urlopen(address[0], timeout=20) as answer:
                assert answer.status == 200
        except urllib.error.HTTPError as error:  # where the page is not built
            assert error.code == 503
            assert b"not built" in error.read()
        others = children(process.pid)
        assert others
        process.send_signal(end)
        code = process.wait(20)
        assert code == (0 if end is signal.SIGINT else -signal.SIGKILL)
        until = time.monotonic() + 20.0
        while any(Path(f"/proc/{pid}").exists() for pid in others):
            assert time.monotonic() < until, "its processes go on"
            time.sleep(0.05)
    finally:
        process.kill()
        process.communicate()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nowhere"], "does not exist"),
        (["robots/rook", "--recordings", "/nowhere"], "a folder that is there"),
        (["robots/rook", "--host", "0.0.0.0", "--keys", "/nowhere"], "no key is set"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(arguments: list[str], words: str) -> None:
    done = subprocess.run(
        [*COMMAND, *arguments, "--no-open"], capture_output=True, text=True, timeout=60,
        check=False, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert done.returncode == 2
    assert words in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_taken_port_is_told(small: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        done = subprocess.run(
            [*COMMAND, str(small), "--no-open", "--port", port],
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert done.returncode == 2
    assert "Choose another: --port" in done.stderr
