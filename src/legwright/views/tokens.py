"""The values of the look: colours, line widths, type sizes, sheet measures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """One set of colours, as sRGB hex."""

    bench: str
    """Around the sheets."""
    sheet: str
    tint: str
    ink: str
    ink2: str
    """Secondary text."""
    line: str
    """Hatch and controls."""
    hair: str
    """Decoration only, contrast under 3."""
    red: str
    """Out of limit."""
    yellow: str
    """Near a limit; a fill only, always with an ink outline."""
    green: str
    """A lamp on a live page: hardware energised and well; never a verdict."""
    blue: str
    """A lamp on a live page: you must do this."""


LIGHT = Theme(
    bench="#E3E7E4",
    sheet="#FAFBF9",
    tint="#EFF2EF",
    ink="#14181B",
    ink2="#485157",
    line="#737D82",
    hair="#C9D0D0",
    red="#B3151F",
    yellow="#F0B400",
    green="#17693A",
    blue="#1B4F94",
)
DARK = Theme(
    bench="#0A0D0F",
    sheet="#14191C",
    tint="#1D2428",
    ink="#E5E9E6",
    ink2="#AAB4B6",
    line="#7D898E",
    hair="#333D42",
    red="#FF6F61",
    yellow="#F2C230",
    green="#62CB8E",
    blue="#8FBAFF",
)
ON_YELLOW = "#14181B"
"""Text on yellow, in both themes."""

FRAME = 0.7
THICK = 0.5
PART_EDGE = 0.42
THIN = 0.25
FINE = 0.18
RED_TRACE = 0.9
"""Line widths [mm]."""

DASHES: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "continuous": (),
        "hidden": (8.0, 3.0),
        "centre": (12.0, 3.0, 0.5, 3.0),
        "phantom": (16.0, 3.0, 0.6, 3.0, 0.6, 3.0),
    }
)
"""Dash patterns of ISO 128 style in multiples of the line width, for drawings under 60 mm."""

HATCH_GAP = 1.5
HATCH_GAP_NARROW = 1.1
"""Distance between hatch lines [mm]."""
ARROW_LENGTH = 2.2
ARROW_HALF_ANGLE = 9.5
"""Closed arrowhead [mm, deg]."""

CAP_OVER_EM = 0.70
"""Cap height of the lettering face over its size."""
TINY, SMALL, BODY, LARGE, HUGE = 2.57, 3.57, 5.0, 7.14, 10.0
"""Lettering sizes for cap heights 1.8, 2.5, 3.5, 5 and 7 mm [mm]."""
ON_SCREEN = 1.25
"""The smallest letters on the desk's page over those on paper; drawings leave room for it."""
FINDING_TEXT, SUMMARY_TEXT, LEADING = 3.0, 3.5, 1.25
"""Text face sizes [mm], and line distance over size."""

LETTERING_STACK = (
    '"Barlow Semi Condensed","Source Serif 4","DIN Alternate",Bahnschrift,'
    '"Liberation Sans Narrow",sans-serif'
)
TEXT_STACK = '"Source Serif 4",Charter,Georgia,serif'

SHEET_WIDTH, SHEET_HEIGHT = 210.0, 297.0
FRAME_LEFT, FRAME_TOP, FRAME_RIGHT, FRAME_BOTTOM = 20.0, 10.0, 200.0, 287.0
ZONE_BAND, ZONE_FIELD = 5.0, 50.0
BLOCK_TOP = 258.0
"""Sheet measures from its top left corner [mm]; the title block fills BLOCK_TOP to FRAME_BOTTOM."""

DOT_AT: Mapping[str, float] = MappingProxyType({"pass": 0.5, "warn": 1.0, "fail": 1.42})
"""Where the dot of the limit mark sits, in sides of its frame."""


def css_variables(theme: Theme) -> str:
    """The theme as CSS custom properties.

    Args:
        theme: The colours.

    Returns:
        ``--bench:#E3E7E4;--sheet:…``
    """
    return "".join(f"--{item.name}:{getattr(theme, item.name)};" for item in fields(theme))


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two sRGB colours, 1 to 21.

    Args:
        first: ``#RRGGBB``.
        second: ``#RRGGBB``.

    Returns:
        (L1 + 0.05) / (L2 + 0.05) with relative luminances L1 >= L2.

    Source: WCAG 2.2, definitions of contrast ratio and relative luminance.
    """
    high, low = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    channels = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
