"""Robots on the local network: they tell where they are, if they are allowed to.

DNS-SD over multicast DNS (RFC 6763, RFC 6762). It is off unless asked for and never needed: it
tells a name, an address and a port to everybody on the network, and lets nobody in.
"""

from __future__ import annotations

import asyncio
import ipaddress
import socket
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from urllib.parse import urlsplit

from zeroconf import InterfaceChoice, IPVersion, ServiceStateChange, Zeroconf
from zeroconf.asyncio import AsyncServiceBrowser, AsyncServiceInfo, AsyncZeroconf

from legwright.errors import LinkError
from legwright.remote.asked import VERSION

KIND = "_legwright._tcp.local."
ANSWER = 2.0
"""Time for one robot to tell its address [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A robot that told where it is."""

    name: str
    url: str
    """For `lw.connect`: by address, or with TLS by the host's name, which certificates hold."""
    address: str
    """Numeric."""
    version: int
    """Of the protocol."""


@asynccontextmanager
async def announced(name: str, url: str, *, address: str | None = None) -> AsyncIterator[None]:
    """Tell the network about a robot while the context lasts.

    Args:
        name: Of the robot.
        url: As `listening` gives it.
        address: Numeric address that others reach it by; that of the URL, or, where it listens
            at all, the one that leads to the network, when None.

    Raises:
        LinkError: Word ``busy`` where another robot has that name here.
    """
    parts = urlsplit(url)
    where = address or parts.hostname or ""
    if where in ("", "0.0.0.0", "::"):
        where = _outward()
    info = AsyncServiceInfo(
        KIND,
        f"{name}.{KIND}",
        addresses=[ipaddress.ip_address(where).packed],
        port=parts.port or 0,
        properties={"tls": str(int(parts.scheme == "wss")), "version": str(VERSION)},
        server=f"{socket.gethostname()}.local.",
    )
    network = AsyncZeroconf(interfaces=_interfaces(where))
    try:
        try:
            await network.async_register_service(info)
        except Exception as error:
            text = f"{name} cannot be announced: {type(error).__name__}. Is another one called so?"
            raise LinkError("busy", text) from None
        yield
    finally:
        await network.async_unregister_all_services()
        await network.async_close()


async def find(seconds: float = 2.0, *, at: str | None = None) -> list[Found]:
    """Robots that answer.

    Args:
        seconds: How long to listen.
        at: Own numeric address to ask from; all when None.

    Returns:
        By name.
    """
    network = AsyncZeroconf(interfaces=InterfaceChoice.All if at is None else _interfaces(at))
    names: set[str] = set()

    def seen(
        zeroconf: Zeroconf, service_type: str, name: str, state_change: ServiceStateChange
    ) -> None:
        del zeroconf, service_type
        (names.discard if state_change is ServiceStateChange.Removed else names.add)(name)

    browser = AsyncServiceBrowser(network.zeroconf, KIND, handlers=[seen])
    try:
        await asyncio.sleep(seconds)
        asked = await asyncio.gather(*(_ask(network, name) for name in sorted(names)))
    finally:
        await browser.async_cancel()
        await network.async_close()
    return [found for found in asked if found is not None]


async def _ask(network: AsyncZeroconf, name: str) -> Found | None:
    """What others tell is theirs to say: whatever is no robot's address is left out."""
    info = AsyncServiceInfo(KIND, name)
    if not await info.async_request(network.zeroconf, 1e3 * ANSWER):
        return None
    addresses = info.parsed_addresses(IPVersion.All)
    version = info.decoded_properties.get("version") or ""
    if not addresses or not info.port or not version.isdecimal():
        return None
    tls = info.decoded_properties.get("tls") == "1"
    numeric = f"[{addresses[0]}]" if ":" in addresses[0] else addresses[0]
    host = (info.server or numeric).rstrip(".") if tls else numeric
    return Found(
        name=name.removesuffix(f".{KIND}"),
        url=f"{'wss' if tls else 'ws'}://{host}:{info.port}",
        address=addresses[0],
        version=int(version[:4]),
    )


def _interfaces(address: str) -> Sequence[str] | InterfaceChoice:
    return [address] if ipaddress.ip_address(address).is_loopback else InterfaceChoice.All


def _outward() -> str:
    """The own address from which the network is reached; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1, RFC 5737
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])
