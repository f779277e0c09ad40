"""What may not matter does not: names and order in the file; and a mirror changes no verdict."""

from __future__ import annotations

import random
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

import legwright as lw
from legwright.study.check import check

WILD = Path(__file__).parents[1] / "data" / "wild"
BY_CHANCE = "link clearance, whole joint ranges"
"""Random poses, then a descent: its value depends on the draw of the legs' order."""

EDGE_STEP = 2.0**-7
"""Edges of the envelope are bisected this finely; a mirror may start from the other side."""


def values(path):
    return {(f.area, f.name): (f.value, f.limit, f.verdict) for f in check(lw.load(path))}


def assert_same(one, other, abs_, rel):
    assert one.keys() == other.keys()
    for key, (value, limit, verdict) in one.items():
        if key[1] == BY_CHANCE:
            continue
        for here, there in ((value, other[key][0]), (limit, other[key][1])):
            if here is None:
                assert there is None, key
            else:
                step = EDGE_STEP if key[0] == "envelope" else 0.0
                assert there == pytest.approx(here, abs=abs_, rel=max(rel, step)), key
        assert other[key][2] is verdict, key


def test_names_and_order_do_not_matter(tmp_path):
    """Joints renamed, all elements shuffled: the same legs, by place, so the same findings."""
    source = WILD / "r103.urdf"
    tree = ElementTree.parse(source)
    root = tree.getroot()
    names = [joint.get("name") for joint in root.iter("joint") if joint.get("name")]
    fresh = {name: f"hinge{number:03d}" for number, name in enumerate(sorted(names, reverse=True))}
    for joint in root.iter():
        if joint.tag in {"joint", "mimic"}:
            for key in ("name", "joint"):
                if joint.get(key) in fresh:
                    joint.set(key, fresh[joint.get(key)])
    parts = list(root)
    random.Random(5).shuffle(parts)
    root[:] = parts
    changed = tmp_path / "changed.urdf"
    tree.write(changed)
    old = {new: name for name, new in fresh.items()}
    found = {
        (area, re.sub(r"hinge\d{3}", lambda hit: old[hit[0]], name)): value
        for (area, name), value in values(changed).items()
    }
    assert_same(values(source), found, 1e-9, 1e-9)


def mirrored(text):
    """The URDF seen in a mirror at y = 0: vectors lose y's sign, axes (pseudo) x's and z's."""
    root = ElementTree.fromstring(text)

    def flip(element, key, signs):
        if element.get(key):
            numbers = map(float, element.get(key).split())
            element.set(
                key, " ".join(repr(s * n + 0.0) for s, n in zip(signs, numbers, strict=True))
            )

    for element in root.iter():
        if element.tag == "origin":
            flip(element, "xyz", (1, -1, 1))
            flip(element, "rpy", (-1, 1, -1))
        elif element.tag == "axis":
            flip(element, "xyz", (-1, 1, -1))
        elif element.tag == "inertia":
            for key in ("ixy", "iyz"):
                flip(element, key, (-1,))
    return ElementTree.tostring(root, encoding="unicode")


@pytest.mark.parametrize("name", ["r101", "r103"])
def test_a_mirrored_robot_has_the_same_findings(name, tmp_path):
    source = WILD / f"{name}.urdf"
    text = mirrored(source.read_text(encoding="utf-8"))
    assert not re.search(r"<mesh", text)
    other = tmp_path / source.name
    other.write_text(text, encoding="utf-8")
    assert_same(values(source), values(other), 1e-5, 1e-5)
