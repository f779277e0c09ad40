"""The command `legwright drive`: run a robot and let people in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from rich.console import Console
from rich.live import Live

import legwright
from legwright.cli.status_line import status_line
from legwright.errors import RequestError, did_you_mean
from legwright.locomotion.controller import compiled
from legwright.remote.attendant import ServiceSettings
from legwright.remote.glance import Glance
from legwright.remote.keeper import Keeper
from legwright.remote.key_file import FILE, default_folder, read_doors
from legwright.remote.server import Tls, check_exposure, check_free, is_loopback
from legwright.remote.sign_in import Doors, Role
from legwright.rig.choice import check_rig
from legwright.rig.control import Settings
from legwright.rig.hand.device import controllers
from legwright.rig.lights.shown import Pattern
from legwright.rig.logbook import made_folder

CAUTION = (
    "Keep hands clear of the legs and a stop within reach; nobody in front of a robot that stands "
    "up. Lithium cells: never unattended, never below cut-off. The tool advises, it does not "
    "certify."
)


def run_drive(
    path: Path, *, rig: str, options: list[str], host: str, port: int, keys: Path | None,
    origins: list[str], logs: Path | None, pad: str | None, lights: str,
    feel: bool, realtime: bool, announce: bool = False,
) -> int:  # fmt: skip
    """Run a robot until it is stopped.

    Returns:
        Exit code.
    """
    robot = legwright.load(path)  # a sheet with a mistake is told here, once
    check_rig(rig)
    console = Console(highlight=False)
    doors, tls = doors_of(keys or default_folder(), robot.name, local=is_loopback(host))
    check_exposure(host, locked=doors.locked, tls=tls)
    patterns = [pattern.value for pattern in Pattern]
    if lights not in patterns:
        raise RequestError(
            "--lights", lights, f"one of {', '.join(patterns)}. {did_you_mean(lights, patterns)}"
        )
    check_free(host, port)
    if logs is not None:
        made_folder(logs)
    line = Live(console=console, auto_refresh=False, transient=True)
    keeper = Keeper(
        Settings(
            robot=path, rig=rig, folder=Path(), feel=feel, realtime=realtime,
            options=dict(_pair(option) for option in options),
        ),
        ServiceSettings(
            robot=path, folder=Path(), logs=logs, host=host, port=port, doors=doors, tls=tls,
            origins=tuple(origins), pad=_pad(pad), pattern=Pattern(lights),
            announce=announce,
        ),
        tell=lambda text: console.print(text, soft_wrap=True),
        show=_shown_on(line) if console.is_terminal else None,
    )  # fmt: skip
    console.print(f"{robot.name} on {rig}. Ctrl-C sits it down and switches it off.")
    if not rig.startswith(("sim", "can:virtual", "replay")):
        console.print(CAUTION, style="dim")
    if not compiled():
        console.print("Compiling kernels, once for this installation: 1 to 2 min.", style="dim")
    if not console.is_terminal:
        return keeper.run()
    with line:
        return keeper.run()


def _shown_on(line: Live) -> Callable[[Glance], None]:
    return lambda glance: line.update(status_line(glance), refresh=True)


def doors_of(folder: Path, name: str, *, local: bool) -> tuple[Doors, Tls | None]:
    """Who may come in, and the robot's certificate where it has been made.

    On loopback nobody needs a key while there is none.
    """
    doors = read_doors(folder / FILE)
    if local and not doors.locked:
        doors = replace(doors, open_to=Role.MAINTAIN)
    files = folder / f"{name}.pem", folder / f"{name}.key"
    if not all(file.exists() for file in files):
        return doors, None
    authority = folder / "authority.pem"
    clients = authority if authority.exists() else None
    return doors, Tls(certificate=files[0], key=files[1], clients=clients)


def _pair(option: str) -> tuple[str, str]:
    name, sign, value = option.partition("=")
    if not sign:
        raise RequestError("--set", option, "like seed=3: a name, =, a value")
    return name.strip(), value.strip()


def _pad(text: str | None) -> Path | None:
    """A controller's device: named, or found."""
    if text is None:
        return None
    if text != "auto":
        return Path(text)
    found = controllers()
    if not found:
        raise RequestError("--pad", "auto", "a device: no controller is plugged in")
    return found[0]
