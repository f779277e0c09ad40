"""Broken descriptions: each gives one RobotError with its place and a cure, nothing else."""

from __future__ import annotations

import pickle
import re
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from descriptions import FOUR, Numbers, joint, link, mast, robot_xml, walker

from legwright.errors import RobotError
from legwright.robot.loading import load

GOOD = robot_xml(walker(FOUR))
Change = Callable[[str], str]


def swap(old: str, new: str) -> Change:
    def change(text: str) -> str:
        assert old in text, "the mutation must bite"
        return text.replace(old, new, 1)

    return change


def add(*parts: str) -> Change:
    return lambda text: text.replace("</robot>", "\n".join(parts) + "</robot>")


def every(pattern: str, new: str) -> Change:
    def change(text: str) -> str:
        changed, count = re.subn(pattern, new, text)
        assert count, "the mutation must bite"
        return changed

    return change


FEMUR = '<link name="k0_2"><inertial><origin xyz="0 0 0"/><mass value="0.1"/>'
SPAN = '<limit lower="-0.8" upper="0.8" effort="4" velocity="6"/>'
BOX = '<box size="0.3 0.16 0.05"/>'
TENSOR = 'ixx="2e-4" iyy="2e-4" izz="2e-4" ixy="0" ixz="0" iyz="0"'
MESH = '<mesh filename="{}"/>'

BROKEN: dict[str, tuple[Change, str, str]] = {
    # name: (mutation, what the problem says, what the place names)
    "empty": (lambda _: "", "is empty", ""),
    "blank": (lambda _: " \n\t\n", "is empty", ""),
    "prose": (lambda _: "a robot with six legs", "not XML", "line 1"),
    "cut off": (lambda t: t[: len(t) // 2], "not XML|ends before", "line"),
    "unclosed": (swap("</robot>", ""), "ends before", "line"),
    "crossed tags": (swap("</inertial>", "</inertia>"), "not XML", "line 3"),
    "control character": (swap("robin", "ro\x01bin"), "not XML", "line 2"),
    "other root": (lambda _: "<mujoco/>", "<mujoco>, not <robot>", "line 1"),
    "web page": (lambda _: "<html><body/></html>", "<html>, not <robot>", "line 1"),
    "no links": (lambda _: '<robot name="robin"/>', "no <link>", "<robot>"),
    "xacro": (swap('size="0.3', 'size="${wide}'), "xacro", "line 3"),
    "xacro macro": (add("<xacro:leg/>"), "xacro", "xacro:leg"),
    "doctype": (swap("<robot", '<!DOCTYPE robot SYSTEM "x.dtd">\n<robot'), "DOCTYPE", "line 2"),
    "entity bomb": (
        swap(
            "<robot",
            '<!DOCTYPE r [<!ENTITY a "aa"><!ENTITY b "&a;&a;"><!ENTITY c "&b;&b;">]>\n<robot',
        ),
        "DOCTYPE",
        "line 2",
    ),
    "nesting": (add("<a>" * 300 + "</a>" * 300), "deep", "line"),
    "capital link": (add('<Link name="x"/>'), "not a URDF element", "<Link>"),
    "link without name": (swap('<link name="k0_1">', "<link>"), "no name", "link"),
    "joint without name": (swap('joint name="k0_coxa"', "joint"), "no name", "joint"),
    "two links of one name": (add(link("base")), "second link", "link 'base'"),
    "two joints of one name": (
        add(link("x"), joint("k0_coxa", "base", "x")),
        "second joint",
        "joint 'k0_coxa'",
    ),
    "unknown parent": (swap('<parent link="base"', '<parent link="bass"'), "'bass'", "k0_coxa"),
    "unknown child": (swap('<child link="k0_1"', '<child link="k0_l"'), "'k0_l'", "k0_coxa"),
    "no parent": (swap('<parent link="base"/>', ""), "lacks <parent>", "k0_coxa"),
    "empty child": (swap('<child link="k0_1"/>', '<child link=""/>'), "no link", "k0_coxa"),
    "two parents": (add(joint("again", "k1_1", "k0_1")), "carries already", "again"),
    "own parent": (add(link("x"), joint("self", "x", "x")), "loop", "self"),
    "loop": (
        add(link("x"), link("y"), joint("xy", "x", "y"), joint("yx", "y", "x")),
        "loop",
        "link 'x'",
    ),
    "loop through the root": (add(joint("back", "k0_foot", "base")), "loop", "link 'base'"),
    "separate part": (add(link("stray")), "separate parts", "link 'stray'"),
    "unknown type": (swap('type="revolute"', 'type="revolve"'), "'revolve'", "k0_coxa"),
    "no type": (swap(' type="revolute"', ""), "no type", "k0_coxa"),
    "free leg": (swap('type="revolute"', 'type="floating"'), "free", "k0_coxa"),
    "zero axis": (swap('axis xyz="0 0 1"', 'axis xyz="0 0 0"'), "is zero", "k0_coxa"),
    "NaN axis": (swap('axis xyz="0 0 1"', 'axis xyz="0 0 nan"'), "'nan'", "k0_coxa"),
    "short axis": (swap('axis xyz="0 0 1"', 'axis xyz="0 1"'), "3 numbers", "k0_coxa"),
    "NaN place": (swap('xyz="0.12 0.08 0"', 'xyz="NaN 0.08 0"'), "'NaN'", "k0_coxa"),
    "infinite turn": (swap('rpy="0 0 1.57079632679"', 'rpy="0 0 inf"'), "'inf'", "k0_coxa"),
    "words for numbers": (swap('xyz="0.12 0.08 0"', 'xyz="12cm 0 0"'), "'12cm'", "k0_coxa"),
    "overflow": (swap('xyz="0.12 0.08 0"', 'xyz="1e999 0 0"'), "1e999", "k0_coxa"),
    "millimetres": (swap('xyz="0.12 0.08 0"', 'xyz="12000 8 0"'), "1000 m away", "k0_coxa"),
    "limits swapped": (
        swap(SPAN, '<limit lower="0.8" upper="-0.8" effort="4" velocity="6"/>'),
        "swapped",
        "k0_coxa",
    ),
    "no limit": (swap(SPAN, ""), "no <limit>", "k0_coxa"),
    "limit without range": (
        swap(SPAN, '<limit effort="4" velocity="6"/>'),
        "neither lower nor upper",
        "k0_coxa",
    ),
    "degrees": (swap('lower="-0.8"', 'lower="-800"'), "wider", "k0_coxa"),
    "negative effort": (swap('effort="4"', 'effort="-4"'), "effort -4", "k0_coxa"),
    "negative speed": (swap('velocity="6"', 'velocity="-6"'), "velocity -6", "k0_coxa"),
    "NaN effort": (swap('effort="4"', 'effort="nan"'), "'nan'", "k0_coxa"),
    "negative mass": (swap(FEMUR, FEMUR.replace("0.1", "-0.1")), "-0.1 kg", "link 'k0_2'"),
    "zero mass": (swap(FEMUR, FEMUR.replace("0.1", "0")), "0 kg", "link 'k0_2'"),
    "zero body mass": (swap('<mass value="1.5"/>', '<mass value="0"/>'), "0 kg", "link 'base'"),
    "mass without value": (swap('<mass value="0.1"/>', "<mass/>"), "lacks value", "link 'k0_1'"),
    "inertial without mass": (swap('<mass value="0.1"/>', ""), "lacks <mass>", "link 'k0_1'"),
    "no mass at all": (every(r"<inertial>.*?</inertial>", ""), "weighs nothing", "<robot>"),
    "negative inertia": (swap('iyy="2e-4"', 'iyy="-2e-4"'), "principal moment", "link 'base'"),
    "impossible inertia": (swap('iyy="2e-4"', 'iyy="2e-3"'), "no body can have", "link 'base'"),
    "impossible product": (swap('ixy="0"', 'ixy="9e-4"'), "principal moment", "link 'base'"),
    "inertia cut short": (swap('iyy="2e-4" ', ""), "lacks iyy", "link 'base'"),
    "missing mesh": (swap(BOX, MESH.format("shell.stl")), "'shell.stl'", "link 'base'"),
    "missing package": (
        swap(BOX, MESH.format("package://robin/shell.stl")),
        "package://robin",
        "link 'base'",
    ),
    "mesh from the web": (
        swap(BOX, MESH.format("https://example.org/shell.stl")),
        "https:",
        "link 'base'",
    ),
    "mesh without name": (swap(BOX, "<mesh/>"), "no filename", "link 'base'"),
    "unknown shape": (swap(BOX, "<cone/>"), "<cone>", "link 'base'"),
    "no geometry": (swap(f"<geometry>{BOX}</geometry>", ""), "lacks <geometry>", "link 'base'"),
    "negative size": (swap("0.3 0.16 0.05", "0.3 -0.16 0.05"), "out of range", "link 'base'"),
    "flat box": (swap("0.3 0.16 0.05", "0.3 0.16"), "3 numbers", "link 'base'"),
    "mimic of nobody": (
        swap(SPAN, SPAN + '<mimic joint="k0_femmur"/>'),
        "'k0_femmur'",
        "k0_coxa",
    ),
    "mimic of itself": (swap(SPAN, SPAN + '<mimic joint="k0_coxa"/>'), "itself", "k0_coxa"),
    "mimics in a ring": (
        lambda t: t.replace(SPAN, SPAN + '<mimic joint="k1_coxa"/>', 1).replace(
            'type="revolute"><parent link="base"/><child link="k1_1"/>',
            'type="revolute"><mimic joint="k0_coxa"/><parent link="base"/><child link="k1_1"/>',
        ),
        "itself",
        "k0_coxa",
    ),
    "mimic of a fixed joint": (
        swap(SPAN, SPAN + '<mimic joint="k0_end"/>'),
        "does not move",
        "k0_coxa",
    ),
    "mimic of another leg": (
        every(r'(name="k0_tibia".*?)</joint>', r'\1<mimic joint="k1_tibia"/></joint>'),
        "own leg",
        "k0_tibia",
    ),
    "mimic that never fits": (
        every(r'(name="k0_tibia".*?)</joint>', r'\1<mimic joint="k0_femur" offset="9"/></joint>'),
        "never lies inside",
        "k0_tibia",
    ),
    "no legs": (lambda _: robot_xml([link("base", 1.0), *mast()]), "no legs", "<robot>"),
    "all fixed": (every(r'type="revolute"', 'type="fixed"'), "no legs", "<robot>"),
    "one leg": (lambda _: robot_xml(walker(FOUR[:1])), "one leg", "k0_coxa"),
    "feet that stay above the hips": (
        lambda t: every(r'lower="-1.2" upper="1.2"', 'lower="-1.2" upper="-1.0"')(
            t.replace('lower="0" upper="2.2"', 'lower="-0.4" upper="0.2"')
        ),
        "touch the ground",
        "joint 'k",
    ),
    "feet that stay above the belly": (
        swap(BOX, '<box size="0.3 0.16 1.5"/>'),
        "touch the ground",
        "_foot",
    ),
    "too many links": (add(*(f'<link name="x{i}"/>' for i in range(2100))), "2000", "<robot>"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_broken_urdf_gives_one_clear_error(case: str, tmp_path: Path) -> None:
    change, problem, place = BROKEN[case]
    path = tmp_path / "robot.urdf"
    path.write_text(change(GOOD), encoding="utf-8")
    with pytest.raises(RobotError) as caught:
        load(path, solver=Numbers)  # type: ignore[arg-type]
    error = caught.value
    assert error.file == path
    assert place in error.place
    assert re.search(problem, error.problem), error.problem
    assert len(error.cure) > 8 and error.cure.endswith((".", "?", "robot.urdf")), error.cure
    assert "\n" not in str(error) and len(str(error)) < 700
    assert str(pickle.loads(pickle.dumps(error))) == str(error)


def test_the_unbroken_one_loads(tmp_path: Path) -> None:
    path = tmp_path / "robot.urdf"
    path.write_text(GOOD, encoding="utf-8")
    assert len(load(path, solver=Numbers).legs) == 4  # type: ignore[arg-type]


def test_problems_are_distinct() -> None:
    assert len(BROKEN) >= 70


@pytest.mark.parametrize(
    ("wrong", "near"),
    [('<parent link="bass"', "'base'"), ('<mimic joint="k0_femmur"', "'k0_femur'")],
)
def test_near_names_are_offered(wrong: str, near: str, tmp_path: Path) -> None:
    text = GOOD.replace('<parent link="base"', wrong, 1) if "parent" in wrong else GOOD.replace(
        SPAN, f"{SPAN}{wrong}/>", 1
    )  # fmt: skip
    path = tmp_path / "robot.urdf"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RobotError) as caught:
        load(path, solver=Numbers)  # type: ignore[arg-type]
    assert near in caught.value.cure


def refused(path: Path) -> RobotError:
    with pytest.raises(RobotError) as caught:
        load(path, solver=Numbers)  # type: ignore[arg-type]
    assert caught.value.file == path and caught.value.cure
    return caught.value


def test_a_huge_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "robot.urdf"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    start = time.perf_counter()
    assert "100 MB" in refused(path).problem
    assert time.perf_counter() - start < 0.1


def test_text_in_another_encoding(tmp_path: Path) -> None:
    path = tmp_path / "robot.urdf"
    path.write_bytes(GOOD.replace("robin", "Rotkéhlchen").encode("latin-1"))
    error = refused(path)
    assert error.problem == "is not UTF-8 text" and error.place == "line 2"


def test_binary_nonsense(tmp_path: Path) -> None:
    path = tmp_path / "robot.urdf"
    path.write_bytes(bytes(range(256)) * 40)
    refused(path)


def test_text_in_utf_16_or_with_a_mark(tmp_path: Path) -> None:
    path = tmp_path / "robot.urdf"
    path.write_bytes(GOOD.encode("utf-16"))
    refused(path)
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert load(path, solver=Numbers).name == "robin"  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["gone.urdf", "gone", "x" * 300 + ".urdf", "nul\0.urdf", ""])
def test_paths_that_lead_nowhere(name: str, tmp_path: Path) -> None:
    refused(tmp_path / name)


def test_an_external_entity_is_never_opened(tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("secret")
    path = tmp_path / "robot.urdf"
    entity = f'<!DOCTYPE r [<!ENTITY s SYSTEM "file://{tmp_path}/secret.txt">]>\n<robot'
    path.write_text(GOOD.replace("<robot", entity, 1).replace("robin", "&s;"))
    assert "secret" not in str(refused(path)).replace(str(tmp_path), "")
