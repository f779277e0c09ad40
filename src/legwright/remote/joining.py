"""`lw.connect`: from an address to a robot, in this process or on the network."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from types import TracebackType
from typing import Any
from urllib.parse import urlsplit

from legwright.errors import RequestError
from legwright.remote.async_robot import AsyncRobot
from legwright.remote.connected_robot import ConnectedRobot
from legwright.remote.line import Line, Within
from legwright.remote.link import PATIENCE, Link
from legwright.remote.thread_loop import ThreadLoop

SIM = "sim:"


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where a robot is, and how it is reached."""

    url: str
    token: str | None = None
    certificate: tuple[Path, Path] | None = None
    authority: Path | None = None
    pace: float | None = 1.0
    ground: str = "flat"
    seed: int = 0


async def join(address: Address, *, watch: bool) -> AsyncRobot:
    """Connect.

    Args:
        address: Where to.
        watch: Whether to leave the driver's place alone.

    Raises:
        LinkError: If the robot cannot be reached, or does not want to.
        RequestError: For an address that makes no sense.
    """
    if address.url.startswith(SIM):
        line, patience = within(address), None
    else:
        line, patience = await _network(address), PATIENCE
    link = Link(line, patience=patience)
    try:
        await link.open(token=address.token, client=f"legwright {version('legwright')}")
        robot = AsyncRobot(link)
        if not watch:
            await robot.take()
    except BaseException:
        await link.close()
        raise
    return robot


def within(address: Address) -> Line:
    """A simulated robot in this process."""
    from legwright.mechanics.opening import load
    from legwright.remote.local import Local
    from legwright.rig.simulated import Simulated

    if address.pace is not None and not address.pace > 0.0:
        raise RequestError("pace", address.pace, "more than 0, or None for as fast as possible")
    robot = load(address.url.removeprefix(SIM))
    rig = Simulated(robot, ground=address.ground, seed=address.seed)
    return Within(Local(rig), pace=address.pace)


def _address(
    address: str,
    *,
    token: str | None,
    certificate: tuple[Path | str, Path | str] | None,
    authority: Path | str | None,
    pace: float | None,
    ground: str,
    seed: int,
) -> Address:
    pair = None if certificate is None else (Path(certificate[0]), Path(certificate[1]))
    return Address(
        url=address, token=token, certificate=pair, pace=pace, ground=ground, seed=seed,
        authority=None if authority is None else Path(authority),
    )  # fmt: skip


def connect(
    address: str,
    *,
    token: str | None = None,
    certificate: tuple[Path | str, Path | str] | None = None,
    authority: Path | str | None = None,
    watch: bool = False,
    pace: float | None = 1.0,
    ground: str = "flat",
    seed: int = 0,
) -> ConnectedRobot:
    """Connect to a robot, and take the driver's place.

    Power comes on with the first motion. While the connection lives it renews the motion under
    way; when it or its program dies, the robot stands still within 0.25 s. Use it as a context:
    on leaving, a moving robot comes to a stand and the driver's place is given up; a robot that
    nobody drives sits down and switches off after 30 s.

    Args:
        address: ``wss://host:port`` of a robot, or ``sim:FOLDER`` for a simulated one in this
            process.
        token: Secret that opens the robot.
        certificate: Files of a client certificate and its key, for robots that ask for one.
        authority: File with the certificate that signed the robot's, where the system does not
            know it.
        watch: Whether only to watch: the driver's place is left alone.
        pace: Of a simulated robot: its seconds per second. None is as fast as possible, and
            only while a call waits, so that every run is the same.
        ground: Of a simulated robot: the name of a ground.
        seed: Of a simulated robot.

    Returns:
        The robot.

    Raises:
        LinkError: If the robot cannot be reached, refuses, or somebody else drives.
        RequestError: For an address that makes no sense.
        RobotError: If the robot folder cannot be read.
    """
    place = _address(
        address, token=token, certificate=certificate, authority=authority, pace=pace,
        ground=ground, seed=seed,
    )  # fmt: skip
    loop = ThreadLoop()
    try:
        return ConnectedRobot(loop.run(join(place, watch=watch)), loop)
    except BaseException:
        loop.end()
        raise


class Joining:
    """A connection to come: `async with` it, or await it."""

    def __init__(self, address: Address, *, watch: bool) -> None:
        self._address, self._watch = address, watch
        self._robot: AsyncRobot | None = None

    def __await__(self) -> Generator[Any, None, AsyncRobot]:
        return join(self._address, watch=self._watch).__await__()

    async def __aenter__(self) -> AsyncRobot:
        self._robot = await self
        return self._robot

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        if self._robot is not None:
            await self._robot.close()


def connect_async(
    address: str,
    *,
    token: str | None = None,
    certificate: tuple[Path | str, Path | str] | None = None,
    authority: Path | str | None = None,
    watch: bool = False,
    pace: float | None = 1.0,
    ground: str = "flat",
    seed: int = 0,
) -> Joining:
    """As `connect`, for programs with an event loop.

    Returns:
        To be awaited, or entered: ``async with lw.connect_async("sim:robots/rook") as robot``.
    """
    place = _address(
        address, token=token, certificate=certificate, authority=authority, pace=pace,
        ground=ground, seed=seed,
    )  # fmt: skip
    return Joining(place, watch=watch)


async def _network(address: Address) -> Line:
    parts = urlsplit(address.url)
    if parts.scheme not in ("ws", "wss") or not parts.hostname:
        raise RequestError(
            "address", address.url,
            "wss://host:port for a robot on the network, or sim:FOLDER for a simulated one",
        )  # fmt: skip
    from legwright.remote.socket_line import dial

    return await dial(address.url, certificate=address.certificate, authority=address.authority)
