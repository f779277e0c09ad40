"""A recording read back: every channel as times and arrays."""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from legwright.errors import RequestError
from legwright.robot.tree import Floats

MAGIC = b"\x89MCAP0\r\n"
FOREIGN = "an MCAP file that a walk of this program recorded"
NEEDED = ("robot", "joints", "legs", "rate", "weight")
"""Fields of ``/about`` without which nothing can be shown."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Track:
    """One channel."""

    time: Floats
    """(N,): since the start [s]."""
    fields: Mapping[str, Any]
    """Field -> (N, ...) array; a list of N where the shapes differ or words are held."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Recording:
    """One run."""

    about: Mapping[str, Any]
    """The message of ``/about``."""
    tracks: Mapping[str, Track]
    """Topic -> channel."""
    whole: bool
    """False where the file was cut off; all before is here."""
    lost: int = 0
    """Bytes at the end of a cut-off file that cannot be read."""

    @property
    def ends(self) -> float:
        """Time of the last message [s]."""
        return max((float(t.time[-1]) for t in self.tracks.values() if len(t.time)), default=0.0)


def read_recording(path: Path | str) -> Recording:
    """Read a run.

    Args:
        path: An MCAP file that `Recorder` wrote, or a cut-off one.

    Returns:
        The run.

    Raises:
        RequestError: if the file is missing or no recording of ours.
    """
    path = Path(path)
    if not path.is_file():
        raise RequestError("recording", str(path), "an existing MCAP file")
    messages, whole, lost = _messages(path)
    if "/about" not in messages:
        raise RequestError("recording", path.name, FOREIGN)
    about = messages.pop("/about")[0][1]
    if not _sound(about):
        raise RequestError("recording", path.name, FOREIGN)
    tracks = {topic: _track(rows) for topic, rows in messages.items()}
    return Recording(about=about, tracks=tracks, whole=whole, lost=lost)


def spoilt() -> tuple[type[Exception], ...]:
    """What reading a cut-off or foreign file may raise."""
    from mcap.exceptions import McapError
    from zstandard import ZstdError

    return (
        McapError, ZstdError, ValueError, KeyError, EOFError, OSError, RuntimeError, MemoryError,
        OverflowError, struct.error,
    )  # fmt: skip


def _sound(about: Mapping[str, Any]) -> bool:
    """Whether all is there without which nothing can be shown."""
    lists = all(
        isinstance(about.get(name), list) and all(isinstance(word, str) for word in about[name])
        for name in ("joints", "legs")
    )
    rate, weight = about.get("rate"), about.get("weight")
    numbers = all(isinstance(n, int | float) and n > 0.0 for n in (rate, weight))
    return lists and numbers and all(name in about for name in NEEDED)


def _messages(path: Path) -> tuple[dict[str, list[tuple[float, dict[str, Any]]]], bool, int]:
    """Topic -> (time, values) in the order of the file; whether it ends well; bytes unread."""
    from mcap.records import Channel, Footer, Message
    from mcap.stream_reader import StreamReader

    found: dict[str, list[tuple[float, dict[str, Any]]]] = {}
    topics: dict[int, str] = {}
    whole, good = False, 0
    with path.open("rb") as stream:
        try:
            for record in StreamReader(stream).records:
                good = stream.tell()
                if isinstance(record, Channel):
                    topics[record.id] = record.topic
                elif isinstance(record, Message):
                    values = json.loads(record.data)
                    if not isinstance(values, dict):
                        raise ValueError("no object")
                    rows = found.setdefault(topics[record.channel_id], [])
                    rows.append((1e-9 * record.log_time, values))
                elif isinstance(record, Footer):
                    whole = True
        except spoilt() as error:
            if not found:
                allowed = FOREIGN if _starts_as_mcap(path) else "an MCAP file"
                raise RequestError("recording", path.name, allowed) from error
    return found, whole, 0 if whole else path.stat().st_size - good


def _starts_as_mcap(path: Path) -> bool:
    with path.open("rb") as stream:
        return stream.read(len(MAGIC)) == MAGIC


def _track(rows: list[tuple[float, dict[str, Any]]]) -> Track:
    names = dict.fromkeys(name for _, values in rows for name in values)
    columns = {name: _column([values.get(name) for _, values in rows]) for name in names}
    return Track(time=np.array([time for time, _ in rows]), fields=columns)


def _column(values: list[Any]) -> Any:
    """An array of numbers or truths where all rows have one shape, else the list."""
    if any(isinstance(value, str) for value in values):
        return values
    try:
        array = np.array(values)
        return array if array.dtype.kind == "b" else array.astype(np.float64)
    except (ValueError, TypeError):
        return values
