"""Today's layout beside the grid: the sheet's own numbers, the search's values, the finding."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from math import radians
from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError
from legwright.locomotion.stance import footing
from legwright.robot.robot import Robot
from legwright.study.finding import Finding
from legwright.study.making import making_as_json, making_of
from legwright.study.on_grid import on_grid
from legwright.views.making_sheets import making_sheets
from legwright.views.rounding_drawing import todays_sheet

ROBOTS = Path(__file__).parents[2] / "robots"
WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))


def _with(tmp_path: Path, base: str, lines: str) -> Robot:
    (tmp_path / "robot.toml").write_text(
        f'extends = "{(ROBOTS / base / "robot.toml").as_posix()}"\n{lines}'
    )
    return lw.load(tmp_path)


def test_dimensions_are_those_of_the_sheet_and_their_neighbours() -> None:
    """Wren's sheet by hand: 62, 32, 52, 78 mm lie between fives."""
    robot = lw.load(ROBOTS / "wren")
    found = on_grid(robot, footing(robot))
    assert found is not None
    by_key = {one.key: one for one in found.dimensions}
    want = {"hip_y.middle": (62, 60), "coxa": (32, 30), "femur": (52, 50), "tibia": (78, 80),
            "hip_x.front": (75, 75), "hip_y.front": (45, 45)}  # fmt: skip
    for key, (today, nearest) in want.items():
        assert by_key[key].today == pytest.approx(1e-3 * today, abs=1e-9)
        assert by_key[key].nearest == pytest.approx(1e-3 * nearest, abs=1e-9)
    assert by_key["hip_angle.front"].today == pytest.approx(radians(45.0))


def test_preferred_numbers_and_pins(tmp_path: Path) -> None:
    """R20 holds 31.5, 50, 56 and 80 (ISO 3); a pinned dimension has no neighbour."""
    robot = _with(tmp_path, "wren", '[rounding]\ngrid = "R20"\npinned = ["tibia"]\n')
    found = on_grid(robot, footing(robot))
    assert found is not None
    by_key = {one.key: one for one in found.dimensions}
    assert by_key["coxa"].nearest == pytest.approx(31.5e-3)
    assert by_key["femur"].nearest == pytest.approx(50e-3)
    assert (by_key["tibia"].nearest, by_key["tibia"].off, by_key["tibia"].grid) == (None, None, "")


def test_a_stated_grid_is_held_against_the_robot(tmp_path: Path) -> None:
    """No grid stated: no finding; rook lies on 5 mm; wren does not, and is told where."""

    def judged(robot: Robot) -> dict[str, Finding]:
        return {one.name: one for one in lw.check(robot, only=["build"])}

    name = "dimensions off the grid"
    assert name not in judged(lw.load(ROBOTS / "rook"))
    assert judged(_with(tmp_path, "rook", '[rounding]\ngrid = "5 mm"\n'))[name].value == 0.0
    odd = judged(_with(tmp_path, "wren", '[rounding]\ngrid = "5 mm"\n'))[name]
    assert (odd.value, odd.verdict.value) == (4.0, "warn")
    assert "femur" in odd.why and "legwright round" in odd.cure
    with pytest.raises(RequestError, match=r"rounding\.grid .*3 apples"):
        lw.check(_with(tmp_path, "wren", '[rounding]\ngrid = "3 apples"\n'), only=["build"])


def test_a_robot_without_such_a_layout_has_no_sheet() -> None:
    """A leg that has no mirror image: nothing can be rounded, the rest is drawn."""
    robot = lw.load(ROBOTS / "heron")
    whole = making_of(robot)
    assert making_sheets(whole)[0].name == "layout"
    assert [row["key"] for row in making_as_json(whole)["layout"]][-1] == "tibia"
    legs = dict(robot.legs)
    del legs["left-front"]
    lame = replace(robot, legs=legs)
    stand = footing(robot)
    assert on_grid(lame, stand) is None
    without = making_sheets(replace(whole, layout=None))
    assert [sheet.name for sheet in without] == [sheet.name for sheet in making_sheets(whole)][1:]


@pytest.mark.parametrize(
    "path",
    [ROBOTS / "wren", ROBOTS / "rook", ROBOTS / "heron", *WILD[:4]],
    ids=lambda one: one.stem,
)
def test_lettering_of_the_sheet_does_not_collide(path: Path) -> None:
    robot = lw.load(path)
    found = on_grid(robot, footing(robot))
    assert found is not None
    sheet = todays_sheet(found)
    labels = [label for label in sheet.drawing.labels if label.text]
    for one, other in combinations(labels, 2):
        assert not one.meets(other), (one.text, other.text)
    assert all(label.left >= 0.0 and label.right <= sheet.drawing.width for label in labels)
    shown = " ".join(label.text for label in labels)
    for row in found.dimensions:
        size = np.degrees(row.today) if "angle" in row.key else 1e3 * row.today
        assert f"{abs(size):.2f}".rstrip("0").rstrip(".") in shown, row.key
