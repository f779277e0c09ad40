"""The list of kernels that a first check compiles is what a check really calls."""

import os
import subprocess
import sys
from pathlib import Path

from legwright.study import kernels

ROOK = Path(__file__).parents[2] / "robots" / "rook"

CALLED = """
import sys
from numba.core.dispatcher import Dispatcher
import legwright
from legwright.study.check import study

study(legwright.load(sys.argv[1]))
for module in list(sys.modules.values()):
    for value in list(vars(module).values()):
        if isinstance(value, Dispatcher):
            for signature in value.signatures:
                print(f"{value.py_func.__module__}.{value.py_func.__name__}{signature}")
"""


def test_a_check_calls_the_listed_kernels_with_the_listed_types_and_no_others(tmp_path) -> None:
    """Else a first check would compile a kernel twice, or alone; fabrication may have more."""
    nothing_kept = {**os.environ, "XDG_CACHE_HOME": str(tmp_path)}
    run = subprocess.run(
        [sys.executable, "-c", CALLED, str(ROOK)],
        capture_output=True, text=True, check=True, timeout=300,
        env=nothing_kept,
    )  # fmt: skip
    called = {line for line in run.stdout.splitlines() if line.startswith("legwright.")}
    listed = {
        f"legwright.{kernel.module}.{kernel.name}{kernel.signature}"
        for kernel in (*kernels.HERE, *kernels.BESIDE)
    }
    assert listed <= called
    left = {line for line in called - listed if not _called_by_kernels(line)}
    assert not {line for line in left if not line.startswith("legwright.fabrication.")}


def _called_by_kernels(line: str) -> bool:
    """Kernels that other kernels call besides."""
    name = line.split("(", maxsplit=1)[0].rsplit(".", maxsplit=1)[-1]
    return name in {"hull", "margin", "level_axes", "triangle_gap", "lanes"}


def test_what_is_on_disk_is_not_compiled_again(monkeypatch) -> None:
    done = []
    monkeypatch.setattr(kernels, "_missing", lambda listed: [])
    monkeypatch.setattr(kernels, "_compile", done.append)
    kernels.ready(lambda what, done, total: None)
    assert not done


def test_two_processes_share_what_is_missing(monkeypatch) -> None:
    done, started = [], []
    monkeypatch.setattr(kernels, "_missing", list)
    monkeypatch.setattr(kernels, "_compile", done.append)
    monkeypatch.setattr(kernels.subprocess, "Popen", lambda *args, **options: _Other(started))
    kernels.ready(lambda what, done, total: None)
    assert tuple(done) == kernels.HERE
    assert started[:1] == ["wait"]


def test_without_a_second_process_the_rest_is_left_to_its_callers(monkeypatch) -> None:
    def none(*args, **options):
        raise OSError

    done = []
    monkeypatch.setattr(kernels, "_missing", list)
    monkeypatch.setattr(kernels, "_compile", done.append)
    monkeypatch.setattr(kernels.subprocess, "Popen", none)
    kernels.ready(lambda what, done, total: None)
    assert tuple(done) == kernels.HERE


class _Other:
    def __init__(self, heard: list[str]) -> None:
        self.heard = heard

    def wait(self) -> None:
        self.heard.append("wait")

    def kill(self) -> None:
        self.heard.append("kill")
