"""The command `legwright desk`: the workbench in a browser."""

from __future__ import annotations

import asyncio
import contextlib
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console

from legwright.errors import RequestError
from legwright.locomotion.controller import compiled

if TYPE_CHECKING:
    from legwright.views.desk.session import Session

NOTE = "Nothing on disk changes but by 'keep as variant'. The tool advises, it does not certify."


def run_desk(path: Path, *, port: int, opening: bool, recordings: Path | None) -> int:
    """Serve a robot's workbench until it is stopped.

    Args:
        path: Robot folder, sheet or URDF.
        port: Port on this machine; 0 for any that is free.
        opening: Whether a browser is opened.
        recordings: Folder of recorded walks that may be opened.

    Returns:
        Exit code.
    """
    from legwright.views.desk.session import Session

    session = Session(path)
    if recordings is not None and not recordings.is_dir():
        raise RequestError("--recordings", str(recordings), "a folder that is there")
    console = Console(highlight=False)
    if not compiled():
        console.print("Compiling kernels, once for this installation: about a minute.", style="dim")
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(
            _serve(session, port=port, opening=opening, recordings=recordings, console=console)
        )
    return 0


async def _serve(
    session: Session, *, port: int, opening: bool, recordings: Path | None, console: Console
) -> None:
    from legwright.views.desk.desk import Desk
    from legwright.views.desk.serving import desk_listening

    desk = Desk(session, recordings=recordings)
    async with desk_listening(desk, port=port) as address:
        console.print(f"{session.robot.name} is on the desk: {address}  Ctrl-C ends.")
        console.print(NOTE, style="dim")
        if opening:
            await asyncio.to_thread(webbrowser.open, address)
        await asyncio.Event().wait()
