"""The logbook in a thread of its own."""

from __future__ import annotations

import queue
import threading
from dataclasses import dataclass
from types import TracebackType

from legwright.remote.service import Record
from legwright.rig.logbook import Logbook
from legwright.rig.runtime import Report
from legwright.robot.tree import Floats

BACKLOG = 2000
"""Reports that may wait for the recorder."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Lit:
    """What the lights began to show."""

    time: float
    colours: Floats
    """(N, 3), linear light."""


Kept = Report | Record | Lit
"""What the logbook takes."""


class Writer:
    """Writes the logbook in a thread of its own, so that a slow disk delays nobody."""

    def __init__(self, book: Logbook) -> None:
        """Begin."""
        self._book = book
        self._queue: queue.Queue[Kept | None] = queue.Queue(BACKLOG)
        self._thread = threading.Thread(target=self._write, name="logbook", daemon=True)
        self._thread.start()
        self.dropped = 0
        """Reports for which there was no room in the queue."""
        self.problem = ""
        """Why the recorder failed last."""

    @property
    def full(self) -> bool:
        """Whether the disk is full."""
        return self._book.full

    def put(self, what: Kept) -> None:
        """Hand something over; never waits."""
        try:
            self._queue.put_nowait(what)
        except queue.Full:
            self.dropped += 1

    def __enter__(self) -> Writer:
        """The writer itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Write what waits, and close."""
        self._queue.put(None)
        self._thread.join(5.0)

    def _write(self) -> None:
        while True:
            what = self._queue.get()
            if what is None:
                self._book.close()
                return
            try:
                if isinstance(what, Record):
                    self._book.notice(what.time, what.word, what.text)
                elif isinstance(what, Lit):
                    self._book.lights(what.time, what.colours)
                else:
                    self._book.report(what)
            except Exception as error:  # a recorder that fails is told, and tries again
                self.problem = f"{type(error).__name__}: {error}"
                self._book.close()
