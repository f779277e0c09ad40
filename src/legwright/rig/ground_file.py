"""Height fields from files: tables of heights (CSV, NPY) and grey pictures (PGM)."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from legwright.errors import RequestError
from legwright.rig.ground import LARGEST, Ground
from legwright.robot.tree import Floats

KINDS = (".csv", ".npy", ".pgm")
ALLOWED = "a height map: .csv or .npy with heights in metres, or a grey picture .pgm"
HIGHEST = 5.0
"""Heights beyond this are no metres [m]."""


def read_ground(
    path: Path | str, *, spacing: float = 0.01, relief: float = 0.1, start: float = 0.5
) -> Ground:
    """The ground that a file describes.

    The first row lies nearest, further rows ahead; columns run from the robot's right to its
    left, the middle one straight ahead. Heights are shifted so that the middle of the near
    edge is level with the pad on which the robot starts.

    Args:
        path: ``.csv`` (numbers, comma or white space) or ``.npy`` with heights [m], or ``.pgm``.
        spacing: Between samples [m].
        relief: Height of white over black in a picture [m].
        start: Where the near edge lies ahead of the robot [m].

    Returns:
        The ground.

    Raises:
        RequestError: in one sentence, if the file is no height map.
    """
    path = Path(path)
    if not path.is_file():
        raise RequestError("ground file", str(path), f"an existing file: {ALLOWED}")
    if not (np.isfinite(spacing) and spacing > 0.0):
        raise RequestError("ground spacing", spacing, "finite and more than 0 m")
    readers = {".csv": _table, ".npy": _array, ".pgm": _picture}
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise RequestError("ground file", path.name, ALLOWED)
    try:
        heights = reader(path)
    except _NoMapError as error:
        raise RequestError("ground file", f"{path.name}, {error}", ALLOWED) from error
    except (ValueError, OSError, EOFError, IndexError) as error:
        raise RequestError("ground file", path.name, ALLOWED) from error
    if reader is _picture:
        heights = heights * relief
    _check(path, heights)
    heights = heights - heights[0, heights.shape[1] // 2]
    pad = max(int(np.ceil((start + 1.0) / spacing)), 1)
    padded = np.concatenate([np.zeros((pad, heights.shape[1])), heights])
    return Ground(
        name=path.stem,
        heights=padded,
        spacing=spacing,
        start=(start - pad * spacing, -0.5 * spacing * (heights.shape[1] - 1)),
        about=f"height map {path.name}, {heights.shape[0]} by {heights.shape[1]} samples",
    )


class _NoMapError(ValueError):
    """Why a file is no height map, as one clause."""


def _check(path: Path, heights: Floats) -> None:
    if heights.ndim != 2 or min(heights.shape) < 2:
        raise RequestError(f"shape of {path.name}", heights.shape, "rows and columns, 2 or more")
    if heights.size > LARGEST:
        raise RequestError(f"samples in {path.name}", heights.size, f"at most {LARGEST}")
    if not np.isfinite(heights).all():
        raise RequestError(f"heights in {path.name}", "nan or inf", "finite everywhere")
    if np.ptp(heights) > HIGHEST:
        what = f"relief of {path.name}"
        raise RequestError(what, float(np.ptp(heights)), f"at most {HIGHEST} m; heights in metres")


def _table(path: Path) -> Floats:
    text = path.read_text(encoding="utf-8").replace(",", " ").replace(";", " ")
    rows = [line.split() for line in text.splitlines() if line.strip()]
    if not rows:
        raise _NoMapError("which is empty")
    for number, row in enumerate(rows, start=1):
        if len(row) != len(rows[0]):
            raise _NoMapError(
                f"whose row {number} has {len(row)} numbers where row 1 has {len(rows[0])}"
            )
    try:
        return np.array(rows, dtype=np.float64)
    except ValueError as error:
        raise _NoMapError("with words where numbers should stand") from error


def _array(path: Path) -> Floats:
    loaded = np.load(path, allow_pickle=False)
    if not (isinstance(loaded, np.ndarray) and loaded.dtype.kind in "fiu"):
        raise _NoMapError(f"an array of {loaded.dtype} where numbers should stand")
    return loaded.astype(np.float64)


def _picture(path: Path) -> Floats:
    """A portable grey map, plain (P2) or binary (P5); 0 is black, 1 is white.

    The top of the picture lies farthest away, its left edge to the robot's left.
    """
    data = path.read_bytes()
    words: list[bytes] = []
    at = 0
    while len(words) < 4:
        while data[at : at + 1].isspace():
            at += 1
        if data[at : at + 1] == b"#":
            at = data.index(b"\n", at)
            continue
        end = at
        while end < len(data) and not data[end : end + 1].isspace():
            end += 1
        if end == at:
            raise _NoMapError("whose header ends early")
        words.append(data[at:end])
        at = end
    width, height, white = (int(word) for word in words[1:])
    if not (0 < width * height <= LARGEST and 0 < white < 65536):
        raise _NoMapError(f"a picture of {width} by {height} pixels, white at {white}")
    if words[0] == b"P2":
        grey = np.array(data[at:].split()[: width * height], dtype=np.float64)
    elif words[0] == b"P5":
        kind = np.dtype(np.uint8 if white < 256 else ">u2")
        room = len(data[at + 1 :]) // kind.itemsize
        grey = np.frombuffer(data, kind, min(room, width * height), at + 1).astype(np.float64)
    else:
        raise _NoMapError("a picture that does not begin with P2 or P5")
    if grey.size != width * height:
        raise _NoMapError(f"with {grey.size} of {width * height} pixels")
    return np.ascontiguousarray(grey.reshape(height, width)[::-1, ::-1] / white)
