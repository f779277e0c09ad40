"""Where the mesh files of a description lie. No mesh is opened here."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote

CLIMB = 6
"""How many folders above the description are searched for a package."""


def mesh_path(name: str, description: Path) -> Path | None:
    """The file that a mesh name of a URDF stands for.

    Args:
        name: ``package://PACKAGE/PATH``, ``file://PATH``, ``model://PACKAGE/PATH`` or a path
            relative to the description's folder.
        description: The URDF file.

    Returns:
        The first existing candidate, or None.
    """
    for candidate in _candidates(name, description.resolve().parent):
        try:
            if candidate.is_file():
                return candidate
        except (OSError, ValueError):
            continue
    return None


def _candidates(name: str, folder: Path) -> Iterator[Path]:
    scheme, found, rest = name.partition("://")
    if not found:
        yield folder / name
        return
    rest = unquote(rest)
    if scheme == "file":
        yield Path(rest)
        yield folder / rest
        return
    if scheme not in ("package", "model"):
        return
    package, _, inside = rest.partition("/")
    for above in [folder, *folder.parents][:CLIMB]:
        if above.name == package:
            yield above / inside
        yield above / package / inside
        yield above / inside
    for root in os.environ.get("ROS_PACKAGE_PATH", "").split(os.pathsep):
        if root:
            yield Path(root) / package / inside
