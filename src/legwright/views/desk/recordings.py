"""The recordings that the desk may open: those of one folder, and no other file."""

from __future__ import annotations

from pathlib import Path

from legwright.errors import RequestError, did_you_mean

MOST = 200
"""Recordings that are listed, the newest first."""


def recordings_in(folder: Path | None) -> tuple[str, ...]:
    """Names of the recordings in a folder and the folders in it, newest first.

    Args:
        folder: The folder; None or one that cannot be read has none.
    """
    if folder is None:
        return ()
    try:
        inside = folder.resolve()
        found = [
            (file.stat().st_mtime, file.relative_to(folder).as_posix())
            for pattern in ("*.mcap", "*/*.mcap")
            for file in folder.glob(pattern)
            if file.resolve().is_relative_to(inside)
        ]
    except OSError:
        return ()
    return tuple(name for _, name in sorted(found, reverse=True)[:MOST])


def recording_named(folder: Path | None, name: str) -> Path:
    """The file of a recording.

    Args:
        folder: The folder that the desk was given.
        name: One of `recordings_in`.

    Raises:
        RequestError: for any other name.
    """
    known = recordings_in(folder)
    if folder is None or name not in known:
        hint = did_you_mean(name, known) if known else "None is there; give --recordings DIR"
        raise RequestError("recording", name, f"one that the desk lists. {hint}")
    return folder / name
