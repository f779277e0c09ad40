"""Drawing of the replaceable foot: pad and boss cut open, with dimensions."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from legwright.fabrication.foot_part import ARC, INSERT, FootPart
from legwright.fabrication.turned import Corner
from legwright.robot.sheet_making import Making
from legwright.views import tokens
from legwright.views.dimensioning import across, along, leader, millimetres
from legwright.views.flat_part import SCALES
from legwright.views.ink import Ink, Point
from legwright.views.lettering import Face
from legwright.views.numbers import plain
from legwright.views.plate_drawing import capital
from legwright.views.symbols import title
from legwright.views.wide_sheet import ROOM, WideSheet

WIDTH, HEIGHT = ROOM
SECTION = (48.0, 30.0, 148.0, HEIGHT - 32.0)
TABLE = 180.0

_At = Callable[[float, float], Point]


def foot_sheet(foot: FootPart, making: Making) -> WideSheet:
    """One sheet with a section and a table of measures.

    Args:
        foot: The foot.
        making: How parts are made.
    """
    ink = Ink(WIDTH, HEIGHT, about="Drawing of the foot")
    scale = _scale(foot)
    title(ink, "Foot", f"{_ratio(scale)}, cut open; {foot.count} of it")
    middle = (SECTION[0] + SECTION[2]) / 2.0
    low = (SECTION[1] + SECTION[3]) / 2.0 + 500.0 * scale * (foot.top - foot.radius)

    def at(r: float, z: float) -> Point:
        return middle + 1e3 * scale * r, low - 1e3 * scale * z

    def ring(profile: Sequence[Corner], side: float) -> list[Point]:
        return [at(side * r, z) for r, z in profile]

    for side in (1.0, -1.0):
        ink.path(ring(foot.pad_profile, side), fill="tint", stroke="none", close=True)
    outline = [
        *ring(foot.pad_profile, 1.0)[: ARC + 2],
        *ring(foot.pad_profile, -1.0)[ARC + 1 :: -1],
    ]
    ink.path(outline, close=True, weight=tokens.THICK)
    pockets = [(foot.hole / 2.0, foot.top - foot.depth)]
    pockets += [(foot.boss, foot.floor)] if foot.split else []
    for half, bottom in pockets:
        corners = ((-half, foot.top), (-half, bottom), (half, bottom), (half, foot.top))
        ink.path([at(r, z) for r, z in corners], weight=tokens.PART_EDGE)
    (_, high), (_, ground) = at(0.0, foot.top), at(0.0, -foot.radius)
    ink.line(middle, high - 4.0, middle, ground + 4.0, dash="centre", weight=tokens.FINE)
    _dimensions(ink, foot, at)
    ink.line(TABLE - 5.0, 0.0, TABLE - 5.0, HEIGHT)
    _table(ink, foot)
    return WideSheet(name="foot", subtitle="foot", drawing=ink.finish(), notes=_notes(foot, making))


def _dimensions(ink: Ink, foot: FootPart, at: _At) -> None:
    (left, high), (right, ground) = at(-foot.radius, foot.top), at(foot.radius, -foot.radius)
    bore, bottom = foot.hole / 2.0, foot.top - foot.depth
    across(ink, at(-bore, foot.top), at(bore, foot.top), high - 6.0,
           f"\u2300 {millimetres(foot.hole)}")  # fmt: skip
    across(ink, at(-foot.rim, foot.top), at(foot.rim, foot.top), high - 18.0,
           f"\u2300 {millimetres(2.0 * foot.rim)}")  # fmt: skip
    if foot.split:
        across(ink, at(-foot.boss, foot.top), at(foot.boss, foot.top), high - 12.0,
               f"\u2300 {millimetres(2.0 * foot.boss)}")  # fmt: skip
    along(ink, (right, ground), at(foot.rim, foot.top), right + 14.0,
          millimetres(foot.top + foot.radius))  # fmt: skip
    along(ink, at(bore, bottom), at(bore, foot.top), right + 7.0, millimetres(foot.depth))
    if foot.split:
        along(ink, (left, ground), at(-foot.boss, foot.floor), left - 7.0, millimetres(foot.sole))
    slant = at(-0.7071 * foot.radius, -0.7071 * foot.radius)
    leader(ink, slant, (slant[0] - 4.0, ground + 6.0), f"R {millimetres(foot.radius)}")


def _table(ink: Ink, foot: FootPart) -> None:
    room = WIDTH - TABLE - 4.0
    rows = [
        ("thread", f"{foot.screw}, {millimetres(foot.engaged)} deep"),
        ("hole", f"{millimetres(foot.hole)}, {millimetres(foot.depth)} deep"),
        ("pad", f"{plain(foot.pad_volume * 1e6, 2)}\u202fcm³"),
    ]
    if foot.split:
        rows.append(("boss", f"{plain(foot.boss_volume * 1e6, 2)}\u202fcm³"))
    y = 8.0
    ink.text(TABLE, y, "Measures", face=Face.LETTER_STRONG)
    ink.line(TABLE, y + 1.3, TABLE + room, y + 1.3)
    for name, value in rows:
        y += 4.0
        ink.text(TABLE, y, name, face=Face.LETTER)
        ink.text(TABLE + room, y, value, anchor="end")


def _scale(foot: FootPart) -> float:
    wide, high = 2e3 * foot.radius, 1e3 * (foot.top + foot.radius)
    room = (SECTION[2] - SECTION[0], SECTION[3] - SECTION[1])
    fitting = [s for s in SCALES if s * wide <= room[0] and s * high <= room[1]]
    return max(fitting, default=min(SCALES))


def _ratio(scale: float) -> str:
    return f"{scale:g}:1" if scale >= 1.0 else f"1:{1.0 / scale:.4g}"


def _notes(foot: FootPart, making: Making) -> tuple[str, ...]:
    grade = making.tolerance.general
    pushed = (
        "Pad around a boss of metal: cast, or printed and pushed on with glue."
        if foot.split
        else f"One printed part; an insert's hole follows its own data sheet ({INSERT:g} d here)."
    )
    return (
        f"{capital(foot.material) or 'Material not stated'}. {pushed}",
        f"General tolerances ISO 2768-1, class {grade}." if grade else "Tolerances not stated.",
        "Print one, stand the robot on it, measure how far it sinks.",
    )
