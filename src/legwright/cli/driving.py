"""The command `legwright drive`: run a robot and let people in."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

import legwright
from legwright.errors import RequestError, did_you_mean
from legwright.remote.attendant import ServiceSettings
from legwright.remote.keeper import Keeper
from legwright.remote.server import Tls, check_exposure
from legwright.remote.sign_in import Doors
from legwright.rig.control import Settings
from legwright.rig.hand.device import controllers
from legwright.rig.lights.shown import Pattern

CAUTION = (
    "Keep hands clear of the legs and a stop within reach; nobody in front of a robot that stands "
    "up. Lithium cells: never unattended, never below cut-off. The tool advises, it does not "
    "certify."
)


def run_drive(
    path: Path, *, rig: str, options: list[str], host: str, port: int, doors: Doors,
    tls: Tls | None, origins: list[str], logs: Path | None, pad: str | None, lights: str,
    feel: bool, realtime: bool,
) -> int:  # fmt: skip
    """Run a robot until it is stopped.

    Returns:
        Exit code.
    """
    robot = legwright.load(path)  # a sheet with a mistake is told here, once
    console = Console(highlight=False)
    check_exposure(host, locked=doors.locked, tls=tls)
    patterns = [pattern.value for pattern in Pattern]
    if lights not in patterns:
        raise RequestError(
            "--lights", lights, f"one of {', '.join(patterns)}. {did_you_mean(lights, patterns)}"
        )
    from legwright.locomotion.compiling import compiled

    keeper = Keeper(
        Settings(
            robot=path, rig=rig, folder=Path(), feel=feel, realtime=realtime,
            options=dict(_pair(option) for option in options),
        ),
        ServiceSettings(
            robot=path, folder=Path(), logs=logs, host=host, port=port, doors=doors, tls=tls,
            origins=tuple(origins), pad=_pad(pad), pattern=Pattern(lights),
        ),
        tell=lambda text: console.print(text, soft_wrap=True),
    )  # fmt: skip
    console.print(f"{robot.name} on {rig}. Ctrl-C sits it down and switches it off.")
    if not rig.startswith(("sim", "can:virtual", "replay")):
        console.print(CAUTION, style="dim")
    if not compiled():
        console.print("Compiling kernels, once for this installation: about 40 s.", style="dim")
    return keeper.run()


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
