"""Drawings of plates, brackets and tolerances: nothing collides, everything is there."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest
from shapely.geometry import LineString, box

import legwright as lw
from legwright.fabrication.drilling import drilling_table
from legwright.study.making import making_of
from legwright.views.dimensioning import across, along, millimetres
from legwright.views.flat_part import laid
from legwright.views.ink import Ink
from legwright.views.making_sheets import making_sheets
from legwright.views.parts_files import block_of
from legwright.views.plate_drawing import PLAN
from legwright.views.sheet_files import sheet_svg

TOP = Path(__file__).parents[2]
FAMILY = ("wren", "rook", "heron")


@cache
def made(name):
    making = making_of(lw.load(TOP / "robots" / name))
    return making, making_sheets(making)


@pytest.mark.parametrize("name", FAMILY)
def test_no_two_texts_collide_and_none_leaves_the_sheet(name):
    _, sheets = made(name)
    assert [sheet.name for sheet in sheets] == [
        "layout", "upper-plate", "lower-plate", "hip-bracket", "foot", "tolerances",
    ]  # fmt: skip
    for sheet in sheets:
        labels = [label for label in sheet.drawing.labels if label.text]
        for a, b in combinations(labels, 2):
            assert not a.meets(b), (sheet.name, a, b)
        for label in labels:
            assert label.left >= 0.0 and label.right <= sheet.drawing.width
            assert label.top >= 0.0 and label.bottom <= sheet.drawing.height


@pytest.mark.parametrize("name", FAMILY)
def test_every_opening_is_labelled_and_listed(name):
    making, sheets = made(name)
    for plate, sheet in zip(making.parts.flat, sheets[1:], strict=False):
        words = [label.text for label in sheet.drawing.labels]
        for row in drilling_table(plate):
            assert words.count(row.label) == 2, (sheet.name, row.label)
        left, bottom, right, top = plate.box
        assert millimetres(right - left) in words
        assert millimetres(top - bottom) in words


@pytest.mark.parametrize("name", FAMILY)
def test_labels_keep_off_the_outlines(name):
    """Referee: shapely."""
    making, sheets = made(name)
    for plate, sheet in zip(making.parts.plates.plates, sheets[1:], strict=False):
        flat = laid(plate, PLAN)
        names = {row.label for row in drilling_table(plate)}
        shapes = [plate.outline.contour, *(o.contour for o in plate.openings)]
        rings = [[flat.at(p) for p in shape.polygon()] for shape in shapes]
        lines = [LineString([*ring, ring[0]]) for ring in rings]
        on_plan = [k for k in sheet.drawing.labels if k.text in names and k.right < 175.0]
        assert len(on_plan) == len(names)
        for label in on_plan:
            around = box(label.left, label.top, label.right, label.bottom)
            assert not any(line.intersects(around) for line in lines), label


def test_sheets_are_well_formed():
    making, sheets = made("rook")
    for sheet in sheets:
        ElementTree.fromstring(sheet_svg(sheet, block_of(making), number=1, count=4))


def test_a_robot_of_which_nothing_is_stated_has_its_layout_alone():
    making = making_of(lw.load(TOP / "robots" / "heron" / "heron.urdf"))
    assert [sheet.name for sheet in making_sheets(making)] == ["layout"]


def test_short_dimensions_have_their_arrows_outside():
    ink = Ink(60.0, 60.0, about="")
    across(ink, (20.0, 20.0), (22.0, 20.0), 26.0, "2")
    along(ink, (20.0, 40.0), (20.0, 20.0), 12.0, "20")
    drawing = ink.finish()
    assert {label.text for label in drawing.labels} == {"2", "20"}
    assert millimetres(0.0254) == "25.4" and millimetres(-0.01) == "−10"
