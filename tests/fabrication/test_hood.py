"""Generated hoods of the demo family and of other layouts: closed, thick, clear, printable."""

from pathlib import Path

import numpy as np
import pytest
import trimesh

import legwright as lw
from legwright.errors import RobotError
from legwright.fabrication.hood import hood, measures
from legwright.fabrication.rays import box_tree
from legwright.fabrication.shell import open_shell
from legwright.fabrication.shell_study import study_part
from legwright.fabrication.shell_sweep import range_gap
from legwright.fabrication.soundness import soundness
from legwright.robot.scaffold import new_robot
from legwright.robot.sheet import Shell

FAMILY = ("rook", "wren", "heron")


@pytest.fixture(scope="module", params=FAMILY)
def opened(request):
    robot = lw.load(f"robots/{request.param}")
    return robot, open_shell(robot, "hood")


def test_family_hoods_are_sound_and_fit_their_printers(opened):
    robot, shell = opened
    part = study_part(shell.mesh, shell.process)
    assert part.soundness.sound
    assert part.soundness.pieces == 1
    assert part.soundness.through_holes >= robot.sheet.lights.count if robot.sheet.lights else True
    assert part.fit.room >= 0.0
    assert part.walls.quantile(0.5) == pytest.approx(shell.entry.wall, rel=1e-6)
    assert part.mass.solid.mass == pytest.approx(shell.entry.mass, rel=0.02)
    theirs = trimesh.Trimesh(shell.mesh.points, shell.mesh.faces, process=False)
    assert theirs.is_watertight
    assert part.mass.volume == pytest.approx(theirs.volume, rel=1e-9)


def test_family_hoods_are_mirrored(opened):
    _, shell = opened
    solid = study_part(shell.mesh, shell.process).mass.solid
    assert abs(solid.com[1]) < 1e-4
    assert abs(solid.inertia[0, 1]) < 1e-3 * solid.inertia[2, 2]


def test_rooks_hood_keeps_clear_over_the_whole_ranges():
    robot = lw.load("robots/rook")
    shell = open_shell(robot, "hood")
    found = range_gap(robot, shell.link, shell.mesh, box_tree(shell.mesh))
    assert not found.blocked
    assert found.proven > 0.002


@pytest.mark.parametrize("legs", [4, 8])
def test_other_layouts_get_a_hood(legs, tmp_path: Path):
    robot = lw.load(new_robot(tmp_path / f"r{legs}", legs=legs))
    mesh = hood(robot, Shell(generate="hood", windows=4), "hood")
    assert soundness(mesh).sound


def test_measures_follow_the_sheet():
    robot = lw.load("robots/rook")
    made = measures(robot, Shell(generate="hood", rise="30 mm", skirt="20 mm", overlap="15 mm"))
    assert made.roof - made.belt == pytest.approx(0.03)
    assert made.belt - made.low == pytest.approx(0.02)
    assert np.abs(made.outline[:, 1]).max() > np.abs(robot.hips[:, 1]).max()


def test_a_hood_wants_a_trunk(tmp_path: Path):
    robot = lw.load("robots/rook")
    from dataclasses import replace
    from types import MappingProxyType

    links = dict(robot.tree.links)
    links[robot.body] = replace(links[robot.body], collision=(), visual=())
    bare = replace(robot, tree=replace(robot.tree, links=MappingProxyType(links)))
    with pytest.raises(RobotError, match="has no shape"):
        hood(bare, Shell(generate="hood"), "hood")
