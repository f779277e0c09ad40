"""Field types of the sheet: text with a unit outside, SI floats inside.

Bounds catch what no walking robot has, above all millimetres written as metres.
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING, Annotated, TypeAlias

from pydantic import BaseModel, ConfigDict, Field

from legwright.units import quantity

if TYPE_CHECKING:
    Length: TypeAlias = float
    Span: TypeAlias = float
    Signed: TypeAlias = float
    Mass: TypeAlias = float
    Angle: TypeAlias = float
    Speed: TypeAlias = float
    TurnRate: TypeAlias = float
    Force: TypeAlias = float
    Time: TypeAlias = float
    Temperature: TypeAlias = float
    Rise: TypeAlias = float
    Voltage: TypeAlias = float
    Charge: TypeAlias = float
    Resistance: TypeAlias = float
    Current: TypeAlias = float
    Area: TypeAlias = float
    Rate: TypeAlias = float
    Power: TypeAlias = float
    Torque: TypeAlias = float
    ThermalResistance: TypeAlias = float
    Inertia: TypeAlias = float
    Density: TypeAlias = float
    Stiffness: TypeAlias = float
    Capacitance: TypeAlias = float
    Play: TypeAlias = float
else:
    Length = quantity("80 mm", least=0.0, most=5.0)
    Span = quantity("80 mm", above=0.0, most=5.0)
    """A length that cannot be zero."""
    Signed = quantity("80 mm", least=-5.0, most=5.0)
    """A coordinate."""
    Mass = quantity("0.8 kg", least=0.0, most=500.0)
    Angle = quantity("12 deg", least=-2.0 * pi, most=2.0 * pi)
    Play = quantity("0.3 deg", least=0.0, most=pi / 2.0)
    Speed = quantity("0.1 m/s", least=0.0, most=20.0)
    TurnRate = quantity("20 deg/s", least=0.0, most=200.0)
    Force = quantity("4 N", least=0.0, most=1e5)
    Torque = quantity("2.2 N*m", above=0.0, most=1e4)
    Time = quantity("40 min", least=0.0, most=1e7)
    Temperature = quantity("35 degC", most=1000.0)
    Rise = quantity("30 K", above=0.0, most=250.0)
    """A difference of temperatures."""
    Voltage = quantity("7.4 V", above=0.0, most=1000.0)
    Charge = quantity("5 A*h", above=0.0, most=1e7)
    Resistance = quantity("20 mohm", least=0.0, most=1e6)
    Current = quantity("2.5 A", least=0.0, most=5000.0)
    Area = quantity("1.5 mm^2", above=0.0, most=0.01)
    Rate = quantity("100 Hz", above=0.0, most=1e9)
    Power = quantity("8 W", least=0.0, most=1e5)
    ThermalResistance = quantity("9 K/W", above=0.0, most=1e4)
    Inertia = quantity("40 g*cm^2", least=0.0, most=1.0)
    Density = quantity("1800 kg/m^3", above=0.0, most=25000.0)
    Stiffness = quantity("20 N/mm", above=0.0, most=1e9)
    Capacitance = quantity("470 uF", above=0.0, most=10.0)

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
"""A bare number."""
Share = Annotated[float, Field(strict=True, ge=0.0, le=1.0, allow_inf_nan=False)]
"""A bare number from 0 to 1."""
Count = Annotated[int, Field(strict=True, gt=0, le=10_000)]
"""A whole number above zero."""
Truth = Annotated[bool, Field(strict=True)]


class Part(BaseModel):
    """A table of the sheet: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")
