"""A simulated robot in this process on the network: for tests, lessons, and a first look."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

from legwright.remote.local import Local
from legwright.remote.server import Tls, endpoint, listening
from legwright.rig.control import warm


@asynccontextmanager
async def hosted(
    local: Local, *, host: str = "127.0.0.1", port: int = 0, tls: Tls | None = None
) -> AsyncIterator[str]:
    """Run a robot by the clock and let clients in, while the context lasts.

    Its time falls behind the clock where the computer is too slow, so it never sees an overrun.

    Yields:
        The address for `lw.connect`.
    """
    warm(local.runtime.controller)
    route = endpoint(local.service, clock=lambda: local.now)
    running = asyncio.create_task(_run(local))
    try:
        async with listening(
            [route], local.service, clock=lambda: local.now, host=host, port=port, tls=tls
        ) as address:
            yield address
    finally:
        running.cancel()
        with suppress(asyncio.CancelledError):
            await running
        local.rig.close()


async def _run(local: Local) -> None:
    began = time.monotonic() - local.now
    while True:
        local.step()
        ahead = began + local.now - time.monotonic()
        if ahead < -0.1:
            began -= ahead
        await asyncio.sleep(max(ahead, 0.0))
