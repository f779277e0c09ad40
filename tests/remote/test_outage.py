"""Networks that pause, fall silent, or read too slowly, on loopback."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any
from urllib.parse import urlsplit

import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import ConnectionClosed

import legwright as lw
from legwright.remote.hosting import hosted
from legwright.remote.sign_in import Doors, Role

OPEN = Doors(open_to=Role.MAINTAIN)


class Pause:
    """A cable that can hold back what goes through it."""

    def __init__(self) -> None:
        self.flows = asyncio.Event()
        self.flows.set()

    async def carry(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError), contextlib.closing(writer):
            while data := await reader.read(65536):
                await self.flows.wait()
                writer.write(data)
                await writer.drain()


@asynccontextmanager
async def cable(address: str) -> AsyncIterator[tuple[str, Pause]]:
    """A way to an address that can be paused."""
    pause, port = Pause(), urlsplit(address).port
    tasks: set[asyncio.Task[None]] = set()

    async def through(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        there, back = await asyncio.open_connection("127.0.0.1", port)
        for way in (pause.carry(reader, back), pause.carry(there, writer)):
            tasks.add(asyncio.create_task(way))

    server = await asyncio.start_server(through, "127.0.0.1", 0)
    try:
        yield f"ws://127.0.0.1:{server.sockets[0].getsockname()[1]}", pause
    finally:
        server.close()
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


def test_after_a_pause_the_robot_stands_and_stays(local: Any) -> None:
    """What was held back comes in one burst, and is too old."""
    robot = local(OPEN)

    async def go() -> None:
        async with hosted(robot) as there, cable(there) as (address, pause):
            client = await lw.connect_async(address)
            await client.stand()
            walk = asyncio.create_task(client.walk(forward=0.05, seconds=60))
            await asyncio.sleep(0.5)
            assert robot.runtime.watch.command.kind.value == "walk"
            pause.flows.clear()
            await asyncio.sleep(0.45)
            assert robot.runtime.watch.command.kind.value == "stand"
            pause.flows.set()
            with pytest.raises(lw.LinkError, match=r"renewed in time|away for too long"):
                await walk
            await asyncio.sleep(0.5)
            assert robot.runtime.watch.command.kind.value == "stand"
            await client.walk(forward=0.05, seconds=0.5)  # it may be asked again
            await client.close()

    asyncio.run(go())
    notices = [record for record in robot.service.records if "expiry" in record.text]
    assert notices, "late messages are recorded"


def test_a_connection_that_falls_silent_is_given_up(local: Any) -> None:
    """No farewell, no reset: nothing comes any more."""
    robot = local(OPEN)

    async def go() -> None:
        async with hosted(robot) as there, cable(there) as (address, pause):
            client = await lw.connect_async(address)
            await client.stand()
            await client.walk(forward=0.05)
            pause.flows.clear()
            began = asyncio.get_running_loop().time()
            while robot.service._sessions:
                await asyncio.sleep(0.02)
                assert asyncio.get_running_loop().time() - began < 3.0
            assert robot.service.driving.driver == ""
            other = await lw.connect_async(there)
            assert other.drives
            await other.close()
            with pytest.raises(lw.LinkError):
                await client.stand()
            await client.close()

    asyncio.run(go())


def test_a_reader_that_does_not_read_delays_nobody_and_is_given_up(local: Any) -> None:
    robot = local(OPEN)

    async def go() -> None:
        async with hosted(robot) as address:
            slow = await connect(f"{address}/robot", max_queue=2, close_timeout=0.1)
            await slow.send(json.dumps({"type": "hello", "version": 1}))
            wish = {"type": "subscribe", "n": 1, "rate": 100.0, "fields": ["q", "feet", "qd"]}
            await slow.send(json.dumps(wish))
            async with lw.connect_async(address) as client:
                seen = await client.watch(rate=100, seconds=3.0)
                assert len(seen.t) > 285
                assert len(robot.service._sessions) == 1
            with pytest.raises(ConnectionClosed):
                while True:
                    await slow.recv()

    asyncio.run(go())
