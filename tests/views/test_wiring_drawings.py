"""Schematic and harness drawing: nothing collides, nothing crosses a part, all is well-formed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest
import scene
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry import box as rectangle

import legwright
from legwright.electrics.circuit import circuit_of
from legwright.electrics.parts import Kind
from legwright.electrics.readings import idle_readings
from legwright.views.cable_labels import label_spots
from legwright.views.circuit_rows import LONGEST, Row, dealt, rows_of
from legwright.views.frame import TitleBlock
from legwright.views.harness_drawing import harness_drawing, plan_of
from legwright.views.harness_layout import Join, box, disc, free_spot, routes
from legwright.views.report import report_html
from legwright.views.schematic import schematic
from legwright.views.sheet_files import sheet_svg, sheets_html

ROBOTS = Path(__file__).parents[2] / "robots"
FAMILY = ("wren", "rook", "heron")
HOSTILE = "<script>alert(\"1\")</script> & 'x'"


@cache
def walker(name):
    robot = legwright.load(ROBOTS / name)
    return robot, circuit_of(robot)


@cache
def sheets(name):
    robot, circuit = walker(name)
    return (
        *schematic(robot, circuit, idle_readings(circuit, robot)),
        *harness_drawing(robot, circuit),
    )


@pytest.mark.parametrize("name", FAMILY)
def test_no_two_texts_collide(name):
    for sheet in sheets(name):
        labels = [label for label in sheet.drawing.labels if label.text]
        for a, b in combinations(labels, 2):
            assert not a.meets(b), (sheet.name, a, b)
        for label in labels:
            assert label.left >= 0.0 and label.right <= sheet.drawing.width
            assert label.top >= 0.0 and label.bottom <= sheet.drawing.height


@pytest.mark.parametrize("name", FAMILY)
def test_every_designation_is_on_the_schematic(name):
    _, circuit = walker(name)
    words = " ".join(label.text for label in sheets(name)[0].drawing.labels)
    for item in circuit.items:
        if item.kind is not Kind.CONNECTOR:
            assert item.designation in words
    for one in circuit.consumers:
        assert one.designation in words


@pytest.mark.parametrize("name", FAMILY)
def test_cables_cross_no_part(name):
    """Referee: shapely."""
    robot, circuit = walker(name)
    _, lay, ways = plan_of(robot, circuit)
    assert set(ways) == {join.name for join in lay.joins}
    ends = {join.name: {join.start, join.end} for join in lay.joins}
    for part in lay.parts:
        solid = Polygon(part.outline).buffer(-0.01)
        for cable, way in ways.items():
            assert not LineString(way).intersects(solid), (cable, part.name)
            if part.name in ends[cable]:
                tip = way[0] if Point(way[0]).distance(solid) < 0.02 else way[-1]
                assert Polygon(part.outline).exterior.distance(Point(tip)) < 1e-6


@pytest.mark.parametrize("name", FAMILY)
def test_parts_of_the_harness_lie_apart(name):
    robot, circuit = walker(name)
    _, lay, _ = plan_of(robot, circuit)
    for a, b in combinations(lay.parts, 2):
        assert Polygon(a.outline).distance(Polygon(b.outline)) > 1.0, (a.name, b.name)


@pytest.mark.parametrize("name", FAMILY)
def test_every_cable_of_the_harness_is_labelled(name):
    _, circuit = walker(name)
    plan = sheets(name)[-1].drawing
    words = [label.text.split("  ")[0] for label in plan.labels if label.left < 178.0]
    for cable in circuit.of(Kind.CABLE):
        assert words.count(cable.designation) == 1


def test_routes_go_around_what_is_in_the_way():
    parts = [
        box("a", 10, 50, 8, 8),
        box("b", 90, 50, 8, 8),
        box("wall", 50, 50, 6, 60),
        disc("post", 40, 12, 6),
    ]
    way = routes(parts, [Join(name="w", start="a", end="b")])["w"]
    line = LineString(way)
    assert not any(line.intersects(Polygon(p.outline).buffer(-0.01)) for p in parts)
    assert 2 * 30 < line.length < 125  # at least the wall's detour, at most a sane one


def test_random_layouts_keep_clear():
    """Referee: shapely, 30 random sheets."""
    rng = np.random.default_rng(5)
    for _ in range(30):
        parts = []
        for k in range(9):
            spot = free_spot(
                tuple(rng.uniform(10, 110, 2)), (10, 8), parts, (0, 0, 120, 120), gap=5.0
            )
            assert spot is not None
            parts.append(box(f"p{k}", *spot, 10, 8))
        joins = [Join(name=f"w{k}", start="p0", end=f"p{k}") for k in range(1, 9)]
        ways = routes(parts, joins)
        assert len(ways) == 8
        for way in ways.values():
            for part in parts:
                assert not LineString(way).intersects(Polygon(part.outline).buffer(-0.01))
        spots = label_spots({j.name: (12.0, 2.5) for j in joins}, ways, parts, (), (0, 0, 120, 120))
        boxes = [rectangle(s.left, s.top, s.right, s.bottom) for s, _ in spots.values()]
        assert len(boxes) >= 6
        for a, b in combinations(boxes, 2):
            assert not a.intersects(b)
        for a in boxes:
            assert not any(a.intersects(Polygon(p.outline)) for p in parts)
            assert not any(
                a.intersects(LineString(pair)) for way in ways.values() for pair in pairwise(way)
            )


def test_free_spot_says_when_nothing_is_free():
    full = [box("all", 50, 50, 100, 100)]
    assert free_spot((50, 50), (10, 10), full, (0, 0, 100, 100), gap=1.0) is None


def test_sheets_are_well_formed_and_hostile_names_escaped(tmp_path):
    robot, circuit = walker("rook")
    robot = replace(robot, name=HOSTILE)
    odd = replace(circuit.consumers[-1], name=HOSTILE)
    circuit = replace(circuit, consumers=(*circuit.consumers[:-1], odd))
    some = (
        *schematic(robot, circuit, idle_readings(circuit, robot)),
        *harness_drawing(robot, circuit),
    )
    block = TitleBlock(title=HOSTILE, owner=HOSTILE)
    for number, sheet in enumerate(some, start=1):
        text = sheet_svg(sheet, block, number=number, count=len(some), font_cache=tmp_path)
        root = ElementTree.fromstring(text)
        assert root.tag.endswith("svg")
        assert root.find(".//{*}script") is None
    page = sheets_html(some, block, heading=HOSTILE, font_cache=tmp_path)
    assert "<script" not in page and page.count('<section class="sheet wide"') == len(some)
    assert "http://" not in page.replace("http://www.w3.org/", "") and "https://" not in page


def test_long_chains_go_on_in_the_next_row():
    _, circuit = walker("rook")
    names = tuple(one.name for one in circuit.servos.values())
    port = replace(circuit.ports[0], consumers=names[:3] + names[18:])
    assert all(len(row.stops) <= LONGEST for row in rows_of(replace(circuit, ports=(port,))))
    rows = [Row(port=k, branch="", stops=()) for k in range(23)]
    parts = dealt(rows, 11)
    assert [len(part) for part in parts] == [8, 8, 7]
    assert dealt((), 11) == ((),)


def test_many_branches_take_more_sheets():
    robot, circuit = walker("rook")
    ports = tuple(replace(circuit.ports[k % 8], number=k + 1) for k in range(24))
    many = schematic(robot, replace(circuit, ports=ports), idle_readings(circuit, robot))
    assert len(many) == 3
    assert len({sheet.name for sheet in many}) == 3


def test_the_check_report_carries_the_drawings(tmp_path):
    robot, circuit = walker("rook")
    plain = scene.bare_study()
    told = SimpleNamespace(**{**vars(plain), "robot": robot, "circuit": circuit})
    text = report_html(told, font_cache=tmp_path)
    assert text.count('<section class="sheet wide"') == 2
    assert report_html(plain, font_cache=tmp_path).count('<section class="sheet wide"') == 0
    count = text.count("<section")
    assert f"{count} / {count}" in text
