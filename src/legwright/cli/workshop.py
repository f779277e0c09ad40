"""Commands that say how a robot is wired, made and put together."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from legwright.cli.arguments import ResultsPath, RobotPath

workshop = typer.Typer()


@workshop.command()
def wiring(
    robot: RobotPath,
    choosing: Annotated[
        bool,
        typer.Option("--choose", help="Choose the lightest wires, hub copper and fuses that pass."),
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write drawings, lists and one HTML page to DIR."),
    ] = None,
    json_file: ResultsPath = None,
) -> None:
    """Say what the wiring carries; draw and list it for the assembler.

    Exit code 0: nothing fails; 1: something fails; 2: the input cannot be read.
    """
    from legwright.cli.wiring import run_wiring

    raise typer.Exit(run_wiring(robot, choosing=choosing, out=out, json_file=json_file))


@workshop.command("round")
def round_dimensions(
    robot: RobotPath,
    grid: Annotated[
        str | None, typer.Option(help="Step of lengths, 5mm, or preferred numbers, R20.")
    ] = None,
    angle: Annotated[str | None, typer.Option(help="Step of hip angles, 15deg.")] = None,
    spread: Annotated[
        int | None, typer.Option(min=1, max=12, help="Values tried on either side of today's.")
    ] = None,
    top: Annotated[int, typer.Option(min=1, help="Length of the shortlist.")] = 10,
    pin: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY", help="Keep this dimension, or set it: femur, femur=85mm."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write the best layout as a new robot folder."),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the layouts as JSON.")
    ] = None,
) -> None:
    """Find round dimensions close to today's that lose least, and what each rounding costs.

    Exit code 0: found; 1: no layout on the grid works; 2: the input cannot be read.
    """
    from legwright.cli.rounding import run_round

    code = run_round(
        robot, grid=grid, angle=angle, spread=spread, top=top, pins=pin or [], out=out,
        json_file=json_file,
    )  # fmt: skip
    raise typer.Exit(code)


@workshop.command()
def shells(
    robot: RobotPath,
    generate: Annotated[
        bool, typer.Option("--generate", help="Write the generated shells as STL, in mm.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Write drawings and shells to DIR.")
    ] = None,
    json_file: ResultsPath = None,
) -> None:
    """Say whether the shells are closed, printable and clear of the legs; what they weigh.

    Exit code 0: nothing fails; 1: something fails; 2: the input cannot be read.
    """
    from legwright.cli.shells import run_shells

    raise typer.Exit(run_shells(robot, generate=generate, out=out, json_file=json_file))


@workshop.command()
def pack(
    robot: RobotPath,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for the build book; build/NAME when left out."),
    ] = None,
    json_file: ResultsPath = None,
) -> None:
    """Write the build book: bill, drawings, screws, order of assembly, tests, checksums.

    Exit code 0: nothing fails; 1: something fails; 2: the input cannot be read.
    """
    from legwright.cli.packing import run_pack

    raise typer.Exit(run_pack(robot, out=out, json_file=json_file))


@workshop.command()
def parts(
    robot: RobotPath,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write drawings, DXF, STL, STEP and tables to DIR."),
    ] = None,
    json_file: ResultsPath = None,
) -> None:
    """Lay out body plates and hip brackets; say what tolerances do; write what a workshop needs.

    Exit code 0: nothing fails; 1: something fails; 2: the input cannot be read.
    """
    from legwright.cli.parts import run_parts

    raise typer.Exit(run_parts(robot, out=out, json_file=json_file))


@workshop.command()
def compare(
    robots: Annotated[
        list[Path],
        typer.Argument(metavar="ROBOT...", help="Robot folders, build sheets or bare .urdf files."),
    ],
    html: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write one page that prints well.")
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option(metavar="AREA", help="Judge only this area; may be given more than once."),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the figures as JSON.")
    ] = None,
) -> None:
    """Check robots and put them side by side, the verdict first.

    Exit code 0: nothing fails; 1: a robot fails; 2: the input cannot be read.
    """
    from legwright.cli.comparing import run_compare

    raise typer.Exit(run_compare(robots, only=only, html=html, json_file=json_file))
