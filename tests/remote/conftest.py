"""What the tests of the wire share."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

import legwright as lw
from legwright.remote.local import Local
from legwright.remote.session import Peer
from legwright.remote.sign_in import Doors
from legwright.rig.simulated import Simulated
from legwright.robot.robot import Robot


@pytest.fixture(scope="session")
def rook() -> Robot:
    return lw.load("robots/rook")


class Caller:
    """A client that writes its messages by hand."""

    def __init__(self, local: Local, *, peer: Peer | None = None, hello: bool = True) -> None:
        self.local = local
        self.id = local.service.open(local.now, peer=peer)
        self.number = 0
        self.got: list[dict[str, Any]] = []
        if hello:
            self.raw(type="hello", version=1)

    def raw(self, **message: Any) -> list[dict[str, Any]]:
        """Send a message as it stands; what came back at once."""
        self.local.service.receive(self.id, json.dumps(message), self.local.now)
        return self.take()

    def say(self, type: str, **fields: Any) -> list[dict[str, Any]]:
        """Send a message with its number, and with `heard`; what came back at once."""
        self.number += 1
        fields.setdefault("n", self.number)
        if type not in ("ping", "take", "give", "hand-over", "subscribe", "unsubscribe", "stop"):
            fields.setdefault("heard", self.local.now)
        return self.raw(type=type, **fields)

    def reply(self, type: str, **fields: Any) -> dict[str, Any]:
        """Send a message, and give the answer that came at once."""
        found = self.say(type, **fields)
        return next(m for m in found if m["type"] == "answer")

    def take(self) -> list[dict[str, Any]]:
        """What has come since the last look."""
        found = [json.loads(text) for text in self.local.service.drain(self.id)]
        self.got += found
        return found

    def ask(self, type: str, **fields: Any) -> dict[str, Any]:
        """Send, let the robot run for a few cycles, and give the answer."""
        found = self.say(type, **fields)
        for _ in range(3):
            self.local.step()
            found += self.take()
        number = fields.get("n", self.number)
        return next(m for m in found if m["type"] == "answer" and m["n"] == number)

    def run(self, seconds: float, *, alive: bool = True) -> list[dict[str, Any]]:
        """Let the robot run, renewing or not."""
        found: list[dict[str, Any]] = []
        for cycle in range(round(seconds * self.local.rig.rate)):
            if alive and cycle % 5 == 0:
                found += self.say("alive")
            self.local.step()
            found += self.take()
        return found

    @property
    def mode(self) -> str:
        return self.local.runtime.watch.mode.value


@pytest.fixture
def caller() -> type[Caller]:
    """Makes clients."""
    return Caller


MakeLocal = Callable[..., Local]


@pytest.fixture
def local(rook: Robot) -> MakeLocal:
    """A robot in the physics world, with its service."""

    def make(doors: Doors | None = None) -> Local:
        return Local(Simulated(rook), doors=doors)

    return make


@pytest.fixture
def driver(local: MakeLocal) -> Caller:
    """Somebody who drives a robot that stands."""
    caller = Caller(local())
    assert caller.reply("take")["ok"]
    caller.local.step()
    assert caller.ask("power")["ok"]
    assert caller.ask("stand")["ok"]
    caller.run(0.5)
    assert caller.mode == "standing"
    return caller
