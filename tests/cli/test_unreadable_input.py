"""Whatever cannot be read: one line on standard error, no traceback, exit code 2.

The broken descriptions and sheets are those of the readers' own tests, here sent through the
whole command; then thirty seeded random damages of the demo sheet.
"""

from __future__ import annotations

import random

import pytest
from test_broken_urdf import BROKEN as URDFS
from test_broken_urdf import GOOD
from test_demo_mutations import ROOK, damaged
from test_sheet_faults import BROKEN as SHEETS


def assert_refused(done, *words):
    assert done.code == 2
    assert done.out == ""
    assert "Traceback" not in done.err
    lines = done.err.splitlines()
    assert len(lines) == 1, done.err
    assert lines[0].startswith("legwright: ")
    for word in words:
        assert word in lines[0]


@pytest.mark.parametrize("case", URDFS)
def test_broken_descriptions(case, command, tmp_path):
    change = URDFS[case][0]
    path = tmp_path / "robin.urdf"
    path.write_text(change(GOOD), encoding="utf-8")
    assert_refused(command("check", path), "robin.urdf")


@pytest.mark.parametrize("case", SHEETS)
def test_broken_sheets(case, command, tmp_path):
    path = tmp_path / "robot.toml"
    path.write_text(SHEETS[case][0], encoding="utf-8")
    assert_refused(command("check", path), "robot.toml")


@pytest.mark.parametrize("name", ["nowhere", "empty", "picture.png"])
def test_no_robot_there(name, command, tmp_path):
    (tmp_path / "empty").mkdir()
    (tmp_path / "picture.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    assert_refused(command("check", tmp_path / name), name)


@pytest.mark.parametrize("name", ["nowhere.urdf", "empty"])
def test_nothing_to_adopt(name, command, tmp_path):
    (tmp_path / "empty").mkdir()
    assert_refused(command("adopt", tmp_path / name), name)


@pytest.mark.parametrize("name", ["", "a/b", "..", "a\x00b"])
def test_names_that_make_no_folder(name, command, tmp_path):
    assert_refused(command("new", name, "--in", tmp_path))


def test_thirty_damaged_sheets(command, tmp_path):
    """Seeded; each is judged (0 or 1) or refused (2) in one line, never a traceback."""
    text = ROOK.read_text(encoding="utf-8")
    path = tmp_path / "robot.toml"
    codes = []
    for seed in range(5000, 5030):  # each is a whole command; the reader alone meets more
        path.write_bytes(damaged(text, random.Random(seed)))
        done = command("check", path, "--only", "build")
        codes.append(done.code)
        if done.code == 2:
            assert_refused(done)
        else:
            assert done.code in {0, 1}, seed
            assert done.err == "", seed
    assert 5 < codes.count(2) < 30
