"""The status line of a robot's terminal: what it says, and that colours are a screen's."""

from __future__ import annotations

import io

import numpy as np
import pytest
from rich.console import Console

from legwright.cli.status_line import BLOCK, status_line
from legwright.remote.glance import Glance, pack_glance, shades, unpack_glance


def line(glance: Glance) -> str:
    return status_line(glance).plain


def test_a_glance_survives_the_way():
    glance = Glance(
        mode="walking", faults=("tilt",), voltage=11.25, driver="ana", lights=("#00ff00",)
    )
    assert unpack_glance(pack_glance(glance)) == glance


def test_the_line_says_state_faults_voltage_driver_and_lights():
    glance = Glance(
        mode="standing", faults=("tilt", "winding warm"), voltage=11.25, driver="ana",
        lights=("#ffffff", "#ff0000"),
    )  # fmt: skip
    assert line(glance) == f"{BLOCK}{BLOCK}  standing  tilt  winding warm  11.2 V  ana drives"


def test_the_line_says_what_is_missing():
    assert line(Glance()) == "control process silent"
    assert line(Glance(mode="limp", recorded=False)) == "limp  nobody drives  not recorded"


def test_the_line_never_takes_two_lines():
    glance = Glance(mode="standing", faults=("foot without ground",) * 9, lights=("#00ff00",) * 40)
    console = Console(file=io.StringIO(), width=60)
    assert len(console.render_lines(status_line(glance))) == 1


@pytest.mark.parametrize(
    ("linear", "shade"),
    [(0.0, "00"), (0.0031308, "0a"), (0.2140, "7f"), (0.2159, "80"), (1.0, "ff"), (1.5, "ff")],
)
def test_shades_follow_the_curve_of_srgb(linear: float, shade: str):
    """Referee: IEC 61966-2-1; the middle grey of 8 bits is 21.6 % of full light."""
    assert shades(np.full((2, 3), linear)) == (f"#{3 * shade}",) * 2
