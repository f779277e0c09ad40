"""The picture: shape and cycle of the newest robot, as fast as they can be had.

While edits come faster than pictures are made, each picture is finished and the next one is of
the newest robot: a drag is seen to move. A first cycle takes the step duration of the last one
and the battery's cut-off voltage; the exact one, paced and fed from the circuit, follows.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable, Collection
from contextlib import suppress
from dataclasses import dataclass
from typing import TypeVar

from legwright.errors import LegwrightError
from legwright.robot.robot import Robot
from legwright.views.desk.aside import Aside
from legwright.views.desk.asked import Ask
from legwright.views.desk.circuits import circuit_block
from legwright.views.desk.cycle import Who, cycle_block, reach_block
from legwright.views.desk.drawings import QUICK as QUICK_ONES
from legwright.views.desk.drawings import SLOW as SLOW_ONES
from legwright.views.desk.drawings import Listed, drawings_of, listed
from legwright.views.desk.nearness import nearness_block
from legwright.views.desk.pages import Board
from legwright.views.desk.scene import shape_of
from legwright.views.desk.shown import Shown, check_view, glimpse, shown_case, shown_walk
from legwright.views.desk.wire import frame
from legwright.views.wide_sheet import WideSheet

T = TypeVar("T")

CALM = 1.5
"""So long nothing changes before drawings that take a second are begun [s]."""
WAIT = 0.4
"""So long what may come after the picture leaves all cores to the verdict [s]."""
QUICK = 0.06
"""Where the exact cycle takes no longer than this, no first one is made [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """What is shown of a robot."""

    case: str
    """One of the study's; empty for a walk of the user's own."""
    walk: Ask | None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Wanted:
    """A picture to be made."""

    view: View
    robot: Robot
    rev: int
    under: Robot | None


class Picturing:
    """Makes pictures, the newest wanted one at a time, and posts them."""

    def __init__(self, board: Board) -> None:
        """Nothing is wanted yet."""
        self._board = board
        self._thread = Aside("picture")
        self._wanted: Wanted | None = None
        self._ready = asyncio.Event()
        self._out = asyncio.Event()
        self.judged = asyncio.Event()
        """Whether the verdict on what is wanted is whole."""
        self.judged.set()
        self._exact = 1.0
        """How long the last exact cycle took [s]."""
        self._shaped: dict[Who, Robot] = {}
        self._drawn: dict[Who, tuple[Robot, View]] = {}
        self.shown: Shown | None = None
        """What is shown now."""
        self._listed: tuple[Shown, dict[str, Listed]] | None = None
        self._made: tuple[Shown, dict[str, WideSheet]] | None = None
        self._drawer = Aside("drawing")
        self._later: asyncio.Task[None] | None = None
        self._reached: dict[Who, Robot] = {}
        self._near: Shown | None = None
        """Whose nearest links were told."""
        self.keys: Collection[str] = ()
        """Keys of the sheet that can be edited."""

    def want(self, view: View, robot: Robot, rev: int, under: Robot | None) -> None:
        """A picture is wanted; one that has not begun is forgotten."""
        self._wanted = Wanted(view=view, robot=robot, rev=rev, under=under)
        self._ready.set()
        self._out.clear()
        if self._later is not None:
            self._later.cancel()  # drawings of a robot that has gone would slow what is wanted

    async def pictured(self) -> None:
        """Wait until a picture of what is wanted now is out, or cannot be."""
        await self._out.wait()

    async def check(self, view: View, robot: Robot) -> None:
        """Look whether a walk can be shown at all.

        Raises:
            RequestError: where its words or numbers make none.
        """
        await self._away(lambda: check_view(robot, view.case, view.walk))

    async def run(self) -> None:
        """Make pictures for ever."""
        while True:
            await self._ready.wait()
            self._ready.clear()
            wanted, self._wanted = self._wanted, None
            if wanted is None:
                continue
            try:
                await self._draw(wanted)
            except Exception:  # a fault of ours must not end all pictures
                logging.getLogger(__name__).exception("revision %d was not drawn", wanted.rev)
            self._seen()

    def close(self) -> None:
        """End the threads."""
        if self._later is not None:
            self._later.cancel()
        self._thread.close()
        self._drawer.close()

    async def _draw(self, wanted: Wanted) -> None:
        await self._shape(wanted.robot, wanted.rev, "now")
        try:
            await self._cycle(wanted)
            if self._wanted is None:
                await self._rest(wanted)
        except LegwrightError:  # what is in the way is in the verdict
            for key in ("cycle/now", "circuit/now", "reach/now", "nearness", "drawings"):
                self._board.forget(key)
            self._drawn.pop("now", None)
            self._reached.pop("now", None)
            self.shown = None
        if wanted.under is None:
            for key in ("shape/before", "cycle/before", "circuit/before", "reach/before"):
                self._board.forget(key)
            for known in (self._shaped, self._drawn, self._reached):
                known.pop("before", None)
        elif self._wanted is None:
            await self._beneath(wanted, wanted.under)

    async def _shape(self, robot: Robot, rev: int, who: Who) -> None:
        if self._shaped.get(who) is robot:
            return
        made = await self._away(lambda: frame(shape_of(robot, rev=rev, who=who)))
        self._shaped[who] = robot
        self._board.post(f"shape/{who}", made)

    async def _cycle(self, wanted: Wanted) -> None:
        view, last = wanted.view, self.shown
        if self._drawn.get("now") == (wanted.robot, view):
            return
        drawn = self._drawn.get("now")
        if last is not None and drawn is not None and drawn[1] == view and self._exact > QUICK:
            with suppress(LegwrightError):  # what cannot stand, the exact one will tell
                first = await self._away(lambda: glimpse(wanted.robot, last))
                self._post(first, wanted, "now")
            if self._wanted is not None:
                return
        began = time.perf_counter()
        shown = await self._away(lambda: _shown(view, wanted.robot))
        self._exact = time.perf_counter() - began
        self.shown = shown
        self._drawn["now"] = wanted.robot, view
        self._post(shown, wanted, "now")
        self._circuit(shown, wanted, "now")

    async def _beneath(self, wanted: Wanted, under: Robot) -> None:
        """What lies under the robot, walked the same way; nothing where it cannot."""
        await self._shape(under, wanted.rev, "before")
        if self._drawn.get("before") == (under, wanted.view):
            return
        try:
            shown = await self._away(lambda: _shown(wanted.view, under))
        except LegwrightError:
            self._board.forget("cycle/before")
            self._drawn.pop("before", None)
            return
        self._drawn["before"] = under, wanted.view
        self._post(shown, wanted, "before")
        self._circuit(shown, wanted, "before")
        await self._reach(under, wanted.rev, "before")

    async def _rest(self, wanted: Wanted) -> None:
        """What may come after the picture, and after the verdict where that is quick."""
        awaited = [asyncio.create_task(each.wait()) for each in (self.judged, self._ready)]
        await asyncio.wait(awaited, timeout=WAIT, return_when=asyncio.FIRST_COMPLETED)
        for task in awaited:
            task.cancel()
        if self._wanted is not None:
            return
        await self._reach(wanted.robot, wanted.rev, "now")
        shown = self.shown
        if self._wanted is None and shown is not None:
            await self._nearness(shown, wanted)
        if self._wanted is None and shown is not None:
            found = await self._away(lambda: listed(shown, QUICK_ONES))
            self._list(shown, found, wanted.rev)
            if self._later is not None:
                self._later.cancel()
            self._later = asyncio.create_task(self._list_more(shown, found, wanted.rev))

    async def _list_more(self, shown: Shown, found: dict[str, Listed], rev: int) -> None:
        """The drawings of made parts, once nothing has changed for a while."""
        await asyncio.sleep(CALM)
        more = await self._slowly(lambda: listed(shown, SLOW_ONES))
        if self.shown is shown:
            self._list(shown, found | more, rev)

    def _list(self, shown: Shown, found: dict[str, Listed], rev: int) -> None:
        self._listed = shown, found
        self._board.post("drawings", frame(drawings_of(found, rev=rev, missing=shown.note)))

    async def _reach(self, robot: Robot, rev: int, who: Who) -> None:
        if self._reached.get(who) is robot:
            return
        self._board.post(
            f"reach/{who}", await self._away(lambda: reach_block(robot, rev=rev, who=who))
        )
        self._reached[who] = robot

    async def _nearness(self, shown: Shown, wanted: Wanted) -> None:
        if self._near is shown:
            return
        rev, case = wanted.rev, wanted.view.case
        block = await self._away(lambda: nearness_block(shown, rev=rev, case=case))
        self._board.post("nearness", block)
        self._near = shown

    def _circuit(self, shown: Shown, wanted: Wanted, who: Who) -> None:
        block = circuit_block(shown, rev=wanted.rev, who=who, case=wanted.view.case, keys=self.keys)
        if block is None:
            self._board.forget(f"circuit/{who}")
        else:
            self._board.post(f"circuit/{who}", block)

    async def drawing(self, name: str) -> WideSheet | None:
        """A drawing of what is shown; made when it is asked for, and then kept.

        Args:
            name: One that the message `drawings` lists.
        """
        if self._listed is None or name not in self._listed[1]:
            return None
        shown, found = self._listed
        if self._made is None or self._made[0] is not shown:
            self._made = shown, {}
        made = self._made[1]
        if name not in made:
            sheets = await self._slowly(lambda: list(found[name].make()))
            made |= {sheet.name: sheet for sheet in sheets}
        return made.get(name)

    def _post(self, shown: Shown, wanted: Wanted, who: Who) -> None:
        block = cycle_block(shown, rev=wanted.rev, who=who, case=wanted.view.case)
        self._board.post(f"cycle/{who}", block)
        self._seen()

    def _seen(self) -> None:
        """A picture is out, if nothing newer is wanted."""
        if self._wanted is None:
            self._out.set()

    async def _slowly(self, work: Callable[[], T]) -> T:
        """Do what takes seconds, so that pictures do not wait for it."""
        return await self._drawer.do(work)

    async def _away(self, work: Callable[[], T]) -> T:
        """Do something heavy beside the loop."""
        return await self._thread.do(work)


def _shown(view: View, robot: Robot) -> Shown:
    return shown_case(robot, view.case) if view.walk is None else shown_walk(robot, view.walk)
