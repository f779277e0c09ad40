"""Verdicts that are known, the one that is worked out, and what pages are told of both."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from legwright.robot.robot import Robot
from legwright.views.desk.judging import Judging
from legwright.views.desk.said import Checking, Found, Said, Verdict
from legwright.views.desk.verdicts import against, filled
from legwright.views.desk.worker import Job, Judged, Progress

REMEMBERED = 32
"""Verdicts that are kept, so that undo has one at once."""
CHECKING = 0.1
"""Least time between two reports of progress [s]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Subject:
    """A robot that a verdict is of."""

    name: Hashable
    """What its verdict is remembered by."""
    file: Path
    """Its sheet."""
    robot: Robot


class Say(Protocol):
    """Tells all pages; see `Board.post`."""

    def __call__(self, key: str, message: Said, *, keep: bool = True) -> None:
        """Tell it."""


class Ledger:
    """Has judged what is not known yet: the robot first, then what lies under it."""

    def __init__(self, say: Say, clock: Callable[[], float]) -> None:
        """Nothing is known yet.

        Args:
            say: Tells all pages.
            clock: Steady time [s].
        """
        self._say, self._clock = say, clock
        self._judging = Judging(self._told)
        self._known: OrderedDict[Hashable, Verdict] = OrderedDict()
        self._last: Verdict | None = None
        """The last whole one that was told."""
        self._job: tuple[int, Hashable] = (0, None)
        """Newest job and what it is of."""
        self._now: Subject | None = None
        self._before: Subject | None = None
        self._keys: frozenset[str] = frozenset()
        self._rev, self._since, self._checked = 0, 0.0, 0.0

    def start(self) -> None:
        """Begin to work; call on the loop."""
        self._judging.start()

    def close(self) -> None:
        """End the work."""
        self._judging.close()

    def turn(
        self, now: Subject, before: Subject | None, *, rev: int, since: float, keys: frozenset[str]
    ) -> None:
        """Another robot is on the desk, or another lies under it: tell its verdict, or find it.

        Args:
            now: The robot.
            before: What lies under it.
            rev: Revision of the robot.
            since: When it became so, by the clock [s].
            keys: Keys of the sheet that can be edited.
        """
        self._now, self._before, self._rev, self._since = now, before, rev, since
        self._keys = keys
        self._show()
        self._judge()

    def found(self, finding: str) -> Found | None:
        """A finding of the whole verdict that is shown, by its id."""
        verdict = None if self._now is None else self._known.get(self._now.name)
        return next((f for f in verdict.findings if f.id == finding), None) if verdict else None

    def _judge(self) -> None:
        wanted = next(
            (one for one in (self._now, self._before) if one and one.name not in self._known), None
        )
        if wanted is None or wanted.name == self._job[1]:
            return
        self._job = self._job[0] + 1, wanted.name
        self._judging.judge(
            Job(id=self._job[0], file=wanted.file, robot=wanted.robot, keys=self._keys)
        )

    def _told(self, said: Progress | Judged) -> None:
        number, of = self._job
        if said.id != number:
            return
        shown = self._now is not None and of == self._now.name
        if isinstance(said, Progress):
            if shown and self._clock() - self._checked > CHECKING:
                self._checked = self._clock()
                told = Checking(rev=self._rev, area=said.area, done=said.done, of=said.of)
                self._say("checking", told, keep=False)
            return
        if not said.verdict.whole:
            if shown:
                self._tell(filled(said.verdict, self._last))
            return
        self._known[of] = said.verdict
        self._job = number, None
        self._forget()
        if any(one is not None and of == one.name for one in (self._now, self._before)):
            self._show()  # what is of a robot that has gone again changes nothing on the desk
        self._judge()

    def _forget(self) -> None:
        keep = {one.name for one in (self._now, self._before) if one}
        while len(self._known) > REMEMBERED:
            oldest = next(name for name in self._known if name not in keep)
            del self._known[oldest]

    def _show(self) -> None:
        """Tell the verdict on the present robot, if it is known."""
        verdict = None if self._now is None else self._known.get(self._now.name)
        if verdict is None or self._now is None:
            return
        self._known.move_to_end(self._now.name)
        self._last = verdict
        self._tell(verdict)

    def _tell(self, verdict: Verdict) -> None:
        before = self._known.get(self._before.name) if self._before is not None else None
        took = self._clock() - self._since
        self._say("verdict", against(verdict, before, rev=self._rev, took=took))
