"""The relay: frames between a page and a robot, one connection to the robot for each page.

The desk reads none of them: who may do what is decided by the robot, for each page by itself.
"""

from __future__ import annotations

import asyncio
import contextlib
from pathlib import Path
from urllib.parse import urlsplit

from starlette.websockets import WebSocket, WebSocketDisconnect

from legwright.errors import LinkError, RequestError
from legwright.remote.said import Error
from legwright.remote.server import is_loopback
from legwright.remote.socket_line import Socket, dial
from legwright.remote.wire import frame

SLOW = 5.0
"""A page that takes nothing for so long is cut off [s]."""
LATER = 1013
"""Close code of RFC 6455's registry: try again later."""


def checked_address(address: str) -> str:
    """An address that the relay may dial.

    Args:
        address: As somebody typed it.

    Raises:
        RequestError: for another scheme, no host, or plain ``ws`` beyond this machine.
    """
    address = address.strip()
    try:
        parts = urlsplit(address)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        host, port, parts = "", None, urlsplit("")
    del port
    if parts.scheme not in ("ws", "wss") or not host:
        raise RequestError("address", address, "like wss://rook.local:8443")
    if parts.scheme == "ws" and not is_loopback(host):
        raise RequestError(
            "address", address, "wss:// beyond this machine: ws:// can be overheard and changed"
        )
    if parts.username or parts.password:
        raise RequestError("address", "with a password", "without: sign in on the page")
    return address


async def relay(page: WebSocket, address: str, authority: Path | None) -> None:
    """Pass frames both ways until one side ends.

    Args:
        page: An accepted connection.
        address: Of the robot.
        authority: File of the certificate that signed the robot's; the system's when None.
    """
    try:
        robot = await dial(address, certificate=None, authority=authority)
    except LinkError as error:
        with contextlib.suppress(WebSocketDisconnect, RuntimeError):
            await page.send_text(frame(Error(word=error.word, text=error.text, fatal=True)))
            await page.close(LATER, error.word)
        return
    parts = {asyncio.create_task(_ask(page, robot)), asyncio.create_task(_say(page, robot))}
    try:
        done, _ = await asyncio.wait(parts, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for part in parts:
            part.cancel()
        await asyncio.gather(*parts, return_exceptions=True)
        await robot.close()
    for part in done:
        failed = None if part.cancelled() else part.exception()
        if failed is not None and not isinstance(
            failed, LinkError | WebSocketDisconnect | OSError | TimeoutError | RuntimeError
        ):
            raise failed
    with contextlib.suppress(RuntimeError):
        await page.close(LATER, "the robot is gone")


async def _ask(page: WebSocket, robot: Socket) -> None:
    while True:
        message = await page.receive()
        if message["type"] == "websocket.disconnect":
            return
        text = message.get("text")
        if text is None:  # the robot says what it thinks of it
            text = (message.get("bytes") or b"").decode("utf-8", "replace")
        await robot.send(text)


async def _say(page: WebSocket, robot: Socket) -> None:
    while True:
        text = await robot.receive()
        async with asyncio.timeout(SLOW):
            await page.send_text(text)
