"""`legwright send` and `legwright key`."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from legwright.cli.main import app
from legwright.errors import LinkError, RequestError
from legwright.remote.key_file import read_doors
from legwright.remote.sign_in import Role

ROOK = "sim:robots/rook"


def say(*words: str) -> str:
    done = CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_a_robot_is_told_to_stand() -> None:
    assert "rook: standing" in say("send", ROOK, "stand")


def test_a_robot_walks_and_says_where_it_is() -> None:
    out = say("send", ROOK, "walk", "--forward", "0.05", "--seconds", "2")
    found = re.search(r"x \+(0\.\d+) m", out)
    assert found is not None and 0.01 < float(found[1]) < 0.11


def test_a_probe_says_where_it_touched() -> None:
    assert "right-front touched at x 0." in say("send", ROOK, "probe", "right-front", "--push", "4")


def test_what_makes_no_sense_says_so() -> None:
    with pytest.raises(RequestError, match="Did you mean 'tripod'"):
        say("send", ROOK, "walk", "--gait", "trpod")
    with pytest.raises(LinkError, match="Nothing listens"):
        say("send", "ws://127.0.0.1:9", "stand")


def test_keys_are_made_listed_and_taken_back(tmp_path: Path) -> None:
    token = say("key", "add", "ada", "--role", "drive", "--in", str(tmp_path)).splitlines()[0]
    doors = read_doors(tmp_path / "keys.toml")
    found = doors.by_token(token)
    assert found is not None and (found.name, found.role) == ("ada", Role.DRIVE)
    assert token not in (tmp_path / "keys.toml").read_text("utf-8")
    assert (tmp_path / "keys.toml").stat().st_mode & 0o077 == 0
    say("key", "tls", "rook", "--host", "rook.local", "--host", "127.0.0.1", "--in", str(tmp_path))
    say("key", "client", "ben", "--role", "watch", "--in", str(tmp_path))
    assert (tmp_path / "ben.key").stat().st_mode & 0o077 == 0
    listed = say("key", "list", "--in", str(tmp_path))
    assert "ada: drive, by token" in listed and "ben: watch, by certificate" in listed
    with pytest.raises(RequestError, match="nobody has yet"):
        say("key", "add", "ada", "--in", str(tmp_path))
    say("key", "remove", "ada", "--in", str(tmp_path))
    assert read_doors(tmp_path / "keys.toml").by_token(token) is None
    with pytest.raises(RequestError, match="one of ben"):
        say("key", "remove", "ada", "--in", str(tmp_path))
