"""The sheets of a robot's shells."""

from __future__ import annotations

from legwright.robot.robot import Robot
from legwright.study.checks.shell_clearance import pose_words
from legwright.study.evidence import Study
from legwright.study.shell_evidence import (
    PairEvidence,
    ShellEvidence,
    pair_evidence,
    shell_evidence,
)
from legwright.study.shells import StudiedShell, shells_of
from legwright.views import tokens
from legwright.views.ink import Drawing, Ink, Label
from legwright.views.shell_clearance import closest_pose
from legwright.views.shell_drawing import shell_drawing
from legwright.views.shell_plots import lying_picture, wall_plot
from legwright.views.symbols import empty_sentence, title
from legwright.views.wide_sheet import ROOM, WideSheet

NOTES = (
    "Worked out from the surface; wall by rays straight through the material.",
    "Printing time and mass are estimates: weigh what was printed.",
    "Hands clear of moving legs: gaps beside shells pinch.",
)


def shell_sheets(study: Study) -> tuple[WideSheet, ...]:
    """Two sheets for each shell (shape; walls, printing, what comes near), one for pairs of them.

    Args:
        study: What the check found.
    """
    if not study.robot.sheet.shell:
        return ()
    sheets = []
    for found in shell_evidence(study):
        name = found.one.shell.name
        sheets.append(_shape(found.one))
        sheets.append(
            WideSheet(
                name=f"shell-{name}-2",
                subtitle=f"{name}: walls, printing, clearance",
                drawing=_making(study.robot, found),
                notes=NOTES,
            )
        )
    pairs = pair_evidence(study)
    if pairs is not None:
        sheets.append(_pairs(study.robot, *pairs))
    return tuple(sheets)


def _pairs(robot: Robot, walking: PairEvidence | None, ranges: PairEvidence | None) -> WideSheet:
    """Shells against each other: the closest poses, side by side."""
    width, height = ROOM
    headings = ("Closest while walking", "Closest of a thousand random poses a pair")
    parts = tuple(
        _pair(robot, found, heading, width / 2.0, height)
        for found, heading in zip((walking, ranges), headings, strict=True)
    )
    return WideSheet(
        name="shell-pairs",
        subtitle="shells against each other",
        drawing=beside(parts, width, height),
        notes=NOTES,
    )


def _pair(
    robot: Robot, found: PairEvidence | None, heading: str, width: float, height: float
) -> Drawing:
    if found is None:
        ink = Ink(width, height, about=heading)
        title(ink, heading, "")
        empty_sentence(ink, "No two shells come within 60 mm of each other.")
        return ink.finish()
    first, second = found.gap.shells
    return closest_pose(
        robot, found.one, found.gap, found.at, beside=found.other, heading=heading,
        words=f"{first} and {second}{' meet' if found.gap.met else ''}: {found.words}.",
        width=width, height=height,
    )  # fmt: skip


def shape_sheets(robot: Robot) -> tuple[WideSheet, ...]:
    """The first sheet of each shell alone: its shape, which no walk changes.

    Args:
        robot: The robot.
    """
    return tuple(_shape(one) for one in shells_of(robot).studied)


def _shape(one: StudiedShell) -> WideSheet:
    name = one.shell.name
    width, height = ROOM
    return WideSheet(
        name=f"shell-{name}-1",
        subtitle=f"{name}: shape",
        drawing=shell_drawing(one, width=width, height=height),
        notes=NOTES,
    )


def _making(robot: Robot, found: ShellEvidence) -> Drawing:
    width, height = ROOM
    half_x, half_y = width / 2.0, height / 2.0
    near, far = found.walking, found.ranges.nearest
    walking = "" if near is None else f"{near.link}: {found.walk}."
    if far is None:
        reached = ""
    elif found.ranges.blocked:
        reached = f"{', '.join(found.ranges.blocked)} can be driven into it: {pose_words(far)}."
    else:
        proven = f"{max(found.ranges.proven, 0.0) * 1e3:.1f}"
        reached = f"{far.link} at {pose_words(far)}. No pose comes nearer than {proven} mm, proven."
    parts = (
        wall_plot(found.one, width=half_x, height=half_y),
        lying_picture(found.one, width=half_x, height=half_y),
        closest_pose(
            robot, found.one, near, found.walking_at, heading="Closest while walking",
            words=walking, width=half_x, height=half_y,
        ),
        closest_pose(
            robot, found.one, far, found.ranges_at, heading="Closest over the whole joint ranges",
            words=reached, width=half_x, height=half_y,
        ),
    )  # fmt: skip
    places = ((0.0, 0.0), (half_x, 0.0), (0.0, half_y), (half_x, half_y))
    return together(parts, places, width, height)


def together(
    parts: tuple[Drawing, ...], places: tuple[tuple[float, float], ...], width: float, height: float
) -> Drawing:
    """Four drawings beside each other, divided by rules, as one."""
    ink = Ink(width, height, about=_about(parts))
    ink.line(width / 2.0, 0.0, width / 2.0, height, weight=tokens.THIN)
    ink.line(0.0, height / 2.0, width, height / 2.0, weight=tokens.THIN)
    return _joined(ink.finish(), parts, places)


def beside(parts: tuple[Drawing, ...], width: float, height: float) -> Drawing:
    """Two drawings beside each other, divided by a rule, as one."""
    ink = Ink(width, height, about=_about(parts))
    ink.line(width / 2.0, 0.0, width / 2.0, height, weight=tokens.THIN)
    return _joined(ink.finish(), parts, ((0.0, 0.0), (width / 2.0, 0.0)))


def _about(parts: tuple[Drawing, ...]) -> str:
    return "; ".join(label.text for part in parts for label in part.labels[:1])


def _joined(
    ruled: Drawing, parts: tuple[Drawing, ...], places: tuple[tuple[float, float], ...]
) -> Drawing:
    inner = "".join(
        part.svg.replace(
            "<svg ", f'<svg x="{x:g}" y="{y:g}" width="{part.width:g}" height="{part.height:g}" ', 1
        )
        for part, (x, y) in zip(parts, places, strict=True)
    )
    labels = tuple(
        Label(label.text, label.left + x, label.top + y, label.right + x, label.bottom + y)
        for part, (x, y) in zip(parts, places, strict=True)
        for label in part.labels
    )
    return Drawing(
        width=ruled.width,
        height=ruled.height,
        svg=ruled.svg.replace("</svg>", inner + "</svg>"),
        labels=labels,
    )
