"""Arguments that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

RobotPath = Annotated[
    Path, typer.Argument(metavar="ROBOT", help="A robot folder, a build sheet or a bare .urdf.")
]
JsonPath = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", help="Write the findings as JSON.")
]
ResultsPath = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", help="Write the results as JSON.")
]
