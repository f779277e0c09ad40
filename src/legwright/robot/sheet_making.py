"""How the robot is made: tolerances, rules of the workshop, plates, brackets."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from legwright.robot.quantities import (
    Angle,
    Count,
    Density,
    Length,
    Number,
    Part,
    Play,
    Signed,
    Span,
    Truth,
)

ToleranceClass = Literal["f", "m", "c", "v"]
ScrewFit = Literal["fine", "medium", "coarse"]
AngleName = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-]{1,40}$")]
"""Part of file names: letters, digits, hyphen, underscore."""
Thread = Literal["M1.6", "M2", "M2.5", "M3", "M4", "M5", "M6", "M8", "M10", "M12"]


class Tolerances(Part):
    """How exactly the robot is made, and how exact its feet must be."""

    general: ToleranceClass | None = None
    """Class of ISO 2768-1 of every length and angle not stated below: f fine, m medium, c
    coarse, v very coarse."""
    lengths: dict[str, Length] = Field(default_factory=dict)
    """Length -> its limit deviation ± [m], where it is not that of the class: ``hip``, or what
    tells the joint before it from the leg's others: ``coxa``, ``femur``, ``tibia``."""
    angle: Play | None = None
    """Limit deviation ± of the direction of every joint axis, where it is not that of the
    class [rad]."""
    foot_error: Length | None = None
    """Largest distance of a foot from where it is meant to be, 99.7 % of all legs built [m]."""
    body_tilt: Play | None = None
    """Largest tilt of the body that stands on all its feet, 99.7 % of all robots built [rad]."""


class PlateKeys(Part):
    """The two body plates: what their outline and openings are made from."""

    length: Span | None = None
    """Of the core along x; that of dimensions.plates when left out [m]."""
    width: Span | None = None
    """Of the core along y; likewise [m]."""
    thickness: Span | None = None
    """Likewise [m]."""
    gap: Span | None = None
    """Between the plates; likewise [m]."""
    density: Density | None = None
    """Likewise [kg/m³]."""
    material: str = ""
    outline: Literal["lugs", "hull"] = "lugs"
    """``lugs``: the core with a lug at each hip; ``hull``: the convex hull of both."""
    corner: Span = 0.004
    """Radius of corners, less where an edge is too short [m]."""
    standoffs: tuple[tuple[Signed, Signed], ...] = ()
    """Where spacers join the plates, x and y [m]."""
    standoff_screw: Thread = "M3"
    """Thread of the spacers' screws."""
    passages: tuple[tuple[Signed, Signed, Span, Span], ...] = ()
    """Cable passages through both plates: x, y, length along x, width along y [m]."""
    upper_windows: tuple[tuple[Signed, Signed, Span, Span], ...] = ()
    """Openings of the upper plate, to save mass or to reach through; as `passages` [m]."""
    lower_windows: tuple[tuple[Signed, Signed, Span, Span], ...] = ()
    """Openings of the lower plate [m]."""


class BracketKeys(Part):
    """The folded hip bracket that turns with the coxa: web and two flanges of sheet metal."""

    thickness: Span
    """[m]"""
    density: Density
    """[kg/m³]"""
    material: str = ""
    radius: Span
    """Inner bend radius [m]."""
    k_factor: Number = Field(default=0.44, ge=0.0, le=0.5)
    """Where the neutral fibre lies, from the inside, over the thickness."""
    height: Span
    """Over both flanges, outside [m]."""
    flange: Span
    """From the web's outside to the hip axis [m]."""
    width: Span
    """Of the flanges at the bend [m]."""
    web_width: Span | None = None
    """Of the web; that of the flanges when left out [m]."""
    relief: Span | None = None
    """Width of the notches beside a bend where web and flange differ in width; the thickness
    when left out [m]."""
    web_holes: tuple[tuple[Signed, Signed], ...] = ()
    """Screws through the web for what the coxa carries: across and up, from its middle [m]."""
    web_screw: Thread = "M2.5"
    """Their thread."""
    least_radius: Number = Field(default=1.0, ge=0.0, le=20.0)
    """Smallest inner radius that the material bears, over the thickness."""
    punch: Span = 0.006
    """Thickness of the punch; a flange must pass beside it while the other is bent [m]."""
    die: Span | None = None
    """Opening of the die; eight times the thickness when left out [m]."""


class AngleKeys(Part):
    """An angle bracket: two flanges of sheet metal with one bend, its base screwed on a plate."""

    about: str = ""
    thickness: Span
    """[m]"""
    density: Density
    """[kg/m³]"""
    material: str = ""
    radius: Span
    """Inner bend radius [m]."""
    k_factor: Number = Field(default=0.44, ge=0.0, le=0.5)
    """Where the neutral fibre lies, from the inside, over the thickness."""
    turn: Angle = Field(default=1.5707963267948966, ge=0.1, le=2.6)
    """How far it is bent; a right angle when left out [rad]."""
    base: Span
    """Length of the flange on the plate, outside, from the corner [m]."""
    riser: Span
    """Length of the other flange, likewise [m]."""
    width: Span
    """Along the bend [m]."""
    corner: Length = 0.002
    """Radius of the flanges' free corners [m]."""
    on: Literal["upper", "lower"] = "upper"
    """Plate that it is screwed to."""
    side: Literal["above", "below"] = "above"
    """Whether it stands on that plate or hangs under it."""
    places: tuple[tuple[Signed, Signed, Angle], ...] = Field(min_length=1)
    """Where one stands: x and y of the corner's middle on the plate, and the way its base points
    from straight ahead [m, rad]."""
    base_holes: tuple[tuple[Span, Signed], ...] = Field(min_length=1)
    """Screws through base and plate: away from the corner and along it [m]."""
    base_screw: Thread = "M3"
    """Their thread."""
    holds: str = ""
    """Servo whose case the riser carries, horn over the base: cut-out and screws by its mount."""
    holds_at: Span | None = None
    """Horn axis of that servo, from the corner [m]."""
    holds_across: Truth = False
    """Whether that servo lies along the bend; else its body points away from the corner."""
    riser_holes: tuple[tuple[Span, Signed], ...] = ()
    """Screws through the riser for whatever else it carries: away from the corner, along it [m]."""
    riser_screw: Thread = "M3"
    """Their thread."""
    least_radius: Number = Field(default=1.0, ge=0.0, le=20.0)
    """Smallest inner radius that the material bears, over the thickness."""
    die: Span | None = None
    """Opening of the die; eight times the thickness when left out [m]."""


class Making(Part):
    """How the robot is made."""

    tolerance: Tolerances = Tolerances()
    plates: PlateKeys | None = None
    bracket: BracketKeys | None = None
    angle: dict[AngleName, AngleKeys] = Field(default_factory=dict)
    """Angle brackets, each kind by its name."""
    screw_fit: ScrewFit = "medium"
    """Series of clearance holes, ISO 273."""
    kerf: Length | None = None
    """Width of the laser's cut [m]."""
    least_hole: Number = Field(default=1.0, ge=0.0, le=10.0)
    """Smallest hole over the sheet's thickness."""
    least_web: Number = Field(default=1.0, ge=0.0, le=10.0)
    """Smallest material between two openings over the sheet's thickness."""
    least_edge: Number = Field(default=1.0, ge=0.0, le=10.0)
    """Smallest material between opening and edge over the sheet's thickness."""


class Mount(Part):
    """How a servo is screwed on, and what its horn takes.

    Places are seen from the horn side, from the horn's axis: x along the body towards its far
    end, y across.
    """

    shaft: Signed
    """Horn axis from the middle of the body, along its length [m]."""
    holes: tuple[tuple[Signed, Signed], ...]
    """Screws of the case [m]."""
    screw: Thread
    """Their thread."""
    lug: Span | None = None
    """Thickness of the case where these screws clamp it [m]."""
    clearance: Length = 0.0002
    """Between body and cut-out, each side [m]."""
    horn_circle: Span | None = None
    """Diameter of the circle on which the horn's screws lie [m]."""
    horn_holes: Count = 4
    horn_screw: Thread = "M2"
    horn_depth: Span | None = None
    """Thread in the horn [m]."""
    horn_in: Literal["plastic", "aluminium", "steel"] = "aluminium"
    """What that thread is cut in."""
    horn_bore: Span | None = None
    """Diameter of the horn's centring boss, a fit H7 in what it carries [m]."""
    bearing: Span | None = None
    """Outer diameter of the bearing opposite the horn, seat H7 [m]."""
    pin: Span | None = None
    """Diameter of the pin that runs in that bearing [m]."""
    bearing_play: Length = 0.0
    """Radial play of that bearing, whole [m]."""
    horn_play: Play = 0.0
    """Play between shaft and horn, whole [rad]."""
    zero_step: Angle | None = Field(default=None, ge=0.0)
    """Steps in which the joint's zero can be set; the encoder's step when left out [rad]."""
