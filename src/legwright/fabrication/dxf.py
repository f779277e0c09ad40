"""Flat parts as drawing exchange files (DXF R2010, millimetres), one layer for each purpose."""

from __future__ import annotations

import re
from io import StringIO
from types import MappingProxyType
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from legwright.fabrication.contour import Contour
from legwright.fabrication.plate import Plate

OUTLINE, BENDS, CUT = "outline", "bends", "cut"
COLOURS = MappingProxyType(
    {
        OUTLINE: 7, "holes": 1, "fits": 6, "servo": 5, "passages": 4, "windows": 3, "reliefs": 2,
        BENDS: 8, CUT: 30,
    }
)  # fmt: skip
"""Layer -> colour index; meaning is in the layer's name, never in the colour alone."""
MM = 1e3


def dxf_text(plate: Plate, *, kerf: float = 0.0, bends: tuple[float, ...] = ()) -> str:
    """A flat part as the text of a DXF file.

    Without kerf the lines are the part's own and each purpose has its layer. With a kerf all
    lines are the beam's paths, on the layer ``cut``, so that nobody compensates twice.

    Args:
        plate: The part.
        kerf: Width of the cut [m].
        bends: x of bend lines [m]; never cut.

    Returns:
        Text.

    Raises:
        RequestError: where the part is too fine for the beam.
    """
    import ezdxf
    from ezdxf import units

    document = ezdxf.new("R2010", setup=["linetypes"])
    document.units = units.MM
    document.header["$MEASUREMENT"] = 1
    for name, colour in COLOURS.items():
        document.layers.add(name, color=colour)
    document.layers.get(BENDS).dxf.linetype = "CENTER"
    space = document.modelspace()
    drawn = plate.cut(kerf) if kerf > 0.0 else plate
    _contour(space, drawn.outline.contour, CUT if kerf > 0.0 else OUTLINE)
    for opening in drawn.openings:
        layer = CUT if kerf > 0.0 else opening.purpose.value
        if opening.diameter is not None:
            space.add_circle(
                (opening.centre[0] * MM, opening.centre[1] * MM),
                opening.diameter / 2.0 * MM,
                dxfattribs={"layer": layer},
            )
        else:
            _contour(space, opening.contour, layer)
    _, bottom, _, top = plate.box
    for x in bends:
        space.add_line((x * MM, bottom * MM), (x * MM, top * MM), dxfattribs={"layer": BENDS})
    stream = StringIO()
    document.write(stream)
    return _timeless(stream.getvalue(), plate.name)


def _timeless(text: str, name: str) -> str:
    """The same text whenever it is written: no times, and an identity that follows the name."""
    identity = "{" + str(uuid5(NAMESPACE_URL, f"legwright:{name}")).upper() + "}"
    text = re.sub(r"(\$TDU?(?:CREATE|UPDATE)\s+40\s+)\S+", r"\g<1>2440587.5", text)
    text = re.sub(r"(\$(?:FINGERPRINT|VERSION)GUID\s+2\s+)\{[^}]*\}", rf"\g<1>{identity}", text)
    return re.sub(r"(\n[\d.]+ @ )\d{4}-[^\n]*", r"\g<1>1970-01-01T00:00:00+00:00", text)


def _contour(space: Any, contour: Contour, layer: str) -> None:
    points = [
        (x * MM, y * MM, bulge)
        for (x, y), bulge in zip(contour.points, contour.bulges, strict=True)
    ]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": layer})
