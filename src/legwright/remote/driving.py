"""The driver's place, and the motion that its holder has asked for."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite

import numpy as np

from legwright.errors import LinkError, RequestError
from legwright.locomotion.command import SINGLE, Command, Kind
from legwright.remote import asked, said
from legwright.remote.orders import Orders
from legwright.remote.readings import Readings
from legwright.remote.task import End, Task
from legwright.rig.faults import Stop
from legwright.rig.request import Answer, Request, Word
from legwright.rig.runtime import Report
from legwright.rig.supervisor import Mode

DEADMAN, LONGEST = 0.25, 5.0
"""Longest `ttl` of what must be renewed, and of all else [s]."""
AHEAD = 0.05
"""How far `heard` may lie ahead of the service's own look at the clock [s]."""
ABANDONED = 2.0
"""A driver silent for so long may lose the place [s]."""
SILENT = 1.0
"""A driver not heard for so long is silent; the fault table adds its own patience [s]."""
DEAD = 0.5
"""Without a report for so long, requests are refused [s]."""
RENEWED = asked.Alive | asked.Walk | asked.Lift | asked.Place | asked.Probe | asked.Trajectory
"""Messages of motions that last only while they are renewed."""
STAND = Command(kind=Kind.STAND)
WORDS = {asked.Power: Word.POWER, asked.Release: Word.RELEASE, asked.Acknowledge: Word.ACKNOWLEDGE}


class LapsedError(LinkError):
    """What came too late, and the motion that is over with it."""

    def __init__(self, word: str, text: str, ended: said.Ended | None = None) -> None:
        super().__init__(word, text)
        self.args = (word, text, ended)
        self.ended = ended


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A request whose answer is to come."""

    session: str
    n: int | None
    """None for the service's own."""
    task: Task | None


class Driving:
    """Who drives, what was asked, and what goes to the robot."""

    def __init__(self, orders: Orders, readings: Readings) -> None:
        """Nobody drives."""
        self.driver = ""
        self._orders, self._readings = orders, readings
        self._task: Task | None = None
        self._count = 0
        self._out: list[Request] = []
        self._waiting: dict[int, _Waiting] = {}

    # The place ----------------------------------------------------------------------------

    def take(self, session: str, heard: float | None, now: float, *, force: bool) -> None:
        """Give a session the place.

        Args:
            session: Who wants it.
            heard: When the one who has it was last heard; None when nobody has [s].
            now: Robot time [s].
            force: Whether it is taken from whoever has it.

        Raises:
            LinkError: Word ``taken``.
        """
        if self.driver in ("", session) or heard is None or force or now - heard > ABANDONED:
            self.driver = session
        else:
            text = (
                "Somebody else drives. Wait until the place is given up or handed over; "
                "the role maintain may take it."
            )
            raise LinkError("taken", text)

    def give(self, session: str) -> None:
        """Give up the place.

        Raises:
            LinkError: Word ``not driver``.
        """
        self._check(session)
        self.driver = ""

    def hand_over(self, session: str, to: str) -> None:
        """Give the place to another session; a motion under way ends at its expiry.

        Raises:
            LinkError: Word ``not driver``.
        """
        self._check(session)
        self.driver = to

    def leave(self, session: str) -> bool:
        """A session is gone; whether it drove. What it moves ends at its expiry."""
        if self.driver != session:
            return False
        self.driver = ""
        return True

    def silent(self, now: float, heard: float | None, report: Report | None) -> bool:
        """Whether drive power is on and no driver is heard."""
        if report is None or report.mode in (Mode.LIMP, Mode.FAULT):
            return False
        return heard is None or now - heard > SILENT

    def _check(self, session: str) -> None:
        if self.driver != session:
            raise LinkError("not driver", "You do not drive. Take the driver's place first.")

    # What is asked ------------------------------------------------------------------------

    def ask(
        self, session: str, who: str, message: asked.Timed, report: Report | None, now: float
    ) -> said.Ended | None:
        """Take a timed message.

        Returns:
            How the motion that it replaces ended, if one was under way.

        Raises:
            LinkError: Where it is refused.
            RequestError: Where a value makes no sense.
        """
        self._check(session)
        expires = self._expiry(message, now)
        if report is None or now - report.time > DEAD:
            text = "The robot's control process is not heard. Look whether it runs."
            raise LinkError("silent", text)
        if isinstance(message, asked.Alive):
            self._renew(session, who, expires, now)
            return None
        word = WORDS.get(type(message))
        if word is not None:
            waiting = _Waiting(session, message.n, None)
            self._send(Request(word=word, sender=who, expires=expires), waiting)
            return None
        return self._move(session, who, message, expires, report)

    def stop(self, session: str, who: str, message: asked.Stop, now: float) -> None:
        """A stop, from anyone."""
        del now
        request = Request(word=Word.STOP, sender=who, stop=Stop(message.category))
        self._send(request, _Waiting(session, message.n, None))

    def _expiry(self, message: asked.Timed, now: float) -> float:
        moves = isinstance(message, RENEWED)
        most = DEADMAN if moves else LONGEST
        if not 0.0 < message.ttl <= most:
            raise RequestError("ttl", message.ttl, f"above 0, at most {most:g} s")
        if not isfinite(message.heard) or message.heard > now + AHEAD:
            text = "`heard` lies ahead of the robot's clock: give back a time that it told."
            raise LinkError("heard", text)
        expires = message.heard + message.ttl
        if now > expires:
            late = 1e3 * (now - expires)
            text = f"It came {late:.0f} ms after its expiry. Look at the connection's delay."
            raise LapsedError("late", text)
        return expires

    def _renew(self, session: str, who: str, expires: float, now: float) -> None:
        task = self._task
        if task is None or task.session != session or not task.renewable:
            return
        if now > task.expires:
            self._task = None
            text = "The connection was away for too long, so the robot stopped. Ask again."
            ended = said.Ended(n=task.n, ok=False, time=now, word="late", text=text)
            raise LapsedError("late", text, ended)
        if expires > task.expires:
            task.expires = expires
            self._again(task, who)

    def _move(
        self, session: str, who: str, message: asked.Timed, expires: float, report: Report
    ) -> said.Ended | None:
        if not isinstance(message, asked.Motion):
            raise LinkError("message", "This message is not for here.")
        if isinstance(message, asked.Trajectory) and report.mode is not Mode.STANDING:
            text = "Legs are led only while the robot stands still. Ask it to stand first."
            raise LinkError("refused", text)
        told, sensed = report.targets.q, report.sensed.q
        command = self._orders.command(message, np.where(np.isnan(told), sensed, told))
        old, ended = self._task, None
        if old is not None and not old.told and old.session == session:
            text = "Another motion was asked for."
            ended = said.Ended(n=old.n, ok=False, time=report.time, word="replaced", text=text)
        seconds = message.seconds if isinstance(message, asked.Walk) else None
        self._task = Task(
            n=message.n, session=session, command=command, expires=expires,
            seconds=inf if seconds is None else seconds,
        )  # fmt: skip
        request = Request(word=Word.MOVE, sender=who, command=command, expires=expires)
        self._send(request, _Waiting(session, message.n, self._task))
        return ended

    def _again(self, task: Task, who: str) -> None:
        request = Request(word=Word.ALIVE, sender=who, expires=task.expires)
        self._send(request, _Waiting(task.session, None, task))

    def _send(self, request: Request, waiting: _Waiting) -> None:
        self._count += 1
        while len(self._waiting) > 4096:
            del self._waiting[next(iter(self._waiting))]
        self._waiting[self._count] = waiting
        self._out.append(
            Request(
                word=request.word, sender=request.sender, number=self._count,
                command=request.command, expires=request.expires, stop=request.stop,
            )
        )  # fmt: skip

    def requests(self) -> list[Request]:
        """Take what is to go to the robot."""
        out, self._out = self._out, []
        return out

    # What comes back ----------------------------------------------------------------------

    def see(self, report: Report) -> list[tuple[said.Said, str]]:
        """Follow one cycle: messages, each with the session that it is for."""
        found: list[tuple[said.Said, str]] = []
        task = self._task
        stopped = task.stopped(report) if task is not None else None
        if task is not None and stopped is not None:
            self._end(task, stopped, report, found)
        for answer in report.answers:
            self._answered(answer, report, found)
        task = self._task
        if task is None:
            return found
        if task.over(report.time):
            self._stand(task)
        end = task.see(report, self._readings.columns)
        if end is not None:
            self._end(task, end, report, found)
        return found

    def _answered(self, answer: Answer, report: Report, found: list[tuple[said.Said, str]]) -> None:
        waiting = self._waiting.pop(answer.number, None)
        if waiting is None:
            return
        task = waiting.task
        if waiting.n is not None:
            word = "" if answer.ok else "refused"
            found.append(
                (
                    said.Answer(
                        n=waiting.n, ok=answer.ok, time=report.time, word=word, text=answer.text
                    ),
                    waiting.session,
                )
            )  # fmt: skip
            if task is not None and answer.ok and task.began is None:
                task.began = report.time
        if not answer.ok and task is not None and task is self._task:
            self._task = None
            if waiting.n is None and not task.told:
                found.append(
                    (
                        said.Ended(
                            n=task.n, ok=False, time=report.time, word="refused", text=answer.text
                        ),
                        task.session,
                    )
                )  # fmt: skip

    def _stand(self, task: Task) -> None:
        """Let the robot come to a stand."""
        task.stopping, task.rest = True, None
        request = Request(word=Word.MOVE, sender="service", command=STAND)
        self._send(request, _Waiting(task.session, None, None))

    def _end(
        self, task: Task, end: End, report: Report, found: list[tuple[said.Said, str]]
    ) -> None:
        kind = task.command.kind
        if end.ok and kind in (Kind.LIFT, Kind.FOLLOW):
            task.told = True
        else:
            self._task = None
            if kind in SINGLE and end.ok:
                self._stand(task)
        if task.told and not end.ok:
            return
        leg, touch, readings = task.command.leg, end.touch, self._readings
        ended = said.Ended(
            n=task.n,
            ok=end.ok,
            time=report.time,
            word=end.word,
            text=end.text,
            foot=None if touch is None else readings.foot(touch, leg),
            force=end.force,
        )
        found.append((ended, task.session))
