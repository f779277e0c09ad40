"""The workshop's documents as files: cutting files, tables, drawings and one page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from legwright.fabrication.parts import part_files
from legwright.study.making import Making, plate_keys


def write_parts(making: Making, folder: Path, *, issued: date | None = None) -> Sequence[Path]:
    """Write everything into a folder, which is made when missing.

    Args:
        making: How the robot is made.
        folder: Where to.
        issued: Date of issue.

    Returns:
        The files.

    Raises:
        OSError: if they cannot be written.
        RequestError: where a part is too fine for the beam.
    """
    files = dict(part_files(making.parts))
    if making.parts.plates.plates and making.robot.sheet.dimensions is not None:
        files["plates.toml"] = plate_keys(making.parts.plates.plates).encode("utf-8")
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, content in files.items():
        path = folder / name
        path.write_bytes(content)
        written.append(path)
    return written
