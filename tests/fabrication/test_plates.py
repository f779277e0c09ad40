"""Plates of the demo family: laid out from the layout, weighed, measured, read back."""

from __future__ import annotations

import csv
import io
from math import pi
from pathlib import Path

import dxfgrabber
import ezdxf
import numpy as np
import pressfit
import pytest
import trimesh
from shapely.geometry import Polygon

import legwright as lw
from legwright.errors import RequestError
from legwright.fabrication import step
from legwright.fabrication.contour import rectangle
from legwright.fabrication.dxf import dxf_text
from legwright.fabrication.fits import fits_of
from legwright.fabrication.meshing import plate_mesh
from legwright.fabrication.openings import Opening, Purpose
from legwright.fabrication.parts import part_files, parts_of
from legwright.fabrication.plate import Plate
from legwright.fabrication.plate_rules import measured
from legwright.fabrication.seats import Seat
from legwright.fabrication.step import (
    bracket_step,
    kernel_installed,
    plate_solid,
    step_bytes,
    volume,
)
from legwright.mechanics.opening import edited
from legwright.robot.editing import opened

TOP = Path(__file__).parents[2]
FAMILY = ("wren", "rook", "heron")


@pytest.fixture(scope="module", params=FAMILY)
def parts(request):
    return parts_of(lw.load(TOP / "robots" / request.param))


@pytest.fixture(scope="module")
def wren():
    return parts_of(lw.load(TOP / "robots" / "wren"))


@pytest.mark.parametrize("name", ["wren", "rook"])
def test_longer_legs_leave_plates_as_they_are_and_other_plates_do_not(name):
    text = opened(TOP / "robots" / name)
    first = parts_of(edited(text, {})).flat
    for femur in ("61.3 mm", "62.9 mm", "77.77 mm"):
        again = parts_of(edited(text, {"dimensions.femur": femur})).flat
        assert all(one is other for one, other in zip(first[:2], again[:2], strict=True))
    thicker = parts_of(edited(text, {"dimensions.plates.thickness": "2.3 mm"})).flat
    assert thicker[0] != first[0] and thicker[1] != first[1]


def test_every_hip_is_in_both_plates(parts):
    upper, lower = parts.plates.plates
    for leg in parts.robot.legs.values():
        servo = parts.robot.servos[leg.joint_names[0]]
        (seat,) = [o for o in lower.openings if o.name == f"bearing {leg.name}"]
        assert seat.centre == pytest.approx(leg.hip[:2], abs=1e-12)
        assert seat.fit == "H7" and seat.diameter == servo.mount.bearing
        screws = [o for o in upper.openings if o.name.endswith(f"of {leg.name}")]
        assert len(screws) == len(servo.mount.holes)
        (cut,) = [o for o in upper.openings if o.name == f"servo {leg.name}"]
        body = Polygon(cut.outline.contour.polygon(1e-7))
        inward = np.array(cut.centre) - leg.hip[:2]
        foot = leg.foot((leg.lower + leg.upper) / 2)[:2] - leg.hip[:2]
        assert inward @ foot < 0.0, "the body lies away from the foot"
        assert np.linalg.norm(inward) == pytest.approx(servo.mount.shaft, abs=1e-12)
        gap = servo.mount.clearance
        sides = sorted(s + 2 * gap for s in servo.size[:2])
        rounding = (4 - pi) * cut.outline.held[0] ** 2
        assert body.area == pytest.approx(sides[0] * sides[1] - rounding, rel=1e-6)


def test_a_square_servo_body_passes_its_round_corners(parts):
    """Referee: shapely; the bare body lies inside the cut-out."""
    for leg in parts.robot.legs.values():
        (cut,) = [o for o in parts.plates.plates[0].openings if o.name == f"servo {leg.name}"]
        servo = parts.robot.servos[leg.joint_names[0]]
        ring = cut.outline.corners
        turned = float(np.arctan2(ring[1][1] - ring[0][1], ring[1][0] - ring[0][0]))
        body = rectangle(cut.centre, servo.size[0], servo.size[1], turned=turned)
        assert Polygon(cut.contour.polygon(1e-7)).contains(Polygon(body.corners))


def test_left_and_right_are_mirror_images(parts):
    for plate in parts.plates.plates:
        assert plate.com[1] == pytest.approx(0.0, abs=1e-9)
        assert plate.moments.xy == pytest.approx(0.0, abs=1e-9 * plate.moments.xx)


def test_the_weight_is_that_of_the_mesh(parts):
    """Referee: trimesh: volume, centre, inertia of the closed mesh."""
    for plate in parts.plates.plates:
        mesh = plate_mesh(plate)
        solid = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
        assert solid.is_watertight and solid.is_winding_consistent
        assert solid.volume * plate.density == pytest.approx(plate.mass, rel=5e-4)
        ours = plate.solid
        assert solid.center_mass == pytest.approx(ours.com, abs=1e-5)
        inertia = solid.moment_inertia * plate.density
        assert inertia == pytest.approx(ours.inertia, rel=1e-3, abs=1e-3 * ours.inertia.max())


def test_the_solid_has_the_volume_of_an_independent_kernel(parts):
    """Referee: the CAD kernel, with true arcs."""
    pytest.importorskip("OCP")
    for plate in parts.plates.plates:
        wanted = plate.area * plate.thickness
        assert volume(plate_solid(plate)) == pytest.approx(wanted, rel=1e-9)


def test_a_pattern_is_mirrored_where_the_horn_looks_down(parts):
    """Referee: by hand. The sheet sees it from the horn; a plan sees a hanging horn's from behind.

    Body along +x: what lies to the left of it from below lies to the right from above."""
    servo = parts.robot.servos[next(iter(parts.robot.legs.values())).joint_names[0]]
    for down, y in ((True, -0.002), (False, 0.002)):
        seat = Seat(name="s", joint="s", at=(0.01, 0.0), inward=0.0, servo=servo, horn_down=down)
        assert seat.place(0.003, 0.002) == pytest.approx((0.013, y))
    turned = Seat(name="s", joint="s", at=(0, 0), inward=pi / 2, servo=servo, horn_down=True)
    assert turned.place(0.003, 0.002) == pytest.approx((0.002, 0.003))


def test_a_hull_is_convex_and_holds_every_lug(tmp_path):
    """Referee: shapely."""
    sheet = (TOP / "robots" / "rook" / "robot.toml").read_text()
    folder = tmp_path / "hull"
    folder.mkdir()
    (folder / "robot.toml").write_text(
        sheet.replace('corner = "5 mm"', 'corner = "5 mm"\noutline = "hull"')
    )
    hull = parts_of(lw.load(folder)).plates.plates[0]
    lugs = parts_of(lw.load(TOP / "robots" / "rook")).plates.plates[0]
    ring = Polygon(hull.outline.corners)
    assert ring.equals_exact(ring.convex_hull, 1e-9) or ring.area == pytest.approx(
        ring.convex_hull.area, rel=1e-6
    )
    assert ring.buffer(1e-6).contains(Polygon(lugs.outline.corners))


def test_fits_at_the_hip_are_those_of_an_independent_library():
    """Referee: pressfit for the pin and the horn; the ring by hand: seat +15, ring −8 µm."""
    fits = {one.where: one for one in fits_of(lw.load(TOP / "robots" / "rook"))}
    for where, code in (("pin in the bracket", "4 H7/m6"), ("horn boss in the bracket", "8 H7/h6")):
        theirs, ours = pressfit.fit(code), fits[where].fit
        assert ours.kind == theirs.kind
        assert ours.least * 1e6 == pytest.approx(theirs.hole_ei_um - theirs.shaft_es_um)
        assert ours.most * 1e6 == pytest.approx(theirs.hole_es_um - theirs.shaft_ei_um)
    ring = fits["bearing seat in the lower plate"].fit
    assert (ring.least * 1e6, ring.most * 1e6) == pytest.approx((0.0, 23.0))


def test_without_a_kernel_the_install_line_is_told(parts, monkeypatch):
    monkeypatch.setattr(step, "kernel_installed", lambda: False)
    with pytest.raises(ImportError, match=r'pip install "legwright\[cad\]"'):
        step.plate_step(parts.plates.plates[0])


# -- cutting files -----------------------------------------------------------------------------


def area_of(points, bulges):
    """Shoelace and circular segments, by a road of its own."""
    total = 0.0
    for (x0, y0), (x1, y1), bulge in zip(points, [*points[1:], points[0]], bulges, strict=True):
        total += (x0 * y1 - x1 * y0) / 2
        if bulge:
            turn = 4 * np.arctan(bulge)
            radius = np.hypot(x1 - x0, y1 - y0) / (2 * abs(np.sin(turn / 2)))
            total += radius**2 / 2 * (turn - np.sin(turn))
    return total


def areas_by_layer(entities):
    found = {}
    for layer, area in entities:
        found.setdefault(layer, []).append(area)
    return found


def read_by_ezdxf(text):
    document = ezdxf.read(io.StringIO(text))
    assert not document.audit().errors
    for entity in document.modelspace():
        if entity.dxftype() == "CIRCLE":
            yield entity.dxf.layer, pi * entity.dxf.radius**2
        elif entity.dxftype() == "LWPOLYLINE":
            assert entity.closed
            rows = list(entity.get_points("xyb"))
            yield entity.dxf.layer, area_of([r[:2] for r in rows], [r[2] for r in rows])


def read_by_another(text):
    for entity in dxfgrabber.read(io.StringIO(text)).entities:
        if entity.dxftype == "CIRCLE":
            yield entity.layer, pi * entity.radius**2
        elif entity.dxftype == "LWPOLYLINE":
            assert entity.is_closed
            yield entity.layer, area_of([p[:2] for p in entity.points], list(entity.bulge))


@pytest.mark.parametrize("read", [read_by_ezdxf, read_by_another])
def test_areas_read_back_from_dxf_are_right(parts, read):
    """Referees: ezdxf's reader and dxfgrabber, areas by a road of their own, to 1e-6."""
    for plate in parts.flat:
        layers = areas_by_layer(read(dxf_text(plate)))
        (outline,) = layers.pop("outline")
        wanted = {}
        for opening in plate.openings:
            area = opening.contour.moments.area * 1e6
            wanted.setdefault(opening.purpose.value, []).append(area)
        assert set(layers) == set(wanted)
        for layer, areas in wanted.items():
            assert sorted(layers[layer]) == pytest.approx(sorted(areas), rel=1e-6)
        left = outline - sum(sum(areas) for areas in layers.values())
        assert left == pytest.approx(plate.area * 1e6, rel=1e-6)


def test_contours_read_back_are_closed(parts):
    """Referee: trimesh's own reader."""
    for plate in parts.plates.plates:
        text = io.BytesIO(dxf_text(plate).encode())
        path = trimesh.load_path(text, file_type="dxf")
        assert path.is_closed
        assert len(path.paths) == 1 + len(plate.openings)
        assert path.area == pytest.approx(plate.area * 1e6, rel=1e-3)


def test_the_cut_leaves_the_part(wren):
    """Referee: shapely: the beam's paths, widened by half a kerf, leave the drawn part."""
    kerf = wren.robot.sheet.making.kerf
    for plate in wren.flat:
        cut = plate.cut(kerf)
        path = Polygon(cut.outline.contour.polygon(1e-7))
        left = path.buffer(-kerf / 2, quad_segs=64, join_style="mitre")
        drawn = Polygon(plate.outline.contour.polygon(1e-7))
        assert left.symmetric_difference(drawn).area < 1e-5 * drawn.area
        for before, after in zip(plate.openings, cut.openings, strict=True):
            hole = Polygon(after.contour.polygon(1e-7)).buffer(
                kerf / 2, quad_segs=64, join_style="mitre"
            )
            wanted = Polygon(before.contour.polygon(1e-7))
            assert hole.symmetric_difference(wanted).area < 2e-4 * wanted.area


def test_the_published_case_of_a_kerf():
    """Referee: 0.2 mm of kerf, drawn 2 × 4 without compensation gives 1.8 × 3.8 (laser shops'
    guides): so a part of 1.8 × 3.8 is cut along 2 × 4, and a hole of 2.2 × 4.2 along 2 × 4."""
    part = Plate(
        name="tab", outline=rectangle((0, 0), 1.8e-3, 3.8e-3), openings=(), thickness=1e-3,
        density=1.0,
    )  # fmt: skip
    assert part.cut(2e-4).outline.contour.moments.area == pytest.approx(8e-6)
    slot = Opening(
        name="slot", purpose=Purpose.WINDOW, centre=(0, 0),
        outline=rectangle((0, 0), 2.2e-3, 4.2e-3),
    )  # fmt: skip
    assert slot.cut(2e-4).contour.moments.area == pytest.approx(8e-6)


def test_all_files_are_written(wren):
    parts = wren
    files = part_files(parts)
    names = ["upper-plate", "lower-plate"]
    for name in names:
        assert {f"{name}.dxf", f"{name}-cut.dxf", f"{name}.stl"} <= set(files)
    assert {"hip-bracket.stl", "hip-bracket-flat.dxf", "drilling.csv"} <= set(files)
    if kernel_installed():
        assert files["upper-plate.step"].startswith(b"ISO-10303-21")
    read = trimesh.load(io.BytesIO(files["upper-plate.stl"]), file_type="stl")
    assert read.is_watertight
    upper = parts.plates.plates[0]
    assert read.volume == pytest.approx(upper.area * upper.thickness * 1e9, rel=1e-3)
    rows = list(csv.DictReader(io.StringIO(files["drilling.csv"].decode())))
    assert len(rows) == sum(len(plate.openings) for plate in parts.flat)
    assert len({(row["part"], row["label"]) for row in rows}) == len(rows)
    seat = next(row for row in rows if row["takes"] == "bearing")
    assert seat["fit"] == "H7" and float(seat["upper_mm"]) > 0.0


def test_the_same_parts_give_the_same_bytes(wren):
    plate = wren.plates.plates[0]
    assert dxf_text(plate) == dxf_text(plate)
    if kernel_installed():
        bracket = wren.hip.bracket
        assert bracket_step(bracket) == bracket_step(bracket)


def test_step_files_read_back_with_their_volume(tmp_path):
    """Referee: the kernel's own reader."""
    pytest.importorskip("OCP")
    from OCP.STEPControl import STEPControl_Reader

    plate = simple(hole(0.0, 0.0))
    file = tmp_path / "plate.step"
    file.write_bytes(step_bytes(plate_solid(plate), "plate"))
    reader = STEPControl_Reader()
    reader.ReadFile(str(file))
    reader.TransferRoots()
    assert volume(reader.OneShape()) == pytest.approx(plate.area * plate.thickness, rel=1e-9)


# -- rules -------------------------------------------------------------------------------------


def hole(x, y, diameter=4e-3, name="hole"):
    return Opening(name=name, purpose=Purpose.SCREW, centre=(x, y), diameter=diameter)


def simple(*openings):
    return Plate(
        name="plate", outline=rectangle((0, 0), 0.06, 0.04, radius=0.005), openings=openings,
        thickness=0.002, density=1000.0,
    )  # fmt: skip


def test_narrow_places_are_found():
    """Referee: by hand."""
    plate = simple(hole(0.0, 0.0, name="a"), hole(0.007, 0.0, name="b"),
                   hole(-0.01, 0.016, 2e-3, name="c"))  # fmt: skip
    found = measured(plate)
    assert found.web.value == pytest.approx(3e-3, abs=3e-6)
    assert set(found.web.between) == {"a", "b"}
    assert found.edge.value == pytest.approx(3e-3, abs=3e-6)
    assert found.edge.between == ("c",)
    assert found.hole.value == 2e-3
    assert not found.overlaps and not found.outside


def test_overlaps_and_openings_outside_are_named():
    found = measured(simple(hole(0.0, 0.0, name="a"), hole(0.003, 0.0, name="b"),
                            hole(0.03, 0.0, name="c")))  # fmt: skip
    assert found.overlaps == (("a", "b"),)
    assert found.outside == ("c",)
    assert found.web.value == 0.0
    assert found.edge.value == 0.0


def test_a_hole_inside_a_window_is_an_overlap():
    window = Opening(
        name="window", purpose=Purpose.WINDOW, centre=(0, 0),
        outline=rectangle((0, 0), 0.02, 0.02, radius=0.002),
    )  # fmt: skip
    assert measured(simple(window, hole(0.0, 0.0, name="a"))).overlaps == (("window", "a"),)


def test_a_beam_wider_than_a_hole_is_refused():
    with pytest.raises(RequestError, match="width of 'hole'"):
        simple(hole(0.0, 0.0, 5e-4)).cut(6e-4)
