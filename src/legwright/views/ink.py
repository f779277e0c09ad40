"""A sheet of paper in millimetres and the few things one draws on it.

x runs right, y runs down. Colours are names of the theme (``ink``, ``red``, ``sheet``, …) and
reach the SVG as CSS classes, so that one drawing serves paper, screen and dark screen.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape
from math import atan2, cos, hypot, radians, sin
from typing import NamedTuple

from legwright.views import tokens
from legwright.views.hatching import clip_lines
from legwright.views.lettering import Face, width

Point = tuple[float, float]


class Label(NamedTuple):
    """A text on the sheet and the box that it fills [mm]."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Label, *, gap: float = 0.0) -> bool:
        """Whether two boxes overlap or come closer than a gap."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A finished drawing."""

    width: float
    """[mm]"""
    height: float
    """[mm]"""
    svg: str
    labels: tuple[Label, ...]
    """Every text with its box, for the check that none collide."""
    balloons: tuple[tuple[int, float, float], ...] = ()
    """Finding number and position of each balloon [mm]."""


class Ink:
    """A drawing in the making."""

    def __init__(self, width: float, height: float, *, about: str) -> None:
        """An empty sheet.

        Args:
            width: [mm].
            height: [mm].
            about: What the drawing shows, for those who cannot see it.
        """
        self.width, self.height, self.about = width, height, about
        self.labels: list[Label] = []
        self.balloons: list[tuple[int, float, float]] = []
        self._marks: list[str] = []

    def finish(self) -> Drawing:
        """The drawing as a value."""
        body = "".join(self._marks)
        svg = (
            f'<svg class="ink" viewBox="0 0 {_n(self.width)} {_n(self.height)}" role="img" '
            f'aria-label="{escape(self.about, quote=True)}">{body}</svg>'
        )
        return Drawing(
            width=self.width,
            height=self.height,
            svg=svg,
            labels=tuple(self.labels),
            balloons=tuple(self.balloons),
        )

    @contextmanager
    def part(self, name: str) -> Iterator[None]:
        """What is drawn meanwhile belongs to a part, which pages can light and ask about.

        Args:
            name: Its designation, joint or leg; reaches the SVG as ``data-part``.
        """
        self._marks.append(f'<g data-part="{escape(name, quote=True)}">')
        try:
            yield
        finally:
            self._marks.append("</g>")

    # -- lines and areas -------------------------------------------------------------------

    def path(
        self,
        points: Iterable[Sequence[float]],
        *,
        stroke: str = "ink",
        weight: float = tokens.THIN,
        dash: str = "continuous",
        fill: str = "none",
        close: bool = False,
        round_ends: bool = False,
    ) -> None:
        """A polyline or polygon.

        Args:
            points: Corners, (x, y) [mm].
            stroke: Line colour, or ``none``.
            weight: Line width [mm].
            dash: ``continuous``, ``hidden``, ``centre`` or ``phantom``.
            fill: Area colour, or ``none``.
            close: Whether the last corner joins the first.
            round_ends: Round instead of square line ends and corners.
        """
        corners = [f"{_n(p[0])} {_n(p[1])}" for p in points]
        if len(corners) < 2:
            return
        data = "M" + "L".join(corners) + ("Z" if close else "")
        look = self._look(stroke, weight, dash, fill, round_ends=round_ends)
        self._add_path(data, look)

    def line(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        *,
        stroke: str = "ink",
        weight: float = tokens.THIN,
        dash: str = "continuous",
    ) -> None:
        """A straight line [mm]."""
        look = self._look(stroke, weight, dash, "none")
        self._add_path(f"M{_n(x0)} {_n(y0)}L{_n(x1)} {_n(y1)}", look)

    def rect(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        stroke: str = "ink",
        weight: float = tokens.THIN,
        fill: str = "none",
        dash: str = "continuous",
    ) -> None:
        """An upright rectangle from its top left corner [mm]."""
        look = self._look(stroke, weight, dash, fill)
        self._add_path(f"M{_n(x)} {_n(y)}h{_n(width)}v{_n(height)}h{_n(-width)}Z", look)

    def circle(
        self,
        x: float,
        y: float,
        radius: float,
        *,
        stroke: str = "ink",
        weight: float = tokens.THIN,
        fill: str = "none",
        dash: str = "continuous",
    ) -> None:
        """A circle [mm]."""
        look = self._look(stroke, weight, dash, fill)
        self._marks.append(f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"{look}/>')

    def dots(
        self,
        points: Iterable[Sequence[float]],
        radius: float,
        *,
        fill: str = "ink",
        stroke: str = "none",
        weight: float = tokens.FINE,
    ) -> None:
        """Many equal dots [mm]."""
        look = self._look(stroke, weight, "continuous", fill)
        data = "".join(
            f'<circle cx="{_n(p[0])}" cy="{_n(p[1])}" r="{_n(radius)}"/>' for p in points
        )
        self._marks.append(f"<g{look}>{data}</g>")

    def segments(
        self,
        pairs: Iterable[tuple[Point, Point]],
        *,
        stroke: str = "line",
        weight: float = tokens.FINE,
    ) -> None:
        """Many separate straight lines [mm]."""
        data = "".join(f"M{_n(a[0])} {_n(a[1])}L{_n(b[0])} {_n(b[1])}" for a, b in pairs)
        if data:
            self._add_path(data, self._look(stroke, weight, "continuous", "none"))

    def hatch(
        self,
        area: Sequence[Point],
        *holes: Sequence[Point],
        gap: float = tokens.HATCH_GAP,
        stroke: str = "line",
    ) -> None:
        """Hatches an area: not allowed. Lines at 45°, real lines, clipped here.

        Args:
            area: Polygon corners [mm].
            holes: Polygons left out; a point in an odd number of polygons is hatched.
            gap: Distance between lines [mm].
            stroke: Line colour.
        """
        self.segments(clip_lines([area, *holes], gap), stroke=stroke, weight=tokens.FINE)

    def arrow_head(
        self,
        x: float,
        y: float,
        angle: float,
        *,
        stroke: str = "ink",
        length: float = tokens.ARROW_LENGTH,
    ) -> None:
        """A closed arrowhead with its tip at (x, y) [mm] pointing along ``angle`` [rad]."""
        half = radians(tokens.ARROW_HALF_ANGLE)
        side = length / cos(half)
        corners = [
            (x - side * cos(angle + s * half), y - side * sin(angle + s * half))
            for s in (1.0, -1.0)
        ]
        self.path([(x, y), *corners], stroke="none", fill=stroke, close=True)

    def arrow(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        *,
        stroke: str = "ink",
        weight: float = tokens.THIN,
    ) -> None:
        """A line from (x0, y0) with an arrowhead at (x1, y1) [mm]."""
        angle = atan2(y1 - y0, x1 - x0)
        short = min(tokens.ARROW_LENGTH * 0.8, hypot(x1 - x0, y1 - y0))
        self.line(
            x0, y0, x1 - short * cos(angle), y1 - short * sin(angle), stroke=stroke, weight=weight
        )
        self.arrow_head(x1, y1, angle, stroke=stroke)

    # -- lettering -------------------------------------------------------------------------

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = tokens.TINY,
        face: Face = Face.LETTER_MEDIUM,
        colour: str = "ink",
        anchor: str = "start",
        upright: bool = False,
        knock: bool = False,
    ) -> Label:
        """One line of lettering.

        Args:
            x: Where it starts, is centred or ends, after ``anchor`` [mm].
            y: Its base line [mm].
            words: The text.
            size: Font size [mm].
            face: The face.
            colour: Colour name.
            anchor: ``start``, ``middle`` or ``end``.
            upright: Reads upwards instead of to the right.
            knock: Clears the ground behind it.

        Returns:
            The text and its box.
        """
        label = box_of(x, y, words, size=size, face=face, anchor=anchor, upright=upright)
        self.labels.append(label)
        if knock:
            more = tokens.ON_SCREEN - 1.0 if size == tokens.TINY else 0.0
            wide, tall = label.right - label.left, label.bottom - label.top
            self.rect(
                label.left - 0.4 - 0.5 * more * wide,
                label.top - 0.3 - 0.5 * more * tall,
                wide * (1.0 + more) + 0.8,
                tall * (1.0 + more) + 0.5,
                stroke="none",
                fill="sheet",
            )
        kind = {
            "400": "l4",
            "500": "l5",
            "600": "l6",
            "text 400": "t4",
            "text 600": "t6",
            "text italic": "ti",
        }[face.value]
        place = "" if anchor == "start" else f' text-anchor="{anchor}"'
        turn = f' transform="rotate(-90 {_n(x)} {_n(y)})"' if upright else ""
        self._marks.append(
            f'<text x="{_n(x)}" y="{_n(y)}" class="{kind} f-{colour}" '
            f'font-size="{_n(size)}"{place}{turn}>{escape(words)}</text>'
        )
        return label

    def free(self, label: Label, *, gap: float = 0.4) -> bool:
        """Whether a text's box lies on the sheet and meets no other text."""
        inside = (
            label.left >= 0.0
            and label.top >= 0.0
            and label.right <= self.width
            and label.bottom <= self.height
        )
        return inside and not any(label.meets(other, gap=gap) for other in self.labels)

    def text_where_free(
        self,
        places: Iterable[tuple[float, float, str]],
        words: str,
        *,
        size: float = tokens.TINY,
        face: Face = Face.LETTER_MEDIUM,
        colour: str = "ink",
        knock: bool = False,
    ) -> Label | None:
        """Lettering at the first place that is free; left out when none is.

        Args:
            places: Candidates (x, base line, anchor), best first [mm].
            words: The text.
            size: Font size [mm].
            face: The face.
            colour: Colour name.
            knock: Clears the ground behind it.

        Returns:
            Where it went, or None.
        """
        for x, y, anchor in places:
            if self.free(box_of(x, y, words, size=size, face=face, anchor=anchor)):
                return self.text(
                    x, y, words, size=size, face=face, colour=colour, anchor=anchor, knock=knock
                )
        return None

    def keep_clear(self, left: float, top: float, right: float, bottom: float) -> None:
        """Reserves a box so that `text_where_free` stays out of it [mm]."""
        self.labels.append(Label("", left, top, right, bottom))

    # -- inner -----------------------------------------------------------------------------

    def _add_path(self, data: str, look: str) -> None:
        self._marks.append(f'<path d="{data}"{look}/>')

    def _look(
        self, stroke: str, weight: float, dash: str, fill: str, *, round_ends: bool = False
    ) -> str:
        kinds = [f"f-{fill}", f"s-{stroke}"] + (["r"] if round_ends else [])
        look = f' class="{" ".join(kinds)}"'
        if stroke != "none":
            look += f' stroke-width="{_n(weight)}"'
            if pattern := tokens.DASHES[dash]:
                look += ' stroke-dasharray="' + " ".join(_n(d * weight) for d in pattern) + '"'
        return look


def box_of(
    x: float,
    y: float,
    words: str,
    *,
    size: float,
    face: Face = Face.LETTER_MEDIUM,
    anchor: str = "start",
    upright: bool = False,
) -> Label:
    """The box that a line of lettering would fill; arguments as `Ink.text`."""
    long = width(words, size, face)
    start = {"start": 0.0, "middle": -long / 2.0, "end": -long}[anchor]
    above, below = 0.72 * size, 0.18 * size
    if upright:
        return Label(words, x - above, y - start - long, x + below, y - start)
    return Label(words, x + start, y - above, x + start + long, y + below)


def _n(value: float) -> str:
    text = f"{float(value):.2f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
