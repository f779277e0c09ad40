"""The evidence behind the findings: what was computed on the way to a verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from legwright.electrics.circuit import Circuit
from legwright.electrics.supply import Supply
from legwright.locomotion.stance import Footing
from legwright.locomotion.walk import Walk
from legwright.mechanics.draw import Draw
from legwright.mechanics.loading import Loads
from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Packed
from legwright.study.finding import Finding
from legwright.study.stages import Stage


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Case(Packed):
    """One gait walked with one twist, weighed and judged."""

    name: str
    """``tripod forward``"""
    gait: str
    walk: Walk
    motion: Motion
    loads: Loads
    draw: Draw
    friction: float
    """Coefficient that the foot forces were shared with."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Extent:
    """One edge of the envelope: how far a quantity goes, and what stops it."""

    name: str
    """``top speed forward``"""
    gait: str
    """Empty where the edge belongs to no gait."""
    value: float | None
    unit: str
    stopped_by: str
    """The joint or limit that stops it, in words."""
    parts: tuple[str, ...] = ()
    required: float | None = None
    """What the sheet asks for, same unit."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ReachMap:
    """Foot points of one leg in its own vertical plane, for the side view."""

    leg: str
    outline: Floats
    """(N, 2): closed outline of the reachable region, distance from the hip axis outward and
    height in the body frame [m]."""
    inside: float
    """Share of the geometrically reachable region that lies inside the joint limits, 0 to 1."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Study:
    """Everything one check found out."""

    robot: Robot
    findings: tuple[Finding, ...]
    footing: Footing | None
    cases: Mapping[str, Case]
    """Case name -> case."""
    envelope: tuple[Extent, ...]
    reach: tuple[ReachMap, ...]
    circuit: Circuit | None = None
    """From battery to last servo; None where the sheet does not describe it, or not rightly."""
    supplies: Mapping[str, Supply] = field(default_factory=dict)
    """Case name -> voltages, currents and temperatures in the circuit."""
    stages: Mapping[str, Stage] = field(default_factory=dict, repr=False)
    """What was found on the way, for a study of the changed robot to take over."""
