"""What can be done with recordings afterwards: list, repair, cut, export."""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import isnan
from pathlib import Path
from typing import Any

import numpy as np

from legwright.errors import RequestError, did_you_mean
from legwright.rig.replay import Recording, Track, read_recording, spoilt
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One file of a folder."""

    path: Path
    size: int
    """[B]"""
    robot: str
    """Empty where it is no recording of ours."""
    seconds: float
    whole: bool
    began: float | None
    """Wall clock of its first state, seconds since 1970; None where it holds none."""
    problem: str = ""
    """Why it cannot be read."""


def entries(folder: Path) -> list[Entry]:
    """All MCAP files of a folder, oldest first.

    Raises:
        RequestError: if there is no such folder.
    """
    if not folder.is_dir():
        raise RequestError("log folder", str(folder), "an existing folder")
    files = sorted(folder.glob("*.mcap"), key=lambda path: (path.stat().st_mtime_ns, path.name))
    return [_entry(path) for path in files]


def _entry(path: Path) -> Entry:
    size = path.stat().st_size
    try:
        run = read_recording(path)
    except RequestError as error:
        return Entry(
            path=path, size=size, robot="", seconds=0.0, whole=False, began=None,
            problem=str(error),
        )  # fmt: skip
    state = run.tracks.get("/state")
    walls = [] if state is None else [wall for wall in state.fields["wall"] if wall is not None]
    return Entry(
        path=path,
        size=size,
        robot=str(run.about["robot"]),
        seconds=run.ends,
        whole=run.whole,
        began=float(walls[0]) if walls else None,
    )


def repair(source: Path, target: Path) -> tuple[int, int]:
    """Write a whole file from what can still be read of one that was cut off.

    Args:
        source: The file; it is left as it is.
        target: The new file.

    Returns:
        Messages saved, and bytes at the end of the source that made no sense.

    Raises:
        RequestError: if nothing of it can be read, or the target cannot be written.
    """
    run = read_recording(source)
    return _copy(source, target, lambda time: True), run.lost


def cut(source: Path, target: Path, start: float, end: float) -> int:
    """Write the messages between two times to a new file; times stay as they are.

    Args:
        source: A recording.
        target: The new file.
        start: [s]
        end: [s]

    Returns:
        Messages kept.

    Raises:
        RequestError: if the times leave nothing, or a file cannot be used.
    """
    run = read_recording(source)
    if not 0.0 <= start < end:
        raise RequestError("times", (start, end), "a start of 0 or more and a later end [s]")
    if start > run.ends:
        raise RequestError("start", start, f"before the end of the recording, {run.ends:.1f} s")
    return _copy(source, target, lambda time: start <= time <= end)


def _copy(source: Path, target: Path, keep: Callable[[float], bool]) -> int:
    """Copy channels and messages; once-only channels are always kept."""
    from mcap.writer import CompressionType, Writer

    if target.exists() and target.samefile(source):
        raise RequestError("output", str(target), "another file than the recording itself")
    try:
        stream = target.open("wb")
    except OSError as error:
        raise RequestError("output", str(target), "a path that can be written") from error
    count, channels = 0, {}
    with stream:
        writer: Any = Writer(stream, compression=CompressionType.ZSTD)
        writer.start(profile="", library="legwright")
        for record, schema, channel in _readable(source):
            if channel.topic not in ("/about", "/scene") and not keep(1e-9 * record.log_time):
                continue
            if channel.topic not in channels:
                number = writer.register_schema(schema.name, schema.encoding, schema.data)
                channels[channel.topic] = writer.register_channel(channel.topic, "json", number)
            writer.add_message(
                channels[channel.topic], record.log_time, record.data, record.publish_time,
                record.sequence,
            )  # fmt: skip
            count += 1
        writer.finish()
        stream.flush()
        os.fsync(stream.fileno())
    return count


def _readable(source: Path) -> Iterator[tuple[Any, Any, Any]]:
    """Messages with schema and channel, as far as the file can be read."""
    from mcap.records import Channel, Message, Schema
    from mcap.stream_reader import StreamReader

    schemas: dict[int, Any] = {}
    channels: dict[int, Any] = {}
    with source.open("rb") as stream:
        records = StreamReader(stream).records
        while True:
            try:
                record = next(records)
            except StopIteration:
                return
            except spoilt():
                return  # the rest was cut off
            if isinstance(record, Schema):
                schemas[record.id] = record
            elif isinstance(record, Channel):
                channels[record.id] = record
            elif isinstance(record, Message):
                channel = channels[record.channel_id]
                yield record, schemas[channel.schema_id], channel


def table(run: Recording, topic: str) -> tuple[list[str], Floats]:
    """One channel as columns of numbers.

    Args:
        run: A recording.
        topic: Such as ``/sensed``.

    Returns:
        Names of the columns, ``time`` first, with joint or leg names; and the numbers,
        (N, columns).

    Raises:
        RequestError: if there is no such channel, or it holds no numbers.
    """
    if topic not in run.tracks:
        raise RequestError("channel", topic, did_you_mean(topic, run.tracks))
    track = run.tracks[topic]
    names, columns = ["time"], [np.asarray(track.time)[:, None]]
    for field, values in track.fields.items():
        if not isinstance(values, np.ndarray) or values.ndim > 3:
            continue
        flat = values.reshape(len(track.time), -1).astype(np.float64)
        names += _names(run, field, values)
        columns.append(flat)
    if len(names) == 1:
        raise RequestError("channel", topic, "one that holds numbers")
    return names, np.concatenate(columns, axis=1)


def _names(run: Recording, field: str, values: Any) -> list[str]:
    axis = {
        len(run.about["joints"]): run.about["joints"],
        len(run.about["legs"]): run.about["legs"],
    }
    if values.ndim == 1:
        return [field]
    rows = axis.get(values.shape[1], range(values.shape[1]))
    if values.ndim == 2:
        return [f"{field} {row}" for row in rows]
    return [f"{field} {row} {k}" for row in rows for k in range(values.shape[2])]


WORDY = ("/event", "/notice")
"""Channels that are told in words; what numbers they hold goes with them."""


def export(run: Recording, folder: Path, form: str) -> list[Path]:
    """Write every channel of numbers to a file of its own, words to ``events.json``.

    Args:
        run: A recording.
        folder: Where to; made where it is missing.
        form: ``csv``, ``numpy`` or ``parquet``.

    Returns:
        The files.

    Raises:
        RequestError: for another form, or where a package is missing.
    """
    forms: dict[str, tuple[str, Callable[[Path, list[str], Floats], None]]] = {
        "csv": (".csv", _csv),
        "numpy": (".npz", _numpy),
        "parquet": (".parquet", _parquet),
    }
    if form not in forms:
        raise RequestError("form", form, f"csv, numpy or parquet. {did_you_mean(form, forms)}")
    ending, write = forms[form]
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for topic, track in run.tracks.items():
        numbers = any(isinstance(values, np.ndarray) for values in track.fields.values())
        if topic in WORDY or not numbers:
            continue
        path = folder / (topic.strip("/") + ending)
        write(path, *table(run, topic))
        made.append(path)
    words = {topic: _words(run.tracks[topic]) for topic in WORDY if topic in run.tracks}
    path = folder / "events.json"
    path.write_text(json.dumps(words, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return [*made, path]


def _words(track: Track) -> list[dict[str, Any]]:
    return [
        {"time": float(time), **{name: _plain(values[k]) for name, values in track.fields.items()}}
        for k, time in enumerate(track.time)
    ]


def _plain(value: Any) -> Any:
    """A word, a number or a row of numbers as JSON knows it; nan is null."""
    if isinstance(value, np.ndarray):
        return [_plain(x) for x in value.tolist()]
    return None if isinstance(value, float) and isnan(value) else value


def _csv(path: Path, names: list[str], numbers: Floats) -> None:
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(names)
        writer.writerows([["" if np.isnan(x) else f"{x:.9g}" for x in row] for row in numbers])


def _numpy(path: Path, names: list[str], numbers: Floats) -> None:
    np.savez_compressed(path, names=np.array(names), numbers=numbers)


def _parquet(path: Path, names: list[str], numbers: Floats) -> None:
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        raise RequestError(
            "form", "parquet", "csv or numpy here: parquet needs `pip install legwright[parquet]`"
        ) from None
    pq.write_table(pa.table({name: numbers[:, k] for k, name in enumerate(names)}), path)
