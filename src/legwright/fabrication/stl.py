"""A mesh as a binary STL file, drawn in millimetres."""

from __future__ import annotations

import numpy as np

from legwright.fabrication.mesh import Mesh, normals_and_areas

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])


def stl_bytes(mesh: Mesh) -> bytes:
    """Binary STL, one unit a millimetre, as workshops expect.

    Args:
        mesh: The surface [m].

    Source: the format as commonly read; no published standard.
    """
    records = np.zeros(len(mesh.faces), dtype=_RECORD)
    records["normal"] = normals_and_areas(mesh)[0]
    records["corners"] = mesh.corners * 1e3
    head = b"drawn in millimetres".ljust(80)
    return head + len(mesh.faces).to_bytes(4, "little") + records.tobytes()
