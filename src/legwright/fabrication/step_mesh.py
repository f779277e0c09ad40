"""A STEP file as triangles, through the geometry kernel of the extra ``cad``."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from legwright.errors import RobotError
from legwright.fabrication.step import INSTALL, kernel_installed
from legwright.robot.tree import Floats

DEFLECTION, TURN = 0.02, 0.2
"""How far triangles may leave the true surface [mm], and turn from it [rad]."""


def step_triangles(path: Path) -> Floats:
    """The surface of all solids of a STEP file.

    Args:
        path: The file.

    Returns:
        Triangles, facing outward, (M, 3, 3) [mm].

    Raises:
        RobotError: if no kernel is installed, or the file holds no shape.
    """
    if not kernel_installed():
        raise RobotError(
            path,
            "",
            "is a STEP file, and no reader for STEP is installed",
            f"Install one ({INSTALL}), or export the part as STL or 3MF.",
        )
    from OCP.BRep import BRep_Tool
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Message import Message
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS

    messenger = Message.DefaultMessenger_s()
    for printer in list(messenger.Printers()):
        messenger.RemovePrinter(printer)  # it would write to the terminal
    reader = STEPControl_Reader()
    if reader.ReadFile(str(path)) != IFSelect_RetDone or reader.TransferRoots() == 0:
        raise RobotError(
            path, "", "holds no shape that can be read", "Export the part again as STEP or STL."
        )
    shape = reader.OneShape()
    BRepMesh_IncrementalMesh(shape, DEFLECTION, False, TURN, False)
    found = []
    faces = TopExp_Explorer(shape, TopAbs_FACE)
    while faces.More():
        face = TopoDS.Face(faces.Current())
        place = TopLoc_Location()
        made = BRep_Tool.Triangulation_s(face, place)
        if made is not None:
            move = place.Transformation()
            points = [made.Node(i + 1).Transformed(move) for i in range(made.NbNodes())]
            spots = np.array([[p.X(), p.Y(), p.Z()] for p in points])
            corners = [made.Triangle(i + 1).Get() for i in range(made.NbTriangles())]
            order = np.array(corners, dtype=np.int64) - 1
            if face.Orientation() == TopAbs_REVERSED:
                order = order[:, ::-1]
            found.append(spots[order])
        faces.Next()
    return np.concatenate(found) if found else np.empty((0, 3, 3))
