"""The line to the walk's process: orders out, what is told in, on the desk's loop."""

from __future__ import annotations

import asyncio
import multiprocessing
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from legwright.views.desk.walk_worker import Order, Over, Told, work

LEAVING = 1.0
"""How long the process may take to end before it is killed [s]."""
AT_ONCE = 8
"""So many messages are read before the loop has its turn again."""


class WalkLine:
    """Starts the walk's process with the first order, and again where it died."""

    def __init__(self, hear: Callable[[Told], None]) -> None:
        """Nothing runs yet.

        Args:
            hear: Called on the loop with whatever is told.
        """
        self._hear = hear
        self._process: BaseProcess | None = None
        self._line: Connection | None = None

    @property
    def pid(self) -> int | None:
        """Of the process; None where none runs."""
        return None if self._process is None else self._process.pid

    def order(self, order: Order) -> None:
        """Send an order; call on the loop."""
        if self._line is None:
            self._open()
        if self._line is not None:
            try:
                self._line.send(order)
            except OSError:
                self._lost()

    def _open(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._line, far = context.Pipe()
        self._process = context.Process(target=work, args=(far,), name="walk", daemon=True)
        self._process.start()
        far.close()
        asyncio.get_running_loop().add_reader(self._line.fileno(), self._read)

    def _read(self) -> None:
        try:
            for _ in range(AT_ONCE):
                if self._line is None or not self._line.poll():
                    return
                self._hear(self._line.recv())
        except (EOFError, OSError):
            self._lost()

    def _lost(self) -> None:
        self.close()
        self._hear(Over(text="The walk's process ended unasked. Start the walk again.", ok=False))

    def close(self) -> None:
        """End the process."""
        if self._line is not None:
            asyncio.get_running_loop().remove_reader(self._line.fileno())
            self._line.close()
            self._line = None
        if self._process is not None:
            self._process.terminate()
            self._process.join(LEAVING)
            if self._process.is_alive():
                self._process.kill()
            self._process = None
