"""The service on the network: one WebSocket endpoint, TLS, and the checks at the door."""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import socket
import ssl
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from starlette.applications import Starlette
from starlette.routing import BaseRoute, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from legwright.errors import LinkError, RequestError
from legwright.remote.said import Error
from legwright.remote.service import Service
from legwright.remote.serving import Transport, bound_socket, served
from legwright.remote.session import Peer
from legwright.remote.wire import LARGEST, frame

PATH = "/robot"
PING = 0.5
"""Period of the transport's pings, and how long an answer may take [s]."""
SLOW = 5.0
"""A reader that takes nothing for so long is cut off [s]."""
RETRY, POLICY, TOO_LARGE = 1013, 1008, 1009
"""Close codes of RFC 6455 and its registry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tls:
    """Files for a listening socket; all PEM."""

    certificate: Path
    key: Path
    clients: Path | None = None
    """Certificate of the authority whose client certificates let people in."""


def endpoint(
    service: Service, *, clock: Callable[[], float], names: Sequence[str] = (),
    origins: Sequence[str] = (),
) -> WebSocketRoute:  # fmt: skip
    """The route to a robot, for any Starlette application.

    Args:
        service: The robot's; all is called from the loop that serves.
        clock: The robot's steady time [s].
        names: Host names of this server beside its own and addresses.
        origins: Pages of other servers that may connect, as ``https://host:port``.
    """
    known = {"localhost", socket.gethostname(), f"{socket.gethostname()}.local", *names}

    async def robot(connection: WebSocket) -> None:
        peer = _peer(connection)
        if not _welcome(connection, known, origins):
            origin = connection.headers.get("origin", "")
            service.note(clock(), "refused", f"{peer.address}: the origin {origin!r} is foreign.")
            await connection.close(POLICY)
            return
        await connection.accept()
        ready = asyncio.Event()
        try:
            id = service.open(clock(), peer=peer, wake=ready.set)
        except LinkError as error:
            with contextlib.suppress(WebSocketDisconnect, RuntimeError):
                await connection.send_text(
                    frame(Error(word=error.word, text=error.text, fatal=True))
                )
                await connection.close(RETRY, error.word)
            return
        try:
            await _converse(service, id, connection, ready, clock)
        finally:
            service.close(id, clock())

    return WebSocketRoute(PATH, robot)


async def _converse(
    service: Service, id: str, connection: WebSocket, ready: asyncio.Event,
    clock: Callable[[], float],
) -> None:  # fmt: skip
    """Both directions, until one ends."""
    parts = {
        asyncio.create_task(_hear(service, id, connection, clock)),
        asyncio.create_task(_tell(service, id, connection, ready)),
    }
    try:
        done, _ = await asyncio.wait(parts, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for part in parts:
            part.cancel()
        await asyncio.gather(*parts, return_exceptions=True)
    for part in done:
        error = None if part.cancelled() else part.exception()
        if error is not None and not isinstance(error, WebSocketDisconnect | OSError):
            raise error


async def _hear(
    service: Service, id: str, connection: WebSocket, clock: Callable[[], float]
) -> None:
    while True:
        message = await connection.receive()
        if message["type"] == "websocket.disconnect":
            return
        text = message.get("text")
        service.receive(id, text if text is not None else message.get("bytes") or b"", clock())


async def _tell(service: Service, id: str, connection: WebSocket, ready: asyncio.Event) -> None:
    while True:
        await ready.wait()
        ready.clear()
        for text in service.drain(id):
            try:
                async with asyncio.timeout(SLOW):
                    await connection.send_text(text)
            except (TimeoutError, RuntimeError):
                return
        if service.ended(id):
            with contextlib.suppress(RuntimeError):
                await connection.close(POLICY, "see the last error")
            return


def _peer(connection: WebSocket) -> Peer:
    address = connection.client.host if connection.client is not None else "unknown"
    return Peer(address=address, certificate=connection.scope["state"].get("certificate", ""))


def _welcome(connection: WebSocket, names: set[str], origins: Sequence[str]) -> bool:
    """Whether a connection comes from no page, from our own, or from one that was allowed.

    A page is our own where its origin is the address that it was reached by, and that address
    is truly ours: another name that was made to lead here (DNS rebinding) is not.
    """
    origin = connection.headers.get("origin")
    if origin is None or origin in origins:
        return True
    host = connection.headers.get("host", "")
    try:
        place, name = urlsplit(origin).netloc, urlsplit(f"//{host}").hostname or ""
    except ValueError:  # what looks like an address and is none
        return False
    if place != host:
        return False
    with contextlib.suppress(ValueError):
        ipaddress.ip_address(name)
        return True
    return name in names


# Listening --------------------------------------------------------------------------------


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach an address."""
    if host == "localhost":
        return True
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(host).is_loopback
    return False


def check_exposure(host: str, *, locked: bool, tls: Tls | None) -> None:
    """Refuse to listen beyond loopback without a secret, or where it could be overheard.

    Raises:
        RequestError: saying what to set.
    """
    if is_loopback(host):
        return
    if not locked:
        raise RequestError(
            "host", host,
            "a loopback address (127.0.0.1) while no key is set. Make one: legwright key add NAME",
        )  # fmt: skip
    if tls is None:
        raise RequestError(
            "host", host,
            "a loopback address (127.0.0.1) without TLS. Make certificates: legwright key tls",
        )  # fmt: skip


def check_free(host: str, port: int) -> None:
    """Look whether a port can be had, before anything else is started.

    Raises:
        LinkError: If it cannot.
    """
    bound_socket(host, port).close()


class _Protocol(WebSocketsSansIOProtocol):
    """Tells the application whose client certificate TLS has verified."""

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        tls = transport.get_extra_info("ssl_object")
        found = (tls.getpeercert() or {}) if tls is not None else {}
        subject = dict(pair for part in found.get("subject", ()) for pair in part)
        self.app_state = {**self.app_state, "certificate": subject.get("commonName", "")}


@asynccontextmanager
async def listening(
    routes: Sequence[BaseRoute], service: Service, *, clock: Callable[[], float],
    host: str = "127.0.0.1", port: int = 8443, tls: Tls | None = None,
) -> AsyncIterator[str]:  # fmt: skip
    """Serve while the context lasts.

    Args:
        routes: `endpoint`, and whatever else is to be served.
        service: For its doors and its log.
        clock: The robot's steady time [s].
        host: Address to listen at.
        port: Port; 0 for any that is free.
        tls: Certificate and key; None only on loopback.

    Yields:
        The address for `lw.connect`.

    Raises:
        RequestError: If it would be exposed without a secret or TLS.
        LinkError: If the port is taken.
    """
    check_exposure(host, locked=service.doors.locked, tls=tls)
    note: Callable[[str], None] = lambda text: service.note(clock(), "refused", text)  # noqa: E731
    transport = Transport(protocol=_Protocol, largest=LARGEST, ping=PING, pong=PING)
    context = None if tls is None else partial(tls_context, tls, note)
    app, bound = Starlette(routes=list(routes)), bound_socket(host, port)
    async with served(app, bound, transport, context) as place:
        yield f"{'ws' if tls is None else 'wss'}://{place}"


def tls_context(tls: Tls, note: Callable[[str], None]) -> ssl.SSLContext:
    """TLS for the listening side; handshakes that fail are noted.

    Raises:
        LinkError: Word ``certificate`` where the files cannot be used.
    """

    class Noting(ssl.SSLObject):
        """Notes why a handshake failed."""

        def do_handshake(self) -> None:
            try:
                super().do_handshake()
            except ssl.SSLWantReadError:
                raise
            except ssl.SSLError as error:
                note(f"TLS handshake: {(error.reason or str(error)).replace('_', ' ').lower()}.")
                raise

    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.sslobject_class = Noting
    try:
        context.load_cert_chain(tls.certificate, tls.key)
        if tls.clients is not None:
            context.load_verify_locations(tls.clients)
            context.verify_mode = ssl.CERT_OPTIONAL
    except (OSError, ssl.SSLError) as error:
        text = f"{tls.certificate} and {tls.key} cannot be used: {error}. Pass PEM files."
        raise LinkError("certificate", text) from None
    return context
