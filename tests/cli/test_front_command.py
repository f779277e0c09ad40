"""The command itself: help, version, new, adopt, and arguments that make no sense."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

import legwright

WILD = Path(__file__).parents[1] / "data" / "wild"
HEAVY = ["numpy", "numba", "scipy", "mujoco", "pint", "trimesh", "jinja2", "fontTools", "rich"]
"""Not pydantic: the command-line library itself imports it to explain arguments."""


def test_version(command):
    done = command("--version")
    assert (done.code, done.out.strip()) == (0, legwright.__version__)


@pytest.mark.parametrize("words", [["--help"], ["check", "--help"], ["new", "--help"]])
def test_help_is_quick_because_it_imports_nothing_heavy(words):
    code = (
        "import sys\nfrom legwright.cli.main import run\n"
        f"sys.argv = ['legwright', *{words!r}]\n"
        "try:\n    run()\nexcept SystemExit as left:\n"
        f"    print(left.code, sorted(set({HEAVY!r}) & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "0 []"
    assert "robot" in done.stdout


@pytest.mark.parametrize(
    "words",
    [["check"], ["chek", "x"], ["check", "x", "--jason", "y"], ["new", "x", "--legs", "two"],
     ["new", "x", "--legs", "2"], ["check", "a", "b"]],
    ids=" ".join,
)  # fmt: skip
def test_usage_errors_exit_2(words, command):
    done = command(*words)
    assert done.code == 2
    assert "Traceback" not in done.err
    assert done.out == ""


def test_no_words_at_all_shows_the_help(command):
    done = command()
    assert "check" in done.out + done.err
    assert done.code in {0, 2}


@pytest.mark.parametrize("legs", [4, 6, 8])
def test_new_then_check(legs, command, tmp_path):
    """A new robot is whole; it passes whatever it states."""
    made = command("new", "finch", "--legs", legs, "--in", tmp_path)
    assert made.code == 0
    assert str(tmp_path / "finch") in made.out
    file = tmp_path / "found.json"
    done = command("check", tmp_path / "finch", "--json", file)
    told = json.loads(file.read_text(encoding="utf-8"))
    failed = [one["name"] for one in told["findings"] if one["verdict"] == "fail"]
    assert (done.code, failed) == (0, [])
    (found,) = [one for one in told["findings"] if one["name"] == "legs found"]
    assert found["value"] == legs


def test_new_refuses_to_overwrite(command, tmp_path):
    command("new", "finch", "--in", tmp_path)
    before = (tmp_path / "finch" / "robot.toml").read_bytes()
    again = command("new", "finch", "--in", tmp_path)
    assert again.code == 2
    assert len(again.err.splitlines()) == 1
    assert (tmp_path / "finch" / "robot.toml").read_bytes() == before


@pytest.mark.parametrize("name", ["r101", "r102", "r103"])
def test_adopt_then_check(name, command, tmp_path):
    urdf = WILD / f"{name}.urdf"
    made = command("adopt", urdf, "--in", tmp_path / name)
    assert made.code == 0
    done = command("check", tmp_path / name, "--only", "build")
    assert done.code == 0
    assert done.err == ""
    again = command("adopt", urdf, "--in", tmp_path / name)
    assert again.code == 2
    assert len(again.err.splitlines()) == 1
