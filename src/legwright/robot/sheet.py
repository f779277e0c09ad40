"""The build sheet: what a URDF cannot say. Values are SI after reading."""

from __future__ import annotations

from pydantic import Field

from legwright.robot.dimensions import Dimensions
from legwright.robot.quantities import (
    Angle,
    Force,
    Length,
    Mass,
    Number,
    Part,
    Rise,
    Share,
    Signed,
    Span,
    Speed,
    Temperature,
    Time,
    Truth,
    TurnRate,
)
from legwright.robot.servo import Servo
from legwright.robot.sheet_costs import Costs
from legwright.robot.sheet_electrics import Battery, Bus, Harness, Hub, Lights, Load, Protection
from legwright.robot.sheet_hand import Pad
from legwright.robot.sheet_making import Making
from legwright.robot.sheet_rounding import Rounding
from legwright.robot.sheet_shells import Foot, Process, Shell

__all__ = [
    "SCHEMA",
    "Battery",
    "Bus",
    "Costs",
    "Dimensions",
    "Foot",
    "Harness",
    "Hub",
    "LegEntry",
    "Lights",
    "Load",
    "Making",
    "Pad",
    "Part",
    "Process",
    "Protection",
    "Requirements",
    "Rounding",
    "Sensors",
    "Servo",
    "Sheet",
    "Shell",
    "Stance",
]

SCHEMA = 1


NAMED_GAITS = ("tripod", "ripple", "wave")
"""Gaits that need no table of their own."""


class GaitEntry(Part):
    """A gait of the user's own; the table's key is its name."""

    duty: Number = Field(gt=0.0, lt=1.0)
    """Share of the cycle that each foot stands."""
    phases: dict[str, Number]
    """Leg name -> fraction of the cycle at which it touches down."""


class GaitSpeeds(Part):
    """Speeds required of one gait, where they differ from those of all gaits."""

    speed_forward: Speed | None = None
    speed_sideways: Speed | None = None
    turn_rate: TurnRate | None = None
    """[rad/s]"""


class Requirements(Part):
    """What the robot must be able to do. None: not required, so not judged or *unknown*."""

    gaits: tuple[str, ...] = NAMED_GAITS
    """Named gaits, or keys of [gait]; those that suit the number of legs when left out."""
    by_gait: dict[str, GaitSpeeds] = Field(default_factory=dict)
    """Gait -> speeds required of it alone."""
    speed_forward: Speed | None = None
    speed_sideways: Speed | None = None
    turn_rate: TurnRate | None = None
    """[rad/s]"""
    slope: Angle | None = Field(default=None, ge=0.0, lt=1.5)
    payload: Mass | None = None
    payload_at: tuple[Signed, Signed, Signed] = (0.0, 0.0, 0.0)
    """In the body frame [m]."""
    ground_clearance: Length | None = None
    """Least gap between trunk and ground while walking [m]."""
    obstacle: Length | None = None
    """Height of an obstacle that a swinging foot must clear [m]."""
    stability_margin: Length | None = None
    reach_reserve: Length | None = None
    """Least distance from a planned foot point to the edge of its reachable region [m]."""
    joint_reserve: Angle = Field(default=0.0, ge=0.0)
    """Least distance of a joint from its limits while walking [rad]."""
    link_clearance: Length | None = None
    probe_push: Force | None = None
    """Push of one leg while the others stand [N]."""
    friction: Number | None = Field(default=None, gt=0.0, le=5.0)
    """Coefficient between foot and ground."""
    run_time: Time | None = None
    ambient: Temperature = 298.15
    """Warmest surroundings [K]."""
    torque_reserve: Number = Field(default=1.0, ge=1.0, le=100.0)
    """Available over needed peak torque."""
    voltage_drop: Share = 0.05
    """Largest share of the battery's voltage lost on the way to any consumer."""
    wire_rise: Rise = 40.0
    """Largest rise of wires and hub copper above the surroundings while walking [K]."""


class Stance(Part):
    """How the robot stands and steps unless told otherwise; found by the program when None."""

    body_height: Span | None = None
    """Body frame origin above the plane of the foot points; over the ground it is higher by the
    feet's radius [m]."""
    foot_distance: Length | None = None
    """Horizontal distance from each hip axis to its foot [m]."""
    cycle: Time | None = Field(default=None, gt=0.0, le=600.0)
    lift: Length | None = None
    feet: dict[str, tuple[Signed, Signed]] = Field(default_factory=dict)
    """Leg name -> foot x, y in the body frame [m], where a leg stands elsewhere."""


class LegEntry(Part):
    """One leg, where detection must be overruled; the table's key is its name."""

    foot: str
    """Link that the leg ends in."""
    joints: tuple[str, ...] = ()
    """Driven joints, base to foot; those between body and `foot` when empty."""
    offset: tuple[Signed, Signed, Signed] = (0.0, 0.0, 0.0)
    """Foot point in the foot link's frame [m]."""


class Sensors(Part):
    """What the robot senses beside its joints."""

    inertial: Truth = False
    """Whether there is an inertial sensor."""


class Sheet(Part):
    """The whole build sheet."""

    name: str | None = Field(default=None, min_length=1, max_length=80)
    about: str = ""
    owner: str = ""
    identification: str = ""
    revision: str = "A"
    urdf: str | None = Field(default=None, min_length=1)
    """Path of the description, from the sheet's folder."""
    body: str | None = None
    """Body link, where detection must be overruled."""
    requirements: Requirements = Requirements()
    gait: dict[str, GaitEntry] = Field(default_factory=dict)
    """Gaits of the user's own by name."""
    stance: Stance = Stance()
    servo: dict[str, Servo] = Field(default_factory=dict)
    """Servo models by id."""
    fit: dict[str, str] = Field(default_factory=dict)
    """Joint name or pattern (``*_coxa``) -> servo id; the longest matching pattern wins."""
    legs: dict[str, LegEntry] = Field(default_factory=dict)
    """Legs by name; when given, no other chain is a leg."""
    not_legs: tuple[str, ...] = ()
    """Links whose chains are no legs."""
    held: dict[str, Angle] = Field(default_factory=dict)
    """Joint that belongs to no leg -> position it is held at [rad]."""
    foot: Foot = Foot()
    sensors: Sensors = Sensors()
    battery: Battery | None = None
    protection: Protection | None = None
    hub: Hub | None = None
    harness: Harness | None = None
    bus: Bus | None = None
    load: dict[str, Load] = Field(default_factory=dict)
    lights: Lights | None = None
    pad: Pad = Pad()
    making: Making = Making()
    shell: dict[str, Shell] = Field(default_factory=dict)
    """Covers by name."""
    process: dict[str, Process] = Field(default_factory=dict)
    """Ways to make printed parts by name."""
    cost: Costs = Costs()
    dimensions: Dimensions | None = None
    rounding: Rounding = Rounding()
