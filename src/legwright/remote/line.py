"""Ways for frames between a client and a robot: in this process, or a WebSocket."""

from __future__ import annotations

import asyncio
import time
from typing import Protocol

from legwright.errors import LinkError
from legwright.remote.local import Local


class Line(Protocol):
    """Carries text frames both ways. Errors are `LinkError`, whatever is beneath."""

    async def send(self, text: str) -> None:
        """Send one frame."""

    async def receive(self) -> str:
        """Wait for the next frame."""

    def wanted(self, yes: bool) -> None:
        """Whether somebody waits for the robot; a robot without a clock runs only then."""

    async def close(self) -> None:
        """Leave."""


class Within:
    """A robot in this process, which the reader of the line moves along.

    With a pace its time follows the clock; without one it runs as fast as it can, and only
    while a call waits for it, so that every run is the same.
    """

    def __init__(self, local: Local, *, pace: float | None) -> None:
        """Connect.

        Args:
            local: The robot.
            pace: Robot seconds per second; None for as fast as possible.
        """
        self.local, self.pace = local, pace
        self._frames: list[str] = []
        self._wanted = asyncio.Event()
        self._closed = False
        self._began = time.monotonic()
        self._id = local.service.open(local.now)

    async def send(self, text: str) -> None:
        """Hand one frame to the service."""
        self._check()
        self.local.service.receive(self._id, text, self.local.now)

    async def receive(self) -> str:
        """The next frame; the robot moves until there is one."""
        while True:
            self._check()
            self._frames += self.local.service.drain(self._id)
            if self._frames:
                return self._frames.pop(0)
            if self.local.service.ended(self._id):
                raise LinkError("lost", "The robot ended the session.")
            await self._turn()
            self.local.step()

    async def _turn(self) -> None:
        """Wait until the next cycle is due, and let others have their turn."""
        if self.pace is None:
            await asyncio.sleep(0)
            if not self._wanted.is_set():
                await self._wanted.wait()
            return
        due = self._began + self.local.now / self.pace
        late = time.monotonic() - due
        if late > 0.25:
            self._began += late  # the clock of a simulation may wait
        await asyncio.sleep(max(-late, 0.0))

    def wanted(self, yes: bool) -> None:
        """Run, or wait."""
        if yes:
            self._wanted.set()
        else:
            self._wanted.clear()

    async def close(self) -> None:
        """Leave, and end the simulation."""
        if not self._closed:
            self._closed = True
            self.local.service.close(self._id, self.local.now)
            self.local.rig.close()

    def _check(self) -> None:
        if self._closed:
            raise LinkError("lost", "The connection is closed. Connect anew.")
