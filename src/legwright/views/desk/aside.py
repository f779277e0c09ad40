"""A thread for heavy work beside the loop, one piece after another; it keeps no program alive."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from queue import SimpleQueue
from threading import Thread
from typing import Any, TypeVar

T = TypeVar("T")
_Piece = tuple[Callable[[], Any], "asyncio.Future[Any]", asyncio.AbstractEventLoop]


class Aside:
    """One such thread.

    An executor of the standard library is waited for when the program ends, and a kernel that
    compiles takes a minute: Ctrl-C must not.
    """

    def __init__(self, name: str) -> None:
        """Nothing runs yet.

        Args:
            name: Of the thread.
        """
        self._pieces: SimpleQueue[_Piece | None] = SimpleQueue()
        self._thread = Thread(target=self._run, name=name, daemon=True)

    async def do(self, work: Callable[[], T]) -> T:
        """Do a piece of work after those that wait, and give back what comes of it."""
        if not self._thread.is_alive():
            self._thread.start()
        loop = asyncio.get_running_loop()
        future: asyncio.Future[T] = loop.create_future()
        self._pieces.put((work, future, loop))
        return await future

    def close(self) -> None:
        """Take no more; what runs comes to its end, or ends with the program."""
        self._pieces.put(None)

    def _run(self) -> None:
        while (piece := self._pieces.get()) is not None:
            work, future, loop = piece
            if future.cancelled():
                continue
            try:
                done = work()
            except BaseException as error:  # it belongs to whoever waits
                self._tell(loop, future, None, error)
            else:
                self._tell(loop, future, done, None)

    def _tell(
        self, loop: asyncio.AbstractEventLoop, future: asyncio.Future[Any], done: Any,
        error: BaseException | None,
    ) -> None:  # fmt: skip
        def settle() -> None:
            if future.cancelled():
                return
            if error is not None:
                future.set_exception(error)
            else:
                future.set_result(done)

        with suppress(RuntimeError):  # the loop has ended
            loop.call_soon_threadsafe(settle)
