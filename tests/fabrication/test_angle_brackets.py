"""Angle brackets: published flat lengths, the way back by another road, a CAD kernel, plates."""

from __future__ import annotations

import json
from dataclasses import replace
from io import StringIO
from itertools import combinations
from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest
import trimesh

import legwright as lw
from legwright.errors import RequestError, RobotError
from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.angle_places import pose_on_plate
from legwright.fabrication.assembly_order import assembly_order
from legwright.fabrication.fastenings import fastenings_of
from legwright.fabrication.fold_rules import angle_limits
from legwright.fabrication.meshing import angle_mesh
from legwright.fabrication.openings import Opening, Purpose
from legwright.fabrication.parts import part_files, parts_of
from legwright.fabrication.pieces import pieces_of
from legwright.fabrication.plate_rules import measured
from legwright.fabrication.refold import refolded_angle
from legwright.fabrication.step import angle_solid, volume
from legwright.study.checks.plates import judged
from legwright.study.finding import Verdict
from legwright.study.making import making_of
from legwright.views.angle_drawing import angle_sheet

TOP = Path(__file__).parents[2]
VALUES = json.loads((TOP / "tests" / "data" / "reference_values.json").read_text())
BENDS = [c for c in VALUES["topics"]["9_fabrication"] if c["id"].startswith("bend_")]
TURNS = (25.0, 60.0, 90.0, 120.0, 145.0)

PROBE = """
[making.angle.probe]
density = "2700 kg/m^3"
thickness = "1.5 mm"
radius = "1.5 mm"
k_factor = 0.42
base = "18 mm"
riser = "72 mm"
width = "40 mm"
on = "lower"
side = "below"
places = [["98 mm", "40 mm", "30 deg"]]
base_holes = [["11 mm", "-12 mm"], ["9 mm", "12 mm"]]
holds = "dunnock"
holds_at = "26 mm"
"""
SHELF = """
[making.angle.shelf]
density = "2700 kg/m^3"
thickness = "1.5 mm"
radius = "1.5 mm"
turn = "60 deg"
base = "16 mm"
riser = "26 mm"
width = "16 mm"
places = [["-5 mm", "68 mm", "-90 deg"], ["-5 mm", "-68 mm", "90 deg"]]
base_holes = [["10 mm", "0 mm"]]
riser_holes = [["18 mm", "0 mm"]]
"""


def _robot(folder: Path, *lines: str):
    base = f'extends = "{(TOP / "robots" / "rook" / "robot.toml").as_posix()}"\n'
    (folder / "robot.toml").write_text(base + "".join(lines))
    return lw.load(folder)


def _plain(turn: float, **more) -> AngleBracket:
    keys = dict(
        name="angle-x", turn=radians(turn), base=0.03, riser=0.05, width=0.02, thickness=2e-3,
        radius=3e-3, k_factor=0.42, density=2700.0, corner=4e-3,
    )  # fmt: skip
    hole = {"purpose": Purpose.SCREW, "diameter": 3.4e-3}
    made = AngleBracket(**(keys | more))
    return replace(
        made,
        on_base=(Opening(name="a", centre=(made.flat_x(0.022), 3e-3), **hole),),
        on_riser=(Opening(name="b", centre=(made.flat_x(0.03, riser=True), -4e-3), **hole),),
    )


@pytest.mark.parametrize("case", BENDS, ids=lambda case: case["id"])
def test_flat_lengths_are_the_published_ones(case) -> None:
    """Referee: published flat length of a part of 30 and 50 mm."""
    given, wanted = case["inputs"], case["expected"]
    made = _plain(
        given["angle_deg"], thickness=given["T_mm"] * 1e-3, radius=given["R_mm"] * 1e-3,
        k_factor=given["K"],
    )  # fmt: skip
    assert made.developed * 1e3 == pytest.approx(wanted["flat_30_50_mm"], rel=1e-8)


@pytest.mark.parametrize("turn", TURNS)
def test_the_flat_pattern_folds_up_to_the_bracket(turn) -> None:
    """Referee: outside measures; the pattern came from the deduction, the way back walks the
    neutral fibre, whose length is summed over 20 000 pieces."""
    b = _plain(turn)
    low, high = b.ends
    up = np.array([-cos(b.turn), 0.0, sin(b.turn)])
    tip, top = refolded_angle(b, [[high, 0.004], [low, 0.0]])
    assert tip == pytest.approx([b.base, 0.004, 0.0], abs=1e-12)
    assert top == pytest.approx(b.riser * up, abs=1e-12)
    (inside,) = refolded_angle(b, [[low, 0.0]], b.thickness)
    inward = np.array([sin(b.turn), 0.0, cos(b.turn)])
    assert inside == pytest.approx(b.riser * up + b.thickness * inward, abs=1e-12)
    (hole,) = refolded_angle(b, [b.on_riser[0].centre])
    assert hole == pytest.approx(0.03 * up + [0.0, -4e-3, 0.0], abs=1e-12)
    x = np.linspace(low, high, 20_001)
    line = refolded_angle(b, np.column_stack([x, 0.0 * x]), b.thickness * (1.0 - b.k_factor))
    length = np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert length == pytest.approx(b.developed, rel=1e-7)


@pytest.mark.parametrize("turn", TURNS)
def test_mass_and_centre(turn) -> None:
    """Referees: trimesh on the folded mesh; the CAD kernel's volume, with true arcs."""
    b = _plain(turn)
    mesh = angle_mesh(b)
    solid = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    assert solid.is_watertight and solid.is_winding_consistent
    assert solid.volume == pytest.approx(b.volume, rel=1e-3)
    assert solid.center_mass == pytest.approx(b.com, abs=2e-5)
    assert b.mass == pytest.approx(b.volume * 2700.0)
    pytest.importorskip("OCP")
    assert volume(angle_solid(b)) == pytest.approx(b.volume, rel=1e-9)


def test_the_servo_fits_its_riser(tmp_path) -> None:
    """Referee: the mount's own places, from the horn's axis 26 mm above the corner."""
    robot = _robot(tmp_path, PROBE)
    (bracket,) = parts_of(robot).angles.brackets
    servo = robot.sheet.servo["dunnock"]
    cut, *screws = bracket.on_riser
    placed = refolded_angle(bracket, [each.centre for each in screws])
    assert placed[:, 0] == pytest.approx(0.0, abs=1e-12)
    axis = np.array([0.0, 0.026])
    found = {tuple(np.round((p - axis) * 1e6)) for p in placed[:, 1:]}
    # The horn is on the base's side, the body points up: seen from there y points the other way.
    assert found == {(round(1e6 * -y), round(1e6 * x)) for x, y in servo.mount.holes}
    long_, wide = (
        servo.size[0] + 2 * servo.mount.clearance,
        servo.size[1] + 2 * servo.mount.clearance,
    )
    r = cut.outline.radii[0]
    assert cut.contour.moments.area == pytest.approx(long_ * wide - (4 - np.pi) * r * r, rel=1e-9)
    assert measured(bracket.flat).overlaps == () and measured(bracket.flat).outside == ()


def test_the_plates_have_the_holes_that_the_brackets_have(tmp_path) -> None:
    """Referee: the folded bracket's holes, turned and moved onto the plate."""
    robot = _robot(tmp_path, PROBE, SHELF)
    parts = parts_of(robot)
    plates = {plate.name: plate for plate in parts.plates.plates}
    for bracket, on in zip(parts.angles.brackets, ("lower", "upper"), strict=True):
        name = bracket.name.removeprefix("angle-")
        keys = robot.sheet.making.angle[name]
        assert bracket.count == len(keys.places)
        holes = refolded_angle(bracket, [each.centre for each in bracket.on_base])
        assert holes[:, 2] == pytest.approx(0.0, abs=1e-12)
        want = set()
        for place in keys.places:
            pose = pose_on_plate(keys, place, 0.0)
            assert np.linalg.det(pose) == pytest.approx(1.0)
            assert pose[:2, 0] == pytest.approx([cos(place[2]), sin(place[2])])
            assert pose[2, 2] == (1.0 if keys.side == "above" else -1.0)
            moved = holes @ pose[:3, :3].T + pose[:3, 3]
            want |= {tuple(np.round(1e6 * hole[:2])) for hole in moved}
        openings = plates[f"{on}-plate"].openings
        own = [each.centre for each in openings if each.name.startswith(name)]
        theirs = {tuple(np.round(1e6 * np.array(centre))) for centre in own}
        assert theirs == want
        other = "upper-plate" if on == "lower" else "lower-plate"
        assert not any(each.name.startswith(name) for each in plates[other].openings)


def test_files_bill_and_screws(tmp_path) -> None:
    """DXF read back by ezdxf: closed lines, the flat's area, the bend on its own layer."""
    import ezdxf
    import shapely

    robot = _robot(tmp_path, SHELF)
    parts = parts_of(robot)
    (bracket,) = parts.angles.brackets
    files = part_files(parts)
    assert {"angle-shelf-flat.dxf", "angle-shelf-flat-cut.dxf", "angle-shelf.stl"} <= set(files)
    drawing = ezdxf.read(StringIO(files["angle-shelf-flat.dxf"].decode())).modelspace()
    (outline,) = drawing.query('LWPOLYLINE[layer=="outline"]')
    assert outline.closed
    points = [(p.x, p.y) for p in ezdxf.path.make_path(outline).flattening(1e-4)]
    area = shapely.Polygon(points).area - 2 * np.pi * 1.7**2
    assert area == pytest.approx(bracket.flat.moments.area * 1e6, rel=1e-5)
    assert [line.dxf.start.x for line in drawing.query('LINE[layer=="bends"]')] == [0.0]
    made = {part.name: part for part in parts.made}
    assert (made["angle-shelf"].kind, made["angle-shelf"].count) == ("angle", 2)
    assert made["angle-shelf"].bends == 1
    screws = {one.where: one for one in fastenings_of(robot)}
    one = screws["2 angle-shelf on the upper plate"]
    assert one.count == 2 and one.grip == pytest.approx(4.5e-3)
    assert one.choice is not None and one.choice.length is not None


def test_the_order_of_assembly_holds_them(tmp_path) -> None:
    """Referee: the folded mesh, carried to its place, fills its boxes' bounds."""
    robot = _robot(tmp_path, PROBE, SHELF)
    pieces = pieces_of(robot)
    (probe,) = parts_of(robot).angles.brackets[:1]
    keys = robot.sheet.making.angle["probe"]
    plates = robot.sheet.dimensions.plates
    pose = pose_on_plate(keys, keys.places[0], -plates.gap / 2.0 - plates.thickness)
    piece = pieces["angle-probe bracket, 1"]
    assert piece.on == ("lower plate",) and piece.mass == pytest.approx(probe.mass)
    mesh = angle_mesh(probe).points @ pose[:3, :3].T + pose[:3, 3]
    corners = np.concatenate([each.corners for each in piece.blocks])
    # Turned by 30°, its round corners of 2 mm stay 0.7 mm inside the boxes'.
    assert mesh.min(axis=0) == pytest.approx(corners.min(axis=0), abs=8e-4)
    assert mesh.max(axis=0) == pytest.approx(corners.max(axis=0), abs=8e-4)
    assert mesh[:, 2].max() == pytest.approx(-plates.gap / 2.0 - plates.thickness, abs=1e-9)
    order = assembly_order(pieces)
    brought = [step.brings for step in order.steps]
    assert {"angle-probe bracket, 1", "angle-shelf bracket, 1", "angle-shelf bracket, 2"} <= set(
        brought
    )
    assert order.ok


def test_a_riser_between_the_plates_ends_below_the_other(tmp_path) -> None:
    """72 mm stand in a gap of 50."""
    name = "room between the plates, angle-probe"
    assert name not in _findings(_robot(tmp_path, PROBE))
    inside = _findings(_robot(tmp_path, PROBE.replace('side = "below"', "")))[name]
    assert inside.verdict is Verdict.FAIL
    assert (inside.value, inside.limit) == (pytest.approx(72.0), pytest.approx(50.0))


def _findings(robot):
    return {one.name: one for one in judged(robot)}


def test_rules_and_mass_are_judged(tmp_path) -> None:
    """By hand: a screw 17 mm below an axis at 14 mm lies in the bend; 5.3 g against the cargo."""
    good = _findings(_robot(tmp_path, PROBE, SHELF))
    assert {one.verdict for name, one in good.items() if "angle" in name} == {Verdict.PASS}
    mass = good["angle brackets within the cargo"]
    total = parts_of(_robot(tmp_path, PROBE, SHELF)).angles.mass
    assert mass.value == pytest.approx(total * 1e3) and mass.limit == pytest.approx(220.0)
    bad = _findings(_robot(tmp_path, PROBE.replace('"26 mm"', '"14 mm"')))
    assert bad["hole to bend, angle-probe"].verdict is Verdict.FAIL
    lines = '[dimensions.plates]\ncargo = "4 g"\n'
    heavy = _findings(_robot(tmp_path, SHELF, lines))["angle brackets within the cargo"]
    assert heavy.verdict is Verdict.FAIL and "cargo" in heavy.cure
    b = _plain(90.0)
    limits = {rule.name: rule for rule in angle_limits(b, least_radius=2.0, die=None)}
    assert limits["bend radius"].value < limits["bend radius"].least == pytest.approx(4e-3)
    assert limits["flange on the die"].value == b.base
    assert limits["hole to bend"].value == pytest.approx(0.022 - 5e-3 - 1.7e-3)


def test_a_urdf_must_leave_room_for_them(tmp_path) -> None:
    """The trunk's mass holds plates and brackets."""
    base = f'extends = "{(TOP / "robots" / "heron" / "robot.toml").as_posix()}"\n'
    (tmp_path / "robot.toml").write_text(base + SHELF)
    found = _findings(lw.load(tmp_path))["plates and angle brackets within the trunk's mass"]
    plain = _findings(lw.load(TOP / "robots" / "heron"))["plates within the trunk's mass"]
    mass = parts_of(lw.load(tmp_path)).angles.mass
    holes = 2 * np.pi * (1.7e-3) ** 2 * 1e3
    lighter = holes * parts_of(lw.load(tmp_path)).plates.plates[0].thickness
    density = parts_of(lw.load(tmp_path)).plates.plates[0].density
    assert found.value - plain.value == pytest.approx(1e3 * mass - lighter * density, abs=1e-6)


def test_short_flanges_are_refused_in_a_sentence(tmp_path) -> None:
    with pytest.raises(RequestError, match="riser is '3 mm', must be more than 5 mm"):
        _plain(90.0, riser=3e-3)
    found = _findings(_robot(tmp_path, SHELF.replace('riser = "26 mm"', 'riser = "1 mm"')))
    assert found["angle-shelf"].verdict is Verdict.FAIL
    assert "cannot be folded" in found["angle-shelf"].why


def test_what_the_servo_lacks_is_named(tmp_path) -> None:
    lines = '[servo.bare]\nrated_voltage = "11 V"\nstall_torque = "1 N*m"\n' \
        'no_load_speed = "5 rad/s"\n'  # fmt: skip
    found = _findings(_robot(tmp_path, PROBE.replace("dunnock", "bare"), lines))["angle-probe"]
    assert found.verdict is Verdict.UNKNOWN
    assert "servo.bare.size, servo.bare.mount" in found.why


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ('holds = "dunnock"', 'holds = "dunock"', r"angle\.probe\.holds.*\"dunock\".*'dunnock'"),
        ('holds_at = "26 mm"', "", r"angle\.probe\.holds_at.*missing"),
        ('base = "18 mm"', 'base = "18 kg"', r"angle\.probe\.base"),
        ("[making.angle.probe]", '[making.angle."a/b"]', r"making\.angle"),
        ('places = [["98 mm", "40 mm", "30 deg"]]', "places = []", r"angle\.probe\.places"),
        ('radius = "1.5 mm"', 'radius = "1.5 mm"\nturn = "175 deg"', r"angle\.probe\.turn"),
    ],
)
def test_bad_input_is_one_sentence(tmp_path, was, now, said) -> None:
    with pytest.raises(RobotError, match=said) as caught:
        _robot(tmp_path, PROBE.replace(was, now))
    assert "\n" not in str(caught.value).strip()


def test_lettering_of_the_drawing_does_not_collide(tmp_path) -> None:
    making = making_of(_robot(tmp_path, PROBE, SHELF))
    for bracket in making.parts.angles.brackets:
        keys = making.robot.sheet.making.angle[bracket.name.removeprefix("angle-")]
        sheet = angle_sheet(bracket, keys, making.robot.sheet.making)
        labels = [label for label in sheet.drawing.labels if label.text]
        for one, other in combinations(labels, 2):
            assert not one.meets(other), (one.text, other.text)
        shown = [label.text for label in labels]
        assert f"{1e3 * bracket.base:g}" in shown and f"{1e3 * bracket.riser:g}" in shown
