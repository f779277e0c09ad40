"""What two processes of one study hand to each other: messages, arrays, and tickets for work."""

from __future__ import annotations

import os
import pickle
import select
import struct
from collections.abc import Callable, Sequence
from contextlib import suppress
from mmap import mmap
from multiprocessing.connection import Connection
from queue import SimpleQueue
from threading import Thread

TICKET = struct.Struct("=QQ")
"""Batch and place in it; written and read in one piece."""
Ticket = tuple[int, int]
Buffer = pickle.PickleBuffer
Place = tuple[int, int, bool]
"""Where an array lies on a shelf [byte], its size, and whether nobody may write to it."""
Laid = tuple[bytes, list[Place]]

SHELF = 64 << 20
"""Room for arrays [byte]; what was never used of it takes no memory."""
STEP = 64
"""Arrays begin at multiples of this [byte]."""
SHORT = 128 << 10
"""A message up to this size finds room in the line wherever the system calls it free [byte]."""


class Tickets:
    """Tickets for work that either process may do: each is taken once."""

    def __init__(self) -> None:
        self._out, self._in = os.pipe()
        os.set_blocking(self._out, False)

    def lay_out(self, tickets: Sequence[Ticket]) -> None:
        """For whoever comes first; before the work itself is sent."""
        for ticket in tickets:
            os.write(self._in, TICKET.pack(*ticket))

    def take(self) -> Ticket | None:
        """The next; None where none is left."""
        try:
            read = os.read(self._out, TICKET.size)
        except BlockingIOError:
            return None
        batch, at = TICKET.unpack(read)
        return batch, at

    def close(self) -> None:
        """Nobody asks for any more."""
        os.close(self._out)
        os.close(self._in)


class Sender:
    """One end of a line, outward: whoever sends does not wait until the other end has heard.

    What is short goes at once. A thread sends the rest, and takes its time where this process is
    in a kernel, which lets no thread run beside it.
    """

    def __init__(self, line: Connection) -> None:
        """Made after a fork, in the process that sends.

        Args:
            line: The line.
        """
        self._line, self._put, self._sent = line, 0, 0
        self._queue: SimpleQueue[bytes | None] = SimpleQueue()
        self._free = select.poll()
        self._free.register(line.fileno(), select.POLLOUT)
        self._thread = Thread(target=self._run, daemon=True)
        self._thread.start()

    def send(self, message: bytes) -> None:
        """Send a message, after those before."""
        if self._put == self._sent and len(message) <= SHORT and self._free.poll(0):
            with suppress(OSError):  # nobody is there: whoever waits for an answer will see
                self._line.send_bytes(message)
            return
        self._put += 1
        self._queue.put(message)

    def close(self) -> None:
        """Wait for what is being sent; once the other process has ended."""
        self._queue.put(None)
        self._thread.join()

    def _run(self) -> None:
        with suppress(OSError):
            while (message := self._queue.get()) is not None:
                self._line.send_bytes(message)
                self._sent += 1


class Shelf:
    """Memory of two processes: one lays arrays there, the other takes copies of them."""

    def __init__(self) -> None:
        """Made before the fork."""
        self._memory = mmap(-1, SHELF)
        self._used = 0

    def clear(self) -> None:
        """All that lies there has been taken."""
        self._used = 0

    def laid(self, dumps: Callable[[Callable[[Buffer], object] | None], bytes]) -> Laid:
        """An object pickled, its arrays laid on the shelf, and where they are.

        Args:
            dumps: Pickles it, and gives its arrays to what it is given; where there is no room it
                is asked again with None, and they stay in the pickle.
        """
        found: list[Buffer] = []
        blob = dumps(found.append)
        views = [buffer.raw() for buffer in found]
        if self._used + sum(view.nbytes + STEP for view in views) > SHELF:
            return dumps(None), []
        places = []
        for view in views:
            at, self._used = self._used, self._used + view.nbytes
            self._memory[at : self._used] = view
            self._used += -self._used % STEP
            places.append((at, view.nbytes, view.readonly))
        return blob, places

    def taken(self, places: Sequence[Place]) -> list[bytes | bytearray]:
        """What was laid there: copies, those of writable arrays once more so."""
        whole = memoryview(self._memory)
        return [
            bytes(whole[at : at + size]) if fixed else bytearray(whole[at : at + size])
            for at, size, fixed in places
        ]

    def close(self) -> None:
        """Give the memory back."""
        self._memory.close()
