"""What the desk tells of the robot's shape, and of its drawings."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from legwright.views.desk.telling import Matrix, Said


class Joint(Struct, frozen=True, kw_only=True):
    """A joint: child pose = parent pose · placement · (turn or slide along `axis` by position)."""

    name: str
    kind: Literal["revolute", "continuous", "prismatic", "fixed"]
    parent: str
    child: str
    placement: Matrix
    axis: tuple[float, float, float]
    lower: float | None
    upper: float | None
    """[rad or m]; null where unlimited."""
    column: int
    """On the J axis; −1 where no leg drive moves it."""
    held: float
    """Position where `column` is −1 and nothing is mimicked [rad or m]."""
    mimics: str
    """Joint that it follows: position = multiplier · its position + offset; empty: none."""
    multiplier: float
    offset: float


class Solid(Struct, frozen=True, kw_only=True):
    """A shape of a link, in the link's frame [m]."""

    link: str
    kind: Literal["box", "cylinder", "sphere", "hull"]
    size: tuple[float, ...]
    """Box: edges; cylinder: radius, length along z; sphere: radius; hull: nothing."""
    placement: Matrix
    corners: tuple[tuple[float, float, float], ...]
    """Of a hull, in the link's frame; empty for the other kinds."""
    faces: tuple[tuple[int, ...], ...]
    """Of a hull, triangles seen anticlockwise from outside."""


class Shape(Said, frozen=True, kw_only=True, tag="shape"):
    """The robot as links, joints and solids. Comes when it changes."""

    rev: int
    who: Literal["now", "before"]
    """The edited robot, or what lies under it; see `Edits.under`."""
    body: str
    """Link whose frame is the body frame."""
    root: str
    base: Matrix
    """Pose of the root link in the body frame."""
    links: tuple[str, ...]
    joints: tuple[Joint, ...]
    """Parents before children."""
    solids: tuple[Solid, ...]
    feet: dict[str, tuple[str, tuple[float, float, float]]]
    """Leg -> link of its foot, foot point in that link's frame [m]."""
    foot_radius: float
    """[m]; 0 where not known."""
    mass: float
    """[kg]"""


class Drawing(Struct, frozen=True, kw_only=True):
    """A drawing at ``/drawing/NAME.svg?rev=REV&theme=light|dark``."""

    name: str
    title: str
    group: str
    """Room that it comes from: electrics, fabrication."""
    width: float
    height: float
    """[mm]"""


class Drawings(Said, frozen=True, kw_only=True, tag="drawings"):
    """What drawings there are of a revision."""

    rev: int
    list: tuple[Drawing, ...]
    missing: str
    """What to enter in the sheet where there are none; empty otherwise."""
