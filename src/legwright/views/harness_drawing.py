"""The harness drawing: cables over the robot's plan, with a table of their lengths."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Item, Kind
from legwright.electrics.wire_list import wire_list
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.views import tokens
from legwright.views.cable_labels import label_spots
from legwright.views.circuit_signs import length_words, letters, size_words, weight_of
from legwright.views.figures import Paper, draw_robot, fitted
from legwright.views.harness_layout import Part, routes
from legwright.views.harness_parts import Group, Lay, lay_of
from legwright.views.ink import Drawing, Ink, Label, Point
from legwright.views.lettering import Face, width
from legwright.views.lying import flat_posture, joint_spots
from legwright.views.plane import bounds_of, segment_distance
from legwright.views.projection import PLAN
from legwright.views.symbols import short_names, title
from legwright.views.wide_sheet import ROOM, WideSheet

WIDTH, HEIGHT = ROOM
PLAN_BOX = (8.0, 13.0, 176.0, HEIGHT - 8.0)
"""Room of the plan: left, top, right, bottom [mm]."""
TABLE = 184.0
"""Left edge of the table [mm]."""
ROW, HEAD = 3.9, 15.0
MOST_ROWS = int((HEIGHT - HEAD - 4.0) / ROW)


def harness_names(circuit: Circuit) -> tuple[str, ...]:
    """Names of the sheets that `harness_drawing` makes, without making them."""
    count = len(range(0, len(circuit.of(Kind.CABLE)), MOST_ROWS)) or 1
    return tuple(_name(number, count) for number in range(1, count + 1))


def _name(number: int, count: int) -> str:
    return "harness" + (f"-{number}" if count > 1 else "")


def harness_drawing(robot: Robot, circuit: Circuit) -> tuple[WideSheet, ...]:
    """The harness over the plan of the robot; more sheets where the table needs them.

    Args:
        robot: The robot.
        circuit: Its circuit.

    Returns:
        Sheets.
    """
    cables = circuit.of(Kind.CABLE)
    parts = [cables[k : k + MOST_ROWS] for k in range(0, len(cables), MOST_ROWS)] or [()]
    sheets = []
    for number, part in enumerate(parts, start=1):
        more = f", {number} of {len(parts)}" if len(parts) > 1 else ""
        sheets.append(
            WideSheet(
                name=_name(number, len(parts)),
                subtitle="harness layout" + more,
                drawing=_sheet(robot, circuit, part),
                notes=_notes(),
            )
        )
    return tuple(sheets)


def plan_of(robot: Robot, circuit: Circuit) -> tuple[Paper, Lay, dict[str, tuple[Point, ...]]]:
    """Plan, parts and the ways of the cables on paper.

    Args:
        robot: The robot.
        circuit: Its circuit.

    Returns:
        Paper, parts and cables, ways by cable.
    """
    q = flat_posture(robot, feet_in=True)
    spots = [joint_spots(leg, q[robot.columns[name]])[:-1] for name, leg in robot.legs.items()]
    rear = float(min(robot.hips[:, 0])) - 0.02 if len(robot.hips) else 0.0
    points = np.concatenate([*spots, np.array([[rear, 0.0, 0.0]])])
    left, top, right, bottom = PLAN_BOX
    inside = (left + 12.0, top + 6.0, right - 12.0, bottom - 12.0)
    paper = fitted(points, PLAN, inside, round_scale=False)
    lay = lay_of(robot, circuit, paper, q, (left, top, right, bottom))
    return paper, lay, routes(lay.parts, lay.joins)


def _sheet(robot: Robot, circuit: Circuit, listed: Sequence[Item]) -> Drawing:
    ink = Ink(WIDTH, HEIGHT, about=f"Harness of {robot.name}")
    paper, lay, ways = plan_of(robot, circuit)
    title(ink, "Harness", "plan, not to scale; legs spread, feet folded in")
    q = flat_posture(robot, feet_in=True)
    draw_robot(ink, paper, robot, q, weight=tokens.FINE, colour="hair")
    cables = {item.designation: item for item in circuit.of(Kind.CABLE)}
    for name, way in ways.items():
        with ink.part(name):
            ink.path(way, weight=weight_of(cables[name]) + 0.12, round_ends=True)
            ink.dots([way[0], way[-1]], 0.6)
    for group, part in zip(lay.groups, lay.parts, strict=True):
        with ink.part(group.label):
            _part(ink, group, part, moved=group.name in lay.moved)
    _ports(ink, circuit, lay, ways)
    _leg_names(ink, robot, paper, q, lay)
    _labels(ink, lay, ways, cables)
    _nose(ink)
    _table(ink, circuit, listed)
    return ink.finish()


def _part(ink: Ink, group: Group, part: Part, *, moved: bool) -> None:
    x, y = part.centre
    dash = "hidden" if moved else "continuous"
    if group.kind is Kind.SERVO:
        radius = max(p[0] for p in part.outline) - x
        ink.circle(x, y, radius * 0.97, weight=tokens.THIN, fill="sheet", dash=dash)
        ink.text(x, y + 0.9, group.label, anchor="middle")
        return
    weight = tokens.THIN if moved else tokens.PART_EDGE
    ink.path(part.outline, close=True, weight=weight, fill="sheet", dash=dash)
    if group.words:
        ink.text(x, y - 0.5, group.label, anchor="middle")
        ink.text(x, y + 2.7, group.words, face=Face.LETTER, colour="ink2", anchor="middle")
    else:
        ink.text(x, y + 0.9, group.label, anchor="middle")


def _ports(ink: Ink, circuit: Circuit, lay: Lay, ways: Mapping[str, Sequence[Point]]) -> None:
    """The number of each port, inside the hub's outline beside its cable."""
    first = {item.name: item.designation for item in circuit.of(Kind.CABLE)}
    for port in circuit.ports:
        way = ways.get(first.get(port.first, ""))
        if way is None:
            continue
        (x, y), (tx, ty) = way[0], way[1]
        far = float(np.hypot(tx - x, ty - y)) or 1.0
        at = (x - 1.9 * (tx - x) / far, y - 1.9 * (ty - y) / far)
        ink.text(at[0], at[1] + 0.9, str(port.number), face=Face.LETTER, anchor="middle")


def _labels(
    ink: Ink, lay: Lay, ways: Mapping[str, Sequence[Point]], cables: Mapping[str, Item]
) -> None:
    words = {name: f"{name}  {length_words(cables[name])}" for name in ways}
    size = tokens.TINY * tokens.ON_SCREEN
    sizes = {name: (width(text, size), 0.9 * size) for name, text in words.items()}
    spots = label_spots(sizes, ways, lay.parts, ink.labels, PLAN_BOX)
    for name, (label, point) in spots.items():
        middle = ((label.left + label.right) / 2.0, (label.top + label.bottom) / 2.0)
        near = (
            min(max(point[0], label.left), label.right),
            min(max(point[1], label.top), label.bottom),
        )
        if abs(near[0] - point[0]) + abs(near[1] - point[1]) > 2.4:
            ink.line(*near, *point, weight=tokens.FINE, stroke="ink2")
            ink.dots([point], 0.35, fill="ink2")
        with ink.part(name):
            ink.text(middle[0], middle[1] + 0.27 * tokens.TINY, words[name], anchor="middle")


def _leg_names(
    ink: Ink,
    robot: Robot,
    paper: Paper,
    q: Floats,
    lay: Lay,
) -> None:
    """Each leg's name past its last servo, clear of parts and cables."""
    names = short_names(tuple(robot.legs), [(float(h[0]), float(h[1])) for h in robot.hips])
    taken = [Label("", *bounds_of(part.outline)) for part in lay.parts]
    for short, leg in zip(names, robot.legs.values(), strict=True):
        spots = [paper.at(p) for p in joint_spots(leg, q[robot.columns[leg.name]])[:-1]]
        (x0, y0), (x, y) = spots[0], spots[-1]
        far = float(np.hypot(x - x0, y - y0)) or 1.0
        ux, uy = ((x - x0) / far, (y - y0) / far) if far > 1.0 else (0.0, -1.0)
        for reach in (6.4, 8.0, 10.0, 12.0):
            cx, cy = x + reach * ux, y + reach * uy
            box = Label(short, cx - 2.5, cy - 1.6, cx + 2.5, cy + 1.6)
            if ink.free(box) and not any(box.meets(other, gap=0.3) for other in taken):
                ink.text(
                    cx, cy + 1.2, short, size=tokens.SMALL, face=Face.LETTER, anchor="middle",
                    colour="ink2",
                )  # fmt: skip
                break


def _nose(ink: Ink) -> None:
    x, y = PLAN_BOX[0] + 4.0, PLAN_BOX[1] + 12.0
    ink.line(x, y, x, y - 7.0)
    ink.arrow_head(x, y - 9.0, -np.pi / 2.0)
    letters(ink, x + 1.6, y - 6.0, "walks", face=Face.LETTER, colour="ink2")


_COLUMNS = ((0.0, "cable"), (11.0, "from"), (31.0, "to"), (48.0, "wires"), (72.0, "cut"))


def _table(ink: Ink, circuit: Circuit, listed: Sequence[Item]) -> None:
    ink.line(TABLE - 4.0, 0.0, TABLE - 4.0, HEIGHT)
    right = WIDTH - 4.0
    for x, words in _COLUMNS:
        anchor = "end" if words == "cut" else "start"
        ink.text(
            right if anchor == "end" else TABLE + x, HEAD - 5.6, words, face=Face.LETTER,
            colour="ink2", anchor=anchor,
        )  # fmt: skip
    ink.line(TABLE, HEAD - 3.8, right, HEAD - 3.8)
    ends = {row.cable: (row.start, row.end) for row in wire_list(circuit)}
    for number, item in enumerate(listed):
        y = HEAD + ROW * number
        start, end = ends[item.designation]
        with ink.part(item.designation):
            letters(ink, TABLE, y, item.designation)
            letters(ink, TABLE + 11.0, y, _short(start.device), room=19.0, face=Face.LETTER)
            letters(ink, TABLE + 31.0, y, _short(end.device), room=16.0, face=Face.LETTER)
            letters(ink, TABLE + 48.0, y, size_words(item), room=18.0, face=Face.LETTER)
            letters(ink, right, y, length_words(item), anchor="end")
        if number % 5 == 4:
            ink.line(TABLE, y + 1.2, right, y + 1.2, weight=tokens.FINE, stroke="hair")


def _short(device: str) -> str:
    return device.partition(" (")[0]


def _notes() -> tuple[str, ...]:
    return (
        "Drawn for order, not for the way in space: lengths are those of the table, through the "
        "whole travel of the joints. In brackets: straight line, assumed.",
        "Dashed outline: place not stated in the sheet, or moved aside in the drawing.",
        "Move every joint by hand through its travel: no cable may pull, pinch or rub.",
    )


def crossings(ways: Mapping[str, Sequence[Point]]) -> int:
    """Pairs of cables that meet on paper."""
    names, count = list(ways), 0
    for k, first in enumerate(names):
        for second in names[k + 1 :]:
            count += any(
                segment_distance(a, b, c, d) < 0.1
                for a, b in pairwise(ways[first])
                for c, d in pairwise(ways[second])
            )
    return count
