"""One leg from its own side: the leg as it stands, and the region that its foot reaches."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from legwright.robot.leg import Leg
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.views import tokens
from legwright.views.figures import draw_leg, draw_robot, extent_points, fitted, scale_words
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face
from legwright.views.numbers import plain
from legwright.views.projection import View
from legwright.views.symbols import dimension, empty_sentence, short_names, title

if TYPE_CHECKING:
    from legwright.study.evidence import ReachMap


def side_view(
    robot: Robot, reach: ReachMap | None, q: Floats | None, *, width: float, height: float
) -> Drawing:
    """A leg in its own upright plane, outward to the right, with its reachable region.

    Args:
        robot: The robot.
        reach: The leg's reachable region; None leaves the frame with one sentence.
        q: A standing pose, (J,); None draws the region alone.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    ink = Ink(width, height, about="Leg from the side with its reachable region")
    if reach is None or reach.leg not in robot.legs or len(reach.outline) < 3:
        title(ink, "Leg and reach")
        empty_sentence(ink, "The reachable region of the feet was not worked out.")
        return ink.finish()
    leg = robot.legs[reach.leg]
    view = _own_plane(leg)
    origin = np.array([leg.hip[0], leg.hip[1], 0.0])
    ring = origin + reach.outline[:, :1] * view.right + reach.outline[:, 1:] * [0.0, 0.0, 1.0]
    points = (
        ring
        if q is None
        else np.concatenate([ring, leg.foot(q[robot.columns[leg.name]])[None], leg.hip[None]])
    )
    paper = fitted(points, view, (16.0, 12.0, width - 8.0, height - 14.0))
    name = short_names(tuple(robot.legs), [tuple(h[:2]) for h in robot.hips])
    short = dict(zip(robot.legs, name, strict=True))[leg.name]
    title(ink, f"Leg {short} and its reach", f"{scale_words(paper)}, outward to the right")
    flat = [paper.at(p) for p in ring]
    frame = [(4.0, 9.0), (width - 4.0, 9.0), (width - 4.0, height - 10.5), (4.0, height - 10.5)]
    ink.hatch(frame, flat)
    ink.path(flat, weight=tokens.THICK, close=True)
    if q is not None:
        draw_leg(ink, paper, robot, q, leg.name)
        x, y = paper.at(leg.foot(q[robot.columns[leg.name]]))
        ink.circle(x, y, 0.9, stroke="none", fill="ink")
        ink.line(6.0, y, width - 6.0, y)
        ink.text_where_free(
            [(width - 6.0, y - 0.9, "end"), (6.0, y - 0.9, "start")],
            "ground",
            face=Face.LETTER,
            knock=True,
        )
    share = plain(np.floor(reach.inside * 100.0), 0)
    ink.text(
        width / 2,
        height - 1.2,
        f"{share}\u202f% of the region that the segments reach lies inside the joint limits",
        face=Face.LETTER,
        anchor="middle",
        colour="ink2",
    )
    ink.text_where_free(
        [(width - 6.0, 12.5, "end")], "out of reach", face=Face.LETTER, colour="ink2", knock=True
    )
    low, high = min(p[0] for p in flat), max(p[0] for p in flat)
    span = float(reach.outline[:, 0].max() - reach.outline[:, 0].min()) * 1000.0
    dimension(ink, (low, height - 6.0), (high, height - 6.0), plain(span, 0))
    return ink.finish()


def _own_plane(leg: Leg) -> View:
    """Looks at the upright plane through the hip axis, outward to the right."""
    hip = leg.hip
    middle = leg.kinematics.foot(np.clip(0.0, leg.lower, leg.upper))
    out = np.array([middle[0] - hip[0], middle[1] - hip[1], 0.0])
    length = float(np.linalg.norm(out))
    out = out / length if length > 1e-6 else np.array([0.0, 1.0 if hip[1] >= 0 else -1.0, 0.0])
    down = np.array([0.0, 0.0, -1.0])
    return View(right=out, down=down, near=np.cross(down, out))


def isometric(
    robot: Robot, q: Floats | None, planted: dict[str, bool] | None, *, width: float, height: float
) -> Drawing:
    """The whole robot, seen from ahead, left and above.

    Args:
        robot: The robot.
        q: A pose, (J,); the middle of the joint ranges when None.
        planted: Leg name -> whether it stands; all when None.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    from legwright.views.projection import ISOMETRIC

    ink = Ink(width, height, about=f"{robot.name}, isometric")
    pose = resting(robot) if q is None else q
    paper = fitted(
        extent_points(robot, pose),
        ISOMETRIC,
        (8.0, 12.0, width - 8.0, height - 6.0),
        round_scale=False,
    )
    title(ink, "Isometric", "as it stands" if q is not None else "joints at the middle of range")
    draw_robot(ink, paper, robot, pose, planted=planted)
    return ink.finish()


def resting(robot: Robot) -> Floats:
    """Joint positions at zero, held inside the limits, (J,)."""
    spans = [np.clip(0.0, leg.lower, leg.upper) for leg in robot.legs.values()]
    return np.concatenate(spans) if spans else np.zeros(0)
