"""Mesh files of all kinds, good and bad: what is read, and what is said."""

import numpy as np
import pytest
import trimesh
from solid_shapes import box, of

from legwright.errors import RobotError
from legwright.fabrication.mesh_file import read_mesh, welded
from legwright.fabrication.stl import stl_bytes
from legwright.fabrication.unit_guess import unit_guess


@pytest.fixture
def part():
    made = trimesh.creation.box((30.0, 20.0, 10.0))
    made.units = "mm"
    return made


@pytest.mark.parametrize("kind", ["stl", "obj", "3mf"])
def test_formats_give_the_same_part(part, kind, tmp_path):
    path = tmp_path / f"part.{kind}"
    part.export(path)
    held = read_mesh(path)
    assert (len(held.mesh.points), len(held.mesh.faces)) == (8, 12)
    np.testing.assert_allclose(held.mesh.extent, [30.0, 20.0, 10.0], rtol=1e-6)
    assert held.unit == ("mm" if kind == "3mf" else None)


def test_text_stl(part, tmp_path):
    path = tmp_path / "part.stl"
    path.write_text(trimesh.exchange.stl.export_stl_ascii(part))
    assert len(read_mesh(path).mesh.faces) == 12


def test_our_own_stl_is_read_by_trimesh(tmp_path):
    path = tmp_path / "own.stl"
    path.write_bytes(stl_bytes(box((0.03, 0.02, 0.01))))
    theirs = trimesh.load(path)
    assert theirs.is_watertight
    assert theirs.volume == pytest.approx(6000.0, rel=1e-6), "millimetres"


BAD = {
    "empty.stl": (b"", "is empty (0 bytes)"),
    "short.stl": (b"\x01\x02", "are fewer than its head"),
    "noise.stl": (bytes(range(256)) * 40, "is no STL"),
    "cut.stl": (b"x" * 80 + (100).to_bytes(4, "little") + b"\0" * 900, "is cut off: 100 triangles"),
    "none.stl": (b"x" * 80 + (0).to_bytes(4, "little"), "holds no triangle"),
    "noise.obj": (bytes(range(256)) * 4, ""),
    "noise.3mf": (b"PK\x03\x04 not a zip at all", "cannot be read as a mesh"),
    "words.obj": (b"this is a letter\n", ""),
    "part.step": (b"ISO-10303-21;", ""),
    "part.xyz": (b"1 2 3", "no mesh format known here"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_files_get_one_sentence(name, tmp_path):
    content, said = BAD[name]
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(RobotError) as caught:
        read_mesh(path)
    text = str(caught.value)
    assert said in text
    assert name in text
    assert "\n" not in text
    assert caught.value.cure.endswith(".")


def test_step_gives_a_closed_surface(tmp_path):
    """Referee: a cylinder drilled by the kernel itself, volume in closed form."""
    pytest.importorskip("OCP")
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder

    from legwright.fabrication.mesh import volume_moments
    from legwright.fabrication.soundness import soundness
    from legwright.fabrication.step import step_bytes

    block = BRepPrimAPI_MakeBox(30.0, 20.0, 10.0).Shape()
    quarter = BRepPrimAPI_MakeCylinder(5.0, 10.0).Shape()
    path = tmp_path / "part.step"
    path.write_bytes(step_bytes(BRepAlgoAPI_Cut(block, quarter).Shape(), "block"))
    held = read_mesh(path)
    assert held.unit == "mm"
    assert soundness(held.mesh).sound
    volume = 6000.0 - 0.25 * np.pi * 25.0 * 10.0
    assert volume_moments(held.mesh).zeroth == pytest.approx(volume, rel=5e-4)


def test_step_without_a_kernel_names_the_extra(tmp_path, monkeypatch):
    monkeypatch.setattr("legwright.fabrication.step_mesh.kernel_installed", lambda: False)
    path = tmp_path / "part.step"
    path.write_text("ISO-10303-21;")
    with pytest.raises(RobotError, match=r"legwright\[cad\]"):
        read_mesh(path)


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(RobotError, match="is not there"):
        read_mesh(tmp_path / "gone.stl")
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(RobotError, match="is no file"):
        read_mesh(tmp_path / "folder.stl")


def test_corners_that_are_no_numbers(tmp_path):
    raw = bytearray(stl_bytes(box((0.1,) * 3)))
    raw[96:100] = np.float32("nan").tobytes()
    path = tmp_path / "nan.stl"
    path.write_bytes(raw)
    with pytest.raises(RobotError, match="no finite numbers"):
        read_mesh(path)


def test_welding_agrees_with_trimesh():
    ball = trimesh.creation.icosphere(subdivisions=3)
    points, faces = welded(ball.triangles.astype(np.float32))
    assert len(points) == len(ball.vertices)
    np.testing.assert_allclose(points[faces], ball.triangles, atol=1e-7)
    assert of(trimesh.Trimesh(points, faces)).extent.max() == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("size", "taken", "beside", "guess"),
    [
        (0.26, "mm", 0.24, None),
        (0.00026, "mm", 0.24, "m"),
        (260.0, "m", 0.24, "mm"),
        (0.0102, "mm", 0.24, "inch"),
        (0.26, "mm", None, None),
        (260.0, "m", None, "mm"),
    ],
)
def test_millimetres_taken_for_metres(size, taken, beside, guess):
    found = unit_guess(size, taken, beside)
    assert (found.guess if found else None) == guess
    if found:
        assert taken in found.sentence
