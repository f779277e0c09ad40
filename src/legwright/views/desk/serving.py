"""The desk on this machine's loopback: page, WebSocket, files, and the checks at the door."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import BaseRoute, Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket, WebSocketDisconnect

from legwright.remote.server import POLICY, Tls, check_exposure, tls_context
from legwright.remote.serving import Transport, bound_socket, served
from legwright.remote.sign_in import Doors
from legwright.views.desk.desk import Desk
from legwright.views.desk.door import App, Door
from legwright.views.desk.pages import Page
from legwright.views.desk.wire import LARGEST

PATH = "/desk"
PAGE = Path(__file__).parent / "page"
"""The built page."""
SLOW = 5.0
"""A page that takes nothing for so long is cut off; it comes back by itself [s]."""
PING, PONG = 5.0, 10.0
"""Period of the transport's pings, and how long an answer may take [s]."""
MOST_PAGES = 16
UNBUILT = (
    "The page is not built yet. In a checkout: make page (needs Node.js), or install the package, "
    "which builds it.\n"
)


def routes_of(desk: Desk) -> list[BaseRoute]:
    """All that the desk serves.

    Args:
        desk: The desk; all is called from the loop that serves.
    """

    async def converse(connection: WebSocket) -> None:
        if len(list(desk.board.pages)) >= MOST_PAGES:
            await connection.close(POLICY, "too many pages")
            return
        await connection.accept()
        await _converse(desk, connection)

    async def drawing(request: Request) -> Response:
        theme = request.query_params.get("theme", "light")
        svg = await desk.drawing(request.path_params["name"], theme)
        if svg is None:
            return PlainTextResponse("There is no such drawing of this robot now.\n", 404)
        return Response(svg, media_type="image/svg+xml", headers={"cache-control": "no-store"})

    page: App = StaticFiles(directory=PAGE, html=True) if PAGE.is_dir() else _unbuilt
    wings = [route for wing in desk.wings for route in wing.routes]
    return [
        WebSocketRoute(PATH, converse), Route("/drawing/{name}.svg", drawing), *wings,
        Mount("/", page),
    ]  # fmt: skip


async def _unbuilt(scope: Any, receive: Any, send: Any) -> None:
    await PlainTextResponse(UNBUILT, status_code=503)(scope, receive, send)


async def _converse(desk: Desk, connection: WebSocket) -> None:
    """Both directions, until one ends."""
    ready = asyncio.Event()
    page = Page(ready.set)
    parts = {
        asyncio.create_task(_hear(desk, page, connection)),
        asyncio.create_task(_tell(page, connection, ready)),
    }
    try:
        done, _ = await asyncio.wait(parts, return_when=asyncio.FIRST_COMPLETED)
    finally:
        desk.leave(page)
        for part in parts:
            part.cancel()
        await asyncio.gather(*parts, return_exceptions=True)
    for part in done:
        error = None if part.cancelled() else part.exception()
        if error is not None and not isinstance(error, WebSocketDisconnect | OSError):
            raise error


async def _hear(desk: Desk, page: Page, connection: WebSocket) -> None:
    while True:
        message = await connection.receive()
        if message["type"] == "websocket.disconnect":
            return
        text = message.get("text")
        await desk.hear(page, text if text is not None else message.get("bytes") or b"")


async def _tell(page: Page, connection: WebSocket, ready: asyncio.Event) -> None:
    while True:
        await ready.wait()
        ready.clear()
        for frame in page.drain():
            try:
                async with asyncio.timeout(SLOW):
                    if isinstance(frame, str):
                        await connection.send_text(frame)
                    else:
                        await connection.send_bytes(frame)
            except (TimeoutError, RuntimeError):
                return


# Listening ----------------------------------------------------------------------------------


def _ignored(_: str) -> None:
    """A handshake failed: a browser that does not trust the certificate yet."""


@asynccontextmanager
async def desk_listening(
    desk: Desk, *, host: str = "127.0.0.1", port: int = 0, doors: Doors | None = None,
    tls: Tls | None = None,
) -> AsyncIterator[str]:  # fmt: skip
    """Serve a desk while the context lasts.

    Args:
        desk: The desk; it is started and closed here.
        host: Address to listen at.
        port: Port; 0 for any that is free.
        doors: Keys; everybody on this machine may come in when there is none.
        tls: Certificate and key; None only on loopback.

    Yields:
        The address to open: ``http://127.0.0.1:8417/``.

    Raises:
        RequestError: If it would be exposed without a secret or TLS.
        LinkError: If the port is taken.
    """
    check_exposure(host, locked=doors is not None and doors.locked, tls=tls)
    app = Starlette(routes=routes_of(desk))
    app.add_middleware(GZipMiddleware, minimum_size=1024)
    transport = Transport(protocol="websockets-sansio", largest=LARGEST, ping=PING, pong=PONG)
    context = None if tls is None else partial(tls_context, tls, _ignored)
    bound = bound_socket(host, port)
    await desk.start()
    try:
        door = Door(host=host, doors=doors).around(app)
        async with served(door, bound, transport, context) as place:
            yield f"{'http' if tls is None else 'https'}://{place}/"
    finally:
        await desk.close()
