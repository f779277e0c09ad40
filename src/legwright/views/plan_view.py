"""Plan: the robot from above at its worst instant, support polygon, wanted margin, mass centre."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.finding import Finding
from legwright.views import tokens
from legwright.views.figures import (
    Paper,
    draw_robot,
    extent_points,
    fitted,
    foot_marks,
    links_of,
    scale_words,
)
from legwright.views.hatching import inset
from legwright.views.ink import Drawing, Ink, Label, Point
from legwright.views.lettering import Face
from legwright.views.numbers import plain
from legwright.views.projection import PLAN, convex_hull, link_poses, outlines
from legwright.views.symbols import (
    balloon,
    centre_of_mass,
    dimension,
    empty_sentence,
    short_names,
    title,
)

if TYPE_CHECKING:
    from legwright.study.evidence import Case


def plan_view(
    robot: Robot,
    case: Case | None,
    *,
    width: float,
    height: float,
    numbered: Sequence[tuple[int, Finding]] = (),
) -> Drawing:
    """The plan of a robot at the instant of least stability of one case.

    Args:
        robot: The robot.
        case: What it walks; None leaves the frame with one sentence.
        width: [mm]
        height: [mm]
        numbered: Findings with their numbers, to point at their legs.

    Returns:
        The drawing.
    """
    ink = Ink(width, height, about=f"Plan view of {robot.name}")
    if case is None:
        title(ink, "Plan")
        empty_sentence(
            ink,
            "No walk was planned. State gaits and a stance in the sheet, and the "
            "worst instant of the walk is drawn here.",
        )
        return ink.finish()
    at = int(np.argmin(case.loads.margin))
    q, feet = case.motion.q[at], case.motion.feet[at]
    planted = {n: bool(c) for n, c in zip(robot.legs, case.motion.contact[at], strict=True)}
    paper = fitted(
        np.concatenate([extent_points(robot, q), feet]),
        PLAN,
        (10.5, 20.0, width - 10.5, height - 16.0),
    )
    names = dict(
        zip(
            robot.legs,
            short_names(tuple(robot.legs), [tuple(h[:2]) for h in robot.hips]),
            strict=True,
        )
    )
    down = " ".join(names[n] for n in robot.legs if planted[n])
    phase = case.motion.t[at] / case.motion.cycle
    title(ink, "Plan", f"{scale_words(paper)}, φ {plain(phase, 2)}, {down} down")
    ring = [paper.at(p) for p in feet[case.motion.contact[at]]]
    support = convex_hull(np.array(ring)) if len(ring) > 2 else ring
    _support(ink, paper, support, robot.sheet.requirements.stability_margin)
    draw_robot(ink, paper, robot, q, planted=planted)
    foot_marks(ink, paper, robot, feet, planted)
    wanted = robot.sheet.requirements.stability_margin
    margin = float(case.loads.margin[at])
    centre = paper.at(case.loads.com[at])
    _critical(ink, support, centre, red=margin < (wanted or 0.0))
    _names(ink, paper, robot, q, names, planted=planted)
    _nose(ink, paper, height)
    centre_of_mass(ink, *centre)
    _centre_words(ink, centre, margin, wanted)
    _width_line(ink, paper, feet, height)
    _balloons(ink, paper, robot, q, numbered)
    return ink.finish()


def _support(ink: Ink, paper: Paper, ring: Sequence[Point], wanted: float | None) -> None:
    if len(ring) < 3:
        return
    ink.path(ring, close=True)
    if wanted:
        inner = inset(ring, wanted * paper.scale)
        ink.hatch(ring, inner, gap=tokens.HATCH_GAP_NARROW, stroke="ink2")
        if len(inner) > 2:
            ink.path(inner, weight=tokens.FINE, close=True)


def _critical(ink: Ink, ring: Sequence[Point], centre: Point, *, red: bool) -> None:
    """The edge nearest to the centre of mass, dashed because it lies under the body."""
    if len(ring) < 3:
        return
    pairs = list(zip(ring, [*ring[1:], ring[0]], strict=True))
    edge = min(pairs, key=lambda pair: _distance(centre, *pair))
    ink.path(
        edge,
        stroke="red" if red else "ink",
        weight=tokens.THICK if red else tokens.THIN,
        dash="hidden",
    )


def _distance(p: Point, a: Point, b: Point) -> float:
    along = np.subtract(b, a)
    length = float(np.hypot(*along)) or 1.0
    offset = np.subtract(p, a)
    return abs(float(along[0] * offset[1] - along[1] * offset[0])) / length


def _names(
    ink: Ink,
    paper: Paper,
    robot: Robot,
    q: Floats,
    names: Mapping[str, str],
    *,
    planted: Mapping[str, bool],
) -> None:
    """Each leg's name just past its outermost outline, seen from its hip."""
    poses, links = link_poses(robot, q), links_of(robot)
    for name, leg in robot.legs.items():
        hip = np.array(paper.at(leg.hip))
        foot = np.array(paper.at(leg.foot(q[robot.columns[name]])))
        seen = outlines(robot, poses, links[name], paper.view)
        hull = np.array([paper.put(p) for o in seen for p in o.hull] + [tuple(foot)])
        out = foot - hip
        length = float(np.hypot(*out))
        out = out / length if length > 1.0 else np.array([-1.0 if leg.hip[1] > 0 else 1.0, 0.0])
        past = float(((hull - hip) @ out).max()) + 2.9
        places = []
        for more in (0.0, 1.5, 3.0, 4.5):
            x, y = hip + out * (past + more)
            places.append((float(x), float(y) + 1.2, "middle"))
        ink.text_where_free(
            places, names[name], size=tokens.SMALL, colour="ink" if planted[name] else "ink2"
        )


def _nose(ink: Ink, paper: Paper, height: float) -> None:
    """Axis of the body and the way it walks."""
    x, top = paper.x, 8.0
    ink.line(x, top + 8.0, x, height - 12.0, dash="centre", weight=tokens.FINE)
    ink.path(
        [
            (x, top),
            (x + 2.6, top + 3.2),
            (x + 1.3, top + 3.2),
            (x + 1.3, top + 6.6),
            (x - 1.3, top + 6.6),
            (x - 1.3, top + 3.2),
            (x - 2.6, top + 3.2),
        ],
        close=True,
        fill="sheet",
    )
    ink.text_where_free([(x + 4.0, top + 4.2, "start")], "walks", colour="ink2", face=Face.LETTER)


def _centre_words(ink: Ink, centre: Point, margin: float, wanted: float | None) -> None:
    x, y = centre
    red = margin < (wanted or 0.0)
    ink.keep_clear(x - 2.2, y - 2.2, x + 2.2, y + 2.2)
    words = f"{plain(np.floor(margin * 1000.0), 0)}\u202fmm to tip"
    more = f"{plain(wanted * 1000.0, 0)} hatched" if wanted else "no margin asked for"
    for dx, anchor in ((5.0, "start"), (-5.0, "end")):
        lines = ((x + dx, y + 4.5, anchor), (x + dx, y + 7.6, anchor))
        if ink.text_where_free([lines[0]], words, colour="red" if red else "ink", knock=True):
            ink.text_where_free([lines[1]], more, colour="ink2", face=Face.LETTER, knock=True)
            break
    ink.text_where_free(
        [(x - 2.6, y - 2.8, "end"), (x + 2.6, y - 2.8, "start")],
        "CoM",
        face=Face.LETTER,
        knock=True,
    )


def _width_line(ink: Ink, paper: Paper, feet: Floats, height: float) -> None:
    left = min((paper.at(p) for p in feet), key=lambda p: p[0])
    right = max((paper.at(p) for p in feet), key=lambda p: p[0])
    y = height - 7.0
    for x, from_y in (left, right):
        ink.line(x, from_y + 2.0, x, y + 1.2, weight=tokens.FINE)
    span = (float(feet[:, 1].max()) - float(feet[:, 1].min())) * 1000.0
    dimension(ink, (left[0], y), (right[0], y), plain(span, 0))


def _balloons(
    ink: Ink, paper: Paper, robot: Robot, q: Floats, numbered: Sequence[tuple[int, Finding]]
) -> None:
    """Each finding's balloon beside the knee of the first leg it speaks of."""
    poses = link_poses(robot, q)
    for number, finding in numbered:
        link = _link_of(robot, finding.parts)
        if link is None:
            continue
        spot = paper.at(poses[link][:3, 3])
        side = 1.0 if spot[0] >= paper.x else -1.0
        for dx, dy in ((4.0, -7.5), (8.0, -4.0), (4.0, 7.5), (8.0, 5.0), (-5.0, -8.0), (0.0, 9.0)):
            x, y = spot[0] + side * dx, spot[1] + dy
            box = (x - 2.3, y - 2.3, x + 2.3, y + 2.3)
            if ink.free(Label("", *box)):
                balloon(ink, x, y, number, finding.verdict, points_at=spot)
                ink.keep_clear(*box)
                break


def _link_of(robot: Robot, parts: Sequence[str]) -> str | None:
    """The link that the first known joint, link or leg among the parts names."""
    for part in parts:
        if part in robot.tree.joints:
            return robot.tree.joints[part].child
        if part in robot.tree.links:
            return part
        if part in robot.legs:
            names = robot.legs[part].chain.link_names
            return names[min(1, len(names) - 1)]
    return None
