"""The desk: hears pages, keeps the session, and posts what changed, picture before verdict."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Protocol, TypeVar

from starlette.routing import BaseRoute

from legwright.errors import LegwrightError, RequestError
from legwright.views.desk.asked import (
    VERSION,
    AnyAsked,
    Ask,
    Asked,
    Edit,
    Hello,
    Numbered,
    Show,
)
from legwright.views.desk.cycle import cycle_block
from legwright.views.desk.judging import Judging
from legwright.views.desk.pages import Board, Page
from legwright.views.desk.said import Checking, Refused, Said
from legwright.views.desk.scene import shape_of
from legwright.views.desk.session import Session, welcome_of
from legwright.views.desk.shown import case_names, shown_case, shown_walk
from legwright.views.desk.verdicts import against
from legwright.views.desk.wire import frame, heard
from legwright.views.desk.worker import Job, Judged, Progress

T = TypeVar("T")
Hearer = Callable[[Page, Asked], Awaitable[None]]
"""Takes up a message; raises `LegwrightError` with what is to be told to the page."""


class Wing(Protocol):
    """A part of the desk with messages, routes and work of its own: walking, driving."""

    hearers: dict[type[Asked], Hearer]
    routes: tuple[BaseRoute, ...]

    async def start(self) -> None:
        """The loop runs."""

    async def close(self) -> None:
        """End all that runs."""


class Desk:
    """One robot on the desk, for all pages that look at it."""

    def __init__(self, session: Session) -> None:
        """Get ready; nothing runs yet."""
        self.session, self.board = session, Board()
        self.wings: list[Wing] = []
        self._hearers: dict[type[Asked], Hearer] = {
            Edit: self._edit,
            Show: self._show,
            Ask: self._ask,
        }
        self._judging = Judging(self._told)
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="picture")
        self._turn = asyncio.Lock()
        self._case = next(iter(case_names(session.robot)), "")
        self._walk: Ask | None = None
        self._since = time.monotonic()
        self._drawing: asyncio.Task[None] | None = None

    # Life -----------------------------------------------------------------------------------

    async def start(self) -> None:
        """Begin to work; call on the loop that serves."""
        self._judging.start()
        for wing in self.wings:
            await wing.start()
            self._hearers |= wing.hearers
        self._changed()

    async def close(self) -> None:
        """End all that runs."""
        for wing in self.wings:
            await wing.close()
        if self._drawing is not None:
            self._drawing.cancel()
        self._judging.close()
        self._thread.shutdown(wait=False, cancel_futures=True)

    # Pages ----------------------------------------------------------------------------------

    async def hear(self, page: Page, text: str | bytes) -> None:
        """A page's frame came; whatever is wrong with it is told to that page."""
        number = 0
        try:
            message = heard(text)
            number = message.n if isinstance(message, Numbered) else 0
            await self._take(page, message)
        except LegwrightError as error:
            key = error.what if isinstance(error, RequestError) else getattr(error, "place", "")
            page.answer(frame(Refused(n=number, key=str(key), text=str(error))))

    def leave(self, page: Page) -> None:
        """A page has gone."""
        self.board.leave(page)

    def say(self, key: str, message: Said, *, keep: bool = True) -> None:
        """Tell all pages; see `Board.post`."""
        self.board.post(key, frame(message), keep=keep)

    async def _take(self, page: Page, message: AnyAsked) -> None:
        if isinstance(message, Hello):
            if message.version != VERSION:
                raise RequestError("version", message.version, f"{VERSION}. Reload the page")
            page.greeted = True
            self.board.join(page)
            return
        if not page.greeted:
            raise RequestError("first message", type(message).__name__, "hello")
        hearer = self._hearers.get(type(message))
        if hearer is None:
            raise RequestError("message", type(message).__name__, "one that this desk knows yet")
        await hearer(page, message)

    # What changes what is shown -------------------------------------------------------------

    async def _edit(self, page: Page, message: Asked) -> None:
        if isinstance(message, Edit):
            self.session.edit(message.key, message.value)

    async def _show(self, page: Page, message: Asked) -> None:
        if isinstance(message, Show):
            await self._shows(message.case, None)

    async def _ask(self, page: Page, message: Asked) -> None:
        if isinstance(message, Ask):
            await self._shows("", message)

    async def _shows(self, case: str, walk: Ask | None) -> None:
        before = self._case, self._walk
        self._case, self._walk = case, walk
        try:
            await self._cycle()
        except LegwrightError:
            self._case, self._walk = before
            raise
        self._welcome()

    def _changed(self) -> None:
        """The robot is another: judge it, draw it."""
        self._since = time.monotonic()
        self._welcome()
        self._judging.judge(Job(rev=self.session.rev, path=self.session.path))
        if self._drawing is not None:
            self._drawing.cancel()
        self._drawing = asyncio.create_task(self._picture())

    def _welcome(self) -> None:
        told = welcome_of(self.session, case=self._case, fields=(), recordings=())
        self.say("welcome", told)

    async def _picture(self) -> None:
        """Shape, then the cycle; what is in the way is in the verdict."""
        robot, rev = self.session.robot, self.session.rev
        shape = await self._away(lambda: shape_of(robot, rev=rev))
        self.say("shape/now", shape)
        try:
            await self._cycle()
        except LegwrightError:
            self.board.forget("cycle/now")

    async def _cycle(self) -> None:
        robot, rev, case, walk = self.session.robot, self.session.rev, self._case, self._walk

        def block() -> bytes:
            shown = shown_case(robot, case) if walk is None else shown_walk(robot, walk)
            return cycle_block(shown, rev=rev, who="now", case=case)

        made = await self._away(block)
        if (rev, case, walk) == (self.session.rev, self._case, self._walk):
            self.board.post("cycle/now", made)

    async def _away(self, work: Callable[[], T]) -> T:
        """Do something heavy beside the loop."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)

    # The verdict ----------------------------------------------------------------------------

    def _told(self, said: Progress | Judged) -> None:
        if said.rev != self.session.rev:
            return
        if isinstance(said, Progress):
            told = Checking(rev=said.rev, area=said.area, done=said.done, of=said.of)
            self.say("checking", told, keep=False)
            return
        took = time.monotonic() - self._since
        self.say("verdict", against(said.verdict, None, took=took))
