"""Whether the kernels must be compiled first can be asked."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from twin import Twin

from legwright.locomotion.command import Command
from legwright.locomotion.controller import compiled
from legwright.robot.robot import Robot

ASK = "from legwright.locomotion.controller import compiled; print(compiled())"


def test_kernels_are_there_after_the_first_step_and_not_before(rook: Robot, tmp_path: Path) -> None:
    Twin(rook, feel=True).run(Command(), 1.0)
    assert compiled()
    place = dict(os.environ) | {"NUMBA_CACHE_DIR": str(tmp_path)}
    told = subprocess.run(
        [sys.executable, "-c", ASK],
        env=place,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert told.stdout.strip() == "False", told.stderr
