"""`legwright shells`: exit codes, table, files, JSON; files that are no shells."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest
import trimesh

import legwright as lw
from legwright.study.check import study
from legwright.study.checks.shells import shell_findings
from legwright.study.finding import Verdict
from legwright.views.shell_sheets import shell_sheets

PROCESS = """
[process.print]
density = "1000 kg/m^3"
volume = ["200 mm", "200 mm", "200 mm"]
"""


def _variant(robots, folder, shell: str):
    (folder / "robot.toml").write_text(
        f'extends = "{(robots / "wren" / "robot.toml").as_posix()}"\n[shell.hood]\n{shell}\n'
        "counted = false\n" + PROCESS,
        encoding="utf-8",
    )
    return folder


def _lid(path, scale=1000.0):
    """A lid over wren's trunk, drawn in millimetres unless scaled otherwise."""
    outer = trimesh.creation.box(bounds=[[-0.09, -0.066, 0.024], [0.09, 0.066, 0.05]])
    inner = trimesh.creation.box(bounds=[[-0.088, -0.064, 0.0], [0.088, 0.064, 0.048]])
    lid = trimesh.boolean.difference([outer, inner])
    lid.apply_scale(scale)
    lid.export(path)
    return lid


def _plain_lid(robots, tmp_path, unit='"mm"'):
    return _variant(
        robots, tmp_path, f'mesh = "lid.stl"\nunit = {unit}\nprocess = "print"\nmass = "60 g"'
    )


def test_wren_passes_and_everything_is_written(command, robots, tmp_path):
    out, data = tmp_path / "wren", tmp_path / "wren.json"
    done = command("shells", robots / "wren", "--generate", "--out", out, "--json", data)
    assert done.code == 0, done.err + done.out
    assert "hood" in done.out
    names = {path.name for path in out.iterdir()}
    assert names == {"wren-hood.stl", "shells.html", "shell-hood-1.svg", "shell-hood-2.svg"}
    made = trimesh.load(out / "wren-hood.stl")
    assert made.is_watertight
    for name in ("shell-hood-1.svg", "shell-hood-2.svg"):
        assert ElementTree.parse(out / name).getroot().tag.endswith("svg")
    told = json.loads(data.read_text("utf-8"))
    assert told["verdict"] == "pass"
    shell = told["shells"][0]
    assert shell["watertight"] and shell["through_holes"] >= 6
    assert made.volume * 1e-9 == pytest.approx(shell["volume"], rel=1e-5)
    np.testing.assert_allclose(made.extents * 1e-3, shell["extent"], rtol=1e-5)
    names = [finding["name"] for finding in told["findings"]]
    assert {"hood clearance, tripod", "hood clearance, whole joint ranges", "foot life"} <= {*names}


def test_labels_of_the_sheets_do_not_collide(robots):
    found = study(lw.load(robots / "wren"), only=["shell"])
    for sheet in shell_sheets(found):
        for one, two in combinations([each for each in sheet.drawing.labels if each.text], 2):
            assert not one.meets(two), (sheet.name, one.text, two.text)
        for label in sheet.drawing.labels:
            assert label.left >= -0.01 and label.right <= sheet.drawing.width + 0.01, label
            assert label.top >= -0.01 and label.bottom <= sheet.drawing.height + 0.01, label


def _by_name(robot):
    return {finding.name: finding for finding in shell_findings(robot)}


def test_a_mesh_file_is_judged(robots, tmp_path):
    lid = _lid(tmp_path / "lid.stl")
    found = _by_name(lw.load(_plain_lid(robots, tmp_path)))
    assert found["hood closed"].verdict is Verdict.PASS
    assert found["hood size"].verdict is Verdict.PASS
    assert found["hood wall"].value == pytest.approx(2.0, abs=1e-3)
    worked = lid.volume * 1e-9 * 1000.0
    stated = found["hood mass as stated"]
    assert stated.verdict is Verdict.FAIL, "60 g stated, 80 g worked out"
    assert stated.value == pytest.approx(100 * abs(0.06 - worked) / worked, rel=1e-6)


def test_wrong_units_are_warned_of_with_the_guess(robots, tmp_path):
    _lid(tmp_path / "lid.stl", scale=1.0)
    found = _by_name(lw.load(_plain_lid(robots, tmp_path)))
    assert found["hood size"].verdict is Verdict.WARN
    assert "in m it would be 180 mm" in found["hood size"].why
    assert 'unit = "m"' in found["hood size"].cure
    found = _by_name(lw.load(_plain_lid(robots, tmp_path, unit='"m"')))
    assert found["hood size"].verdict is Verdict.PASS


def test_open_and_inverted_surfaces_are_told(robots, tmp_path):
    lid = _lid(tmp_path / "lid.stl")
    folder = _plain_lid(robots, tmp_path)
    lid.faces = lid.faces[:, ::-1]
    lid.export(tmp_path / "lid.stl")
    found = _by_name(lw.load(folder))
    assert found["hood facing outward"].verdict is Verdict.WARN
    assert "faces inward" in found["hood facing outward"].why
    lid.faces = lid.faces[:-3, ::-1]
    lid.export(tmp_path / "lid.stl")
    found = _by_name(lw.load(folder))
    assert found["hood closed"].verdict is Verdict.FAIL
    assert found["hood closed"].value > 0


def test_too_large_a_part_is_split(robots, tmp_path):
    _lid(tmp_path / "lid.stl", scale=2000.0)
    found = _by_name(lw.load(_plain_lid(robots, tmp_path)))
    assert found["hood fits the printer"].verdict is Verdict.FAIL
    assert "Split it at" in found["hood fits the printer"].cure


@pytest.mark.parametrize("content", [b"", b"\x00\xff" * 300, b"solid of nothing"])
def test_bad_files_end_with_one_sentence(command, robots, tmp_path, content):
    (tmp_path / "lid.stl").write_bytes(content)
    folder = _plain_lid(robots, tmp_path)
    done = command("shells", folder)
    assert done.code == 2
    assert done.err.count("\n") == 1 and "lid.stl" in done.err
    found = _by_name(lw.load(folder))
    assert found["hood can be read"].verdict is Verdict.FAIL


def test_relations_that_do_not_hold_are_told(command, robots, tmp_path):
    done = command("shells", _variant(robots, tmp_path, 'link = "trunkk"'))
    assert done.code == 2 and "trunk" in done.err
    done = command("shells", _variant(robots, tmp_path, 'process = "milling"'))
    assert done.code == 2 and "milling" in done.err


def test_counted_shells_join_their_link(robots, tmp_path):
    heavier = lw.load(robots / "wren")
    (tmp_path / "robot.toml").write_text(
        f'extends = "{(robots / "wren" / "robot.toml").as_posix()}"\n'
        "[shell.hood]\ncounted = false\n",
        encoding="utf-8",
    )
    plain = lw.load(tmp_path)
    entry = plain.sheet.shell["hood"]
    assert heavier.mass - plain.mass == pytest.approx(entry.mass, rel=1e-9)
    own, both = plain.tree.links[plain.body].solid, heavier.tree.links[plain.body].solid
    centre = (own.mass * own.com + entry.mass * np.array(entry.centre)) / both.mass
    np.testing.assert_allclose(both.com, centre, atol=1e-12)
    arms = [own.com - centre, np.array(entry.centre) - centre]
    xx = own.inertia[0, 0] + entry.inertia[0]
    xx += own.mass * (arms[0][1:] @ arms[0][1:]) + entry.mass * (arms[1][1:] @ arms[1][1:])
    assert both.inertia[0, 0] == pytest.approx(xx, rel=1e-9)


def test_counting_without_a_mass_is_refused(command, robots, tmp_path):
    (tmp_path / "robot.toml").write_text(
        (robots / "wren" / "robot.toml").read_text("utf-8").replace('mass = "41.0 g"\n', ""),
        encoding="utf-8",
    )
    done = command("shells", tmp_path)
    assert done.code == 2 and "shell.hood.mass" in done.err


def test_findings_are_found_again_by_another_process(robots, tmp_path):
    """Keys must not hang on the order of sets, which differs from process to process."""
    script = (
        "import sys\n"
        "from pathlib import Path\n"
        "import legwright as lw\n"
        "from legwright.study.checks import shells\n"
        "from legwright.study import finding_store as store\n"
        "store._user_cache = lambda: Path(sys.argv[2])\n"
        "made = []\n"
        "shells.shell_findings = lambda robot: made.append(1) or iter(())\n"
        "from types import SimpleNamespace\n"
        "robot = lw.load(sys.argv[1])\n"
        "asked = SimpleNamespace(gaits=())\n"
        "shells._still = lambda bench: made.append(1) or ()\n"
        "list(shells.check_shells(SimpleNamespace(robot=robot, asked=asked)))\n"
        "print(len(made))\n"
    )
    for seed, expected in (("1", "2"), ("2", "0")):
        done = subprocess.run(
            [sys.executable, "-c", script, str(robots / "wren"), str(tmp_path)],
            capture_output=True,
            text=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
            timeout=240,
            check=True,
        )
        assert done.stdout.split() == [expected]
