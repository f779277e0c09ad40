"""What goes on which sheet: blocks of HTML and drawings, placed in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from legwright.robot.tree import Floats
from legwright.study.finding import Finding, Verdict
from legwright.views import tokens
from legwright.views.envelope import envelope
from legwright.views.frame import marks_row, stamp, zone_of
from legwright.views.ink import Drawing
from legwright.views.plan_view import plan_view
from legwright.views.ranking import by_degrees, gathered, ranked, stamp_of
from legwright.views.rows import (
    FindingRow,
    detail_rows,
    finding_rows,
    heights,
    summary_of,
)
from legwright.views.ruling_cases import heaviest_case, worst_case
from legwright.views.side_view import isometric, side_view
from legwright.views.timing import timing
from legwright.views.torque import torque_speed, torque_time

if TYPE_CHECKING:
    from legwright.study.evidence import Case, Study

LEFT, RIGHT, TOP, BOTTOM = (
    tokens.FRAME_LEFT,
    tokens.FRAME_RIGHT,
    tokens.FRAME_TOP,
    tokens.BLOCK_TOP,
)
_Item = TypeVar("_Item")

ON_FIRST = 5
"""Findings on the first sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Something placed on a sheet [mm from the sheet's corner]."""

    left: float
    top: float
    width: float
    height: float
    drawing: Drawing | None = None
    kind: str = "drawing"
    """``drawing``, ``summary``, ``findings``, ``details``, ``notes``."""
    rows: tuple[object, ...] = ()
    words: str = ""
    rules: str = ""
    """Which sides carry a line: letters of ``tlbr``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One sheet."""

    subtitle: str
    blocks: tuple[Block, ...] = field(default=())


def pages_of(study: Study) -> list[Page]:
    """All sheets of a report, in order.

    Args:
        study: What the check found.

    Returns:
        The sheets.
    """
    worst = [f for f in gathered(ranked(study.findings)) if f.verdict is not Verdict.PASS]
    nearest = [f for f in ranked(study.findings) if f.verdict is Verdict.PASS and by_degrees(f)]
    numbered = list(enumerate(worst, start=1))
    first = _fitting(study, numbered[:ON_FIRST] or [(0, f) for f in nearest[:ON_FIRST]])
    pages = [_verdict_page(study, first)]
    pages += _finding_pages(numbered[len(first) :])
    pages += [_robot_page(study)]
    pages += _gait_pages(study)
    pages += _torque_pages(study)
    pages += _envelope_pages(study)
    pages += _detail_pages(study.findings)
    pages.append(_care_page(study))
    return pages


def _table_top(marks: Drawing) -> float:
    """Where the findings start on the first sheet [mm]."""
    return 47.5 + marks.height + 2.0


def _fitting(study: Study, first: Sequence[tuple[int, Finding]]) -> list[tuple[int, Finding]]:
    """Those findings that leave room for the drawings of the first sheet."""
    top = _table_top(marks_row(study.findings, room=172.0)) + 6.0
    shown = list(first)
    while shown and top + sum(heights(shown)) > 147.0:
        shown.pop()
    return shown


def _verdict_page(study: Study, first: Sequence[tuple[int, Finding]]) -> Page:
    marks = marks_row(study.findings, room=172.0)
    table_top = _table_top(marks)
    case = worst_case(study)
    shown = list(first)
    used = sum(heights(shown))
    split = table_top + 6.0 + used + 1.0 if shown else table_top
    left_width, room = 92.0, BOTTOM - split
    plan = plan_view(
        study.robot,
        case,
        width=left_width,
        height=room,
        numbered=[pair for pair in shown if pair[0]],
    )
    zones = {n: zone_of(LEFT + x, split + y) for n, x, y in plan.balloons}
    upper = room * 0.5
    cloud = torque_speed(
        study.robot, [case] if case else [], width=180.0 - left_width, height=upper
    )
    blocks = [
        Block(
            left=24.0, top=13.5, width=86.0, height=30.0, drawing=stamp(stamp_of(study.findings))
        ),
        Block(
            left=116.0, top=13.5, width=80.0, height=31.0, kind="summary", words=summary_of(study)
        ),
        Block(left=LEFT, top=46.5, width=180.0, height=0.0, rules="t"),
        Block(left=24.0, top=47.5, width=172.0, height=marks.height, drawing=marks),
        Block(
            left=LEFT,
            top=table_top,
            width=180.0,
            height=6.0 + used,
            kind="findings",
            rows=tuple(finding_rows(shown, zones)),
            rules="t",
        ),
        Block(left=LEFT, top=split, width=left_width, height=room, drawing=plan, rules="tr"),
        Block(
            left=LEFT + left_width,
            top=split,
            width=180.0 - left_width,
            height=upper,
            drawing=cloud,
            rules="tb",
        ),
    ]
    if case is not None:
        below = timing(study.robot, case, width=180.0 - left_width, height=room - upper)
        blocks.append(
            Block(
                left=LEFT + left_width,
                top=split + upper,
                width=180.0 - left_width,
                height=room - upper,
                drawing=below,
            )
        )
    return Page(subtitle="walking check", blocks=tuple(blocks))


def _finding_pages(numbered: Sequence[tuple[int, Finding]]) -> list[Page]:
    pages = []
    for part in _split(list(numbered), heights(numbered), BOTTOM - TOP - 7.0):
        block = Block(
            left=LEFT,
            top=TOP,
            width=180.0,
            height=6.0 + sum(heights(part)),
            kind="findings",
            rows=tuple(finding_rows(part, {})),
        )
        pages.append(Page(subtitle="findings, worst first", blocks=(block,)))
    return pages


def _split(items: list[_Item], tall: Sequence[float], room: float) -> list[list[_Item]]:
    """Items dealt onto sheets so that none is cut."""
    sheets: list[list[_Item]] = []
    used = room + 1.0
    for item, height in zip(items, tall, strict=True):
        if used + height > room:
            sheets.append([])
            used = 0.0
        sheets[-1].append(item)
        used += height
    return sheets


def _standing(study: Study) -> tuple[Floats | None, dict[str, bool] | None]:
    case = worst_case(study)
    if case is None:
        return None, None
    at = int(np.argmin(case.loads.margin))
    planted = dict(zip(study.robot.legs, (bool(c) for c in case.motion.contact[at]), strict=True))
    return case.motion.q[at], planted


def _robot_page(study: Study) -> Page:
    q, planted = _standing(study)
    reach = study.reach[0] if study.reach else None
    return Page(
        subtitle="the robot and its reach",
        blocks=(
            Block(
                left=LEFT,
                top=TOP,
                width=180.0,
                height=118.0,
                drawing=isometric(study.robot, q, planted, width=180.0, height=118.0),
            ),
            Block(
                left=LEFT,
                top=TOP + 118.0,
                width=110.0,
                height=130.0,
                rules="tr",
                drawing=side_view(study.robot, reach, q, width=110.0, height=130.0),
            ),
            Block(
                left=LEFT + 110.0,
                top=TOP + 118.0,
                width=70.0,
                height=130.0,
                rules="t",
                kind="details",
                rows=tuple(_measures(study)),
            ),
        ),
    )


def _measures(study: Study) -> list[tuple[str, str]]:
    from legwright.views.numbers import significant, with_unit

    robot = study.robot
    rows = [
        ("mass", with_unit(significant(robot.mass), "kg")),
        ("legs", str(len(robot.legs))),
        ("driven leg joints", str(len(robot.joint_names))),
        ("held joints", str(len(robot.held))),
        ("links", str(len(robot.tree.links))),
    ]
    names = sorted({servo.id for servo in robot.servos.values() if servo is not None and servo.id})
    rows.append(("servos", ", ".join(names) or "not stated"))
    battery = robot.sheet.battery
    rows.append(
        (
            "battery",
            "not stated"
            if battery is None
            else f"{battery.series} cells, {with_unit(significant(battery.nominal_voltage), 'V')}",
        )
    )
    wants = robot.sheet.requirements
    for name, value, factor, unit in (
        ("speed forward", wants.speed_forward, 1.0, "m/s"),
        ("payload", wants.payload, 1.0, "kg"),
        ("slope", wants.slope, 180.0 / np.pi, "°"),
        ("stability margin", wants.stability_margin, 1000.0, "mm"),
        ("reach reserve", wants.reach_reserve, 1000.0, "mm"),
        ("friction", wants.friction, 1.0, ""),
    ):
        rows.append(
            (
                f"asked: {name}",
                "not stated"
                if value is None
                else with_unit(significant(float(value) * factor), unit),
            )
        )
    return rows


def _gait_pages(study: Study) -> list[Page]:
    """One plot a gait: its case of least margin."""
    chosen: dict[str, Case] = {}
    for case in study.cases.values():
        old = chosen.get(case.gait)
        if old is None or float(case.loads.margin.min()) < float(old.loads.margin.min()):
            chosen[case.gait] = case
    tall = 80.0
    pages = []
    for part in _split(list(chosen.values()), [tall] * len(chosen), BOTTOM - TOP):
        blocks = [
            Block(
                left=LEFT,
                top=TOP + tall * i,
                width=180.0,
                height=tall,
                rules="t" if i else "",
                drawing=timing(study.robot, case, width=180.0, height=tall),
            )
            for i, case in enumerate(part)
        ]
        pages.append(Page(subtitle="gaits and stability", blocks=tuple(blocks)))
    return pages


def _torque_pages(study: Study) -> list[Page]:
    case = heaviest_case(study)
    if case is None:
        return []
    robot = study.robot
    joints = max(leg.n for leg in robot.legs.values())
    tall = 82.0
    pages = []
    for part in _split(list(range(joints)), [tall] * joints, BOTTOM - TOP):
        blocks = [
            Block(
                left=LEFT,
                top=TOP + tall * i,
                width=180.0,
                height=tall,
                rules="t" if i else "",
                drawing=torque_time(robot, case, joint=joint, width=180.0, height=tall),
            )
            for i, joint in enumerate(part)
        ]
        pages.append(Page(subtitle=f"torque, {case.name}", blocks=tuple(blocks)))
    return pages


def _envelope_pages(study: Study) -> list[Page]:
    """Torque over speed of all walks, then the envelope, on one sheet where they fit."""
    drawing = envelope(study.envelope, width=180.0)
    tall = min(max(BOTTOM - TOP - drawing.height, 70.0), 124.0)
    cloud = Block(
        left=LEFT,
        top=TOP,
        width=180.0,
        height=tall,
        drawing=torque_speed(study.robot, list(study.cases.values()), width=180.0, height=tall),
    )
    fits = tall + drawing.height <= BOTTOM - TOP
    top = TOP + tall if fits else TOP
    last = Block(
        left=LEFT,
        top=top,
        width=180.0,
        height=drawing.height,
        drawing=drawing,
        rules="t" if fits else "",
    )
    if fits:
        return [Page(subtitle="servos and envelope", blocks=(cloud, last))]
    return [
        Page(subtitle="torque and speed", blocks=(cloud,)),
        Page(subtitle="envelope", blocks=(last,)),
    ]


def _detail_pages(findings: Sequence[Finding]) -> list[Page]:
    rows = detail_rows(findings)
    pages = []
    for part in _split(rows, [row.height for row in rows], BOTTOM - TOP - 7.0):
        block = Block(
            left=LEFT,
            top=TOP,
            width=180.0,
            height=sum(r.height for r in part) + 6.0,
            kind="all",
            rows=tuple(part),
        )
        pages.append(Page(subtitle="all findings, area by area", blocks=(block,)))
    return pages


def _care_page(study: Study) -> Page:
    half = Block(
        left=LEFT,
        top=TOP,
        width=180.0,
        height=BOTTOM - TOP,
        kind="care",
        rows=tuple(study.robot.notes[:30]),
    )
    return Page(subtitle="assumptions and care", blocks=(half,))


__all__ = ["Block", "FindingRow", "Page", "heaviest_case", "pages_of", "worst_case"]
