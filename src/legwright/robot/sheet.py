"""The build sheet: what a URDF cannot say. Values are SI after reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, Field

from legwright.robot.servo import Servo
from legwright.units import quantity

SCHEMA = 1

if TYPE_CHECKING:
    Length = Mass = Angle = Speed = TurnRate = Force = Time = Temperature = Voltage = float
    Charge = Resistance = Signed = Current = Area = Rate = Power = float
else:
    Length = quantity("80 mm", least=0.0)
    Signed = quantity("80 mm")
    Mass = quantity("0.8 kg", least=0.0)
    Angle = quantity("12 deg")
    Speed = quantity("0.1 m/s", least=0.0)
    TurnRate = quantity("20 deg/s", least=0.0)
    Force = quantity("4 N", least=0.0)
    Time = quantity("40 min", least=0.0)
    Temperature = quantity("35 degC")
    Voltage = quantity("7.4 V", above=0.0)
    Charge = quantity("5 A*h", above=0.0)
    Resistance = quantity("20 mohm", least=0.0)
    Current = quantity("2.5 A", least=0.0)
    Area = quantity("1.5 mm**2", above=0.0)
    Rate = quantity("100 Hz", above=0.0)
    Power = quantity("8 W", least=0.0)


class Part(BaseModel):
    """A table of the sheet: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Requirements(Part):
    """What the robot must be able to do. None: not required, so not judged or *unknown*."""

    gaits: tuple[str, ...] = ("tripod", "ripple", "wave")
    speed_forward: Speed | None = None
    speed_sideways: Speed | None = None
    turn_rate: TurnRate | None = None
    """[rad/s]"""
    slope: Angle | None = None
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
    joint_reserve: Angle = 0.0
    """Least distance of a joint from its limits while walking [rad]."""
    link_clearance: Length | None = None
    probe_push: Force | None = None
    """Push of one leg while the others stand [N]."""
    friction: float | None = Field(default=None, gt=0.0)
    """Coefficient between foot and ground."""
    run_time: Time | None = None
    ambient: Temperature = 298.15
    """Warmest surroundings [K]."""
    torque_reserve: float = Field(default=1.0, ge=1.0)
    """Available over needed peak torque."""


class Stance(Part):
    """How the robot stands and steps unless told otherwise; found by the program when None."""

    body_height: Length | None = None
    """Body frame origin above the ground [m]."""
    foot_distance: Length | None = None
    """Horizontal distance from each hip axis to its foot [m]."""
    cycle: Time | None = None
    lift: Length | None = None
    feet: dict[str, tuple[Signed, Signed]] = Field(default_factory=dict)
    """Leg name -> foot x, y in the body frame [m], where a leg stands elsewhere."""


class Battery(Part):
    """The battery pack."""

    chemistry: str = "lithium-polymer"
    series: int = Field(gt=0)
    parallel: int = Field(default=1, gt=0)
    capacity: Charge
    """Of the pack [C] (A·s)."""
    cell_resistance: Resistance = 0.004
    cell_nominal: Voltage = 3.7
    cell_full: Voltage = 4.2
    cell_cutoff: Voltage = 3.3
    continuous_current: Current | None = None
    mass: Mass | None = None

    @property
    def nominal_voltage(self) -> float:
        """[V]"""
        return self.series * self.cell_nominal

    @property
    def cutoff_voltage(self) -> float:
        """[V]"""
        return self.series * self.cell_cutoff


class Sheet(Part):
    """The whole build sheet."""

    name: str | None = None
    about: str = ""
    owner: str = ""
    identification: str = ""
    revision: str = "A"
    urdf: str | None = None
    body: str | None = None
    """Body link, where detection must be overruled."""
    requirements: Requirements = Requirements()
    stance: Stance = Stance()
    servo: dict[str, Servo] = Field(default_factory=dict)
    """Servo models by id."""
    fit: dict[str, str] = Field(default_factory=dict)
    """Joint name or pattern (``*_coxa``) -> servo id; the longest matching pattern wins."""
    battery: Battery | None = None
    held: dict[str, Angle] = Field(default_factory=dict)
    """Joint that belongs to no leg -> position it is held at [rad]."""
