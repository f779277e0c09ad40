"""The description as a tree of links and joints: what a URDF says, in SI, frozen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from enum import Enum
from functools import cache
from operator import attrgetter
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def read_only(values: ArrayLike) -> Floats:
    """A private float copy of ``values`` that nobody can write to."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


class Packed:
    """A data class of slots whose fields pickle in one piece.

    One by one they take three times as long, and a robot goes from process to process with every
    edit.
    """

    __slots__ = ()

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle all fields at once."""
        kind: Any = type(self)
        return _unpacked, (kind, _fields_of(kind)(self))


@cache
def field_names(kind: Any) -> tuple[str, ...]:
    """Names of a data class's fields, in order."""
    return tuple(each.name for each in fields(kind))


@cache
def _fields_of(kind: Any) -> Callable[[object], tuple[object, ...]]:
    """What reads all fields of a data class of two or more."""
    return attrgetter(*field_names(kind))


def _unpacked(kind: type, values: tuple[object, ...]) -> object:
    made: object = object.__new__(kind)
    for name, value in zip(field_names(kind), values, strict=True):
        object.__setattr__(made, name, value)
    return made


class JointKind(Enum):
    """Joint types of the URDF specification that the program tells apart."""

    REVOLUTE = "revolute"
    CONTINUOUS = "continuous"
    PRISMATIC = "prismatic"
    FIXED = "fixed"


class ShapeKind(Enum):
    """Geometry types of the URDF specification."""

    BOX = "box"
    CYLINDER = "cylinder"
    SPHERE = "sphere"
    MESH = "mesh"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shape(Packed):
    """One piece of collision or visual geometry of a link."""

    kind: ShapeKind
    size: tuple[float, ...]
    """Box: edges (x, y, z); cylinder: (radius, length along z); sphere: (radius,);
    mesh: scale (x, y, z) [m, or 1 for the scale]."""
    placement: Floats
    """Pose of the shape in the link frame, (4, 4)."""
    mesh: Path | None = None
    """File of a mesh shape, else None."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Solid(Packed):
    """Mass, centre of mass and inertia of a rigid body."""

    mass: float
    """[kg]"""
    com: Floats
    """Centre of mass in the body's own frame, (3,) [m]."""
    inertia: Floats
    """Inertia about the centre of mass, axes of the body's own frame, (3, 3) [kg·m²]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Link(Packed):
    """A rigid part of the robot."""

    name: str
    solid: Solid
    """Zero mass when the description gives none."""
    collision: tuple[Shape, ...] = ()
    visual: tuple[Shape, ...] = ()

    @property
    def shapes(self) -> tuple[Shape, ...]:
        """Collision shapes, or the visual ones where there are none."""
        return self.collision or self.visual


@dataclass(frozen=True, slots=True, kw_only=True)
class Mimic:
    """A joint that follows another: q = multiplier * q_source + offset."""

    source: str
    multiplier: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Joint(Packed):
    """The connection of a child link to its parent link."""

    name: str
    kind: JointKind
    parent: str
    child: str
    placement: Floats
    """Pose of the joint frame in the parent link's frame, (4, 4)."""
    axis: Floats
    """Unit axis in the joint frame, (3,)."""
    lower: float
    """Smallest position [rad or m]; -inf for a continuous joint."""
    upper: float
    """Largest position [rad or m]; inf for a continuous joint."""
    effort: float | None = None
    """URDF effort limit [N·m or N], None when not given."""
    velocity: float | None = None
    """URDF velocity limit [rad/s or m/s], None when not given."""
    mimic: Mimic | None = None

    @property
    def moves(self) -> bool:
        """Whether the joint moves at all."""
        return self.kind is not JointKind.FIXED

    @property
    def actuated(self) -> bool:
        """Whether the joint moves by a drive of its own."""
        return self.moves and self.mimic is None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Tree:
    """Links and joints of one robot; checked to be a single tree."""

    name: str
    root: str
    links: Mapping[str, Link]
    """Link name -> link, in the order of the file."""
    joints: Mapping[str, Joint]
    """Joint name -> joint, in the order of the file."""
    parent_joint: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    """Link name -> name of the joint that carries it; the root is absent."""
    child_joints: Mapping[str, tuple[str, ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    """Link name -> names of the joints that it carries, in the order of the file."""

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle with plain dictionaries: read-only views don't."""
        maps = (self.links, self.joints, self.parent_joint, self.child_joints)
        return _replanted, (self.name, self.root, *map(dict, maps))


def _replanted(
    name: str,
    root: str,
    links: dict[str, Link],
    joints: dict[str, Joint],
    parent_joint: dict[str, str],
    child_joints: dict[str, tuple[str, ...]],
) -> Tree:
    return Tree(
        name=name,
        root=root,
        links=MappingProxyType(links),
        joints=MappingProxyType(joints),
        parent_joint=MappingProxyType(parent_joint),
        child_joints=MappingProxyType(child_joints),
    )
