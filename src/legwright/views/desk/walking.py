"""The walk on the desk: orders to its process or a recording, and what is told to the pages."""

from __future__ import annotations

import asyncio
import secrets
import shutil
import tempfile
import time
from collections.abc import Awaitable, Callable, Coroutine, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import datetime
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Literal, Protocol, TypeVar
from weakref import WeakKeyDictionary

from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from legwright.errors import LegwrightError, RequestError
from legwright.robot.robot import Robot
from legwright.views.desk import asked
from legwright.views.desk.asked import Asked
from legwright.views.desk.folders import watch as watch_folder
from legwright.views.desk.pages import Page
from legwright.views.desk.recordings import recording_named, recordings_in
from legwright.views.desk.refusals import refusal
from legwright.views.desk.said import FilmReady, Recordings, Said, Walking
from legwright.views.desk.walk_asked import outset_of
from legwright.views.desk.walk_film import film
from legwright.views.desk.walk_line import WalkLine
from legwright.views.desk.walk_recorded import fits, recorded_story
from legwright.views.desk.walk_shown import Watch, moment_block
from legwright.views.desk.walk_story import About, Batch, Story
from legwright.views.desk.walk_worker import End, Hold, Outset, Over, Pace, Rests, Told
from legwright.views.desk.wire import frame

TOLD = 0.25
"""How often the state is told while it walks [s]."""
T = TypeVar("T")
Hearer = Callable[[Page, Asked], Awaitable[None]]
State = Literal["none", "starting", "walking", "paused", "ended", "recording"]


class Holder(Protocol):
    """Who holds the edited robot."""

    @property
    def robot(self) -> Robot:
        """The robot as it is edited now."""


class Host(Protocol):
    """The desk, as far as a walk needs it."""

    @property
    def session(self) -> Holder:
        """With the edited robot."""

    def say(self, key: str, message: Said, *, keep: bool = True) -> None:
        """Tell all pages."""


class WalkWing:
    """Question 4: walks, recordings, film strips."""

    def __init__(self, host: Host, recordings: Path | None = None) -> None:
        """Get ready; nothing walks.

        Args:
            host: The desk.
            recordings: Folder of recordings, where walks are kept too; a passing one when None.
        """
        self._host, self._kept = host, recordings
        self._passing = Path(tempfile.mkdtemp(prefix="legwright-desk-"))
        self.folder = recordings or self._passing
        self._line = WalkLine(self._hear)
        self._readers: ProcessPoolExecutor | None = None
        self._watches: WeakKeyDictionary[Page, Watch] = WeakKeyDictionary()
        self.story: Story | None = None
        self._state: State = "none"
        self._held = False
        """Whether it is to be held: it is so when its process says that the world rests."""
        self._outset: Outset | None = None
        self._file: Path | None = None
        self._text = ""
        self._drawn, self._rate, self._factor = True, (0.0, 0.0), 0.0
        self._told = 0.0
        self._listed: tuple[str, ...] = ()
        self._tasks: set[asyncio.Task[None]] = set()
        self.routes: tuple[BaseRoute, ...] = (Route("/film/{id}.png", self._strip),)
        self.hearers: Mapping[type[Asked], Hearer] = {
            asked.WalkStart: self._start,
            asked.WalkWatch: self._watch,
            asked.WalkPace: self._pace,
            asked.WalkPause: self._pause,
            asked.WalkEnd: self._end,
            asked.WalkOpen: self._open,
            asked.WalkAt: self._at,
            asked.Film: self._film,
        }

    # Life -----------------------------------------------------------------------------------

    async def start(self) -> None:
        """The loop runs."""
        self._tell()
        self._list()
        looking = watch_folder(
            partial(recordings_in, self.folder), self._list,
            told=lambda: self._listed, when=lambda: bool(self._watches),
        )  # fmt: skip
        self._tasks.add(asyncio.create_task(looking))

    async def close(self) -> None:
        """End all that runs."""
        self._line.close()
        for task in self._tasks:
            task.cancel()
        if self._readers is not None:
            self._readers.shutdown(wait=False, cancel_futures=True)
        shutil.rmtree(self._passing, ignore_errors=True)

    # What pages ask -------------------------------------------------------------------------

    async def _start(self, page: Page, message: Asked) -> None:
        if not isinstance(message, asked.WalkStart):
            return
        stamp = datetime.now().strftime("%Y%m%d-%H%M%S")
        self.folder.mkdir(parents=True, exist_ok=True)
        self._outset = outset_of(self._host.session.robot, message, self.folder, stamp)
        self._file, self._text, self.story = self._outset.record, "", None
        self._held = False
        self._line.order(self._outset)
        self._become("starting")

    async def _watch(self, page: Page, message: Asked) -> None:
        if not isinstance(message, asked.WalkWatch):
            return
        self._watches.pop(page, None)
        if message.on:
            self._watches[page] = Watch(page)
            self._show()

    async def _pace(self, page: Page, message: Asked) -> None:
        if isinstance(message, asked.WalkPace) and self._outset is not None:
            if not 0.0 <= message.pace <= 100.0:
                raise RequestError("pace", message.pace, "0 (as fast as it goes) to 100")
            self._outset = replace(self._outset, pace=message.pace)
            if self._state in ("walking", "paused", "starting"):
                self._line.order(Pace(pace=message.pace))
                if self._held:
                    self._line.order(Hold(paused=True))
            self._tell()

    async def _pause(self, page: Page, message: Asked) -> None:
        if isinstance(message, asked.WalkPause) and self._state in ("walking", "paused"):
            self._held = message.paused
            self._line.order(Hold(paused=message.paused))
            if not message.paused:
                self._become("walking")

    async def _end(self, page: Page, message: Asked) -> None:
        if self._state in ("starting", "walking", "paused"):
            self._line.order(End())
        elif self._state == "recording":
            self.story = self._outset = self._file = None
            self._become("none")

    async def _open(self, page: Page, message: Asked) -> None:
        if not isinstance(message, asked.WalkOpen):
            return
        path = recording_named(self.folder, message.name)
        if self._state in ("starting", "walking", "paused"):
            raise RequestError("recording", message.name, "asked for when nothing walks: end it")
        self._later(page, message.n, self._opened(path))

    async def _opened(self, path: Path) -> None:
        robot = self._host.session.robot
        story: Story = await self._away(recorded_story, path, robot)
        if self._state in ("starting", "walking", "paused"):
            raise RequestError("recording", path.name, "asked for when nothing walks: end it")
        self.story, self._outset, self._file, self._text = story, None, path, ""
        self._drawn = fits(story.about, robot.joint_names)
        self._become("recording")
        self._show(anew=True)

    async def _at(self, page: Page, message: Asked) -> None:
        if isinstance(message, asked.WalkAt) and self.story is not None:
            pose = self.story.poses.at(message.time)
            if pose is not None:
                page.put("moment", moment_block(pose, live=False))

    async def _film(self, page: Page, message: Asked) -> None:
        if not isinstance(message, asked.Film):
            return
        if self._file is None or not self._file.is_file():
            raise RequestError("film strip", "of nothing", "asked for once a walk has begun")
        self._later(page, message.n, self._filmed(page, message.n, self._file))

    async def _filmed(self, page: Page, n: int, recording: Path) -> None:
        id = secrets.token_hex(8)
        await self._away(film, recording, self._passing / f"{id}.png")
        page.answer(frame(FilmReady(n=n, id=id, title=f"{recording.stem}.png")))

    async def _strip(self, request: Request) -> Response:
        path = self._passing / f"{request.path_params['id']}.png"
        if path.parent != self._passing or not path.is_file():
            return PlainTextResponse("There is no such film strip.\n", status_code=404)
        return FileResponse(path, media_type="image/png")

    def _later(self, page: Page, n: int, work: Coroutine[None, None, None]) -> None:
        """Do something long beside the loop; what is wrong with it is told to the page."""

        async def done() -> None:
            try:
                await work
            except LegwrightError as error:
                page.answer(refusal(error, n))

        task = asyncio.create_task(done())
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _away(self, work: Callable[..., T], *given: object) -> T:
        """Read or draw in a process of its own."""
        if self._readers is None:
            self._readers = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._readers, partial(work, *given))

    # What the process tells -----------------------------------------------------------------

    def _hear(self, told: Told) -> None:
        if isinstance(told, About):
            self.story, self._drawn = Story(about=told), True
            self._rate = time.monotonic(), 0.0
            self._become("walking")
            self._show(anew=True)
        elif isinstance(told, Rests):
            if self._held:
                self._state = "paused"
                self._show()  # all that was walked comes before the word that it is held
                self._become("paused")
        elif isinstance(told, Over):
            self._text = told.text
            self._become("ended")
            self._show()
            self._list()
        elif isinstance(told, Batch) and self.story is not None:
            self.story.add(told)
            now = time.monotonic()
            if now - self._told >= TOLD:
                then, at = self._rate
                if now > then + 1e-3:
                    self._factor = (self.story.time - at) / (now - then)
                self._rate = now, self.story.time
                self._tell()
            self._show()

    # What pages are told --------------------------------------------------------------------

    def _become(self, state: State) -> None:
        self._state = state
        self._rate = time.monotonic(), self.story.time if self.story is not None else 0.0
        self._tell()

    def _tell(self) -> None:
        self._told = time.monotonic()
        self._host.say("walk", self.said())

    def said(self) -> Walking:
        """The state of the walk."""
        outset, story = self._outset, self.story
        trip = None if outset is None else outset.trip
        walking = self._state == "walking"
        return Walking(
            state=self._state,
            time=0.0 if story is None else story.time,
            ground="" if trip is None else trip.ground,
            seed=None if outset is None else outset.seed,
            gait="" if trip is None else trip.gait.name,
            speed=None if trip is None else trip.speed,
            distance=None if trip is None else trip.distance,
            mode="" if outset is None else "felt" if outset.felt else "blind",
            pace=1.0 if outset is None else outset.pace,
            factor=self._factor if walking else 0.0,
            way=0.0 if story is None else story.way,
            name="" if self._file is None else self._file.name,
            robot="" if story is None else story.about.robot,
            text=self._text,
        )

    def _show(self, *, anew: bool = False) -> None:
        """Tell every page that watches what it has not seen yet."""
        live, rest = self._state != "recording", self._state in ("paused", "ended")
        for watch in list(self._watches.values()):
            watch.show(self.story, drawn=self._drawn, live=live, anew=anew, rest=rest)

    def _list(self) -> None:
        folder = "" if self._kept is None else self.folder.name
        self._listed = recordings_in(self.folder)
        self._host.say("recordings", Recordings(list=self._listed, folder=folder))
