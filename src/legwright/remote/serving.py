"""A bound socket, and an application served on it while a context lasts."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from typing import Any

import uvicorn

from legwright.errors import LinkError

BUFFER = 65_536
"""What the system may hold back for one reader [byte]: old news waits nowhere else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Transport:
    """How WebSocket connections are kept."""

    protocol: Any
    """What uvicorn speaks it with."""
    largest: int
    """Frame that is taken [byte]."""
    ping: float
    """Period of the transport's pings [s]."""
    pong: float
    """How long an answer may take [s]."""


class _Server(uvicorn.Server):
    """Leaves signals to whoever runs it."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


@asynccontextmanager
async def served(
    app: Any, bound: socket.socket, transport: Transport,
    tls: Callable[[], ssl.SSLContext] | None = None,
) -> AsyncIterator[str]:  # fmt: skip
    """Serve an ASGI application while the context lasts.

    Args:
        app: The application.
        bound: See `bound_socket`.
        transport: How connections are kept.
        tls: Makes what handshakes need; None: no TLS.

    Yields:
        Where it is, as ``127.0.0.1:8443``.
    """
    host, port = bound.getsockname()[:2]
    config = uvicorn.Config(
        app,
        host=host,
        port=port,
        log_config=None,
        access_log=False,
        lifespan="off",
        server_header=False,
        ws=transport.protocol,
        ws_max_size=transport.largest,
        ws_ping_interval=transport.ping,
        ws_ping_timeout=transport.pong,
        ws_per_message_deflate=False,
        timeout_graceful_shutdown=1,
        ssl_context_factory=None if tls is None else (lambda *_: tls()),
    )
    server = _Server(config)
    serving = asyncio.create_task(server.serve(sockets=[bound]))
    try:
        while not server.started and not serving.done():
            await asyncio.sleep(0.01)
        yield f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    finally:
        server.should_exit = True
        with contextlib.suppress(asyncio.CancelledError):
            await serving


def bound_socket(host: str, port: int) -> socket.socket:
    """A bound socket, not yet listening.

    Args:
        host: Address.
        port: Port; 0 for any that is free.

    Raises:
        LinkError: If it cannot be had.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, BUFFER)  # connections inherit it
    try:
        bound.bind((host, port))
    except OSError as error:
        bound.close()
        text = f"Port {port} of {host} cannot be had: {error.strerror}. Choose another: --port."
        raise LinkError("busy", text) from None
    return bound
