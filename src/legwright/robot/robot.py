"""The robot: one frozen value that every room reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from pathlib import Path
from types import MappingProxyType

import numpy as np

from legwright.robot.leg import Leg
from legwright.robot.servo import Servo
from legwright.robot.sheet import Sheet
from legwright.robot.tree import Floats, Solid, Tree, read_only


@dataclass(frozen=True, eq=False, kw_only=True)
class Robot:
    """A legged robot, read from its folder.

    All positions are in the body frame: that of the link where the legs branch off, x
    forward, y left, z up (REP-103).
    """

    name: str
    source: Path
    """The sheet or the bare URDF that was read."""
    tree: Tree
    body: str
    """Name of the body link."""
    legs: Mapping[str, Leg]
    """Leg name -> leg; left-front to left-rear, then right-front to right-rear."""
    trunk: Solid
    """All that moves rigidly with the body while only legs move, in the body frame."""
    held: Mapping[str, float]
    """Driven joints that belong to no leg (mast, tool) -> position they are held at [rad]."""
    servos: Mapping[str, Servo | None]
    """Driven joint name -> its servo; None where the sheet names none."""
    sheet: Sheet
    """The build sheet; all defaults for a bare URDF."""
    notes: tuple[str, ...] = ()
    """What was assumed while reading, one sentence each."""
    edits: Mapping[str, object] = field(default_factory=lambda: MappingProxyType({}))
    """Keys of the sheet that were changed in memory and not on disk -> their new values."""

    @cached_property
    def mass(self) -> float:
        """Mass of all links [kg]."""
        return float(sum(link.solid.mass for link in self.tree.links.values()))

    @cached_property
    def joint_names(self) -> tuple[str, ...]:
        """Driven leg joints, leg by leg, base to foot: the J axis of every array."""
        return tuple(name for leg in self.legs.values() for name in leg.joint_names)

    @cached_property
    def columns(self) -> Mapping[str, slice]:
        """Leg name -> its columns on the J axis."""
        spans: dict[str, slice] = {}
        start = 0
        for leg in self.legs.values():
            spans[leg.name] = slice(start, start + leg.n)
            start += leg.n
        return MappingProxyType(spans)

    @cached_property
    def hips(self) -> Floats:
        """First joint origins of the legs in the body frame, (L, 3) [m]."""
        return read_only([leg.hip for leg in self.legs.values()])

    @cached_property
    def lower(self) -> Floats:
        """Lowest positions of the driven leg joints, (J,) [rad or m]; -inf where unlimited."""
        return read_only(np.concatenate([leg.lower for leg in self.legs.values()]))

    @cached_property
    def upper(self) -> Floats:
        """Highest positions of the driven leg joints, (J,) [rad or m]; inf where unlimited."""
        return read_only(np.concatenate([leg.upper for leg in self.legs.values()]))

    def __getstate__(self) -> dict[str, object]:
        """For worker processes: the fields, read-only views as plain dictionaries."""
        return {
            part.name: dict(value) if isinstance(value, MappingProxyType) else value
            for part in fields(self)
            for value in (getattr(self, part.name),)
        }

    def __setstate__(self, state: dict[str, object]) -> None:
        """Make dictionaries read-only again."""
        for name, value in state.items():
            kept = MappingProxyType(value) if isinstance(value, dict) else value
            object.__setattr__(self, name, kept)
