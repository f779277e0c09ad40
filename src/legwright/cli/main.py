"""The command `legwright`: thin; every heavy import waits until a command needs it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from legwright.cli.arguments import JsonPath, RobotPath
from legwright.cli.exits import UNREADABLE, Exit
from legwright.cli.keys import keys
from legwright.cli.logs import logs
from legwright.cli.sending import send
from legwright.cli.workshop import workshop
from legwright.errors import LegwrightError, RequestError

app = typer.Typer(
    name="legwright",
    help="From one robot folder: will this walking robot stand, walk and carry?",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

app.add_typer(logs, name="logs")
app.add_typer(keys, name="key")
app.add_typer(send, name="send")


@app.callback(invoke_without_command=True)
def front(
    version: Annotated[bool, typer.Option("--version", help="Say the version and stop.")] = False,
) -> None:
    """From one robot folder: will this walking robot stand, walk and carry?"""
    if version:
        from legwright import __version__

        typer.echo(__version__)
        raise typer.Exit


@app.command()
def check(
    robot: RobotPath,
    json_file: JsonPath = None,
    report: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Write the report, one HTML file, to DIR.")
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option(metavar="AREA", help="Judge only this area; may be given more than once."),
    ] = None,
    all_rows: Annotated[
        bool, typer.Option("--all", help="Show every finding, not only those to act on.")
    ] = False,
) -> None:
    """Say whether the robot will stand, walk and carry; why; and what to change.

    Exit code 0: nothing fails; 1: something fails; 2: the input cannot be read.
    """
    from legwright.cli.checking import run_check

    code = run_check(robot, json_file=json_file, report=report, only=only, all_rows=all_rows)
    raise typer.Exit(code)


@app.command()
def walk(
    robot: RobotPath,
    ground: Annotated[
        str,
        typer.Option(help="flat, slope, steps, ramps, rough, iso-a to iso-h, ... or a height map."),
    ] = "flat",
    gait: Annotated[str, typer.Option(help="tripod, ripple, wave, or one of the sheet.")] = (
        "ripple"
    ),
    speed: Annotated[float, typer.Option(help="Asked speed forward [m/s].")] = 0.05,
    height: Annotated[
        float, typer.Option(help="Height of the ground's steps, over leg length.")
    ] = 0.25,
    distance: Annotated[float, typer.Option(help="How far to walk [m].")] = 3.0,
    rate: Annotated[float, typer.Option(help="Control steps per second [Hz].")] = 200.0,
    trials: Annotated[int, typer.Option(help="How many seeds to walk.")] = 1,
    seed: Annotated[int, typer.Option(help="The first seed.")] = 0,
    blind: Annotated[bool, typer.Option(help="Walk each seed blind too.")] = True,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Write recording, film strip, animation and one page with plots and scorecard.",
        ),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the trials as JSON.")
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Record the first felt walk to this MCAP file."),
    ] = None,
) -> None:
    """Walk in the physics world, feeling the ground through servo current; print a scorecard.

    Exit code 0: every felt walk finished; 1: one did not; 2: the input cannot be read; 130:
    stopped by the user, who keeps what was walked.
    """
    from legwright.cli.walking import Request, run_walk

    request = Request(
        gait=gait, ground=ground, speed=speed, share=height, distance=distance, rate=rate,
        count=trials, seed=seed, blind=blind, json_file=json_file, record=record, out=out,
    )  # fmt: skip
    raise typer.Exit(run_walk(robot, request))


@app.command()
def replay(
    file: Annotated[Path, typer.Argument(metavar="FILE.mcap", help="A recording of a walk.")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write film strip, animation and one page with plots."),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the score as JSON.")
    ] = None,
) -> None:
    """Plot and score a recorded walk again, also one that was cut off.

    Exit code 0: read; 2: the file cannot be read.
    """
    from legwright.cli.replaying import run_replay

    raise typer.Exit(run_replay(file, out=out, json_file=json_file))


app.add_typer(workshop)


@app.command()
def drive(
    robot: RobotPath,
    rig: Annotated[
        str, typer.Option(help="sim, sim:GROUND, can:virtual, can:socketcan:can0,can1, ...")
    ] = "sim",
    options: Annotated[
        list[str] | None, typer.Option("--set", metavar="NAME=VALUE", help="For the rig.")
    ] = None,
    host: Annotated[str, typer.Option(help="Address to listen at.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 for a free one.")] = 8443,
    keys: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Keys and certificates; made by legwright key."),
    ] = None,
    origins: Annotated[
        list[str] | None, typer.Option("--origin", help="A page of another server that may come.")
    ] = None,
    logs_folder: Annotated[
        Path, typer.Option("--logs", metavar="DIR", help="Where recordings go.")
    ] = Path("logs"),
    pad: Annotated[str | None, typer.Option(help="A game controller: its device, or auto.")] = None,
    lights: Annotated[str, typer.Option(help="state, gait, load or value.")] = "state",
    feel: Annotated[bool, typer.Option(help="Feel the ground through servo current.")] = True,
    realtime: Annotated[bool, typer.Option(help="Ask for real-time priority.")] = True,
    announce: Annotated[
        bool, typer.Option("--announce", help="Tell the local network where the robot is.")
    ] = False,
) -> None:
    """Run a robot, simulated or real, and let clients in; Ctrl-C sits it down and ends.

    Exit code 0: it was switched off in order; 1: not; 2: the input cannot be read.
    """
    from legwright.cli.driving import run_drive

    code = run_drive(
        robot, rig=rig, options=options or [], host=host, port=port, keys=keys,
        origins=origins or [], logs=logs_folder, pad=pad, lights=lights, feel=feel,
        realtime=realtime, announce=announce,
    )  # fmt: skip
    raise typer.Exit(code)


@app.command()
def desk(
    robot: RobotPath,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port on this machine; 0 for a free one.")
    ] = 8417,
    opening: Annotated[
        bool, typer.Option("--open/--no-open", help="Open the page in a browser.")
    ] = True,
    recordings: Annotated[
        Path | None, typer.Option(help="Folder of recordings to open; walks are kept there too.")
    ] = None,
    address: Annotated[
        str | None,
        typer.Option(
            "--robot", metavar="WSS://…", help="A robot's program to drive from the desk."
        ),
    ] = None,
    authority: Annotated[
        Path | None, typer.Option(help="Certificate that signed the robot's: authority.pem.")
    ] = None,
    host: Annotated[
        str, typer.Option(help="Address to listen at; beyond this machine with keys only.")
    ] = "127.0.0.1",
    keys: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Keys and certificates; made by legwright key."),
    ] = None,
) -> None:
    """Open the workbench: see the robot, change it, judge it, watch it walk; Ctrl-C ends it.

    Exit code 0: it was ended; 2: the input cannot be read, or the port is taken.
    """
    from legwright.cli.desking import run_desk

    code = run_desk(
        robot, port=port, opening=opening, recordings=recordings, host=host, keys=keys,
        robot=address, authority=authority,
    )  # fmt: skip
    raise typer.Exit(code)


@app.command("find")
def find_robots(
    seconds: Annotated[float, typer.Option(min=0.1, help="How long to listen [s].")] = 2.0,
) -> None:
    """List the robots on the local network that tell where they are.

    Exit code 0: there are some; 1: none.
    """
    from legwright.cli.sending import run_find

    raise typer.Exit(run_find(seconds))


@app.command()
def bringup(
    robot: RobotPath,
    rig: Annotated[str, typer.Option(help="sim, or the robot's bus.")] = "sim",
    seed: Annotated[int, typer.Option(min=0, help="Of the simulated bench.")] = 0,
    begin: Annotated[
        str | None, typer.Option("--from", metavar="STEP", help="Begin again with this step.")
    ] = None,
    only: Annotated[str | None, typer.Option(metavar="STEP", help="Do this step alone.")] = None,
    zeros: Annotated[str, typer.Option(help="How zeros are found: stops, jig or hand.")] = "stops",
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Where record and certificate go; else the robot folder."),
    ] = None,
) -> None:
    """Bring a robot up on the bench: nodes, directions, zeros, friction, harness, first steps.

    Exit code 0: all steps in order; 1: a step is not; 2: the input cannot be read.
    """
    from legwright.cli.bringup import run_bringup

    code = run_bringup(robot, rig=rig, seed=seed, begin=begin, only=only, zeros=zeros, folder=out)
    raise typer.Exit(code)


@app.command()
def new(
    name: Annotated[str, typer.Argument(help="Name of the robot; the folder gets it too.")],
    legs: Annotated[int, typer.Option(min=3, max=20, help="Number of legs.")] = 6,
    into: Annotated[
        Path, typer.Option("--in", metavar="DIR", help="Where to put the folder.")
    ] = Path(),
) -> None:
    """Write a commented robot folder whose URDF is generated from its dimensions."""
    from legwright.robot.scaffold import new_robot

    if not name or Path(name).name != name:
        raise RequestError("name", name, "one plain name; --in DIR says where the folder goes")
    folder = new_robot(into / name, legs=legs)
    typer.echo(f"{folder}: a robot to edit. Next: legwright check {folder}")


@app.command()
def adopt(
    urdf: Annotated[Path, typer.Argument(metavar="FILE.urdf", help="An existing URDF.")],
    into: Annotated[
        Path | None,
        typer.Option(
            "--in", metavar="DIR", help="Folder for the sheet; beside the URDF if left out."
        ),
    ] = None,
) -> None:
    """Write a commented build sheet around an existing URDF."""
    from legwright.robot.scaffold import adopt as adopt_urdf

    sheet = adopt_urdf(urdf, into)
    typer.echo(f"{sheet}: fill in what you know. Next: legwright check {sheet.parent}")


def run() -> None:
    """Entry point: turns our own errors into one clear message and exit code 2."""
    try:
        app(standalone_mode=True)
    except LegwrightError as error:
        sys.stderr.write(f"legwright: {error}\n")
        raise SystemExit(UNREADABLE) from None
    except BrokenPipeError:
        sys.stderr.close()
        raise SystemExit(Exit.PASS) from None
    except KeyboardInterrupt:
        sys.stderr.write("legwright: stopped.\n")
        raise SystemExit(130) from None
