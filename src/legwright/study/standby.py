"""A second process that stands by: a fork of this one that answers one study after another.

A fork for every study, and one more for its second half, copies some 60 MB of pages as either side
writes to them: a fourth of the processor time of a verdict after an edit. One that stays has its
own pages, and keeps in mind what does not change from study to study; it is sent the robot, and
the walks. As with `forked`, whoever asks works out what does not come back.
"""

from __future__ import annotations

import gc
import io
import os
import pickle
import signal
import sys
import warnings
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import lru_cache
from multiprocessing.connection import Connection, Pipe
from queue import Empty, SimpleQueue
from threading import Thread
from types import MappingProxyType
from typing import Any

from legwright.robot.robot import Robot
from legwright.study.forked import WAIT, Work

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
        self._line: Connection | None = None
        self._outward: SimpleQueue[bytes | None] = SimpleQueue()
        self._sender: Thread | None = None
        self._pid, self._batch = 0, 0
        self._robot: Robot | None = None
        self._answers: dict[tuple[int, str], Any] = {}

    @contextmanager
    def asked(
        self,
        work: Mapping[str, Work],
        *,
        robot: Robot,
        waiting: Work,
        without: tuple[type, ...] = (),
        parts: Mapping[type, tuple[str, ...]] = MappingProxyType({}),
    ) -> Iterator[Mapping[str, Work]]:
        """Have work done there, after what was asked before.

        Where something has not been fetched at the end of this block, the process is ended.

        Args:
            work: Name -> what is to be worked out, in this order; both must pickle.
            robot: What it is all about.
            without: Kinds of objects that the work holds and does not look at: they are not sent.
            parts: Kind of objects -> the fields of them that the work looks at: others are not
                sent, and are missing there.
            waiting: Called while an answer is waited for; what it raises ends the wait.

        Yields:
            Name -> what gives the answer.
        """
        self._batch += 1
        batch = self._batch
        if not work or not self._send(batch, work, robot, without, parts):
            yield {name: lru_cache(maxsize=1)(make) for name, make in work.items()}
            return

        def answer(name: str) -> Any:
            try:
                while (batch, name) not in self._answers:
                    self._fetch(waiting)
            except (EOFError, OSError):  # it died
                self.close()
                self._answers[batch, name] = work[name]()
            return self._answers[batch, name]

        try:
            yield {name: lambda name=name: answer(name) for name in work}  # type: ignore[misc]
        finally:
            if any((batch, name) not in self._answers for name in work):
                self.close()
            self._answers = {key: one for key, one in self._answers.items() if key[0] != batch}

    @property
    def running(self) -> bool:
        """Whether the process is there."""
        return self._line is not None

    def close(self) -> None:
        """End the process."""
        if self._line is None:
            return
        os.kill(self._pid, signal.SIGKILL)
        os.waitpid(self._pid, 0)
        self._outward.put(None)
        if self._sender is not None:
            self._sender.join()  # whatever it was at: nobody hears it any more
        self._line.close()
        self._line = self._robot = self._sender = None

    def _send(
        self, batch: int, work: Mapping[str, Work], robot: Robot, without: tuple[type, ...],
        parts: Mapping[type, tuple[str, ...]],
    ) -> bool:  # fmt: skip
        if sys.platform != "linux" or (self._line is None and not self._start()):
            return False
        told = None if robot is self._robot else robot
        try:
            packed = _packed(list(work.items()), robot, without, parts)
            self._outward.put(pickle.dumps((batch, told, packed), protocol=5))
        except (pickle.PicklingError, AttributeError, TypeError):
            self.close()
            return False
        self._robot = robot
        return True

    def _fetch(self, waiting: Work) -> None:
        line = self._line
        if line is None:
            raise EOFError
        while not line.poll(WAIT):
            waiting()
        batch, name, value = line.recv()
        self._answers[batch, name] = value

    def _start(self) -> bool:
        ours, theirs = Pipe()
        with warnings.catch_warnings():
            # threads that draw a progress bar hold no lock that the work asks for
            warnings.simplefilter("ignore", DeprecationWarning)
            try:
                pid = os.fork()
            except OSError:
                return False
        if pid:
            theirs.close()
            self._pid, self._line, self._outward = pid, ours, SimpleQueue()
            # while it works it takes what is sent in pieces: this process does not wait for it
            self._sender = Thread(target=_told, args=(ours, self._outward), daemon=True)
            self._sender.start()
            return True
        try:
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            ours.close()
            gc.freeze()  # what it shares with this process is not looked through
            _serve(theirs, self._tidy)
        finally:
            os._exit(0)  # whatever happened: the other side works out what did not come


def _serve(line: Connection, tidy: Callable[[], object]) -> None:
    """Do what comes, in order; neither side waits for the other's line to be free."""
    jobs: SimpleQueue[tuple[int, Robot | None, bytes]] = SimpleQueue()
    done: SimpleQueue[bytes | None] = SimpleQueue()
    Thread(target=_heard, args=(line, jobs), daemon=True).start()
    Thread(target=_told, args=(line, done), daemon=True).start()
    robot: Robot | None = None
    untidied = 0
    while True:
        try:
            job = jobs.get(timeout=CALM if untidied else None)
        except Empty:
            tidy()
            untidied = 0
            continue
        batch, told, blob = job
        robot = told or robot
        for name, make in _unpacked(blob, robot):
            done.put(pickle.dumps((batch, name, make()), protocol=5))
        untidied += 1
        if untidied >= MOST_UNTIDIED:
            tidy()
            untidied = 0


def _heard(line: Connection, jobs: SimpleQueue[tuple[int, Robot | None, bytes]]) -> None:
    with suppress(EOFError, OSError):
        while True:
            jobs.put(line.recv())
    os._exit(0)  # nobody asks any more


def _told(line: Connection, done: SimpleQueue[bytes | None]) -> None:
    with suppress(OSError):
        while (told := done.get()) is not None:
            line.send_bytes(told)


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
    parts: Mapping[type, tuple[str, ...]],
) -> bytes:  # fmt: skip
    into = io.BytesIO()
    pickler = _Pickler(into, protocol=5)
    pickler.robot, pickler.without, pickler.parts = robot, without, parts
    pickler.dump(work)
    return into.getvalue()


def _unpacked(blob: bytes, robot: Robot | None) -> list[tuple[str, Work]]:
    unpickler = _Unpickler(io.BytesIO(blob))
    unpickler.robot = robot
    found: list[tuple[str, Work]] = unpickler.load()
    return found
