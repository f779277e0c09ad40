"""The command `legwright desk`: the workbench in a browser."""

from __future__ import annotations

import asyncio
import contextlib
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console

from legwright.errors import RequestError
from legwright.remote.key_file import default_folder
from legwright.remote.server import Tls, check_exposure, check_free, is_loopback
from legwright.remote.sign_in import Doors

if TYPE_CHECKING:
    from legwright.views.desk.session import Session

NOTE = "Nothing on disk changes but by 'keep as variant'. The tool advises, it does not certify."


def run_desk(
    path: Path, *, port: int, opening: bool, recordings: Path | None, host: str = "127.0.0.1",
    keys: Path | None = None, robot: str | None = None,
    authority: Path | None = None,
) -> int:  # fmt: skip
    """Serve a robot's workbench until it is stopped.

    Args:
        path: Robot folder, sheet or URDF.
        port: Port on this machine; 0 for any that is free.
        opening: Whether a browser is opened.
        recordings: Folder of recorded walks that may be opened; walks are kept there too.
        host: Address to listen at.
        keys: Folder of keys and certificates; on loopback nobody needs one unless it is given.
        robot: Address of a robot's program that is relayed from the start.
        authority: Certificate that signed the robot's.

    Returns:
        Exit code.
    """
    check_free(host, port)  # at once: what follows may take a minute
    from legwright.cli.checking import bar
    from legwright.cli.driving import doors_of
    from legwright.locomotion.controller import compiled
    from legwright.study.kernels import ready
    from legwright.views.desk.session import Session

    session = Session(path)
    if recordings is not None and not recordings.is_dir():
        raise RequestError("--recordings", str(recordings), "a folder that is there")
    doors, tls = None, None
    if keys is not None or not is_loopback(host):
        doors, tls = doors_of(keys or default_folder(), session.robot.name, local=is_loopback(host))
    check_exposure(host, locked=doors is not None and doors.locked, tls=tls)
    console = Console(highlight=False)
    with bar() as progress:
        ready(progress)
    if not compiled():
        console.print("Compiling kernels, once for this installation: 1 to 2 min.", style="dim")
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(
            _serve(
                session, port=port, opening=opening, recordings=recordings, host=host,
                doors=doors, tls=tls, robot=robot, authority=authority,
                console=console,
            )
        )  # fmt: skip
    return 0


async def _serve(
    session: Session, *, port: int, opening: bool, recordings: Path | None, host: str,
    doors: Doors | None, tls: Tls | None, robot: str | None,
    authority: Path | None, console: Console,
) -> None:  # fmt: skip
    from legwright.views.desk.desk import Desk
    from legwright.views.desk.driving import DriveWing
    from legwright.views.desk.serving import desk_listening
    from legwright.views.desk.walking import WalkWing

    desk = Desk(session, recordings=recordings)
    desk.wings.append(WalkWing(desk, recordings))
    desk.wings.append(DriveWing(desk, robot=robot, authority=authority, recordings=recordings))
    async with desk_listening(desk, host=host, port=port, doors=doors, tls=tls) as address:
        console.print(f"{session.robot.name} is on the desk: {address}  Ctrl-C ends.")
        console.print(NOTE, style="dim")
        if opening:
            await asyncio.to_thread(webbrowser.open, address)
        await asyncio.Event().wait()
