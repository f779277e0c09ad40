"""A desk that serves on loopback, and a page that is no browser."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
from websockets.asyncio.client import ClientConnection, connect

from legwright.views.desk.asked import VERSION
from legwright.views.desk.blocks import AnyBlock, unpacked
from legwright.views.desk.desk import Desk
from legwright.views.desk.serving import desk_listening
from legwright.views.desk.session import Session

PATIENCE = 180.0
"""Kernels may have to be compiled first [s]."""

Block = tuple[AnyBlock, dict[str, np.ndarray]]
Heard = dict[str, Any]


class Visitor:
    """What a page does on the wire."""

    def __init__(self, connection: ClientConnection) -> None:
        self.connection = connection
        self.n = 0
        self.said: list[Heard] = []
        self.blocks: list[Block] = []

    async def say(self, type: str, **fields: Any) -> int:
        self.n += 1
        await self.connection.send(
            msgspec.json.encode({"type": type, "n": self.n, **fields}).decode()
        )
        return self.n

    async def hello(self) -> None:
        await self.connection.send(f'{{"type":"hello","version":{VERSION}}}')

    async def hear(self) -> Heard | Block:
        async with asyncio.timeout(PATIENCE):
            frame = await self.connection.recv()
        if isinstance(frame, bytes):
            self.blocks.append(unpacked(frame))
            return self.blocks[-1]
        self.said.append(msgspec.json.decode(frame))
        return self.said[-1]

    async def text(self, type: str, wanted: Callable[[Heard], bool] = lambda _: True) -> Heard:
        """The next text message of a type."""
        while True:
            told = await self.hear()
            if isinstance(told, dict) and told["type"] == type and wanted(told):
                return told

    async def block(
        self, kind: type[AnyBlock], wanted: Callable[[Any], bool] = lambda _: True
    ) -> Block:
        """The next block of a kind."""
        while True:
            told = await self.hear()
            if not isinstance(told, dict) and isinstance(told[0], kind) and wanted(told[0]):
                return told


@asynccontextmanager
async def served(path: Path) -> AsyncIterator[tuple[Desk, str]]:
    desk = Desk(Session(path))
    async with desk_listening(desk) as address:
        yield desk, address


@asynccontextmanager
async def visiting(address: str) -> AsyncIterator[Visitor]:
    url = address.replace("http", "ws", 1) + "desk"
    async with connect(url, max_size=None, proxy=None) as connection:
        yield Visitor(connection)
