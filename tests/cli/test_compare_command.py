"""`legwright compare`: the verdict first, the figures of the single checks, one page, JSON."""

from __future__ import annotations

import json
from io import StringIO
from itertools import combinations
from pathlib import Path

import pytest
from rich.console import Console

import legwright as lw
from legwright.study.check import study
from legwright.study.comparing import Comparison, comparison_of
from legwright.study.finding import Verdict
from legwright.views.comparison_sheets import comparison_sheets
from legwright.views.comparison_table import comparison_table

ROBOTS = Path(__file__).parents[2] / "robots"


@pytest.fixture(scope="module")
def family() -> Comparison:
    """Wren and heron, judged in a few areas."""
    only = ["reach", "balance", "torque"]
    return comparison_of([study(lw.load(ROBOTS / name), only=only) for name in ("wren", "heron")])


def test_figures_are_those_of_the_single_checks(family):
    rows = {row.key: row for row in family.rows}
    assert [cell.value for cell in rows["dimensions.femur"].cells] == pytest.approx([52.0, 150.0])
    assert [cell.value for cell in rows["dimensions.hip_angle"].cells] == pytest.approx([45.0] * 2)
    for k, one in enumerate(family.studies):
        margins = [f.value for f in one.findings if f.name.startswith("stability margin")]
        assert rows["margin.stability_margin"].cells[k].value == min(margins)
        worst = rows["worst.torque"].cells[k].finding
        same = [f for f in one.findings if f.area == "torque"]
        assert worst in same
        if any(f.verdict is Verdict.FAIL for f in same):
            assert worst.verdict is Verdict.FAIL
        assert rows["mass"].cells[k].value == one.robot.mass
    assert rows["worst.torque"].cells[1].finding.verdict is Verdict.FAIL  # heron, on purpose
    assert family.failed


def test_lettering_of_the_page_does_not_collide(family):
    sheets = comparison_sheets(family)
    assert len(sheets) >= 1
    for sheet in sheets:
        labels = [label for label in sheet.drawing.labels if label.text]
        for one, other in combinations(labels, 2):
            assert not one.meets(other), (one.text, other.text)
        for label in labels:
            assert label.right <= sheet.drawing.width and label.bottom <= sheet.drawing.height


def test_more_robots_than_fit_a_line_stand_in_several_tables(family):
    many = comparison_of(family.studies * 3)
    width = 80
    console = Console(width=width, file=StringIO(), record=True)
    console.print(comparison_table(many, unicode=True, width=width))
    lines = console.export_text().splitlines()
    heads = [line.split() for line in lines if {"wren", "heron"} & set(line.split())]
    assert heads == [["wren", "heron", "wren"], ["heron", "wren", "heron"]]
    margins = [line for line in lines if line.startswith("stability margin")]
    assert [line.count("\N{NO-BREAK SPACE}mm") for line in margins] == [3, 3], margins


def test_command(command, robots, tmp_path):
    page, data = tmp_path / "family.html", tmp_path / "family.json"
    done = command("compare", robots / "wren", robots / "heron", "--only", "balance",
                   "--html", page, "--json", data)  # fmt: skip
    assert done.code == 0, done.err
    lines = [line for line in done.out.splitlines() if line.strip()]
    assert "wren" in lines[0] and "heron" in lines[0] and lines[2].startswith("verdict")
    told = json.loads(data.read_text("utf-8"))
    assert [each["robot"] for each in told["robots"]] == ["wren", "heron"]
    row = next(each for each in told["rows"] if each["key"] == "worst.balance")
    assert {cell["verdict"] for cell in row["cells"]} == {"pass"}
    assert "FIT TO WALK" in page.read_text("utf-8") and "http" not in page.read_text("utf-8")
    alone = command("compare", robots / "wren")
    assert alone.code == 2 and "two or more" in alone.err
