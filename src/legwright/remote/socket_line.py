"""A WebSocket as a line, with the network's errors in our words."""

from __future__ import annotations

import ssl
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import (
    ConnectionClosed,
    InvalidHandshake,
    InvalidMessage,
    InvalidStatus,
    WebSocketException,
)

from legwright.errors import LinkError
from legwright.remote.wire import LARGEST

PATH = "/robot"
"""Of the endpoint, where the address has none."""
DIALLING, LEAVING = 5.0, 0.5
"""Time for the handshake, and for the farewell [s]."""


class Socket:
    """A WebSocket to a robot."""

    def __init__(self, connection: ClientConnection) -> None:
        """Wrap a connection."""
        self._connection = connection

    async def send(self, text: str) -> None:
        """Send one frame."""
        try:
            await self._connection.send(text)
        except ConnectionClosed as error:
            raise _gone(error) from None

    async def receive(self) -> str:
        """Wait for the next frame."""
        try:
            found = await self._connection.recv()
        except ConnectionClosed as error:
            raise _gone(error) from None
        return found if isinstance(found, str) else found.decode("utf-8", "replace")

    def wanted(self, yes: bool) -> None:
        """A robot with a clock does not care."""

    async def close(self) -> None:
        """Leave."""
        await self._connection.close()


async def dial(
    url: str, *, certificate: tuple[Path, Path] | None, authority: Path | None
) -> Socket:
    """Connect to a robot on the network.

    Args:
        url: ``wss://host:port``.
        certificate: Files of the client's certificate and key.
        authority: File of the certificate that signed the robot's.

    Raises:
        LinkError: saying what is in the way and what to do.
    """
    parts = urlsplit(url)
    whole = urlunsplit(parts._replace(path=parts.path.rstrip("/") or PATH))
    host = parts.netloc
    context = _context(certificate, authority) if parts.scheme == "wss" else None
    try:
        # No pings and a brief close: loss is noticed by the protocol, not by the transport.
        connection = await connect(
            whole, ssl=context, open_timeout=DIALLING, close_timeout=LEAVING,
            ping_interval=None, max_size=4 * LARGEST, compression=None, proxy=None,
        )  # fmt: skip
    except ssl.SSLCertVerificationError as error:
        text = (
            f"{host} shows a certificate that is not trusted: {error.verify_message}. "
            "Pass authority=… with the certificate that signed it, or renew it on the robot."
        )
        raise LinkError("certificate", text) from None
    except ssl.SSLError as error:
        raise LinkError("certificate", _tls(host, error)) from None
    except InvalidStatus as error:
        raise LinkError("refused", _status(host, error.response.status_code)) from None
    except TimeoutError:
        text = f"{host} did not answer within {DIALLING:g} s. Look at network and robot."
        raise LinkError("lost", text) from None
    except ConnectionRefusedError:
        text = f"Nothing listens at {host}. Is the robot's program running there?"
        raise LinkError("lost", text) from None
    except (OSError, InvalidHandshake, WebSocketException) as error:
        refused = _beneath(error)
        if refused is not None:
            raise LinkError("certificate", _tls(host, refused)) from None
        if certificate is not None and isinstance(error, InvalidMessage):
            raise LinkError("certificate", _hung_up(host, certificate[0])) from None
        text = f"{host} cannot be reached: {error}. Look at address, port, and ws or wss."
        raise LinkError("lost", text) from None
    return Socket(connection)


def _context(certificate: tuple[Path, Path] | None, authority: Path | None) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=authority)
        if certificate is not None:
            context.load_cert_chain(*certificate)
    except (OSError, ssl.SSLError) as error:
        files = [str(path) for path in (*(certificate or ()), authority) if path is not None]
        text = f"{', '.join(files)} cannot be used: {error}. Pass PEM files."
        raise LinkError("certificate", text) from None
    return context


def _tls(host: str, error: ssl.SSLError) -> str:
    reason = (error.reason or str(error)).replace("_", " ").lower()
    if "certificate" in reason:
        return (
            f"{host} does not accept this client's certificate ({reason}). "
            "Pass certificate=(file, key) of one that it trusts and that has not expired."
        )
    return f"{host} does not speak TLS as expected ({reason}). Is it ws:// instead of wss://?"


def _hung_up(host: str, certificate: Path) -> str:
    """TLS 1.3 refuses a client's certificate by ending the connection without a word."""
    from datetime import UTC, datetime

    from cryptography import x509

    until = x509.load_pem_x509_certificate(certificate.read_bytes()).not_valid_after_utc
    why = (
        f"it expired on {until:%Y-%m-%d}" if until < datetime.now(UTC) else "it is not known there"
    )
    return f"{host} does not accept {certificate.name}: {why}. Ask for a new certificate."


def _status(host: str, status: int) -> str:
    if status == 403:
        return f"{host} does not let this client in. Look at the robot's log for the reason."
    if status == 404:
        return f"{host} has no robot at this path; leave the path out of the address."
    return f"{host} answered with status {status} instead of opening a connection."


def _beneath(error: BaseException | None) -> ssl.SSLError | None:
    """The TLS error that another one hides, if there is one."""
    while error is not None and not isinstance(error, ssl.SSLError):
        error = error.__cause__ or error.__context__
    return error


def _gone(error: ConnectionClosed) -> LinkError:
    cause = _beneath(error)
    if cause is not None:
        return LinkError("certificate", _tls("The robot", cause))
    reason = error.rcvd.reason if error.rcvd is not None and error.rcvd.reason else ""
    if reason:
        return LinkError("lost", f"The robot closed the connection: {reason}.")
    return LinkError("lost", "The connection to the robot broke. Connect anew.")
