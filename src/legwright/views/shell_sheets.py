"""The sheets of a robot's shells."""

from __future__ import annotations

from legwright.robot.robot import Robot
from legwright.study.checks.shell_clearance import pose_words
from legwright.study.evidence import Study
from legwright.study.shell_evidence import ShellEvidence, shell_evidence
from legwright.study.shells import StudiedShell, shells_of
from legwright.views import tokens
from legwright.views.ink import Drawing
from legwright.views.shell_clearance import closest_pose
from legwright.views.shell_drawing import shell_drawing
from legwright.views.shell_plots import lying_picture, wall_plot
from legwright.views.wide_sheet import ROOM, WideSheet

NOTES = (
    "Worked out from the surface; wall by rays straight through the material.",
    "Printing time and mass are estimates: weigh what was printed.",
    "Hands clear of moving legs: gaps beside shells pinch.",
)


def shell_sheets(study: Study) -> tuple[WideSheet, ...]:
    """Two sheets for each shell: its shape; its walls, how it is printed, what comes near it.

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
    return tuple(sheets)


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
    """Several drawings beside each other, divided by rules, as one."""
    from legwright.views.ink import Ink, Label

    ink = Ink(
        width, height, about="; ".join(label.text for part in parts for label in part.labels[:1])
    )
    ink.line(width / 2.0, 0.0, width / 2.0, height, weight=tokens.THIN)
    ink.line(0.0, height / 2.0, width, height / 2.0, weight=tokens.THIN)
    ruled = ink.finish()
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
        width=width,
        height=height,
        svg=ruled.svg.replace("</svg>", inner + "</svg>"),
        labels=labels,
    )
