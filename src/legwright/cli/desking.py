"""The command `legwright desk`: the workbench in a browser."""

from __future__ import annotations

import asyncio
import contextlib
import webbrowser
from pathlib import Path

from rich.console import Console

from legwright.locomotion.controller import compiled

NOTE = "Nothing on disk changes but by 'keep as variant'. The tool advises, it does not certify."


def run_desk(path: Path, *, port: int, opening: bool) -> int:
    """Serve a robot's workbench until it is stopped.

    Args:
        path: Robot folder, sheet or URDF.
        port: Port on this machine; 0 for any that is free.
        opening: Whether a browser is opened.

    Returns:
        Exit code.
    """
    from legwright.views.desk.session import Session

    session = Session(path)
    console = Console(highlight=False)
    if not compiled():
        console.print("Compiling kernels, once for this installation: about a minute.", style="dim")
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_serve(session, port=port, opening=opening, console=console))
    return 0


async def _serve(session: object, *, port: int, opening: bool, console: Console) -> None:
    from legwright.views.desk.desk import Desk
    from legwright.views.desk.serving import desk_listening
    from legwright.views.desk.session import Session

    if not isinstance(session, Session):
        raise TypeError(session)
    async with desk_listening(Desk(session), port=port) as address:
        console.print(f"{session.robot.name} is on the desk: {address}  Ctrl-C ends.")
        console.print(NOTE, style="dim")
        if opening:
            await asyncio.to_thread(webbrowser.open, address)
        await asyncio.Event().wait()
