"""An event loop in a thread of its own, for programs that block."""

from __future__ import annotations

import asyncio
import concurrent.futures
import threading
from collections.abc import AsyncIterator, Coroutine, Iterator
from typing import Any, TypeVar

from legwright.errors import LinkError

T = TypeVar("T")


class ThreadLoop:
    """Runs coroutines in a thread of its own while the caller waits.

    The thread is a daemon: a program that ends without goodbye falls silent, and the robot's
    deadman does the rest.
    """

    def __init__(self) -> None:
        """Start the thread."""
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, name="legwright link", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.run_forever()

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        """Run a coroutine and wait for its result; an interrupt cancels it.

        Raises:
            LinkError: Word ``lost`` after `end`.
        """
        if self._loop.is_closed():
            work.close()
            raise LinkError("lost", "The connection is closed. Connect anew.")
        future = asyncio.run_coroutine_threadsafe(work, self._loop)
        try:
            return future.result()
        except concurrent.futures.CancelledError:
            raise LinkError("lost", "The connection was closed during the call.") from None
        except BaseException:
            future.cancel()
            raise

    def iterate(self, items: AsyncIterator[T]) -> Iterator[T]:
        """The items of an asynchronous iterator, one by one."""
        try:
            while True:
                try:
                    yield self.run(_next(items))
                except StopAsyncIteration:
                    return
        finally:
            close = getattr(items, "aclose", None)
            if close is not None and not self._loop.is_closed():
                self.run(close())

    def end(self) -> None:
        """Stop the thread."""
        if self._loop.is_closed():
            return
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(timeout=5.0)
        self._loop.close()


async def _next(items: AsyncIterator[T]) -> T:
    return await anext(items)
