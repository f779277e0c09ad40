"""Parts as STEP files, with true arcs, through a CAD kernel: the extra ``cad``."""

from __future__ import annotations

import re
import tempfile
from math import cos, pi, sin
from pathlib import Path
from typing import Any

from legwright.errors import LegwrightError
from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.bracket import Bracket
from legwright.fabrication.contour import Contour, Rounded, circle
from legwright.fabrication.openings import Opening
from legwright.fabrication.plate import Plate

INSTALL = 'pip install "legwright[cad]"'
MM = 1e3
STAMP = rb"'\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d'"
"""The time in a STEP file's head."""
PRODUCT = rb"Open CASCADE STEP translator [\d.]+ \d+"
"""What the kernel calls a product, with a running number."""


class KernelMissingError(LegwrightError, ImportError):
    """The CAD kernel is not installed; says how to get it."""


def kernel_installed() -> bool:
    """Whether STEP files can be written."""
    from importlib.util import find_spec

    return find_spec("OCP") is not None


def plate_step(plate: Plate) -> bytes:
    """A flat part as a STEP file, millimetres, at its height in the body frame.

    Args:
        plate: The part.

    Raises:
        KernelMissingError: when the kernel is not installed.
    """
    return step_bytes(plate_solid(plate), plate.name)


def bracket_step(bracket: Bracket) -> bytes:
    """A folded part as a STEP file, millimetres, in its own frame.

    Args:
        bracket: The bracket.

    Raises:
        KernelMissingError: when the kernel is not installed.
    """
    return step_bytes(bracket_solid(bracket), bracket.name)


def angle_step(bracket: AngleBracket) -> bytes:
    """An angle bracket as a STEP file, millimetres, in its own frame.

    Args:
        bracket: The bracket.

    Raises:
        KernelMissingError: when the kernel is not installed.
    """
    return step_bytes(angle_solid(bracket), bracket.name)


def plate_solid(plate: Plate) -> Any:
    """A flat part as a solid of the kernel [mm]."""
    low = (plate.height - plate.thickness / 2.0) * MM
    frame = _frame((0.0, 0.0, low), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    outline, openings = plate.outline.contour, [each.contour for each in plate.openings]
    return _prism(outline, openings, plate.thickness * MM, frame)


def bracket_solid(bracket: Bracket) -> Any:
    """A folded part as a solid of the kernel [mm]: web, flanges and bends made one."""
    _need()
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder

    b = bracket
    t, outer, far = b.thickness, b.radius + b.thickness, b.developed / 2.0
    start, w = b.half_web + b.bend, b.width / 2.0
    whole = None
    web = _web_outline(b)
    frame = _frame((b.reach * MM, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    parts = [_prism(web.contour, [each.contour for each in b.web], t * MM, frame)]
    r = min(w, b.end)
    for side, openings in ((1.0, b.upper), (-1.0, b.lower)):
        # Drawn with x from the bend's end to the flange's end, folded to run along −x.
        shape = Rounded(
            corners=((0.0, -w), (far - start, -w), (far - start, w), (0.0, w)),
            radii=(0.0, r, r, 0.0),
        )
        moved = [_slid(each, side, start) for each in openings]
        z = side * b.height / 2.0
        top = z if side > 0 else z + t
        place = _frame(((b.reach - outer) * MM, 0.0, top * MM), (0.0, 0.0, -1.0), (-1.0, 0.0, 0.0))
        parts.append(_prism(shape.contour, moved, t * MM, place))
        centre = ((b.reach - outer) * MM, -w * MM, side * b.half_web * MM)
        # The kernel turns about +y: from z towards x above, from x towards −z below.
        axes = _frame(centre, (0.0, 1.0, 0.0), (0.0, 0.0, 1.0) if side > 0 else (1.0, 0.0, 0.0))
        full = BRepPrimAPI_MakeCylinder(axes, outer * MM, 2.0 * w * MM, pi / 2.0).Shape()
        if b.radius > 0.0:
            core = BRepPrimAPI_MakeCylinder(axes, b.radius * MM, 2.0 * w * MM, pi / 2.0).Shape()
            full = BRepAlgoAPI_Cut(full, core).Shape()
        parts.append(full)
    for part in parts:
        whole = part if whole is None else BRepAlgoAPI_Fuse(whole, part).Shape()
    return whole


def angle_solid(bracket: AngleBracket) -> Any:
    """An angle bracket as a solid of the kernel [mm]: base, riser and bend made one."""
    _need()
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder

    b = bracket
    t, outer, half, w = b.thickness, b.radius + b.thickness, b.bend / 2.0, b.width / 2.0
    s, c = sin(b.turn), cos(b.turn)
    # Drawn from the bend's end outward, as the pattern lies.
    base = _flange(b, b.flat_x(b.base) - half)
    place = _frame((b.setback * MM, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    whole = _prism(base, [_shifted(each, -half, 1.0) for each in b.on_base], t * MM, place)
    start = (-c * b.setback * MM, 0.0, s * b.setback * MM)
    place = _frame(start, (-s, 0.0, -c), (-c, 0.0, s))
    riser = _flange(b, -b.flat_x(b.riser, riser=True) - half)
    openings = [_shifted(each, -half, -1.0) for each in b.on_riser]
    parts = [_prism(riser, openings, -t * MM, place)]
    # The kernel turns about +y from −z towards −x.
    axes = _frame((b.setback * MM, -w * MM, outer * MM), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0))
    round_ = BRepPrimAPI_MakeCylinder(axes, outer * MM, 2.0 * w * MM, b.turn).Shape()
    core = BRepPrimAPI_MakeCylinder(axes, b.radius * MM, 2.0 * w * MM, b.turn).Shape()
    parts.append(BRepAlgoAPI_Cut(round_, core).Shape())
    for part in parts:
        whole = BRepAlgoAPI_Fuse(whole, part).Shape()
    return whole


def _flange(b: AngleBracket, length: float) -> Contour:
    w = b.width / 2.0
    r = min(b.corner, w, min(b.base, b.riser) - b.setback)
    corners = ((0.0, -w), (length, -w), (length, w), (0.0, w))
    return Rounded(corners=corners, radii=(0.0, r, r, 0.0)).contour


def _shifted(opening: Opening, by: float, side: float) -> Contour:
    """An opening in its flange's own plane: x away from the bend, y along it."""
    if opening.outline is None:
        x, y = opening.centre
        return circle((side * x + by, y), opening.diameter or 0.0)
    corners = tuple((side * x + by, y) for x, y in opening.outline.corners)
    radii = opening.outline.radii
    if side < 0.0:  # mirrored: kept counter-clockwise
        corners, radii = corners[::-1], radii[::-1]
    return Rounded(corners=corners, radii=radii).contour


def _web_outline(b: Bracket) -> Rounded:
    """The web between the tangents of its bends."""
    corners, radii = [], []
    ring = b.flat.outline
    for (x, y), radius in zip(ring.corners, ring.radii, strict=True):
        inside = abs(x) <= b.half_web + 1e-12
        corners.append((x if inside else (b.half_web if x > 0 else -b.half_web), y))
        radii.append(radius if inside else 0.0)
    return Rounded(corners=tuple(corners), radii=tuple(radii))


def _slid(opening: Opening, side: float, start: float) -> Contour:
    return circle((side * opening.centre[0] - start, opening.centre[1]), opening.diameter or 0.0)


def volume(solid: Any) -> float:
    """Volume of a solid of the kernel [m³]."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, found)
    return float(found.Mass()) * 1e-9


def step_bytes(solid: Any, name: str) -> bytes:
    """A solid of the kernel as a STEP file; the same bytes whenever it is written.

    Args:
        solid: The solid [mm].
        name: Of the product; letters, digits and hyphens.
    """
    _need()
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Message import Message
    from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer

    messenger = Message.DefaultMessenger_s()
    for printer in list(messenger.Printers()):
        messenger.RemovePrinter(printer)  # it would write to the terminal
    writer = STEPControl_Writer()
    writer.Transfer(solid, STEPControl_AsIs)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        if writer.Write(str(path)) != IFSelect_RetDone:
            raise LegwrightError("The CAD kernel could not write the STEP file.")
        written = path.read_bytes()
    written = re.sub(STAMP, b"'1970-01-01T00:00:00'", written, count=1)
    return re.sub(PRODUCT, name.encode("ascii", "replace"), written)


def _need() -> None:
    if not kernel_installed():
        raise KernelMissingError(f"STEP files need a CAD kernel: {INSTALL}")


def _frame(
    at: tuple[float, float, float], up: tuple[float, float, float], x: tuple[float, float, float]
) -> Any:
    _need()
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    return gp_Ax2(gp_Pnt(*at), gp_Dir(*up), gp_Dir(*x))


def _prism(outline: Contour, openings: list[Contour], height: float, frame: Any) -> Any:
    """A flat shape in a frame, raised along its z [mm]."""
    _need()
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Ax3, gp_Pln, gp_Vec

    face = BRepBuilderAPI_MakeFace(gp_Pln(gp_Ax3(frame)), _wire(outline, frame))
    for opening in openings:
        wire = _wire(opening, frame)
        wire.Reverse()
        face.Add(wire)
    up = frame.Direction()
    return BRepPrimAPI_MakePrism(
        face.Face(), gp_Vec(up.X() * height, up.Y() * height, up.Z() * height)
    ).Shape()


def _wire(contour: Contour, frame: Any) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
    from OCP.GC import GC_MakeArcOfCircle

    wire = BRepBuilderAPI_MakeWire()
    for a, b, arc in contour.pieces:
        start, end = _point(a, frame), _point(b, frame)
        if arc is None:
            wire.Add(BRepBuilderAPI_MakeEdge(start, end).Edge())
            continue
        angle = arc.start + arc.turn / 2.0
        middle = (
            arc.centre[0] + arc.radius * cos(angle),
            arc.centre[1] + arc.radius * sin(angle),
        )
        curve = GC_MakeArcOfCircle(start, _point(middle, frame), end).Value()
        wire.Add(BRepBuilderAPI_MakeEdge(curve).Edge())
    return wire.Wire()


def _point(at: tuple[float, float], frame: Any) -> Any:
    """A point of a plane shape in space."""
    from OCP.gp import gp_Pnt

    origin, x, y = frame.Location(), frame.XDirection(), frame.YDirection()
    along, across = at[0] * MM, at[1] * MM
    return gp_Pnt(
        origin.X() + along * x.X() + across * y.X(),
        origin.Y() + along * x.Y() + across * y.Y(),
        origin.Z() + along * x.Z() + across * y.Z(),
    )
