"""The two faces as they travel inside a report: subset, compressed, written into the page."""

from __future__ import annotations

import base64
import hashlib
import logging
import string
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from legwright.views.lettering import THIN_SPACE, THIN_SPACE_EM, Face, font_file

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

_ALWAYS = (
    string.ascii_letters
    + string.digits
    + string.punctuation
    + (" \u00a0\u202f−–—·×±°²³µμΩ≤≥√½′″‹›“”‘’…→φβτωλαπσΔéèüöäßñç")
)
"""Characters that every report carries, so that the next one finds its subsets ready."""
_INSTANCE: Mapping[Face, Mapping[str, float]] = {
    Face.TEXT: {"opsz": 10.0, "wght": 400.0},
    Face.TEXT_STRONG: {"opsz": 10.0, "wght": 600.0},
    Face.TEXT_ITALIC: {"opsz": 10.0, "wght": 400.0},
}
_FAMILY: Mapping[Face, tuple[str, int, str]] = {
    Face.LETTER: ("Barlow Semi Condensed", 400, "normal"),
    Face.LETTER_MEDIUM: ("Barlow Semi Condensed", 500, "normal"),
    Face.LETTER_STRONG: ("Barlow Semi Condensed", 600, "normal"),
    Face.TEXT: ("Source Serif 4", 400, "normal"),
    Face.TEXT_STRONG: ("Source Serif 4", 600, "normal"),
    Face.TEXT_ITALIC: ("Source Serif 4", 400, "italic"),
}
_PAGE: Mapping[Face, tuple[str, str]] = {
    Face.LETTER: ("lettering-400", _ALWAYS),
    Face.LETTER_MEDIUM: ("lettering-500", _ALWAYS),
    Face.LETTER_STRONG: ("lettering-600", _ALWAYS),
    Face.TEXT: ("text-400", _ALWAYS),
    Face.TEXT_ITALIC: ("text-italic", string.ascii_letters + " φβτωλαπσΔθμη"),
}
"""The desk writes symbols alone in italics, and marks nothing strong inside a sentence."""
_RECIPE = "1"
"""Raise when the way a subset is made changes."""

_log = logging.getLogger(__name__)


def font_face_rules(used: str, *, cache: Path | None = None) -> str:
    """``@font-face`` rules with the faces inside, no outside address.

    A face whose package is not installed is left out; the page then shows the fallbacks.

    Args:
        used: All text of the page.
        cache: Folder that keeps finished subsets; the user's cache folder when None.

    Returns:
        CSS.
    """
    wanted = "".join(sorted(set(_ALWAYS) | {char for char in used if char.isprintable()}))
    folder = _user_cache() if cache is None else cache
    return "\n".join(rule for face in Face if (rule := _rule(face, wanted, folder)))


def page_faces() -> dict[str, bytes]:
    """The faces that the desk's page is served with.

    Returns:
        File name to woff2 file: ``lettering-500.woff2``, ``text-italic.woff2``, …

    Raises:
        ModuleNotFoundError: if a font package is not installed.
    """
    return {f"{name}.woff2": subset_woff2(face, wanted) for face, (name, wanted) in _PAGE.items()}


def _rule(face: Face, wanted: str, folder: Path) -> str:
    try:
        path = font_file(face)
        source = path.read_bytes()
    except (ModuleNotFoundError, OSError):
        return ""
    key = hashlib.sha256(
        b"\0".join([source, wanted.encode(), face.value.encode(), _RECIPE.encode()])
    ).hexdigest()[:32]
    data = _kept(folder / f"{key}.woff2")
    if data is None:
        data = subset_woff2(face, wanted)
        _keep(folder / f"{key}.woff2", data)
    family, weight, style = _FAMILY[face]
    code = base64.b64encode(data).decode("ascii")
    return (
        f'@font-face{{font-family:"{family}";font-weight:{weight};font-style:{style};'
        f"font-display:block;src:url(data:font/woff2;base64,{code}) format('woff2')}}"
    )


def subset_woff2(face: Face, wanted: str) -> bytes:
    """One face, only the given characters, as woff2.

    Args:
        face: The face.
        wanted: Characters to keep; those that the face lacks are left out.

    Returns:
        The font file.

    Raises:
        ModuleNotFoundError: if the font package is not installed.
    """
    from fontTools import subset
    from fontTools.ttLib import TTFont

    font = TTFont(font_file(face))
    options = subset.Options()
    options.layout_features = ["kern", "tnum", "lnum", "mark", "ccmp"]
    options.notdef_outline = True
    options.drop_tables += ["DSIG", "MVAR"]
    cutter = subset.Subsetter(options)
    cutter.populate(text=wanted)
    cutter.subset(font)
    if face in _INSTANCE:
        from fontTools.varLib import instancer

        font = instancer.instantiateVariableFont(font, dict(_INSTANCE[face]))
    _add_thin_space(font)
    font.flavor = "woff2"
    out = BytesIO()
    font.save(out)
    return out.getvalue()


def _add_thin_space(font: TTFont) -> None:
    """Gives the face a narrow no-break space, so that browsers need no other font for it."""
    from fontTools.ttLib.tables._g_l_y_f import Glyph

    cmap = font.getBestCmap()
    if ord(THIN_SPACE) in cmap:
        return
    name = "space.thin"
    font.setGlyphOrder([*font.getGlyphOrder(), name])
    font["glyf"].glyphs[name] = Glyph()
    font["glyf"].glyphOrder = font.getGlyphOrder()
    font["hmtx"].metrics[name] = (round(THIN_SPACE_EM * font["head"].unitsPerEm), 0)
    for table in font["cmap"].tables:
        if table.isUnicode():
            table.cmap[ord(THIN_SPACE)] = name


def _user_cache() -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("legwright") / "fonts"


def _kept(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None


def _keep(path: Path, data: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(".part")
        fresh.write_bytes(data)
        fresh.replace(path)
    except OSError as error:
        _log.debug("font subset not kept: %s", error)
