"""How wide lettering runs: advance widths of the two faces, and line breaking."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from functools import cache
from importlib.resources import files
from pathlib import Path

THIN_SPACE = "\u202f"
THIN_SPACE_EM = 0.18
"""Advance of the narrow no-break space that the embedded faces get, in em."""
FALLBACK_EM = 0.56
"""Advance assumed for a character that neither face has, in em."""


class Face(Enum):
    """The faces of the look; the value is CSS weight and style."""

    LETTER = "400"
    LETTER_MEDIUM = "500"
    LETTER_STRONG = "600"
    TEXT = "text 400"
    TEXT_STRONG = "text 600"
    TEXT_ITALIC = "text italic"


_FILES: Mapping[Face, tuple[str, str]] = {
    Face.LETTER: ("fontpkg_barlow_semi_condensed", "BarlowSemiCondensed-Regular.ttf"),
    Face.LETTER_MEDIUM: ("fontpkg_barlow_semi_condensed", "BarlowSemiCondensed-Medium.ttf"),
    Face.LETTER_STRONG: ("fontpkg_barlow_semi_condensed", "BarlowSemiCondensed-SemiBold.ttf"),
    Face.TEXT: ("fontpkg_source_serif_4", "SourceSerif4[opsz,wght].ttf"),
    Face.TEXT_STRONG: ("fontpkg_source_serif_4", "SourceSerif4[opsz,wght].ttf"),
    Face.TEXT_ITALIC: ("fontpkg_source_serif_4", "SourceSerif4-Italic[opsz,wght].ttf"),
}
_VARIABLE_WIDENING: Mapping[Face, float] = {
    Face.TEXT: 1.105,
    Face.TEXT_STRONG: 1.121,
    Face.TEXT_ITALIC: 1.089,
}
"""The variable file's stored widths are those of opsz 20, wght 400; at opsz 10 letters run
wider (measured on the instances over the alphabet)."""


def font_file(face: Face) -> Path:
    """Where a face's font file lies.

    Args:
        face: The face.

    Returns:
        Path of the TrueType file inside its installed package.

    Raises:
        ModuleNotFoundError: if the font package is not installed.
    """
    package, name = _FILES[face]
    return Path(str(files(package))) / "files" / name


@cache
def advances(face: Face) -> Mapping[str, float]:
    """Advance width of each character of a face, in em; empty if the font is not installed.

    Args:
        face: The face.

    Returns:
        Character -> advance, digits tabular.
    """
    try:
        path = font_file(face)
    except ModuleNotFoundError:
        return {}
    from fontTools.ttLib import TTFont

    with TTFont(path, lazy=True) as font:
        em, metrics, cmap = font["head"].unitsPerEm, font["hmtx"].metrics, font.getBestCmap()
        widen = _VARIABLE_WIDENING.get(face, 1.0) / em
        widths = {chr(code): metrics[glyph][0] * widen for code, glyph in cmap.items()}
        tabular = metrics.get("zero.tf", metrics.get("zero.tnum"))
    if tabular is not None:
        widths |= {digit: tabular[0] / em for digit in "0123456789"}
    widths[THIN_SPACE] = THIN_SPACE_EM
    return widths


def width(text: str, size: float, face: Face = Face.LETTER_MEDIUM) -> float:
    """How wide a line of lettering runs, kerning left out.

    Args:
        text: One line.
        size: Font size [mm].
        face: The face.

    Returns:
        Width [mm].
    """
    own, other = advances(face), advances(Face.TEXT)
    return size * sum(own.get(char, other.get(char, FALLBACK_EM)) for char in text)


def wrap(text: str, size: float, room: float, face: Face = Face.TEXT) -> list[str]:
    """Break text into lines that fit.

    Args:
        text: Running text; breaks at spaces only, a word longer than the room stands alone.
        size: Font size [mm].
        room: Width of the column [mm].
        face: The face.

    Returns:
        The lines, at least one.
    """
    lines, line = [], ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if line and width(longer, size, face) > room:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line]
