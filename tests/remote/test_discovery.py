"""Robots tell where they are, on loopback."""

from __future__ import annotations

import asyncio
import socket

from legwright.remote.discovery import announced, find


def test_a_robot_is_found_while_it_is_announced() -> None:
    async def go() -> None:
        async with (
            announced("rook", "ws://127.0.0.1:8443"),
            announced("wren", "wss://127.0.0.1:8444"),
        ):
            found = await find(1.5, at="127.0.0.1")
            assert [(robot.name, robot.url, robot.version) for robot in found] == [
                ("rook", "ws://127.0.0.1:8443", 1),
                ("wren", f"wss://{socket.gethostname()}.local:8444", 1),
            ]
            assert [robot.address for robot in found] == ["127.0.0.1"] * 2
        assert await find(0.5, at="127.0.0.1") == []

    asyncio.run(go())
