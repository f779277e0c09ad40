"""Messages that wait to be taken up, one after another."""

from __future__ import annotations

import asyncio

from legwright.errors import RequestError
from legwright.views.desk.asked import Ask, Edit, Numbered, Show
from legwright.views.desk.pages import Page

MOST = 500
"""Messages that may wait; more are refused."""


class Waiting:
    """A queue in which a newer message takes the place of one alike.

    Alike are edits of one key, and walks to show; but nothing is passed over from before an
    undo, which would then take back another edit than its page saw.
    """

    def __init__(self) -> None:
        """Nothing waits."""
        self._queue: asyncio.Queue[tuple[Page, Numbered, object]] = asyncio.Queue(MOST)
        self._newest: dict[object, Numbered] = {}
        self._era = 0

    def put(self, page: Page, message: Numbered) -> None:
        """Let a message wait.

        Raises:
            RequestError: where too many do.
        """
        kind = _kind(message)
        if kind is None:
            self._era += 1
        mark = self._era, kind
        try:
            self._queue.put_nowait((page, message, mark))
        except asyncio.QueueFull:
            raise RequestError("messages", "too many", "fewer at once") from None
        self._newest[mark] = message

    async def get(self) -> tuple[Page, Numbered]:
        """The next message, once there is one."""
        while True:
            page, message, mark = await self._queue.get()
            if self._newest[mark] is message:
                del self._newest[mark]
                return page, message


def _kind(message: Numbered) -> object:
    """What alike messages share; None for one that no other replaces."""
    if isinstance(message, Edit):
        return "edit", message.key
    return "show" if isinstance(message, Show | Ask) else None
