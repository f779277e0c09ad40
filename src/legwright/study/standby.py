"""A second process that stands by: a fork of this one that answers one study after another.

A fork for every study, and one more for its second half, copies some 60 MB of pages as either side
writes to them: a fourth of the processor time of a verdict after an edit. One that stays has its
own pages, and keeps in mind what does not change from study to study; it is sent the robot, and
the walks. As with `forked`, whoever asks works out what does not come back.

Which of the two is done first differs from robot to robot, and with what else runs. So some work
is handed to either: its tickets lie in a pipe that both read, and whoever has nothing else to do
takes the next.
"""

from __future__ import annotations

import gc
import io
import os
import pickle
import select
import signal
import sys
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache, partial
from multiprocessing.connection import Connection, Pipe
from threading import Thread
from types import MappingProxyType
from typing import Any

from legwright.robot.robot import Robot
from legwright.study.forked import WAIT, Work
from legwright.study.handing import Buffer, Laid, Sender, Shelf, Ticket, Tickets

CALM = 5.0
"""Free memory goes back to the system when nothing was asked for so long [s]: a study that comes
sooner takes it again at once, which costs 20 ms of processor time."""
MOST_UNTIDIED = 10
"""Or after so many pieces of work."""
ROBOT = "robot"
"""What stands for the robot in what is sent, so that it stays one and the same there."""
LEFT_OUT = "left out"
"""And for what is not sent: nothing is there in its place."""


class Standby:
    """The process, if one can be had; it starts when it is first asked, and again after a loss."""

    def __init__(self, tidy: Callable[[], object] = lambda: None) -> None:
        """Nothing runs yet.

        Args:
            tidy: Gives free memory back there, now and then.
        """
        self._tidy = tidy
        self._other: _Other | None = None
        self._batch = 0
        self._robot: Robot | None = None
        self._answers: dict[tuple[int, str], Any] = {}
        self._open: set[int] = set()
        """Batches that are asked for now."""
        self._either: dict[Ticket, tuple[str, Work]] = {}

    @contextmanager
    def asked(
        self,
        work: Mapping[str, Work],
        *,
        robot: Robot,
        waiting: Work,
        without: tuple[type, ...] = (),
        parts: Mapping[type, tuple[str, ...]] = MappingProxyType({}),
        either: Callable[[str], bool] = lambda name: False,
    ) -> Iterator[Mapping[str, Work]]:
        """Have work done there, after what was asked before.

        Where something has not been fetched at the end of this block, the process is ended.

        Args:
            work: Name -> what is to be worked out, in this order; both must pickle.
            robot: What it is all about.
            without: Kinds of objects that the work holds and does not look at: they are not sent.
            parts: Kind of objects -> the fields of them that the work looks at: others are not
                sent, and are missing there.
            either: Whether work of a name is done here where this process waits for an answer
                and it has not been begun there, where it is begun after everything else.
            waiting: Called while an answer is waited for; what it raises ends the wait.

        Yields:
            Name -> what gives the answer.
        """
        self._batch += 1
        batch = self._batch
        free = {(batch, at): one for at, one in enumerate(work.items()) if either(one[0])}
        if not work or not self._send(batch, work, robot, without, parts, list(free)):
            yield {name: lru_cache(maxsize=1)(make) for name, make in work.items()}
            return
        self._either |= free
        self._open.add(batch)

        def answer(name: str) -> Any:
            try:
                while (batch, name) not in self._answers:
                    self._go_on(waiting)
            except (EOFError, OSError):  # it died
                self.close()
                self._answers[batch, name] = work[name]()
            return self._answers[batch, name]

        try:
            yield {name: lambda name=name: answer(name) for name in work}  # type: ignore[misc]
        finally:
            if any((batch, name) not in self._answers for name in work):
                self.close()
            self._open.discard(batch)
            self._answers = {key: one for key, one in self._answers.items() if key[0] != batch}
            self._either = {key: one for key, one in self._either.items() if key[0] != batch}

    @property
    def running(self) -> bool:
        """Whether the process is there."""
        return self._other is not None

    def close(self) -> None:
        """End the process."""
        if self._other is not None:
            self._other.end()
        self._other = self._robot = None

    def _send(
        self, batch: int, work: Mapping[str, Work], robot: Robot, without: tuple[type, ...],
        parts: Mapping[type, tuple[str, ...]], free: list[Ticket],
    ) -> bool:  # fmt: skip
        if self._other is None:
            self._other = _started(self._tidy)
        if self._other is None:
            return False
        told = None if robot is self._robot else robot
        try:
            if not self._open:
                self._other.outward.clear()
            packed = self._other.outward.laid(
                partial(_packed, list(work.items()), robot, without, parts)
            )
            sent = (batch, told, packed, frozenset(free), not self._open)
            message = pickle.dumps(sent, protocol=5)
        except (pickle.PicklingError, AttributeError, TypeError):
            self.close()
            return False
        self._other.tickets.lay_out(free)
        self._other.sender.send(message)
        self._robot = robot
        return True

    def _go_on(self, waiting: Work) -> None:
        """Take an answer that has come, or a piece of work, or wait for an answer."""
        other = self._other
        if other is None:
            raise EOFError
        ticket = None if other.line.poll() else other.tickets.take()
        if ticket is not None:
            waiting()
            name, make = self._either[ticket]
            self._answers[ticket[0], name] = make()
            return
        while not other.line.poll(WAIT):
            waiting()
        batch, name, blob, places = other.line.recv()
        self._answers[batch, name] = pickle.loads(blob, buffers=other.inward.taken(places))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Other:
    """The process, and what is shared with it."""

    pid: int
    line: Connection
    sender: Sender
    tickets: Tickets
    outward: Shelf
    inward: Shelf

    def end(self) -> None:
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        self.sender.close()
        self.line.close()
        self.tickets.close()
        self.outward.close()
        self.inward.close()


def _started(tidy: Callable[[], object]) -> _Other | None:
    """The process; None where there can be none."""
    if sys.platform != "linux":
        return None
    (ours, theirs), tickets, outward, inward = Pipe(), Tickets(), Shelf(), Shelf()
    with warnings.catch_warnings():
        # threads that draw a progress bar hold no lock that the work asks for
        warnings.simplefilter("ignore", DeprecationWarning)
        try:
            pid = os.fork()
        except OSError:
            for each in (ours, theirs, tickets, outward, inward):
                each.close()
            return None
    if pid:
        theirs.close()
        return _Other(
            pid=pid, line=ours, sender=Sender(ours), tickets=tickets, outward=outward,
            inward=inward,
        )  # fmt: skip
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        ours.close()
        gc.freeze()  # what it shares with this process is not looked through
        _serve(_Work(theirs, tickets, outward, inward), tidy)
    finally:
        os._exit(0)  # whatever happened: the other side works out what did not come


Sent = tuple[int, Robot | None, Laid, frozenset[Ticket], bool]
"""Batch, robot where it is another, work, which of it either process may do, and whether all that
was asked before has been answered."""


class _Work:
    """What a process that stands by has been asked to do."""

    def __init__(self, line: Connection, tickets: Tickets, inward: Shelf, outward: Shelf) -> None:
        self.line, self._tickets = line, tickets
        self._inward, self.outward = inward, outward
        self._robot: Robot | None = None
        self._own: deque[tuple[int, str, Work]] = deque()
        self._either: dict[Ticket, tuple[int, str, Work]] = {}
        self._batch = 0
        self.untidied = 0
        """Batches since free memory was given back."""

    def next(self) -> tuple[int, str, Work] | None:
        """Batch, name and work: its own first, then what the other has not begun."""
        while self.line.poll():
            self.hear()
        if self._own:
            return self._own.popleft()
        ticket = self._tickets.take()
        while ticket is not None and ticket[0] > self._batch:
            self.hear()  # tickets are laid out first
        return None if ticket is None else self._either.pop(ticket)

    def hear(self) -> None:
        """Hear of a batch; wait for one where none has come."""
        sent: Sent = self.line.recv()
        batch, told, (blob, places), free, first = sent
        self.untidied += 1
        self._robot, self._batch = told or self._robot, batch
        if first:
            self._either.clear()
            self.outward.clear()
        arrays = self._inward.taken(places)
        for at, (name, make) in enumerate(_unpacked(blob, self._robot, arrays)):
            if (batch, at) in free:
                self._either[batch, at] = batch, name, make
            else:
                self._own.append((batch, name, make))


def _serve(asked: _Work, tidy: Callable[[], object]) -> None:
    """Do what comes, in order."""
    line = asked.line
    Thread(target=_leave, args=(line.fileno(),), daemon=True).start()
    sender = Sender(line)
    while True:
        if (piece := asked.next()) is not None:
            batch, name, make = piece
            answer = asked.outward.laid(partial(_answer, make()))
            sender.send(pickle.dumps((batch, name, *answer), protocol=5))
        elif asked.untidied < MOST_UNTIDIED and line.poll(CALM if asked.untidied else None):
            asked.hear()
        else:
            tidy()
            asked.untidied = 0


def _answer(value: object, lay: Callable[[Buffer], object] | None) -> bytes:
    return pickle.dumps(value, protocol=5, buffer_callback=lay)


def _leave(line: int) -> None:
    """End this process when nobody asks any more, whatever it is at."""
    gone = select.poll()
    gone.register(line, 0)  # of that alone one is told unasked
    gone.poll()
    os._exit(0)


class _Pickler(pickle.Pickler):
    robot: Robot
    without: tuple[type, ...]
    parts: Mapping[type, tuple[str, ...]]

    def persistent_id(self, obj: object) -> str | None:
        if obj is self.robot:
            return ROBOT
        return LEFT_OUT if isinstance(obj, self.without) else None

    def reducer_override(self, obj: object) -> Any:
        fields = self.parts.get(type(obj))
        if fields is None:
            return NotImplemented
        return _partial, (type(obj), {name: getattr(obj, name) for name in fields})


def _partial(kind: type, fields: dict[str, object]) -> object:
    """An object that has some of its fields alone."""
    made: object = object.__new__(kind)
    for name, value in fields.items():
        object.__setattr__(made, name, value)
    return made


class _Unpickler(pickle.Unpickler):
    robot: Robot | None

    def persistent_load(self, pid: str) -> object:
        return self.robot if pid == ROBOT else None


def _packed(
    work: list[tuple[str, Work]], robot: Robot, without: tuple[type, ...],
    parts: Mapping[type, tuple[str, ...]], lay: Callable[[Buffer], object] | None,
) -> bytes:  # fmt: skip
    into = io.BytesIO()
    pickler = _Pickler(into, protocol=5, buffer_callback=lay)
    pickler.robot, pickler.without, pickler.parts = robot, without, parts
    pickler.dump(work)
    return into.getvalue()


def _unpacked(
    blob: bytes, robot: Robot | None, arrays: Sequence[bytes | bytearray]
) -> list[tuple[str, Work]]:
    unpickler = _Unpickler(io.BytesIO(blob), buffers=arrays)
    unpickler.robot = robot
    found: list[tuple[str, Work]] = unpickler.load()
    return found
