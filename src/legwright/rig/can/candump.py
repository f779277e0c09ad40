"""Bus traffic as a log that standard CAN tools read: one line per frame, as candump writes it.

``(12.003451) can0 18B#3712E803000000FA``
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TextIO

import numpy as np

from legwright.errors import RequestError
from legwright.rig.can.frames import FRAME, IDENTIFIER, Frames
from legwright.rig.can.wire import Wire

_LINE = re.compile(r"\((\d+\.\d+)\) (\S+) ([0-9A-F]{3})#((?:[0-9A-F]{2}){0,8})$")


def lines(frames: Frames, channel: str, time: float) -> str:
    """Frames as lines of a log.

    Args:
        frames: (N,).
        channel: Name of the bus.
        time: [s]
    """
    head = f"({time:.6f}) {channel} "
    return "".join(
        f"{head}{int(number) & IDENTIFIER:03X}#{data[:size].tobytes().hex().upper()}\n"
        for number, size, data in zip(frames["id"], frames["size"], frames["data"], strict=True)
    )


class Logged:
    """A wire whose traffic is written down."""

    def __init__(self, wire: Wire, file: TextIO, channel: str, clock: Callable[[], float]) -> None:
        """Write to an open file, which is closed with the wire."""
        self._wire, self._file, self._channel, self._clock = wire, file, channel, clock

    @property
    def name(self) -> str:
        """As the user wrote it."""
        return self._wire.name

    @property
    def alive(self) -> bool:
        """Whether the adapter works."""
        return self._wire.alive

    def send(self, frames: Frames) -> None:
        """Send all frames, and write them down."""
        self._wire.send(frames)
        self._file.write(lines(frames, self._channel, self._clock()))

    def take(self, most: int) -> Frames:
        """Frames that have come in, written down."""
        frames = self._wire.take(most)
        if len(frames):
            self._file.write(lines(frames, self._channel, self._clock()))
        return frames

    def close(self) -> None:
        """Leave the bus, and close the file."""
        self._file.close()
        self._wire.close()


def logged(wires: Sequence[Wire], path: Path, clock: Callable[[], float]) -> tuple[Wire, ...]:
    """Wires whose traffic goes to one file, to look for faults; writing takes time in every cycle.

    Raises:
        RequestError: if the file cannot be written.
    """
    try:
        path.write_text("", encoding="ascii")
        files = [path.open("a", buffering=1, encoding="ascii") for _ in wires]
    except OSError as error:
        raise RequestError("bus log", str(path), "a path that can be written") from error
    return tuple(
        Logged(wire, file, f"can{number}", clock)
        for number, (wire, file) in enumerate(zip(wires, files, strict=True))
    )


def read_log(path: Path) -> dict[str, Frames]:
    """Frames of a log, by channel.

    Args:
        path: A file that `Logged` or candump wrote.

    Returns:
        Channel -> frames, in order.

    Raises:
        RequestError: if a line is none of such a log.
    """
    found: dict[str, list[bytes]] = {}
    for number, line in enumerate(path.read_text(encoding="ascii").splitlines(), start=1):
        match = _LINE.match(line)
        if match is None:
            raise RequestError(f"line {number} of {path.name}", line, "like (1.000000) can0 18B#00")
        row = np.zeros(1, dtype=FRAME)
        data = bytes.fromhex(match[4])
        row["id"], row["size"] = int(match[3], 16), len(data)
        row["data"][0, : len(data)] = np.frombuffer(data, dtype=np.uint8)
        found.setdefault(match[2], []).append(row.tobytes())
    return {channel: np.frombuffer(b"".join(rows), dtype=FRAME) for channel, rows in found.items()}
