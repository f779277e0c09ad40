"""The commands `legwright send`: one order to a robot, from the command line."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from legwright.remote.connected_robot import ConnectedRobot
    from legwright.remote.seen import Touch

send = typer.Typer(
    help="Send one order to a robot, wait until it is done, and say how it ended.",
    no_args_is_help=True,
)

Leg = Annotated[str, typer.Argument(metavar="LEG", help="As right-front.")]
Target = Annotated[
    tuple[float, float] | None,
    typer.Option(metavar="X Y", help="Forward, left of the body's place [m]."),
]
Height = Annotated[float | None, typer.Option(help="[m]")]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Access:
    """How the robot is reached."""

    url: str
    token: str | None
    authority: Path | None
    certificate: tuple[Path, Path] | None

    def open(self, *, watch: bool = False) -> ConnectedRobot:
        """Connect; a simulated robot runs as fast as it can."""
        import legwright

        return legwright.connect(
            self.url, token=self.token, authority=self.authority, certificate=self.certificate,
            watch=watch, pace=None,
        )  # fmt: skip


@send.callback()
def reach(
    context: typer.Context,
    url: Annotated[str, typer.Argument(metavar="URL", help="wss://host:port, or sim:FOLDER.")],
    token: Annotated[
        str | None, typer.Option(envvar="LEGWRIGHT_TOKEN", help="Opens the robot.")
    ] = None,
    authority: Annotated[
        Path | None, typer.Option(help="Certificate that signed the robot's.")
    ] = None,
    certificate: Annotated[
        tuple[Path, Path] | None, typer.Option(metavar="FILE KEY", help="Of this client.")
    ] = None,
) -> None:
    """Send one order to a robot, wait until it is done, and say how it ended.

    The driver's place is taken for it and given up after it; a robot with power that nobody
    drives sits down and switches off after 30 s.
    """
    context.obj = _Access(url=url, token=token, authority=authority, certificate=certificate)


@send.command()
def stand(context: typer.Context, height: Height = None) -> None:
    """Get up if need be, and stand."""
    with _robot(context) as robot:
        robot.stand(height=height)
        _tell(robot)


@send.command()
def walk(
    context: typer.Context,
    forward: Annotated[float, typer.Option(help="[m/s]")] = 0.0,
    left: Annotated[float, typer.Option(help="[m/s]")] = 0.0,
    turn: Annotated[float, typer.Option(help="To the left [rad/s].")] = 0.0,
    gait: Annotated[str, typer.Option(help="The robot's default when left out.")] = "",
    seconds: Annotated[float, typer.Option(help="How long.")] = 2.0,
) -> None:
    """Walk for some seconds, and stand."""
    with _robot(context) as robot:
        robot.walk(forward=forward, left=left, turn=turn, gait=gait, seconds=seconds)
        _tell(robot)


@send.command()
def sit(context: typer.Context) -> None:
    """Lower the body to the ground."""
    with _robot(context) as robot:
        robot.sit()
        _tell(robot)


@send.command()
def release(context: typer.Context) -> None:
    """Sit down and switch drive power off."""
    with _robot(context) as robot:
        robot.release()
        _tell(robot)


@send.command()
def place(context: typer.Context, leg: Leg, target: Target = None) -> None:
    """Set one foot down."""
    with _robot(context) as robot:
        _touched(robot.leg(leg).place(target))


@send.command()
def probe(
    context: typer.Context,
    leg: Leg,
    push: Annotated[float, typer.Option(help="[N]")] = 5.0,
    target: Target = None,
) -> None:
    """Lower one foot until the ground pushes back; say where and how hard."""
    with _robot(context) as robot:
        _touched(robot.leg(leg).probe(push=push, target=target))


@send.command()
def stop(
    context: typer.Context,
    category: Annotated[
        int, typer.Option(min=0, max=2, help="0 power off now, 1 sit down first, 2 stand still.")
    ] = 1,
) -> None:
    """Stop the robot, whoever drives it."""
    with _robot(context, watch=True) as robot:
        robot.stop(category)  # type: ignore[arg-type]
        typer.echo(f"Stopped, category {category}. `acknowledge` lets it move again.")


@send.command()
def acknowledge(context: typer.Context) -> None:
    """Say that faults have been seen and their causes are gone."""
    with _robot(context) as robot:
        robot.acknowledge()
        _tell(robot)


@send.command()
def state(context: typer.Context) -> None:
    """Show what the robot is doing."""
    with _robot(context, watch=True) as robot:
        _tell(robot)
        for leg, joints in robot.state.joints.items():
            angles = "  ".join(f"{q:+.3f}" for q in joints.q)
            amperes = "  ".join(f"{i:+.2f}" for i in joints.current)
            typer.echo(f"{leg:<14} {angles} rad   {amperes} A")


@send.command()
def events(
    context: typer.Context,
    seconds: Annotated[float, typer.Option(help="How long to listen.")] = 60.0,
) -> None:
    """Show what happens to the robot, as it happens."""
    with _robot(context, watch=True) as robot:
        for event in robot.events(seconds=seconds):
            typer.echo(f"{event.time:10.2f}  {event.what:<14} {event.text}")


def run_find(seconds: float) -> int:
    """List the robots that tell where they are.

    Returns:
        Exit code: 1 where there are none.
    """
    import asyncio

    from legwright.remote.discovery import find

    found = asyncio.run(find(seconds))
    for robot in found:
        typer.echo(f"{robot.name:<16} {robot.url}  ({robot.address})")
    if not found:
        typer.echo("None: robots tell where they are only with `legwright drive --announce`.")
    return int(not found)


def _robot(context: typer.Context, *, watch: bool = False) -> ConnectedRobot:
    access: _Access = context.obj
    return access.open(watch=watch)


def _tell(robot: ConnectedRobot) -> None:
    seen = robot.state
    faults = f"; {', '.join(seen.faults)}" if seen.faults else ""
    x, y, yaw = seen.place
    typer.echo(
        f"{robot.name}: {seen.mode}{faults}; {seen.voltage:.1f} V; "
        f"x {x:+.3f} m, y {y:+.3f} m, yaw {yaw:+.3f} rad; driver {robot.driver or 'nobody'}"
    )


def _touched(touch: Touch) -> None:
    x, y, z = touch.point
    typer.echo(
        f"{touch.leg} touched at x {x:.3f}, y {y:.3f}, z {z:.3f} m (body frame) "
        f"with {touch.force:.1f} N"
    )
