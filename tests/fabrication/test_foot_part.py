"""The replaceable foot as a part: closed, as large as closed forms say, and inside the rules."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sin
from pathlib import Path

import numpy as np
import pytest
import trimesh

import legwright as lw
from legwright.fabrication.foot_part import FootPart, foot_of
from legwright.fabrication.mesh import volume_moments
from legwright.fabrication.parts import part_files, parts_of
from legwright.fabrication.soundness import soundness
from legwright.fabrication.turned import AROUND, arc, revolved, turned_volume

ROBOTS = Path(__file__).parents[2] / "robots"
SMALLER = AROUND / (2.0 * pi) * sin(2.0 * pi / AROUND)
"""Area of a polygon in a circle over the circle's: by this a turned mesh is smaller."""


def _foot(name: str) -> FootPart:
    found = foot_of(lw.load(ROBOTS / name)).part
    assert found is not None
    return found


@pytest.mark.parametrize("name", ["wren", "rook", "heron"])
@pytest.mark.parametrize("split", [True, False])
def test_feet_are_closed_and_as_large_as_closed_forms_say(name: str, split: bool) -> None:
    """Referees: half ball, cone, cylinder; trimesh."""
    part = replace(_foot(name), split=split)
    volumes = {"foot-pad": part.pad_volume, "foot": part.pad_volume, "foot-boss": part.boss_volume}
    profiles = {"foot-pad": part.pad_profile, "foot": part.pad_profile,
                "foot-boss": part.boss_profile}  # fmt: skip
    assert len(part.meshes) == 1 + split
    for key, mesh in part.meshes.items():
        assert soundness(mesh).sound
        other = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
        assert other.is_watertight
        volume = volume_moments(mesh).zeroth
        assert volume == pytest.approx(other.volume, rel=1e-9)
        assert volume == pytest.approx(SMALLER * turned_volume(profiles[key]), rel=1e-9)
        assert volume == pytest.approx(volumes[key], rel=2e-3)
        assert volume < volumes[key]
    low, high = part.meshes["foot-pad" if split else "foot"].points[:, 2].min(), part.top
    assert low == pytest.approx(-part.radius, abs=1e-12)
    assert high == pytest.approx(part.floor + 0.5 * float(part.screw[1:]) * 1e-3 + part.depth)


def test_finer_meshes_approach_the_closed_form() -> None:
    """A ball by turning: the error falls with the square of the facets."""
    errors = []
    for count in (24, 48, 96):
        ball = revolved(arc((0.0, 0.0), 1.0, -pi / 2.0, pi / 2.0, count), 2 * count)
        errors.append(4.0 * pi / 3.0 - volume_moments(ball).zeroth)
    assert errors[-1] > 0.0
    np.testing.assert_allclose(errors[0] / np.array(errors[1:]), [4.0, 16.0], rtol=0.02)


def test_pad_and_boss_fill_what_one_part_fills() -> None:
    part = _foot("rook")
    one = replace(part, split=False)
    assert part.pad_volume + part.boss_volume == pytest.approx(one.pad_volume, rel=1e-12)


def test_what_is_missing_or_cannot_be(tmp_path: Path) -> None:
    sheet = tmp_path / "robot.toml"
    begin = f'schema = 1\nextends = "{ROBOTS / "rook" / "robot.toml"}"\nname = "finch"\n[foot]\n'
    sheet.write_text(begin + "replaceable = false\n")
    assert foot_of(lw.load(sheet)).part is None
    sheet.write_text(begin + 'screw = "M8"\n')
    assert "M8" in foot_of(lw.load(sheet)).trouble
    sheet.write_text(begin + 'radius = "14 mm"\nsole = "2.5 mm"\nscrew = "M6"\n')
    assert "foot.sole" in foot_of(lw.load(sheet)).trouble
    sheet.write_text(begin + 'radius = "14 mm"\nsole = "9 mm"\nscrew = "M6"\n')
    assert foot_of(lw.load(sheet)).part is not None


def test_files_of_the_feet(tmp_path: Path) -> None:
    """Written beside the plates; read back in millimetres."""
    parts = parts_of(lw.load(ROBOTS / "rook"))
    files = part_files(parts)
    for name in ("foot-pad", "foot-boss"):
        file = tmp_path / f"{name}.stl"
        file.write_bytes(files[file.name])
        back = trimesh.load(file)
        assert back.is_watertight
        assert back.volume * 1e-9 == pytest.approx(
            volume_moments(parts.foot.part.meshes[name]).zeroth, rel=1e-5
        )
