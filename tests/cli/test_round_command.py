"""`legwright round`: exit codes, table, JSON, new folder with its drawing, bad requests."""

from __future__ import annotations

import json
from io import StringIO
from itertools import combinations
from xml.etree import ElementTree

import pytest

from legwright.study.rounding import Wish, rounding_of
from legwright.views.rounding_drawing import layout_sheet, robot_of


def test_a_new_folder_is_ready_to_check(command, robots, tmp_path):
    out, data = tmp_path / "round", tmp_path / "round.json"
    done = command(
        "round", robots / "rook", "--grid", "R20", "--spread", "1", "--top", "3",
        "--pin", "coxa", "--pin", "hip_y.middle=110mm", "--out", out, "--json", data,
    )  # fmt: skip
    assert done.code == 0, done.err
    assert "what it costs" in done.out and "all together" in done.out and "looked at" in done.out
    told = json.loads(data.read_text("utf-8"))
    assert [each["rank"] for each in told["candidates"]] == [1, 2, 3]
    best = told["candidates"][0]
    assert best["values"]["coxa"] == pytest.approx(0.05)
    assert best["values"]["hip_y.middle"] == pytest.approx(0.11)
    assert best["loss"] <= told["candidates"][1]["loss"]
    assert set(best["scores"]) == {
        "margin", "reach", "speed", "torque", "heat", "clearance", "joint_gap"
    }  # fmt: skip
    assert told["search"]["proved"] is True
    assert {path.name for path in out.iterdir()} == {"robot.toml", "layout.html", "layout.svg"}
    assert ElementTree.parse(out / "layout.svg").getroot().tag.endswith("svg")
    again = command("round", out, "--pin", "hip_x", "--pin", "hip_y", "--spread", "1",
                    "--grid", "R20")  # fmt: skip
    assert again.code == 0, again.err
    refused = command("round", robots / "rook", "--spread", "1", "--out", out)
    assert refused.code == 2 and "exists already" in refused.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--grid", "0mm"), "must be a step from 0.01 mm"),
        (("--angle", "7deg"), "divides 90 deg"),
        (("--pin", "knee"), "must be a dimension of this robot"),
        (("--pin", "femur=85"), "has no unit"),
    ],
)
def test_requests_that_cannot_be_met(command, robots, words, said):
    done = command("round", robots / "rook", *words)
    assert done.code == 2
    assert said in done.err and len(done.err.strip().splitlines()) == 1


def test_lettering_of_the_drawing_does_not_collide(robots):
    import legwright as lw

    rounding = rounding_of(lw.load(robots / "wren"), Wish(grid="5mm", spread=1, top=1))
    best = rounding.shortlist[0]
    sheet = layout_sheet(rounding, best, robot_of(rounding, best))
    labels = [label for label in sheet.drawing.labels if label.text]
    assert {"45°", "90°", "135°"} <= {label.text for label in labels}
    for one, other in combinations(labels, 2):
        assert not one.meets(other), (one.text, other.text)
    for label in labels:
        assert label.left >= 0.0 and label.right <= sheet.drawing.width, label.text


@pytest.mark.parametrize("legs", [6, 10])
def test_nothing_is_cut_off_in_a_terminal_of_80_columns(tmp_path, legs):
    """Referee: the same tables in a terminal that is wide enough for anything."""
    from rich.console import Console

    import legwright as lw
    from legwright.robot.scaffold import new_robot
    from legwright.views.rounding_table import rounding_table

    new_robot(tmp_path / "plover", legs=legs)
    found = rounding_of(lw.load(tmp_path / "plover"), Wish(grid="10mm", spread=1))
    shown = []
    for width in (80, 400):
        console = Console(width=width, record=True, file=StringIO())
        console.print(rounding_table(found, unicode=True))
        shown.append("".join(word for word in console.export_text().split() if "─" not in word))
    assert sorted(shown[0]) == sorted(shown[1])
