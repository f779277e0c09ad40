"""The line to the verdict's process: jobs out, progress and verdicts in, on the desk's loop."""

from __future__ import annotations

import asyncio
import multiprocessing
from collections.abc import Callable

from legwright.views.desk.verdicts import verdict_not_found
from legwright.views.desk.worker import Job, Judged, Progress, work

LEAVING = 1.0
"""How long the process may take to end before it is killed [s]."""

DEATHS = 3
"""After so many in a row the process is not started until it is asked for another verdict."""

ENDED = "The process that works out the verdict ended three times before it had one."
CHECK = "Run `legwright check` on this robot: it tells what is wrong. Too little memory is usual."


class Judging:
    """Runs the verdict's process; starts it again where it died."""

    def __init__(self, hear: Callable[[Progress | Judged], None]) -> None:
        """Nothing runs yet.

        Args:
            hear: Called on the loop with whatever comes.
        """
        self._hear = hear
        self._context = multiprocessing.get_context("spawn")
        self._process: multiprocessing.process.BaseProcess | None = None
        self._job: Job | None = None
        self._deaths = 0
        self.restarts = 0

    def start(self) -> None:
        """Start the process; call on the loop."""
        self._line, far = self._context.Pipe()
        self._process = self._context.Process(target=work, args=(far,), daemon=True)
        self._process.start()
        far.close()
        asyncio.get_running_loop().add_reader(self._line.fileno(), self._read)

    def judge(self, job: Job) -> None:
        """Judge a robot; what was being judged is left."""
        self._job = job
        if self._process is None:
            self._deaths = 0
            self.start()
        try:
            self._line.send(job)
        except OSError:
            self._again()

    def _read(self) -> None:
        try:
            while self._line.poll():
                said = self._line.recv()
                if isinstance(said, Judged) and said.verdict.whole:
                    self._done(said.id)
                self._hear(said)
        except (EOFError, OSError):
            self._again()

    def _done(self, id: int) -> None:
        self._deaths = 0
        if self._job is not None and id == self._job.id:
            self._job = None

    def _again(self) -> None:
        """The process died: start another, and ask it the same."""
        self.close()
        self._deaths += 1
        job = self._job
        if self._deaths < DEATHS:
            self.restarts += 1
            self.start()
            if job is not None:
                self.judge(job)
        elif job is not None:
            self._job = None
            self._hear(Judged(id=job.id, verdict=verdict_not_found(ENDED, CHECK)))

    def close(self) -> None:
        """End the process."""
        if self._process is None:
            return
        asyncio.get_running_loop().remove_reader(self._line.fileno())
        self._line.close()
        self._process.join(0.0)
        self._process.terminate()
        self._process.join(LEAVING)
        if self._process.is_alive():
            self._process.kill()
        self._process = None
