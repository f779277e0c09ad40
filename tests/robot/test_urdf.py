"""What the URDF reader makes of good descriptions; referee: yourdfpy's own parser."""

from __future__ import annotations

import random
import subprocess
import sys
from math import inf
from pathlib import Path

import numpy as np
import pytest
from descriptions import FOUR, Numbers, joint, link, robot_xml, walker, written

from legwright.errors import RobotError
from legwright.robot.loading import load
from legwright.robot.meshes import mesh_path
from legwright.robot.tree import JointKind, ShapeKind
from legwright.robot.urdf import read_urdf

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_numbers_agree_with_yourdfpy(path: Path) -> None:
    """Referee: yourdfpy, an independent URDF parser."""
    import yourdfpy

    other = yourdfpy.URDF.load(str(path), load_meshes=False, build_scene_graph=False).robot
    ours = read_urdf(path)
    assert list(ours.links) == [entry.name for entry in other.links]
    assert list(ours.joints) == [entry.name for entry in other.joints]
    for theirs in other.joints:
        mine = ours.joints[theirs.name]
        assert (mine.kind.value, mine.parent, mine.child) == (
            theirs.type,
            theirs.parent,
            theirs.child,
        )
        np.testing.assert_allclose(mine.placement, theirs.origin, atol=1e-14)
        if mine.moves:
            np.testing.assert_allclose(mine.axis, theirs.axis / np.linalg.norm(theirs.axis))
            assert (mine.effort, mine.velocity) == (theirs.limit.effort, theirs.limit.velocity)
        if mine.kind is JointKind.REVOLUTE:
            assert (mine.lower, mine.upper) == (theirs.limit.lower, theirs.limit.upper)
        if mine.kind is JointKind.CONTINUOUS:
            assert (mine.lower, mine.upper) == (-inf, inf)
    for theirs in other.links:
        solid = ours.links[theirs.name].solid
        if theirs.inertial is None:
            assert solid.mass == 0.0
            continue
        turn = theirs.inertial.origin[:3, :3]
        assert solid.mass == theirs.inertial.mass
        np.testing.assert_allclose(solid.com, theirs.inertial.origin[:3, 3], atol=1e-15)
        np.testing.assert_allclose(
            solid.inertia, turn @ theirs.inertial.inertia @ turn.T, atol=1e-15
        )


def test_values_that_may_be_left_out(tmp_path: Path) -> None:
    """Source: URDF specification: identity origin, axis (1, 0, 0), missing limit bound 0."""
    bare = (
        '<joint name="j" type="revolute"><parent link="a"/><child link="b"/>'
        '<limit upper="1" effort="1" velocity="1"/></joint>'
    )
    tree = read_urdf(written(tmp_path, [link("a", 1.0), link("b", None), bare]))
    only = tree.joints["j"]
    np.testing.assert_array_equal(only.placement, np.eye(4))
    np.testing.assert_array_equal(only.axis, [1, 0, 0])
    assert (only.lower, only.upper) == (0.0, 1.0)
    assert tree.links["b"].solid.mass == 0.0
    assert tree.parent_joint == {"b": "j"} and tree.child_joints == {"a": ("j",), "b": ()}


def test_axes_are_made_unit_length(tmp_path: Path) -> None:
    parts = [link("a"), link("b"), joint("j", "a", "b", axis=(0, 3, 4))]
    np.testing.assert_allclose(
        read_urdf(written(tmp_path, parts)).joints["j"].axis, [0, 0.6, 0.8], atol=1e-15
    )


def test_arrays_cannot_be_written_to(tmp_path: Path) -> None:
    tree = read_urdf(written(tmp_path, walker(FOUR)))
    one = tree.joints["k0_coxa"]
    for array in (one.placement, one.axis, tree.links["base"].solid.inertia):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0.0


def test_every_kind_of_shape(tmp_path: Path) -> None:
    (tmp_path / "shell.stl").write_bytes(b"never opened")
    shapes = (
        '<box size="1 2 3"/>', '<cylinder radius="0.1" length="0.4"/>', '<sphere radius="0.2"/>',
        '<mesh filename="shell.stl" scale="0.001 0.001 0.001"/>',
        '<capsule radius="0.1" length="0.4"/>',
    )  # fmt: skip
    part = link("a").replace("</link>", "") + "".join(
        f'<collision><origin xyz="0 0 1" rpy="0 1.5707963267948966 0"/><geometry>{s}</geometry>'
        "</collision>"
        for s in shapes
    )
    read = read_urdf(written(tmp_path, [part + "</link>"])).links["a"].shapes
    assert [shape.kind for shape in read] == [
        ShapeKind.BOX, ShapeKind.CYLINDER, ShapeKind.SPHERE, ShapeKind.MESH,
        ShapeKind.CYLINDER, ShapeKind.SPHERE, ShapeKind.SPHERE,
    ]  # fmt: skip
    assert [shape.size for shape in read[:4]] == [(1, 2, 3), (0.1, 0.4), (0.2,), (0.001,) * 3]
    assert read[3].mesh == tmp_path / "shell.stl"
    np.testing.assert_allclose(read[5].placement[:3, 3], [-0.2, 0, 1], atol=1e-15)
    np.testing.assert_allclose(read[6].placement[:3, 3], [0.2, 0, 1], atol=1e-15)


@pytest.mark.parametrize(
    "name",
    ["meshes/shell.stl", "package://robin/meshes/shell.stl", "model://robin/meshes/shell.stl",
     "package://elsewhere/meshes/shell.stl", "file://{}/robin/meshes/shell.stl",
     "package://robin/meshes%2Fshell.stl"],
)  # fmt: skip
def test_where_meshes_are_found(name: str, tmp_path: Path) -> None:
    folder = tmp_path / "robin"
    (folder / "meshes").mkdir(parents=True)
    (folder / "urdf").mkdir()
    mesh = folder / "meshes" / "shell.stl"
    mesh.touch()
    urdf = folder / ("robot.urdf" if "://" not in name else "urdf/robot.urdf")
    assert mesh_path(name.format(tmp_path), urdf) == mesh


def test_meshes_in_a_package_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mesh = tmp_path / "elsewhere" / "robin" / "shell.stl"
    mesh.parent.mkdir(parents=True)
    mesh.touch()
    here = tmp_path / "a" / "b" / "c" / "d" / "e" / "f" / "g"
    here.mkdir(parents=True)
    assert mesh_path("package://robin/shell.stl", here / "robot.urdf") is None
    monkeypatch.setenv("ROS_PACKAGE_PATH", f":{tmp_path / 'elsewhere'}")
    assert mesh_path("package://robin/shell.stl", here / "robot.urdf") == mesh


def test_meshes_that_are_not_found(tmp_path: Path) -> None:
    for name in (
        "shell.stl",
        "package://robin/shell.stl",
        "http://x/shell.stl",
        "a\0b",
        "package://",
    ):
        assert mesh_path(name, tmp_path / "robot.urdf") is None


def test_what_else_a_urdf_may_hold_is_left_alone(tmp_path: Path) -> None:
    extra = [
        '<material name="ink"><color rgba="0 0 0 1"/></material>',
        '<transmission name="t"><joint name="k0_coxa"/><link name="base"/></transmission>',
        '<simulation reference="base"><mu>0.9</mu></simulation>', "<!-- <link name='base'/> -->",
    ]  # fmt: skip
    plain = read_urdf(written(tmp_path, walker(FOUR)))
    assert read_urdf(written(tmp_path, [*walker(FOUR), *extra])).links.keys() == plain.links.keys()


def test_a_long_description_is_read_quickly(tmp_path: Path) -> None:
    """A thousand links in one chain beside the legs, a thousand fixed around the body."""
    parts = walker(FOUR)
    before = "base"
    for i in range(950):
        parts += [joint(f"c{i}", before, f"c{i}_l", (0, 0, 1e-4)), link(f"c{i}_l", 0.001)]
        parts += [joint(f"f{i}", "base", f"f{i}_l", kind="fixed"), link(f"f{i}_l", None)]
        before = f"c{i}_l"
    path = written(tmp_path, parts)
    robot = load(path, solver=Numbers)  # type: ignore[arg-type]
    assert len(robot.legs) == 4


def test_reading_imports_no_geometry_library() -> None:
    code = (
        "import sys; from legwright.robot.loading import load;"
        f"load({str(WILD[0])!r}, solver=lambda chain: None);"
        "print(sorted({'trimesh', 'yourdfpy', 'mujoco', 'scipy', 'numba'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("seed", range(4))
def test_mutilated_text_never_gives_another_error(seed: int, tmp_path: Path) -> None:
    """Characters cut, doubled and swapped, numbers replaced: a robot or a RobotError."""
    chance = random.Random(seed)
    good = robot_xml(walker(FOUR))
    path = tmp_path / "robot.urdf"
    outcomes = {"loaded": 0, "refused": 0}
    for _ in range(120):
        path.write_text(mutilated(chance, good), encoding="utf-8")
        try:
            load(path, solver=Numbers)  # type: ignore[arg-type]
            outcomes["loaded"] += 1
        except RobotError as error:
            assert error.problem and error.cure
            outcomes["refused"] += 1
    assert min(outcomes.values()) > 5


ODD = ("", "-1", "0", "1e300", "-1e-300", "nan", "inf", "0x1", "1 2 3 4", "'", "<", "&amp;", "é")


def mutilated(chance: random.Random, text: str) -> str:
    kind = chance.randrange(4)
    if kind == 0:
        quotes = [i for i, c in enumerate(text) if c == '"']
        k = 2 * chance.randrange(len(quotes) // 2)
        return text[: quotes[k] + 1] + chance.choice(ODD) + text[quotes[k + 1] :]
    lines = text.split("\n")
    i, j = chance.randrange(len(lines)), chance.randrange(len(lines))
    if kind == 1:
        del lines[i]
    elif kind == 2:
        lines.insert(j, lines[i])
    else:
        at = chance.randrange(len(text))
        return text[:at] + chance.choice("<>\"'/=& \0a") + text[at + chance.randrange(3) :]
    return "\n".join(lines)
