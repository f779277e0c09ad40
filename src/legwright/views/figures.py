"""The robot as a line drawing: outlines laid on paper, legs planted thick, lifted grey."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.views import tokens
from legwright.views.ink import Ink, Point
from legwright.views.projection import Outline, View, corner_points, link_poses, outlines


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Paper:
    """Where the body frame's origin lies on paper, and at what scale."""

    view: View
    x: float
    """[mm]"""
    y: float
    """[mm]"""
    scale: float
    """Paper mm per m."""

    def at(self, point: Floats) -> Point:
        """A body point on paper: (3,) [m] -> (x, y) [mm]."""
        right, down = self.view.flat(np.asarray(point, dtype=np.float64))
        return self.x + self.scale * float(right), self.y + self.scale * float(down)

    def put(self, flat: Point) -> Point:
        """A projected point, right and down [m], on paper [mm]."""
        return self.x + self.scale * flat[0], self.y + self.scale * flat[1]


_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
"""Scales 1:n, times powers of ten."""


def links_of(robot: Robot) -> dict[str, list[str]]:
    """Leg name -> its links; the rest, trunk and mast, under an empty name."""
    groups: dict[str, list[str]] = {name: [] for name in (*robot.legs, "")}
    owner: dict[str, str] = {}
    for leg in robot.legs.values():
        owner |= {name: leg.name for name in leg.chain.moving_names}
    belongs = {robot.tree.root: ""}
    waiting = [robot.tree.root]
    while waiting:
        link = waiting.pop()
        groups[belongs[link]].append(link)
        for name in robot.tree.child_joints.get(link, ()):
            child = robot.tree.joints[name].child
            belongs[child] = owner.get(name, belongs[link])
            waiting.append(child)
    return groups


def fitted(
    points: Floats, view: View, box: tuple[float, float, float, float], *, round_scale: bool = True
) -> Paper:
    """Paper that shows all points inside a box, centred, at a scale 1:1, 1:2, 1:2.5, 1:5 ….

    Args:
        points: (N, 3) body frame [m].
        view: The projection.
        box: left, top, right, bottom [mm].
        round_scale: Whether the scale is held to the usual steps.

    Returns:
        The paper.
    """
    flat = view.flat(points)
    low, high = flat.min(axis=0), flat.max(axis=0)
    span = np.maximum(high - low, 1e-6)
    left, top, right, bottom = box
    most = float(min((right - left) / span[0], (bottom - top) / span[1]))
    scale = most
    if round_scale:
        steps = [k * 10.0**p for p in range(-2, 4) for k in _STEPS]
        fitting = [1000.0 / s for s in steps if 1000.0 / s <= most]
        scale = max(fitting) if fitting else most
    middle = (low + high) / 2.0
    return Paper(
        view=view,
        scale=scale,
        x=(left + right) / 2 - scale * float(middle[0]),
        y=(top + bottom) / 2 - scale * float(middle[1]),
    )


def extent_points(robot: Robot, q: Floats) -> Floats:
    """Corner points of everything drawn at a pose, (N, 3) body frame [m]."""
    feet = _feet(robot, q)
    return np.concatenate([feet, corner_points(robot, link_poses(robot, q))])


def _feet(robot: Robot, q: Floats) -> Floats:
    return np.array([leg.foot(q[robot.columns[leg.name]]) for leg in robot.legs.values()])


def draw_robot(
    ink: Ink,
    paper: Paper,
    robot: Robot,
    q: Floats,
    *,
    planted: Mapping[str, bool] | None = None,
    only: Sequence[str] | None = None,
    weight: float | None = None,
    colour: str | None = None,
) -> None:
    """Draws a robot at a pose.

    Args:
        ink: Where to draw.
        paper: Where and how large.
        robot: The robot.
        q: Leg joint positions, (J,).
        planted: Leg name -> whether its foot stands; all when None.
        only: Legs to draw, all when None; the trunk is always drawn.
        weight: Line width of the silhouettes where not the usual one [mm].
        colour: Line colour where not the usual one.
    """
    poses = link_poses(robot, q)
    layers = []
    for name, links in links_of(robot).items():
        if name and only is not None and name not in only:
            continue
        seen = outlines(robot, poses, links, paper.view)
        lifted = bool(name) and planted is not None and not planted[name]
        for link in dict.fromkeys(outline.link for outline in seen):
            group = [outline for outline in seen if outline.link == link]
            depth = max(outline.depth for outline in group)
            layers.append((depth, lifted, group))
    for _, lifted, group in sorted(layers, key=lambda layer: layer[0]):
        _draw_link(ink, paper, group, lifted=lifted, weight=weight, colour=colour)


def draw_leg(ink: Ink, paper: Paper, robot: Robot, q: Floats, name: str) -> None:
    """Draws one leg alone at a pose, (J,)."""
    seen = outlines(robot, link_poses(robot, q), links_of(robot)[name], paper.view)
    for link in dict.fromkeys(outline.link for outline in seen):
        _draw_link(ink, paper, [o for o in seen if o.link == link], lifted=False)


def _draw_link(
    ink: Ink,
    paper: Paper,
    group: Sequence[Outline],
    *,
    lifted: bool,
    weight: float | None = None,
    colour: str | None = None,
) -> None:
    """One link: all silhouettes thick, faces in sheet colour over them, inner edges fine."""
    colour = colour or ("line" if lifted else "ink")
    weight = weight or (tokens.THIN if lifted else tokens.PART_EDGE)
    hulls = [[paper.put(p) for p in outline.hull] for outline in group]
    for hull in hulls:
        ink.path(hull, stroke=colour, weight=2 * weight, close=True, round_ends=True)
    for hull, outline in zip(hulls, group, strict=True):
        ink.path(hull, stroke="none", fill="sheet", close=True)
        for edge in outline.edges:
            ink.path([paper.put(p) for p in edge], stroke=colour, weight=tokens.FINE, close=True)


def foot_marks(
    ink: Ink, paper: Paper, robot: Robot, feet: Floats, planted: Mapping[str, bool]
) -> None:
    """A filled dot where a foot stands, an open one where it flies; feet (L, 3) [m]."""
    for name, foot in zip(robot.legs, feet, strict=True):
        x, y = paper.at(foot)
        if planted[name]:
            ink.circle(x, y, 0.9, stroke="none", fill="ink")
        else:
            ink.circle(x, y, 0.85, stroke="line", fill="sheet")


def scale_words(paper: Paper) -> str:
    """The scale as drawings write it: ``1:8``."""
    ratio = 1000.0 / paper.scale
    return f"1:{ratio:.3g}" if ratio >= 1.0 else f"{1.0 / ratio:.3g}:1"
