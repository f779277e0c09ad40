"""The ``[dimensions]`` table: a parametric walker from which the description is generated.

Each leg has three joints: coxa (vertical axis), femur and tibia (level axes). In the leg's
own frame x points outward, z up, y to the left when looking outward. Positive femur and
tibia angles lift. At zero the leg stretches straight outward, unless `zero` says otherwise.
"""

from __future__ import annotations

from math import radians

from pydantic import Field

from legwright.robot.quantities import (
    Angle,
    Count,
    Density,
    Length,
    Mass,
    Part,
    Share,
    Signed,
    Span,
)


class Range(Part):
    """Travel of one joint of the left legs; mirrored on the right."""

    lower: Angle
    upper: Angle


class Travel(Part):
    """Travel of the three joints."""

    coxa: Range = Range.model_construct(lower=radians(-60.0), upper=radians(60.0))
    femur: Range = Range.model_construct(lower=radians(-60.0), upper=radians(90.0))
    tibia: Range = Range.model_construct(lower=radians(-150.0), upper=radians(-10.0))


class Zero(Part):
    """Where the joints' zeros lie: the segment's angle above its straight pose at q = 0."""

    femur: Angle = 0.0
    tibia: Angle = 0.0


class MadePlate(Part):
    """One plate as it is made: what `legwright parts` reckons from its outline and openings."""

    mass: Mass
    at: tuple[Signed, Signed] = (0.0, 0.0)
    """Centre of mass, x and y [m]."""
    spread: tuple[Span, Span]
    """Radii of gyration along x and along y, about the centre of mass [m]."""


class Plates(Part):
    """The trunk: two plates with the battery and the electronics between them."""

    length: Span
    """Along x [m]."""
    width: Span
    """Along y [m]."""
    gap: Span
    """From the underside of the lower plate to the top of the upper one [m]."""
    thickness: Span = 0.003
    density: Density = 1850.0
    filled: Share = 0.7
    """Share of each plate that is left after cut-outs."""
    upper: MadePlate | None = None
    """The upper plate as it is made, instead of a box of which `filled` is left."""
    lower: MadePlate | None = None
    """The lower plate, likewise."""
    cargo: Mass = 0.0
    """Hub, computer, screws, wiring: all that is not listed elsewhere [kg]."""


class Segments(Part):
    """Structure of the legs; the servos come on top."""

    thickness: Span = 0.003
    """Of the two cheeks of coxa and femur [m]."""
    height: Span = 0.030
    """Of the cheeks [m]."""
    width: Span = 0.036
    """Over both cheeks [m]."""
    density: Density = 1850.0
    tube: Span = 0.014
    """Outer diameter of the tibia tube [m]."""
    wall: Span = 0.0015
    """Of the tibia tube [m]."""
    tube_density: Density = 1600.0


class Mast(Part):
    """A camera mast with a pan and a tilt joint; no leg."""

    at: tuple[Signed, Signed, Signed]
    """Pan joint in the body frame [m]."""
    height: Span
    """From pan joint to tilt joint [m]."""
    camera: Mass
    camera_size: tuple[Span, Span, Span] = (0.03, 0.06, 0.04)
    structure: Mass = 0.0
    """The post [kg]."""


class Dimensions(Part):
    """Measures of the walker."""

    legs: Count = Field(ge=3, le=32)
    hips: tuple[tuple[Signed, Signed, Angle], ...] = ()
    """x, y, yaw of each left hip, front to rear; the right side is mirrored."""
    ring: Span | None = None
    """Radius of the circle on which the hips lie evenly, instead of `hips`."""
    hip_height: Signed = 0.0
    """Coxa joints above the body frame [m]."""
    coxa: Length
    """Coxa axis to femur axis [m]."""
    femur: Span
    """Femur axis to tibia axis [m]."""
    tibia: Span
    """Tibia axis to the centre of the foot's ball [m]."""
    femur_rise: Signed = 0.0
    """Femur axis above the coxa joint [m]."""
    femur_shift: Signed = 0.0
    """Femur joint sideways of the coxa axis, left legs; mirrored on the right [m]."""
    tibia_shift: Signed = 0.0
    """Tibia joint sideways of the femur joint, left legs; mirrored on the right [m]."""
    travel: Travel = Travel.model_construct(
        **{k: f.default for k, f in Travel.model_fields.items()}
    )
    zero: Zero = Zero.model_construct(femur=0.0, tibia=0.0)
    plates: Plates
    segments: Segments = Segments.model_construct(
        **{k: f.default for k, f in Segments.model_fields.items()}
    )
    mast: Mast | None = None
    servo_mass: Mass = 0.0
    """Mass of a joint's servo where its own sheet names none [kg]."""
