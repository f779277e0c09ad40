"""`legwright check`: exit codes, table, JSON, areas, report."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
ROBOTS = TESTS.parent / "robots"
WILD = sorted((TESTS / "data" / "wild").glob("*.urdf"))
PROMISED = {"area", "name", "value", "limit", "unit", "margin", "verdict", "why", "source"}
"""The design's public surface; more keys may follow, none may go."""

LAUNCH = [sys.executable, "-c", "from legwright.cli.main import run; run()"]


def strictly(text: str) -> dict:
    """JSON without NaN or Infinity, which RFC 8259 does not know."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    return json.loads(text, parse_constant=refuse)


def assert_shape(told: dict) -> None:
    assert {"robot", "verdict", "findings"} <= told.keys()
    assert told["verdict"] in {"pass", "fail"}
    assert told["findings"]
    names = [(one["area"], one["name"]) for one in told["findings"]]
    assert len(set(names)) == len(names), "two findings of one name"
    for one in told["findings"]:
        assert one.keys() >= PROMISED
        assert one["verdict"] in {"pass", "warn", "fail", "unknown"}
        for key in ("value", "limit", "margin"):
            assert one[key] is None or isinstance(one[key], float)
        for key in ("area", "name", "unit", "why", "source"):
            assert isinstance(one[key], str)
        assert one["area"] and one["name"] and one["why"] and one["source"], one
        if one["verdict"] in {"fail", "unknown"}:
            assert one["cure"], one
    failed = any(one["verdict"] == "fail" for one in told["findings"])
    assert (told["verdict"] == "fail") is failed


@pytest.mark.parametrize(("name", "code"), [("rook", 0), ("heron", 1)])
def test_exit_code_and_json_of_the_demo_family(name, code, command, tmp_path):
    file = tmp_path / "deep" / "found.json"
    done = command("check", ROBOTS / name, "--json", file)
    assert done.code == code
    assert done.err == ""
    assert name in done.out
    told = strictly(file.read_text(encoding="utf-8"))
    assert told["robot"] == name
    assert told["verdict"] == ("fail" if code else "pass")
    assert_shape(told)


@pytest.mark.parametrize("path", WILD, ids=lambda path: path.stem)
def test_wild_robots_are_judged_without_a_sheet(path, command, tmp_path):
    file = tmp_path / "found.json"
    done = command("check", path, "--json", file)
    assert done.code in {0, 1}
    assert done.err == ""
    told = strictly(file.read_text(encoding="utf-8"))
    assert_shape(told)
    assert (told["verdict"] == "fail") is bool(done.code)
    assert any(one["verdict"] == "unknown" for one in told["findings"]), "a sheet is missing"
    author = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    (legs,) = [one for one in told["findings"] if one["name"] == "legs found"]
    assert legs["value"] == len(author["legs"])


def test_all_shows_what_passes_too(command):
    short = command("check", ROBOTS / "rook", "--only", "build")
    whole = command("check", ROBOTS / "rook", "--only", "build", "--all")
    assert len(whole.out.splitlines()) > len(short.out.splitlines())
    assert "legs alike" in whole.out


def test_only_judges_the_named_areas(command, tmp_path):
    file = tmp_path / "found.json"
    done = command("check", ROBOTS / "rook", "--only", "balance", "--only", "heat", "--json", file)
    assert done.code == 0
    areas = [one["area"] for one in strictly(file.read_text(encoding="utf-8"))["findings"]]
    assert set(areas) == {"balance", "heat"}


def test_only_does_not_change_what_it_leaves(command, tmp_path):
    one, all_of = tmp_path / "one.json", tmp_path / "all.json"
    command("check", ROBOTS / "rook", "--only", "grip", "--json", one)
    command("check", ROBOTS / "rook", "--json", all_of)
    alone = strictly(one.read_text(encoding="utf-8"))["findings"]
    among = strictly(all_of.read_text(encoding="utf-8"))["findings"]
    assert alone == [finding for finding in among if finding["area"] == "grip"]


def test_an_unknown_area_is_refused_with_the_nearest(command):
    done = command("check", ROBOTS / "rook", "--only", "balanse")
    assert done.code == 2
    assert "'balance'" in done.err
    assert len(done.err.splitlines()) == 1


@pytest.mark.parametrize("option", ["--report", "--json"])
def test_a_place_that_cannot_be_written(option, command, tmp_path):
    """A file stands where a folder should be: nobody may write there, not even root."""
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    done = command(
        "check", ROBOTS / "rook", "--only", "build", option, tmp_path / "taken" / "below"
    )
    assert done.code == 2
    assert len(done.err.splitlines()) == 1
    assert "cannot be written" in done.err


def test_a_folder_where_the_json_should_go(command, tmp_path):
    done = command("check", ROBOTS / "rook", "--only", "build", "--json", tmp_path)
    assert done.code == 2
    assert len(done.err.splitlines()) == 1


def test_report_is_one_page(command, tmp_path):
    done = command("check", ROBOTS / "rook", "--only", "build", "--report", tmp_path / "report")
    assert done.code == 0
    (page,) = (tmp_path / "report").rglob("*.html")
    assert "rook" in page.read_text(encoding="utf-8")
    assert page.name in done.out


def in_a_shell(*words: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    keep = {key: os.environ[key] for key in ("PATH", "HOME") if key in os.environ}
    return subprocess.run(
        [*LAUNCH, *map(str, words)], capture_output=True, check=False, env=keep | environment
    )


def test_output_to_a_pipe_is_plain():
    """No escape sequence and no progress bar where nobody watches; lines fit the columns."""
    done = in_a_shell(
        "check", ROBOTS / "rook", "--only", "build", "--all", COLUMNS="80", PYTHONUTF8="1"
    )
    assert done.returncode == 0, done.stderr
    text = done.stdout.decode()
    assert "\x1b" not in text and "\r" not in text
    assert done.stderr == b""
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("width", ["120", "80", "40"])
def test_lines_fit_the_columns(width, command, monkeypatch):
    monkeypatch.setenv("COLUMNS", width)
    done = command("check", ROBOTS / "rook", "--only", "build", "--all")
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= int(width)


def test_no_color_is_kept_even_when_colour_is_forced_by_a_terminal_type():
    done = in_a_shell(
        "check", ROBOTS / "rook", "--only", "build", NO_COLOR="1", TERM="xterm", PYTHONUTF8="1"
    )
    assert done.returncode == 0
    assert b"\x1b[3" not in done.stdout


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_terminal_that_knows_few_letters(encoding):
    done = in_a_shell(
        "check", ROBOTS / "rook", "--all", "--only", "build", PYTHONIOENCODING=encoding, LC_ALL="C"
    )
    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr
    assert b"legs alike" in done.stdout


def test_a_reader_that_leaves_early_is_no_fault():
    """`legwright check ... | true` ends without a traceback."""
    with subprocess.Popen(
        [*LAUNCH, "check", str(ROBOTS / "rook"), "--only", "build", "--all"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.close()
        said = process.stderr.read()
    assert b"Traceback" not in said
    assert b"Exception" not in said


def test_stopping_by_hand_says_so(command, monkeypatch):
    def stop(*_: object, **__: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr("legwright.cli.checking.run_check", stop)
    done = command("check", ROBOTS / "rook")
    assert done.code == 130
    assert "Traceback" not in done.err
    assert len(done.err.strip().splitlines()) <= 1
