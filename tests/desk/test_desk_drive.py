"""A robot driven from the desk: simulated on demand, or relayed; stop, deadman, one driver."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
import uvicorn
from starlette.applications import Starlette
from websockets.asyncio.client import ClientConnection, connect

from legwright.errors import RequestError
from legwright.mechanics.opening import load
from legwright.remote.hosting import hosted
from legwright.remote.local import Local
from legwright.remote.sign_in import Doors, Role, key_for, new_token
from legwright.rig.simulated import Simulated
from legwright.views.desk.drive_relay import checked_address
from legwright.views.desk.driving import DriveWing
from legwright.views.desk.pages import Page
from legwright.views.desk.said import RobotState, Said
from legwright.views.desk.walk_recorded import recorded_story
from legwright.views.desk.wire import heard

ROBOTS = Path(__file__).parents[2] / "robots"
PATIENCE = 120.0
"""Kernels may have to be compiled first [s]."""


class Held:
    def __init__(self) -> None:
        self.robot = load(ROBOTS / "rook")


class Desktop:
    """As much of a desk as driving needs."""

    def __init__(self) -> None:
        self.session = Held()
        self.robot: RobotState | None = None

    def say(self, key: str, message: Said, *, keep: bool = True) -> None:
        if isinstance(message, RobotState):
            self.robot = message


class Client:
    """Speaks the remote protocol as a page does."""

    def __init__(self, connection: ClientConnection) -> None:
        self.connection, self.n, self.time = connection, 0, 0.0
        self.events: list[str] = []
        self.state: dict[str, Any] = {}

    async def say(self, type: str, **fields: Any) -> int:
        self.n += 1
        message = {"type": type, "n": self.n, **fields}
        await self.connection.send(msgspec.json.encode(message).decode())
        return self.n

    async def timed(self, type: str, **fields: Any) -> int:
        return await self.say(type, heard=self.time, **fields)

    async def hear(
        self, type: str, wanted: Callable[[dict[str, Any]], bool] = lambda _: True
    ) -> dict[str, Any]:
        async with asyncio.timeout(PATIENCE):
            while True:
                told: dict[str, Any] = msgspec.json.decode(await self.connection.recv())
                self.time = told.get("time", self.time)
                if told["type"] == "event":
                    self.events.append(told["what"])
                if told["type"] == "state":
                    self.state = told
                if told["type"] == type and wanted(told):
                    return told

    async def answer(self, n: int) -> dict[str, Any]:
        return await self.hear("answer", lambda told: told["n"] == n)

    async def greet(self) -> dict[str, Any]:
        await self.connection.send('{"type":"hello","version":1,"client":"test"}')
        return await self.hear("welcome")

    async def follow(self) -> None:
        fields = ["mode", "place", "volts", "errors", "lights", "recorded", "faults"]
        await self.answer(await self.say("subscribe", rate=25, fields=fields))
        await self.hear("state")


@asynccontextmanager
async def desk(**given: Any) -> AsyncIterator[tuple[DriveWing, Desktop, str]]:
    desktop = Desktop()
    wing = DriveWing(desktop, **given)
    server = uvicorn.Server(
        uvicorn.Config(
            Starlette(routes=list(wing.routes)), port=0, log_config=None, lifespan="off",
            ws="websockets-sansio",
        )
    )  # fmt: skip
    serving = asyncio.create_task(server.serve())
    await wing.start()
    try:
        while not server.started:
            await asyncio.sleep(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        yield wing, desktop, f"ws://127.0.0.1:{port}/robot"
    finally:
        await wing.close()
        server.should_exit = True
        await serving


async def ask(wing: DriveWing, text: str) -> None:
    message = heard(text)
    await wing.hearers[type(message)](Page(lambda: None), message)


async def simulated(wing: DriveWing, desktop: Desktop) -> None:
    await ask(wing, '{"type":"robot_start","n":1}')
    async with asyncio.timeout(PATIENCE):
        while desktop.robot is None or desktop.robot.state != "simulated":
            assert desktop.robot is None or not desktop.robot.text, desktop.robot.text
            await asyncio.sleep(0.05)


def test_drive_stop_and_hand_over(tmp_path: Path) -> None:
    async def run() -> None:
        async with desk(recordings=tmp_path) as (wing, desktop, address):
            with pytest.raises(Exception, match=r"1013|no robot"):
                async with connect(address, proxy=None) as early:
                    await early.recv()
            await simulated(wing, desktop)
            async with connect(address, proxy=None) as a, connect(address, proxy=None) as b:
                one, two = Client(a), Client(b)
                card = (await one.greet())["robot"]
                mine = (await two.greet())["session"]
                assert card["limits"]["winding"][0] > 300.0 and "lights" in card["fields"]
                await one.follow()
                await two.follow()
                assert len(one.state["volts"]) == 18 and one.state["volts"][0] > 9.0
                assert one.state["errors"] == [0] * 18
                # one driver
                assert (await one.answer(await one.say("take")))["ok"]
                assert (await two.answer(await two.say("take")))["word"] == "taken"
                # recorder
                await ask(wing, '{"type":"robot_record","n":2,"on":true}')
                await one.hear("state", lambda told: told.get("recorded", False))
                # get up, and walk while `alive` comes; the lights tell it
                assert (await one.answer(await one.timed("power", ttl=1.0)))["ok"]
                await one.hear("state", lambda told: told["mode"] == "holding")
                await one.timed("stand", ttl=1.0)
                assert (await one.hear("ended"))["ok"]
                assert (await one.answer(await one.timed("walk", forward=0.1, ttl=0.25)))["ok"]
                start = (await one.hear("state"))["place"][0]
                seen = set()
                while one.state["place"][0] < start + 0.03:
                    await one.timed("alive", ttl=0.25)
                    await one.hear("state")
                    seen.update(one.state["lights"])
                assert one.state["mode"] == "walking" and len(seen) >= 2
                # the hand lets go: the robot stops by itself
                quiet = one.time
                ended = await one.hear("ended")
                assert not ended["ok"] and ended["time"] < quiet + 0.6
                await one.hear("state", lambda told: told["mode"] == "standing")
                # the other, who only watches, stops it
                assert (await two.answer(await two.say("stop", category=1)))["ok"]
                await two.hear("state", lambda told: "stopped" in told["faults"])
                await two.hear("state", lambda told: told["mode"] == "fault")
                # and takes over, once it is handed over
                assert (await one.answer(await one.say("hand-over", to=mine)))["ok"]
                assert (await two.answer(await two.timed("acknowledge", ttl=1.0)))["ok"]
                await two.hear("state", lambda told: told["mode"] == "limp")
                await ask(wing, '{"type":"robot_record","n":3,"on":false}')
                await two.hear("state", lambda told: not told.get("recorded", False))
            await ask(wing, '{"type":"robot_end","n":4}')
            assert desktop.robot is not None and desktop.robot.state == "none"

    asyncio.run(run())
    (file,) = tmp_path.glob("*.mcap")
    story = recorded_story(file, load(ROBOTS / "rook"))
    _, high = story.history.since(0)
    column = story.about.layout.names.index("way/believed")
    assert np.nanmax(high[:, column]) > 0.02 and story.time > 1.0
    assert any(event.what == "stopped" for event in story.events)
    pose = story.poses.at(story.time)
    assert pose is not None and 0.0 < pose.body[2] < 0.3


def test_relay_signs_in_with_the_robots_own_keys() -> None:
    token = new_token()
    key = key_for(token, name="ada", role=Role.WATCH)
    robot = load(ROBOTS / "rook")

    async def run() -> None:
        local = Local(Simulated(robot), doors=Doors(keys=(key,)))
        async with hosted(local) as there, desk(robot=there) as (_, desktop, address):
            assert desktop.robot is not None
            assert (desktop.robot.state, desktop.robot.address) == ("relayed", there)
            async with connect(address, proxy=None) as line:
                client = Client(line)
                assert (await client.greet()).get("role", "") == ""
                await line.send(f'{{"type":"sign-in","token":"{token}"}}')
                signed = await client.hear("signed")
                assert (signed["role"], signed["name"]) == ("watch", "ada")
                assert (await client.answer(await client.say("take")))["word"] == "role"
                assert (await client.answer(await client.say("stop")))["ok"]
            async with connect(address, proxy=None) as line:
                client = Client(line)
                await client.greet()
                await line.send('{"type":"sign-in","token":"wrong"}')
                assert (await client.hear("error"))["word"] == "sign-in"

    asyncio.run(run())


def test_a_robot_that_is_not_there_is_told() -> None:
    async def run() -> None:
        here = desk(robot="ws://127.0.0.1:9")
        async with here as (_, _, address), connect(address, proxy=None) as line:
            error = await Client(line).hear("error")
            assert error["word"] == "lost" and "Nothing listens" in error["text"]

    asyncio.run(run())


@pytest.mark.parametrize(
    "address",
    ["", "rook", "http://127.0.0.1", "ws://example.org", "wss://", "wss://ada:pw@rook.local",
     "ws://127.0.0.1:99999", "ws://[::1", "ws://0.0.0.0:80"],
)  # fmt: skip
def test_addresses_that_are_not_dialled(address: str) -> None:
    with pytest.raises(RequestError, match="address"):
        checked_address(address)


def test_addresses_that_are() -> None:
    for address in ("ws://127.0.0.1:8443", "ws://localhost:1", "wss://rook.local", "ws://[::1]:9"):
        assert checked_address(f" {address} ") == address
