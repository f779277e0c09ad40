"""The build sheet: how dimensions are rounded, and what a rounding may cost."""

from __future__ import annotations

from pydantic import Field

from legwright.robot.quantities import Number, Part


class RoundingWeights(Part):
    """How much a loss counts, each as a share of today's figure."""

    margin: Number = Field(default=1.0, ge=0.0)
    """Least static stability margin over the asked gaits."""
    reach: Number = Field(default=1.0, ge=0.0)
    """Least distance of a foot's path from the edge of what it reaches."""
    speed: Number = Field(default=1.0, ge=0.0)
    """Top speed forward of the fastest asked gait."""
    torque: Number = Field(default=1.0, ge=0.0)
    """Largest share of a servo's peak torque."""
    heat: Number = Field(default=1.0, ge=0.0)
    """Largest share of the torque that a servo gives for ever, root mean square over a cycle."""
    clearance: Number = Field(default=0.5, ge=0.0)
    """Least gap between neighbouring legs; 0.5, since room that is not needed is worth less."""
    nearness: Number = Field(default=0.1, ge=0.0)
    """A step of the grid in every dimension costs this much, so that the answer stays close."""


class Rounding(Part):
    """What `legwright round` looks for."""

    grid: str = "5 mm"
    """Step of lengths, or preferred numbers of ISO 3 in millimetres: `R5`, `R10`, `R20`, `R40`."""
    angle: str = "15 deg"
    """Step of hip angles; must divide 90 deg."""
    spread: int = Field(default=2, ge=1, le=12, strict=True)
    """Values tried on either side of today's."""
    pinned: tuple[str, ...] = ()
    """Dimensions that stay as they are: `hip_x`, `hip_x.front`, `femur`."""
    grids: dict[str, str] = Field(default_factory=dict)
    """Dimension -> its own grid, where it differs: `tibia = "R20"`."""
    weights: RoundingWeights = RoundingWeights()
