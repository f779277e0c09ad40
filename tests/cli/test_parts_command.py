"""`legwright parts`: tables, files, JSON, exit codes, and one clear sentence for bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from legwright.cli.main import app
from legwright.errors import RobotError

ROOK = Path(__file__).parents[2] / "robots" / "rook" / "robot.toml"


def run(*words):
    return CliRunner().invoke(app, ["parts", *map(str, words)])


def changed(folder, old, new):
    text = ROOK.read_text(encoding="utf-8")
    assert old in text
    (folder / "robot.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    return folder


def test_parts_are_listed_and_written(tmp_path):
    done = run(ROOK.parent, "--out", tmp_path / "made", "--json", tmp_path / "made.json")
    assert done.exit_code == 0, done.output
    assert "upper-plate" in done.output and "hip-bracket" in done.output
    assert "[dimensions.plates.upper]" in done.output
    data = json.loads((tmp_path / "made.json").read_text("utf-8"))
    assert data["verdict"] == "pass" and len(data["parts"]) == 3
    names = {path.name for path in (tmp_path / "made").iterdir()}
    drawings = {"parts.html", "upper-plate.svg", "hip-bracket.svg", "tolerances.svg"}
    cutting = {"upper-plate.dxf", "upper-plate-cut.dxf", "upper-plate.stl"}
    assert {*drawings, *cutting, "drilling.csv", "plates.toml"} <= names
    page = (tmp_path / "made" / "parts.html").read_text("utf-8")
    assert "http" not in page.replace("http://www.w3.org/", "")


def test_what_cannot_be_made_fails(tmp_path):
    done = run(changed(tmp_path, '["112 mm", "0 mm"]', '["95 mm", "0 mm"]'))
    assert done.exit_code == 1
    assert "spacer 5 and window" in " ".join(done.output.split())


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('standoff_screw = "M3"', 'standoff_screw = "M3.5"', "standoff_screw"),
        ('general = "m"', 'general = "fine"', "general"),
        ("k_factor = 0.42", "k_factor = 0.9", "k_factor"),
        ('kerf = "0.2 mm"', 'kerf = "0.2 kg"', "kerf"),
    ],
)
def test_bad_input_names_its_key(tmp_path, old, new, says):
    done = run(changed(tmp_path, old, new))
    assert done.exit_code != 0
    assert isinstance(done.exception, RobotError)
    assert says in str(done.exception)
