"""Questions answered by a second process meanwhile, on a machine with a second core.

The process is a fork of this one: it has the whole bench without being told, and sends nothing
back but answers. Where none can be had, or it dies, whoever asks works the answer out.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import sys
import warnings
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache
from multiprocessing.connection import Connection
from typing import Any

Work = Callable[[], Any]

WAIT = 0.1
"""While an answer is waited for, the one who waits is asked this often whether to go on [s]."""


@contextmanager
def forked(work: Mapping[str, Work], *, waiting: Work) -> Iterator[Mapping[str, Work]]:
    """Start work in a second process; it ends with this block at the latest.

    Args:
        work: Name -> what is to be worked out, in this order; answers must pickle.
        waiting: Called while an answer is waited for; what it raises ends the wait.

    Yields:
        Name -> what gives the answer.
    """
    pid, line = _forked(work) if len(work) > 0 and sys.platform == "linux" else (0, None)
    if line is None:
        yield {name: lru_cache(maxsize=1)(make) for name, make in work.items()}
        return
    answers: dict[str, Any] = {}

    def answer(name: str) -> Any:
        try:
            while name not in answers:
                while not line.poll(WAIT):
                    waiting()
                told, value = line.recv()
                answers[told] = value
        except (EOFError, OSError):  # it died
            answers[name] = work[name]()
        return answers[name]

    try:
        yield {name: lambda name=name: answer(name) for name in work}  # type: ignore[misc]
    finally:
        line.close()
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)


def _forked(work: Mapping[str, Work]) -> tuple[int, Connection | None]:
    ours, theirs = multiprocessing.Pipe(duplex=False)
    with warnings.catch_warnings():
        # threads that draw a progress bar hold no lock that the work asks for
        warnings.simplefilter("ignore", DeprecationWarning)
        try:
            pid = os.fork()
        except OSError:
            return 0, None
    if pid:
        theirs.close()
        return pid, ours
    try:
        gc.disable()  # its memory is shared with this process while nobody touches it
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        ours.close()
        for name, make in work.items():
            theirs.send((name, make()))
    finally:
        os._exit(0)  # whatever happened: the other side works out what did not come
