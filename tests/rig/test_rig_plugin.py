"""The plug-in door: the documented template, found by its entry point, keeps the contract."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from importlib import invalidate_caches
from pathlib import Path

import pytest
from rig_contract import CONTRACT, Given

from legwright.errors import RequestError, RigError
from legwright.rig.choice import known_rigs, rig_of
from legwright.robot.robot import Robot

TEMPLATE = Path(__file__).parents[2] / "examples" / "parrot_rig.py"


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The template as an installed distribution, its entry points as a wheel writes them."""
    (tmp_path / "parrot_rig.py").write_text(TEMPLATE.read_text("utf-8"), "utf-8")
    facts = tmp_path / "parrot_rig-1.0.dist-info"
    facts.mkdir()
    (facts / "METADATA").write_text("Metadata-Version: 2.1\nName: parrot-rig\nVersion: 1.0\n")
    (facts / "entry_points.txt").write_text(
        "[legwright.rigs]\nparrot = parrot_rig:open_rig\nbroken = parrot_rig:nothing_there\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    invalidate_caches()
    yield tmp_path
    sys.modules.pop("parrot_rig", None)


@pytest.mark.parametrize("check", CONTRACT, ids=lambda check: check.__name__)
def test_the_template_keeps_the_contract(
    rook: Robot, installed: Path, check: Callable[[Given], None]
):
    check(Given(rig=rig_of("parrot:/dev/null", rook, {"rate": "50"})))


def test_a_plugin_is_known_and_offered(rook: Robot, installed: Path):
    assert "parrot" in known_rigs()
    with pytest.raises(RequestError, match="Did you mean 'parrot'"):
        rig_of("parot:x", rook)


def test_its_own_errors_come_through_and_others_carry_its_name(rook: Robot, installed: Path):
    with pytest.raises(RigError, match="Name the port"):
        rig_of("parrot", rook)
    with pytest.raises(RigError, match=r"Rig plug-in 'parrot' .*ValueError"):
        rig_of("parrot:x", rook, {"rate": "fast"})
    with pytest.raises(RigError, match=r"Rig plug-in 'broken' .*nothing_there"):
        rig_of("broken:x", rook)
