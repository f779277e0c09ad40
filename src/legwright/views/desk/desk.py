"""The desk: hears pages, keeps the session, and posts what changed, picture before verdict."""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Awaitable, Callable, Mapping
from pathlib import Path
from typing import Protocol, TypeVar

from msgspec.structs import replace
from starlette.routing import BaseRoute

from legwright.errors import LegwrightError, RequestError, did_you_mean
from legwright.mechanics.opening import load
from legwright.robot.editing import opened
from legwright.robot.robot import Robot
from legwright.views.desk.aside import Aside
from legwright.views.desk.asked import (
    VERSION,
    AnyAsked,
    Ask,
    Asked,
    Compare,
    Edit,
    Hello,
    Keep,
    Look,
    Numbered,
    Pull,
    PutBack,
    Redo,
    Show,
    Undo,
)
from legwright.views.desk.drawings import svg_of
from legwright.views.desk.folders import watch
from legwright.views.desk.greeting import edits_of, variants_of, welcome_of
from legwright.views.desk.ledger import Ledger, Subject
from legwright.views.desk.on_disk import files_of, stamp_of
from legwright.views.desk.pages import Board, Page
from legwright.views.desk.picturing import Picturing, View
from legwright.views.desk.pulling import pulled_block
from legwright.views.desk.recordings import recordings_in
from legwright.views.desk.refusals import fault, refusal
from legwright.views.desk.said import Done, Fields, Looked, Said, Verdict, Welcome
from legwright.views.desk.session import Session
from legwright.views.desk.shown import case_names
from legwright.views.desk.tidy import tidy
from legwright.views.desk.waiting import Waiting
from legwright.views.desk.wire import frame, heard

DRAGGED = 0.3
"""Edits that follow one another within this time come from a hand that drags [s]."""

T = TypeVar("T")
Hearer = Callable[[Page, Asked], Awaitable[None]]
"""Takes up a message; raises `LegwrightError` with what is to be told to the page."""


class Wing(Protocol):
    """A part of the desk with messages, routes and work of its own: walking, driving."""

    hearers: Mapping[type[Asked], Hearer]
    """Called on the loop, in order, and not for long: work goes into tasks of its own."""
    routes: tuple[BaseRoute, ...]

    async def start(self) -> None:
        """The loop runs."""

    async def close(self) -> None:
        """End all that runs."""


class Desk:
    """One robot on the desk, for all pages that look at it."""

    def __init__(
        self, session: Session, *, recordings: Path | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        """Get ready; nothing runs yet.

        Args:
            session: The robot.
            recordings: Folder of recorded walks that may be opened.
            clock: Steady time [s].
        """
        self.session, self.board, self.recordings = session, Board(), recordings
        self.wings: list[Wing] = []
        self._clock = clock
        self._hearers: dict[type[Asked], Hearer] = {
            Edit: self._edit, Undo: self._undo, Redo: self._redo, PutBack: self._put_back,
            Keep: self._keep, Compare: self._compare, Show: self._show, Ask: self._ask,
            Look: self._look, Pull: self._pull,
        }  # fmt: skip
        self._ledger = Ledger(self._judged, clock)
        self._picturing = Picturing(self.board)
        self._editor = Aside("edit")
        self._waiting, self._taking = Waiting(), asyncio.Lock()
        self._tasks: list[asyncio.Task[None]] = []
        self._view = View(case=next(iter(case_names(session.robot)), ""), walk=None)
        self._other: tuple[Robot, Subject] | None = None
        """The compared variant, and what its verdict is of."""
        self._since = clock()
        self._tidying: asyncio.Task[None] | None = None
        self._keys: frozenset[str] = frozenset()
        """Of the sheet, that can be edited."""
        self._welcomed: Welcome | None = None

    # Life -----------------------------------------------------------------------------------

    async def start(self) -> None:
        """Begin to work; call on the loop that serves."""
        self._ledger.start()
        for wing in self.wings:
            await wing.start()
            self._hearers |= wing.hearers
        self._tasks = [
            asyncio.create_task(self._work()),
            asyncio.create_task(self._picturing.run()),
            asyncio.create_task(self._watch()),
            asyncio.create_task(self._watch_files()),
        ]
        self._tell_rest()
        self._tell_edits()
        self._want()
        self._turn()

    async def close(self) -> None:
        """End all that runs."""
        for wing in self.wings:
            await wing.close()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._ledger.close()
        self._picturing.close()
        self._editor.close()

    # Pages ----------------------------------------------------------------------------------

    async def hear(self, page: Page, text: str | bytes) -> None:
        """A page's frame came; whatever is wrong with it is told to that page."""
        number = 0
        try:
            message = heard(text)
            number = message.n if isinstance(message, Numbered) else 0
            await self._take(page, message)
        except LegwrightError as error:
            page.answer(refusal(error, number))
        except Exception:  # a fault of ours must not end the desk for everybody
            page.answer(fault(message))

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
        if type(message) in self._slow:
            self._waiting.put(page, message)
            return
        hearer = self._hearers.get(type(message))
        if hearer is None:
            raise RequestError("message", type(message).__name__, "one that this desk takes up")
        await hearer(page, message)

    _slow = (Edit, Undo, Redo, PutBack, Keep, Compare, Show, Ask)
    """Messages that are taken up one after another, so that none meets half an edit."""

    async def _work(self) -> None:
        """Take up what waits."""
        while True:
            page, message = await self._waiting.get()
            try:
                async with self._taking:
                    await self._hearers[type(message)](page, message)
            except LegwrightError as error:
                page.answer(refusal(error, message.n))
            except Exception:  # a fault of ours must not end the desk for everybody
                page.answer(fault(message))

    # The robot ------------------------------------------------------------------------------

    async def _edit(self, page: Page, message: Asked) -> None:
        if isinstance(message, Edit):
            now = self._clock()
            await self._away(lambda: self.session.edit(message.key, message.value, now=now))
            await self._changed(now)

    async def _undo(self, page: Page, message: Asked) -> None:
        await self._away(self.session.undo)
        await self._changed()

    async def _redo(self, page: Page, message: Asked) -> None:
        await self._away(self.session.redo)
        await self._changed()

    async def _put_back(self, page: Page, message: Asked) -> None:
        await self._away(lambda: self.session.put_back(now=self._clock()))
        await self._changed()

    async def _keep(self, page: Page, message: Asked) -> None:
        if isinstance(message, Keep):
            sheet = await self._away(lambda: self.session.keep(message.name))
            text = f"Written: {sheet.parent.name}/{sheet.name}. Nothing else on disk has changed."
            page.answer(frame(Done(n=message.n, text=text)))
            self._tell_edits()
            self._tell_rest()

    async def _compare(self, page: Page, message: Asked) -> None:
        if not isinstance(message, Compare):
            return
        known, name = self.session.variants(), message.variant
        if not name:
            self._other = None
        elif name not in known:
            raise RequestError(
                "variant", name, f"a folder beside this robot's. {did_you_mean(name, known)}"
            )
        else:
            self._other = await self._away(lambda: _variant(name, self.session.family / name))
        self._tell_edits()
        self._tell_rest()
        self._want()
        self._turn()

    @property
    def _compared(self) -> str:
        """Name of the compared variant; empty for none."""
        return self._other[1].file.parent.name if self._other else ""

    @property
    def _under(self) -> Robot | None:
        """What lies under the robot: the compared variant, or what is on disk under edits."""
        if self._other is not None:
            return self._other[0]
        return self.session.kept if self.session.edits else None

    async def _changed(self, since: float | None = None) -> None:
        """The robot is another: draw it and judge it, then say what can be edited.

        A verdict begins beside the picture; in a drag, where it would soon be of a robot that has
        gone, after it.
        """
        now = self._clock() if since is None else since
        calm, self._since = now - self._since > DRAGGED, now
        self._tell_edits()
        self._picturing.judged.clear()
        self._want()
        if calm:
            self._turn()
        await self._picturing.pictured()
        if not calm:
            self._turn()
        await self._away(lambda: (self.session.fields, case_names(self.session.robot)))
        self._tell_rest()

    def _want(self) -> None:
        self._picturing.want(self._view, self.session.robot, self.session.rev, self._under)

    def _tell_edits(self) -> None:
        self.say("edits", edits_of(self.session, compared=self._compared))

    def _tell_rest(self) -> None:
        """Fields and welcome, which take a while to find out."""
        names, fields = case_names(self.session.robot), self.session.fields
        self._picturing.keys = self._keys = frozenset(field.key for field in fields)
        if self._view.walk is None and self._view.case not in names:
            self._view = View(case=next(iter(names), ""), walk=None)
            self._want()
        self._greet()
        self.say("fields", Fields(rev=self.session.rev, list=fields))

    async def _watch(self) -> None:
        """Variants come and go by other hands too."""
        await watch(
            lambda: variants_of(self.session, self._compared),
            self._greet,
            told=lambda: () if self._welcomed is None else self._welcomed.variants,
            when=lambda: self.board.watched,
        )

    async def _watch_files(self) -> None:
        """The robot's own files change by other hands too: an editor beside the desk."""
        session, changed = self.session, asyncio.Event()
        looks = asyncio.create_task(
            watch(
                session.look,
                changed.set,
                told=lambda: session.stamp,
                when=lambda: self.board.watched,
            )
        )
        try:
            while True:
                await changed.wait()
                changed.clear()
                try:
                    async with self._taking:
                        await self._away(lambda: session.reread(now=self._clock()))
                        await self._changed()
                except Exception:  # a fault of ours must not end the looking
                    logging.getLogger(__name__).exception("files were not read again")
        finally:
            looks.cancel()

    def _greet(self) -> None:
        """The welcome, where it is another than pages know."""
        told = welcome_of(
            self.session, case=self._view.case, compared=self._compared,
            recordings=recordings_in(self.recordings),
        )  # fmt: skip
        if self._welcomed != replace(told, rev=0):
            self._welcomed = replace(told, rev=0)
            self.say("welcome", told)

    # What is shown --------------------------------------------------------------------------

    async def _show(self, page: Page, message: Asked) -> None:
        if isinstance(message, Show):
            await self._shows(View(case=message.case, walk=None))

    async def _ask(self, page: Page, message: Asked) -> None:
        if isinstance(message, Ask):
            await self._shows(View(case="", walk=message))

    async def _shows(self, view: View) -> None:
        await self._picturing.check(view, self.session.robot)
        self._view = view
        self._tell_edits()
        self._tell_rest()
        self._want()

    async def _look(self, page: Page, message: Asked) -> None:
        if not isinstance(message, Look):
            return
        found = self._ledger.found(message.finding)
        if found is None:
            raise RequestError("finding", message.finding, "one of the verdict that is shown")
        page.answer(
            frame(
                Looked(
                    n=message.n, finding=found.id, case=found.case, phase=found.phase,
                    parts=found.parts,
                )
            )
        )  # fmt: skip
        if found.case and found.case != self._view.case:
            await self._shows(View(case=found.case, walk=None))

    async def _pull(self, page: Page, message: Asked) -> None:
        """At once, on the loop: it takes a few milliseconds, and a hand waits for it."""
        shown = self._picturing.shown
        if shown is None:
            raise RequestError("pull", "nothing", "a robot that stands; see the verdict")
        if isinstance(message, Pull):
            page.put("pulled", pulled_block(shown, message, rev=self.session.rev))

    async def drawing(self, name: str, theme: str) -> str | None:
        """A drawing of what is shown as SVG; None where there is none of that name."""
        sheet = await self._picturing.drawing(name)
        return None if sheet is None else await self._away(lambda: svg_of(sheet, theme))

    def _turn(self) -> None:
        """Have judged what is on the desk now, and what lies under it."""
        session = self.session
        now = self._subject(session.robot, session.edits)
        under = self._subject(session.kept, {}) if session.edits else None
        before = self._other[1] if self._other else under
        self._ledger.turn(now, before, rev=self.session.rev, since=self._since, keys=self._keys)

    def _subject(self, robot: Robot, edits: Mapping[str, str]) -> Subject:
        """The robot with some edits, to be judged."""
        disk = self.session.disk  # one object for each time that the files were read
        return Subject(name=(frozenset(edits.items()), disk), file=disk.file, robot=robot)

    def _judged(self, key: str, message: Said, *, keep: bool = True) -> None:
        """Tell of the verdict; when it is whole the work on a robot is done."""
        self.say(key, message, keep=keep)
        if isinstance(message, Verdict) and message.whole:
            self._picturing.judged.set()
            self._tidying = asyncio.create_task(self._away(tidy))

    async def _away(self, work: Callable[[], T]) -> T:
        """Do something heavy beside the loop; edits one after another."""
        return await self._editor.do(work)


def _variant(name: str, path: Path) -> tuple[Robot, Subject]:
    """A variant that is to lie under the robot, as its files are now."""
    robot, text = load(path), opened(path)
    return robot, Subject(name=(name, stamp_of(files_of(text, robot))), file=text.file, robot=robot)
