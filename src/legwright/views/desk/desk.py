"""The desk: hears pages, keeps the session, and posts what changed, picture before verdict."""

from __future__ import annotations

import asyncio
import logging
import time
from collections import Counter, OrderedDict
from collections.abc import Awaitable, Callable, Mapping
from pathlib import Path
from typing import Protocol, TypeVar

from msgspec.structs import replace
from starlette.routing import BaseRoute

from legwright.errors import LegwrightError, RequestError, RobotError, did_you_mean
from legwright.mechanics.opening import load
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
from legwright.views.desk.greeting import edits_of, welcome_of
from legwright.views.desk.judging import Judging
from legwright.views.desk.pages import Board, Page
from legwright.views.desk.picturing import Picturing, View
from legwright.views.desk.pulling import pulled_block
from legwright.views.desk.recordings import recordings_in
from legwright.views.desk.said import Checking, Done, Looked, Refused, Said, Verdict, Welcome
from legwright.views.desk.session import Session
from legwright.views.desk.shown import case_names
from legwright.views.desk.verdicts import against, filled
from legwright.views.desk.wire import frame, heard
from legwright.views.desk.worker import Job, Judged, Progress

T = TypeVar("T")
Hearer = Callable[[Page, Asked], Awaitable[None]]
"""Takes up a message; raises `LegwrightError` with what is to be told to the page."""

REMEMBERED = 32
"""Verdicts that are kept, so that undo has one at once."""
CHECKING = 0.1
"""Least time between two reports of progress [s]."""
FAULT = "A fault of the desk itself"
MOST_WAITING = 500
"""Messages that may wait to be taken up; more are refused."""


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
        self._judging = Judging(self._told)
        self._picturing = Picturing(self.board)
        self._editor = Aside("edit")
        self._asks: asyncio.Queue[tuple[Page, Numbered]] = asyncio.Queue(MOST_WAITING)
        self._waiting: Counter[object] = Counter()
        self._tasks: list[asyncio.Task[None]] = []
        self._view = View(case=next(iter(case_names(session.robot)), ""), walk=None)
        self._other: tuple[str, Robot, Path] | None = None
        """Name, robot and path of the compared variant."""
        self._verdicts: OrderedDict[object, Verdict] = OrderedDict()
        self._last: Verdict | None = None
        """The last whole one that was told."""
        self._job: tuple[int, object] = (0, None)
        """Newest job and what it is of."""
        self._since, self._checked = clock(), 0.0
        self._welcomed: Welcome | None = None

    # Life -----------------------------------------------------------------------------------

    async def start(self) -> None:
        """Begin to work; call on the loop that serves."""
        self._judging.start()
        for wing in self.wings:
            await wing.start()
            self._hearers |= wing.hearers
        self._tasks = [
            asyncio.create_task(self._work()),
            asyncio.create_task(self._picturing.run()),
        ]
        self._changed()

    async def close(self) -> None:
        """End all that runs."""
        for wing in self.wings:
            await wing.close()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._judging.close()
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
            self._waiting[_kind(message)] += 1
            try:
                self._asks.put_nowait((page, message))
            except asyncio.QueueFull:
                raise RequestError("messages", "too many", "fewer at once") from None
            return
        hearer = self._hearers.get(type(message))
        if hearer is None:
            raise RequestError("message", type(message).__name__, "one that this desk takes up")
        await hearer(page, message)

    _slow = (Edit, Undo, Redo, PutBack, Keep, Compare, Show, Ask)
    """Messages that are taken up one after another, so that none meets half an edit."""

    async def _work(self) -> None:
        """Take up what waits; of edits of one key, and of walks to show, only the newest."""
        while True:
            page, message = await self._asks.get()
            kind = _kind(message)
            self._waiting[kind] -= 1
            if self._waiting[kind] > 0 and isinstance(message, Edit | Show | Ask):
                continue
            self._waiting += Counter()  # forgets zeros
            try:
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
            self._changed(now)

    async def _undo(self, page: Page, message: Asked) -> None:
        await self._away(self.session.undo)
        self._changed()

    async def _redo(self, page: Page, message: Asked) -> None:
        await self._away(self.session.redo)
        self._changed()

    async def _put_back(self, page: Page, message: Asked) -> None:
        await self._away(lambda: self.session.put_back(now=self._clock()))
        self._changed()

    async def _keep(self, page: Page, message: Asked) -> None:
        if isinstance(message, Keep):
            sheet = await self._away(lambda: self.session.keep(message.name))
            text = f"Written: {sheet.parent.name}/{sheet.name}. Nothing else on disk has changed."
            page.answer(frame(Done(n=message.n, text=text)))
            self._tell_edits()

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
            path = self.session.family / name
            self._other = name, await self._away(lambda: load(path)), path
        self._tell_edits()
        self._picturing.want(self._view, self.session.robot, self.session.rev, self._under)
        self._show_verdict()
        self._judge()

    @property
    def _under(self) -> Robot | None:
        """What lies under the robot: the compared variant, or what is on disk under edits."""
        if self._other is not None:
            return self._other[1]
        return self.session.kept if self.session.edits else None

    def _changed(self, since: float | None = None) -> None:
        """The robot is another: draw it, judge it."""
        self._since = self._clock() if since is None else since
        names = case_names(self.session.robot)
        if self._view.walk is None and self._view.case not in names:
            self._view = View(case=next(iter(names), ""), walk=None)
        self._tell_edits()
        self._picturing.keys = frozenset(field.key for field in self.session.fields)
        self._picturing.want(self._view, self.session.robot, self.session.rev, self._under)
        if not self._show_verdict():
            self._judge()

    def _tell_edits(self) -> None:
        compared = self._other[0] if self._other else ""
        told = welcome_of(
            self.session, case=self._view.case, compared=compared,
            recordings=recordings_in(self.recordings),
        )  # fmt: skip
        if self._welcomed != replace(told, rev=0, fields=()):
            self._welcomed = replace(told, rev=0, fields=())
            self.say("welcome", told)
        self.say("edits", edits_of(self.session, compared=compared))

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
        self._picturing.want(view, self.session.robot, self.session.rev, self._under)

    async def _look(self, page: Page, message: Asked) -> None:
        if not isinstance(message, Look):
            return
        verdict = self._verdicts.get(self._now)
        found = (
            next((f for f in verdict.findings if f.id == message.finding), None)
            if verdict
            else None
        )
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

    # The verdict ----------------------------------------------------------------------------

    @property
    def _now(self) -> object:
        """What the present robot's verdict is remembered by."""
        return frozenset(self.session.edits.items())

    @property
    def _before(self) -> object:
        """What the verdict before is remembered by; None where nothing lies under the robot."""
        if self._other is not None:
            return self._other[0]
        return frozenset() if self.session.edits else None

    def _judge(self) -> None:
        """Have judged what is not known yet: the robot first, then what lies under it."""
        wanted = self._now if self._now not in self._verdicts else self._before
        if wanted is None or wanted in self._verdicts or wanted == self._job[1]:
            return
        other = self._other if wanted != self._now and self._other is not None else None
        self._job = self._job[0] + 1, wanted
        self._judging.judge(
            Job(
                id=self._job[0],
                path=other[2] if other else self.session.path,
                edits=dict(self.session.edits) if wanted == self._now else {},
                keys=frozenset(field.key for field in self.session.fields),
            )
        )

    def _told(self, said: Progress | Judged) -> None:
        number, of = self._job
        if said.id != number:
            return
        if isinstance(said, Progress):
            if of == self._now and self._clock() - self._checked > CHECKING:
                self._checked = self._clock()
                told = Checking(rev=self.session.rev, area=said.area, done=said.done, of=said.of)
                self.say("checking", told, keep=False)
            return
        if not said.verdict.whole:
            if of == self._now:
                self._say_verdict(filled(said.verdict, self._last))
            return
        self._verdicts[of] = said.verdict
        self._job = number, None
        keep = {self._now, self._before, frozenset()}
        while len(self._verdicts) > REMEMBERED:
            oldest = next(key for key in self._verdicts if key not in keep)
            del self._verdicts[oldest]
        self._show_verdict()
        self._judge()

    def _show_verdict(self) -> bool:
        """Tell the verdict on the present robot, if it is known."""
        verdict = self._verdicts.get(self._now)
        if verdict is None:
            return False
        self._verdicts.move_to_end(self._now)
        self._last = verdict
        self._say_verdict(verdict)
        return True

    def _say_verdict(self, verdict: Verdict) -> None:
        before = self._verdicts.get(self._before) if self._before is not None else None
        took = self._clock() - self._since
        self.say("verdict", against(verdict, before, rev=self.session.rev, took=took))

    async def _away(self, work: Callable[[], T]) -> T:
        """Do something heavy beside the loop; edits one after another."""
        return await self._editor.do(work)


def refusal(error: LegwrightError, number: int) -> str:
    """An error as the frame that refuses a message.

    Args:
        error: What was wrong.
        number: Of the message.
    """
    if isinstance(error, RobotError):
        file = "" if error.file is None else f"{error.file.parent.name}/{error.file.name}, "
        text = f"{file}{error.place}: {error.problem}. {error.cure}"
        return frame(Refused(n=number, key=error.place, text=text))
    key = error.what if isinstance(error, RequestError) else ""
    return frame(Refused(n=number, key=key, text=str(error)))


def fault(message: Asked) -> str:
    """A fault of the desk itself, as the frame that refuses a message; told in the log too."""
    kind = type(message).__name__
    logging.getLogger(__name__).exception("%s could not be taken up", kind)
    number = message.n if isinstance(message, Numbered) else 0
    text = f"{FAULT}: {kind} could not be taken up. The terminal says more; nothing has changed."
    return frame(Refused(n=number, key="", text=text))


def _kind(message: Asked) -> object:
    """Messages of one kind replace each other while they wait."""
    if isinstance(message, Edit):
        return "edit", message.key
    return "show" if isinstance(message, Show | Ask) else type(message)
