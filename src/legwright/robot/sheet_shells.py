"""The build sheet: covers, how parts are printed, and what the feet are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypeAlias

from pydantic import Field

from legwright.robot.quantities import (
    Angle,
    Count,
    Density,
    Inertia,
    Length,
    Mass,
    Number,
    Part,
    Share,
    Signed,
    Span,
    Stiffness,
    Truth,
)
from legwright.units import quantity

if TYPE_CHECKING:
    Flow: TypeAlias = float
    Pressure: TypeAlias = float
    WearRate: TypeAlias = float
    Moment: TypeAlias = float
else:
    Flow = quantity("10 mm^3/s", above=0.0, most=1e-3)
    Pressure = quantity("4 MPa", above=0.0, most=1e13)
    WearRate = quantity("0.001 mm^3/N/m", least=0.0, most=1e-6)
    Moment = quantity("40 g*cm^2", least=-1.0, most=1.0)

MeshUnit = Literal["mm", "cm", "m", "inch", "um"]


class Process(Part):
    """One way to make parts layer by layer: machine, material and settings; the key is its name."""

    about: str = ""
    material: str = ""
    density: Density
    """Of the solid material."""
    skin: Span = 0.0012
    """Solid depth under every surface: outlines beside each other, closed layers [m]."""
    infill: Share = 0.2
    """Share of the inside that is filled."""
    least_wall: Span = 0.0012
    """Thinnest wall that prints whole [m]."""
    overhang: Angle = Field(default=0.7853981633974483, ge=0.0, le=1.5)
    """Lean from the vertical that prints without supports [rad]."""
    layer: Span = 0.0002
    """Height of a layer [m]."""
    flow: Flow = 8e-9
    """Material laid down per second on average, moves included [m³/s]."""
    layer_time: Number = Field(default=4.0, ge=0.0, le=3600.0)
    """Seconds lost per layer, whatever its size."""
    support: Share = 0.15
    """Share of the volume under overhangs that supports fill."""
    volume: tuple[Span, Span, Span] | None = None
    """Width, depth and height that the machine prints [m]."""


class Shell(Part):
    """A cover: a mesh file or a generated shape, and the link that carries it; the key is its name.

    Its mass is part of the robot only where `counted` is true.
    """

    about: str = ""
    mesh: str | None = Field(default=None, min_length=1)
    """STL, OBJ, 3MF or STEP file, from the sheet's folder."""
    unit: MeshUnit | None = None
    """Unit that the file is drawn in, where the file does not state one; mm when left out."""
    generate: Literal["hood"] | None = None
    """Shape made from the robot's layout, instead of `mesh`: a faceted cover of the trunk."""
    link: str | None = None
    """Link that carries it; the body when left out."""
    at: tuple[Signed, Signed, Signed] = (0.0, 0.0, 0.0)
    """Origin of the mesh in the frame of that link [m]."""
    turn: tuple[Angle, Angle, Angle] = (0.0, 0.0, 0.0)
    """Roll, pitch and yaw of the mesh in that frame [rad]."""
    process: str | None = None
    """How it is made: a key of [process]."""
    gap: Length | None = None
    """Least distance to moving links; requirements.link_clearance when left out [m]."""
    windows: Count | None = None
    """Openings for lights; lights.count when left out."""
    mass: Mass | None = None
    """As weighed or worked out; `legwright shells` says what it works out to."""
    centre: tuple[Signed, Signed, Signed] | None = None
    """Centre of mass in the link's frame [m]."""
    inertia: tuple[Inertia, Inertia, Inertia, Moment, Moment, Moment] | None = None
    """xx, yy, zz, xy, xz, yz about the centre of mass, axes of the link."""
    counted: Truth | None = None
    """Whether mass, centre and inertia are added to the link's; not, with a warning, when left
    out."""
    wall: Span = 0.002
    """Thickness of a generated shell [m]."""
    rise: Span | None = None
    """Height of a generated hood over the trunk; in proportion when left out [m]."""
    skirt: Length | None = None
    """How far a generated hood reaches down the trunk's sides; in proportion when left out [m]."""
    overlap: Span | None = None
    """How far a generated hood stands out over the trunk's sides; in proportion when left out
    [m]."""
    window_size: tuple[Span, Span] | None = None
    """Width and height of the light windows of a generated hood [m]."""


class Foot(Part):
    """The feet, all alike."""

    radius: Length | None = None
    """Of the rounding [m]."""
    friction: Number | None = Field(default=None, gt=0.0, le=5.0)
    """Coefficient of the foot's material on dry ground."""
    stiffness: Stiffness | None = None
    """[N/m]"""
    mass: Mass | None = None
    replaceable: Truth = False
    material: str = ""
    modulus: Pressure | None = None
    """Elastic modulus of the sole [Pa]."""
    poisson: Number = Field(default=0.49, ge=0.0, lt=0.5)
    """Lateral contraction of the sole; rubber hardly changes its volume."""
    sole: Span | None = None
    """Thickness of the sole over what carries it, at the ground [m]."""
    wear: WearRate | None = None
    """Volume worn per load and distance slid, Archard's k over hardness [m²/N]."""
    wear_invented: Truth = False
    """Whether that figure is invented and not measured."""
    slip: Share = 0.03
    """Share of the way walked that a loaded foot slides."""
    worn: Length | None = None
    """Depth of wear at which a foot is replaced [m]."""
    screw: str = Field(default="", pattern=r"^(M[0-9]+(\.[0-9]+)?)?$")
    """Thread that holds it, like M4."""
    screw_depth: Span | None = None
    """Length of thread engaged [m]."""
    screw_in: Literal["", "plastic", "insert", "aluminium", "steel"] = ""
    """What the thread is cut in."""
    process: str | None = None
    """How the pad is made: a key of [process]; a cast pad when left out."""
