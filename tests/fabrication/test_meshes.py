"""Volumes, inertia, walls, overhangs and cuts against closed forms and trimesh."""

import time

import numpy as np
import pytest
import trimesh
from solid_shapes import ball, box, hollow_box, joined, of

from legwright.fabrication.bed import cuts, fit, section_area
from legwright.fabrication.mesh import Mesh, surface_moments, volume_moments
from legwright.fabrication.mesh_file import read_mesh
from legwright.fabrication.overhang import lyings, supports
from legwright.fabrication.print_mass import Making, print_mass
from legwright.fabrication.rays import box_tree
from legwright.fabrication.shell_study import study_part
from legwright.fabrication.soundness import soundness
from legwright.fabrication.stl import stl_bytes
from legwright.fabrication.wall import walls
from legwright.robot.sheet import Process

UP = np.array([0.0, 0.0, 1.0])


def _hood_like() -> Mesh:
    lower = trimesh.transformations.translation_matrix([0, 0, -0.004])
    cup = trimesh.boolean.difference(
        [
            trimesh.creation.cylinder(0.08, 0.05),
            trimesh.creation.cylinder(0.076, 0.05, transform=lower),
        ]
    )
    turn = trimesh.transformations.random_rotation_matrix(np.array([0.1, 0.4, 0.7]))
    cup.apply_transform(turn)
    cup.apply_translation([0.3, -0.2, 0.1])
    return of(cup)


def test_box_volume_and_inertia_are_the_closed_form():
    solid = volume_moments(box((0.3, 0.2, 0.1), at=(0.5, 0.1, -0.2))).times(1200.0).solid()
    mass = 1200.0 * 0.3 * 0.2 * 0.1
    assert solid.mass == pytest.approx(mass, rel=1e-12)
    np.testing.assert_allclose(solid.com, [0.5, 0.1, -0.2], atol=1e-12)
    expected = mass / 12.0 * np.diag([0.2**2 + 0.1**2, 0.3**2 + 0.1**2, 0.3**2 + 0.2**2])
    np.testing.assert_allclose(solid.inertia, expected, atol=1e-12)


def test_any_solid_agrees_with_trimesh():
    mesh = _hood_like()
    theirs = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    theirs.density = 900.0
    ours = volume_moments(mesh).times(900.0).solid()
    assert ours.mass == pytest.approx(theirs.mass, rel=1e-10)
    np.testing.assert_allclose(ours.com, theirs.center_mass, atol=1e-10)
    np.testing.assert_allclose(ours.inertia, theirs.moment_inertia, rtol=1e-8, atol=1e-12)


def test_surface_moments_of_a_sphere():
    """Closed form of a thin spherical shell: (2/3) m r² about each axis."""
    shell = surface_moments(ball(0.05, 5)).solid()
    assert shell.mass == pytest.approx(4.0 * np.pi * 0.05**2, rel=2e-3)
    np.testing.assert_allclose(
        shell.inertia, 2.0 / 3.0 * shell.mass * 0.05**2 * np.eye(3), rtol=2e-3, atol=1e-9
    )


@pytest.mark.parametrize("wall", [0.0015, 0.004, 0.012])
def test_walls_of_a_hollow_box(wall):
    """Every ray crosses one wall, except where it starts over a side wall's edge."""
    edges = (0.2, 0.15, 0.1)
    mesh = hollow_box(edges, wall)
    found = walls(mesh, box_tree(mesh), samples=40_000)
    inner = [edge - 2.0 * wall for edge in edges]
    pairs = [(0, 1), (1, 2), (0, 2)]
    flat = 2 * sum(inner[i] * inner[j] for i, j in pairs)
    outer = 2 * sum(edges[i] * edges[j] for i, j in pairs)
    assert found.area == pytest.approx(flat + outer, rel=1e-12)
    assert np.isfinite(found.thickness).all()
    single = np.isclose(found.thickness, wall, atol=1e-9)
    assert single.mean() == pytest.approx(2 * flat / (flat + outer), abs=3e-3)
    assert found.thickness.min() == pytest.approx(wall, abs=1e-9)
    through = np.isclose(found.thickness[:, None], edges, atol=1e-9).any(axis=1)
    assert (single | through).all()


def test_wall_of_a_hollow_ball():
    outer, inner = ball(0.05, 5), ball(0.045, 5)
    found = walls(joined(outer, inner.turned_out()), box_tree(joined(outer, inner.turned_out())))
    np.testing.assert_allclose(np.median(found.thickness), 0.005, atol=1e-5)
    assert found.quantile(0.99) < 0.0052


def test_printed_mass_of_thin_and_thick_walls():
    making = Making(density=1000.0, skin=0.0012, infill=0.2)
    thin = hollow_box((0.2, 0.15, 0.1), 0.002)
    full = print_mass(thin, walls(thin, box_tree(thin)), making)
    volume = 0.2 * 0.15 * 0.1 - 0.196 * 0.146 * 0.096
    assert full.solid.mass == pytest.approx(1000.0 * volume, rel=1e-9), "two skins fill the wall"
    cube = box((0.04, 0.04, 0.04))
    got = print_mass(cube, walls(cube, box_tree(cube)), making)
    core = (0.04 - 0.0024) ** 3
    true = 1000.0 * (0.04**3 - core + 0.2 * core)
    assert true < got.solid.mass < true + 1000.0 * 0.8 * 12 * 0.04 * 0.0012**2
    np.testing.assert_allclose(got.solid.com, 0.0, atol=1e-5)
    ratio = got.solid.inertia[0, 0] / (got.solid.mass * 0.04**2 / 6.0)
    assert 1.0 < ratio < 5.0 / 3.0, "between a full cube and an empty one (5/18 m a² over m a²/6)"


def test_support_under_a_table():
    """A slab on one leg: what hangs is known exactly, and so is the volume under it."""
    slab = trimesh.creation.box(bounds=[[-0.05, -0.05, 0.04], [0.05, 0.05, 0.05]])
    leg = trimesh.creation.box(bounds=[[-0.01, -0.01, 0.0], [0.01, 0.01, 0.045]])
    table = of(trimesh.boolean.union([slab, leg]))
    ways = lyings(table)
    upright = next(one for one in ways if np.allclose(one.up, UP))
    hanging = 0.1**2 - 0.02**2
    assert upright.overhang == pytest.approx(hanging, rel=1e-6)
    assert upright.support == pytest.approx(hanging * 0.04, rel=1e-6)
    assert supports(table, box_tree(table), upright) == pytest.approx(hanging * 0.04, rel=1e-6)
    np.testing.assert_allclose(ways[0].up, -UP, atol=1e-9)
    assert ways[0].support == 0.0


def test_support_inside_a_closed_box_stops_at_its_floor():
    mesh = hollow_box((0.3, 0.2, 0.1), 0.005)
    flat = next(one for one in lyings(mesh) if np.allclose(one.up, UP))
    assert flat.overhang == pytest.approx(0.29 * 0.19, rel=1e-9)
    assert supports(mesh, box_tree(mesh), flat) == pytest.approx(0.29 * 0.19 * 0.09, rel=1e-6)
    assert flat.resting == pytest.approx(0.3 * 0.2, rel=1e-9)


def test_a_roof_prints_on_its_back():
    """A cup with its opening down wants no support when it stands on its bottom."""
    mesh = _hood_like()
    best = lyings(mesh)[0]
    assert best.support == pytest.approx(0.0, abs=1e-9)
    assert best.height == pytest.approx(0.05, abs=1e-6)


def test_section_of_a_hollow_box():
    mesh = hollow_box((0.3, 0.2, 0.1), 0.005)
    expected = 0.2 * 0.1 - 0.19 * 0.09
    assert section_area(mesh, np.array([1.0, 0.0, 0.0]), 0.013) == pytest.approx(expected, rel=1e-9)
    assert section_area(mesh, np.array([1.0, 0.0, 0.0]), 0.4) == 0.0


def test_a_long_part_fits_aslant_or_is_split():
    mesh = box((0.28, 0.02, 0.02))
    aslant = fit(mesh, UP, np.array([0.22, 0.22, 0.2]))
    assert aslant.room > 0.0, "the diagonal of the bed is 311 mm"
    assert 0.3 < aslant.turn < 2.9
    big = box((0.4, 0.2, 0.05))
    found = fit(big, UP, np.array([0.22, 0.22, 0.2]))
    assert found.room < 0.0
    planes = cuts(big, found, UP, np.array([0.22, 0.22, 0.2]))
    assert planes
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    corners = corners * [0.2, 0.1, 0.025]
    spans = {tuple(np.round(np.abs(cut.normal), 6)): [] for cut in planes}
    for cut in planes:
        spans[tuple(np.round(np.abs(cut.normal), 6))].append(cut.offset)
        assert (corners @ cut.normal).min() < cut.offset < (corners @ cut.normal).max()


def test_what_is_wrong_with_a_surface_is_counted():
    whole = box((0.1, 0.1, 0.1))
    sound = soundness(whole)
    assert sound.sound
    assert (sound.pieces, sound.through_holes, sound.flat) == (1, 0, 0)
    missing = soundness(Mesh(points=whole.points, faces=whole.faces[1:]))
    assert (missing.open_edges, missing.watertight, missing.through_holes) == (3, False, None)
    torn = whole.faces.copy()
    torn[0] = torn[0][::-1]
    assert soundness(Mesh(points=whole.points, faces=torn)).torn_edges == 3
    assert soundness(whole.turned_out()).inverted == 1
    hollow = soundness(hollow_box((0.1, 0.1, 0.1), 0.01))
    assert (hollow.cavities, hollow.inverted, hollow.pieces) == (1, 0, 2)
    apart = joined(box((0.1,) * 3), box((0.1,) * 3, at=(0.3, 0, 0)).turned_out())
    assert (soundness(apart).cavities, soundness(apart).inverted) == (0, 1)


@pytest.mark.parametrize("holes", [0, 1, 3])
def test_holes_that_go_through_are_counted(holes):
    plate = trimesh.creation.box((0.2, 0.05, 0.01))
    for number in range(holes):
        drill = trimesh.creation.cylinder(0.008, 0.05)
        drill.apply_translation([-0.05 + 0.05 * number, 0, 0])
        plate = trimesh.boolean.difference([plate, drill])
    assert soundness(of(plate)).through_holes == holes


@pytest.mark.long
def test_two_million_triangles_within_twenty_seconds_of_processor_time(tmp_path):
    n = 1000
    turn = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    u, v = np.meshgrid(turn, turn, indexing="ij")
    tube = 0.03 * (1.0 + 0.05 * np.sin(9 * u) * np.sin(7 * v))
    out = 0.09 + tube * np.cos(v)
    points = np.stack([out * np.cos(u), out * np.sin(u), tube * np.sin(v)], -1).reshape(-1, 3)
    a = np.arange(n * n).reshape(n, n)
    b, d = np.roll(a, -1, 0), np.roll(a, -1, 1)
    c = np.roll(b, -1, 1)
    faces = [np.stack(corners, -1).reshape(-1, 3) for corners in ((a, b, c), (a, c, d))]
    path = tmp_path / "ring.stl"
    path.write_bytes(stl_bytes(Mesh(points=points, faces=np.concatenate(faces))))
    process = Process(density="1000 kg/m^3", volume=("300 mm",) * 3)
    small = hollow_box((0.1, 0.1, 0.1), 0.002)
    study_part(small, process)  # kernels are compiled
    start = time.process_time()
    held = read_mesh(path)
    part = study_part(Mesh(points=held.mesh.points * 1e-3, faces=held.mesh.faces), process)
    assert time.process_time() - start < 20.0
    assert part.soundness.triangles == 2_000_000
    assert part.soundness.sound
    assert part.soundness.through_holes == 1, "a ring has one hole"
