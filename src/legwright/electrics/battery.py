"""The battery pack: voltage by charge, resistance by charge and temperature."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, isfinite

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import RequestError, did_you_mean
from legwright.robot.tree import Floats

_SOC = (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)

OPEN_VOLTAGE: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "lithium-polymer": (
        _SOC,
        (3.0, 3.5421, 3.6396, 3.6954, 3.7331, 3.7622, 3.7925, 3.8365, 3.9089, 3.9945, 4.0879, 4.2),
    ),
    "lithium-ion": (
        (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0),
        (2.5, 3.29591, 3.48519, 3.58145, 3.66701, 3.75087, 3.84058, 3.94791, 4.04208, 4.09666, 4.2),
    ),
    "lithium-iron-phosphate": (
        _SOC,
        (2.50, 3.00, 3.16, 3.22, 3.26, 3.28, 3.29, 3.30, 3.32, 3.33, 3.34, 3.45),
    ),
}
"""Chemistry -> state of charge, open-circuit voltage of a rested cell at 25 °C [V].
Lithium-polymer: cobalt-oxide pouch of Ai et al., J. Electrochem. Soc. 167:013512 (2020).
Lithium-ion: nickel-rich cylinder of Chen et al., J. Electrochem. Soc. 167:080534 (2020).
Lithium iron phosphate: common practice, no published source."""

REFERENCE = 298.15
"""Temperature at which a cell's resistance is stated [K]."""

ACTIVATION = 20e3
"""How a cell's resistance rises in the cold [J/mol]; of the right order for lithium cells,
common practice, no published source."""

GAS_CONSTANT = 8.314462618
"""[J/(mol·K)]; CODATA 2018."""


def chen_rincon_mora_voltage(soc: ArrayLike) -> Floats:
    """Open-circuit voltage of an 850 mA·h polymer cell [V].

    Args:
        soc: State of charge, 0 to 1.

    Source: Chen and Rincón-Mora, IEEE Trans. Energy Conversion 21 (2006) 504; the sign of the
    square term is minus.
    """
    s = np.asarray(soc, dtype=np.float64)
    tail = -1.031 * np.exp(-35.0 * s)
    return np.asarray(tail + 3.685 + 0.2156 * s - 0.1178 * s**2 + 0.3201 * s**3)


def chen_rincon_mora_resistance(soc: ArrayLike) -> Floats:
    """Series resistance of the same cell [Ω]; same source."""
    s = np.asarray(soc, dtype=np.float64)
    return np.asarray(0.1562 * np.exp(-24.37 * s) + 0.07446)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """Cells in series and parallel."""

    chemistry: str
    series: int
    parallel: int = 1
    capacity: float
    """Of the pack [C] (A·s)."""
    cell_resistance: float
    """Of one full cell at 25 °C [Ω]."""
    cell_cutoff: float
    """Never discharged below, under load [V]."""

    def __post_init__(self) -> None:
        if self.chemistry not in OPEN_VOLTAGE:
            hint = did_you_mean(self.chemistry, OPEN_VOLTAGE)
            raise RequestError("chemistry", self.chemistry, f"a known one. {hint}")
        if self.series < 1 or self.parallel < 1:
            raise RequestError("cells", (self.series, self.parallel), "1 or more each way")
        if not (isfinite(self.capacity) and self.capacity > 0.0):
            raise RequestError("capacity", self.capacity, "finite and above 0")
        if not (isfinite(self.cell_resistance) and self.cell_resistance >= 0.0):
            raise RequestError("cell resistance", self.cell_resistance, "finite and at least 0")
        volts = OPEN_VOLTAGE[self.chemistry][1]
        if not 0.0 < self.cell_cutoff < volts[-1]:
            allowed = f"above 0 and below the full cell's {volts[-1]:g} V"
            raise RequestError("cell cut-off voltage", self.cell_cutoff, allowed)

    @property
    def cutoff(self) -> float:
        """Lowest pack voltage under load [V]."""
        return self.series * self.cell_cutoff


def open_voltage(pack: Pack, soc: ArrayLike) -> Floats:
    """Voltage of the rested pack without load [V].

    Args:
        pack: The pack.
        soc: State of charge, 0 to 1; nothing is known beyond.
    """
    charge, volts = OPEN_VOLTAGE[pack.chemistry]
    return np.asarray(pack.series * np.interp(np.asarray(soc, np.float64), charge, volts))


def state_of_charge(pack: Pack, voltage: ArrayLike) -> Floats:
    """State of charge that a rested pack voltage tells, 0 to 1."""
    charge, volts = OPEN_VOLTAGE[pack.chemistry]
    return np.asarray(np.interp(np.asarray(voltage) / pack.series, volts, charge))


def internal_resistance(pack: Pack, soc: ArrayLike, temperature: float = REFERENCE) -> Floats:
    """Resistance of the pack [Ω].

    Args:
        pack: The pack.
        soc: State of charge, 0 to 1.
        temperature: Of the cells [K].

    Source: growth towards empty after Chen and Rincón-Mora (2006), relative to the full cell;
    growth in the cold after Arrhenius (see `ACTIVATION`).
    """
    if not temperature > 200.0:
        raise RequestError("cell temperature in K", temperature, "above 200")
    shape = chen_rincon_mora_resistance(soc) / float(chen_rincon_mora_resistance(1.0))
    cold = exp(ACTIVATION / GAS_CONSTANT * (1.0 / temperature - 1.0 / REFERENCE))
    return np.asarray(pack.series * pack.cell_resistance / pack.parallel * cold * shape)


def current_for_power(voltage: ArrayLike, resistance: ArrayLike, power: ArrayLike) -> Floats:
    """Current that a source gives for a power at its terminals.

    Args:
        voltage: Without load [V].
        resistance: Internal [Ω].
        power: At the terminals [W].

    Returns:
        Current [A]; nan beyond the largest power, U²/4R.

    Source: the smaller root of P = U I - R I², textbook, in the form that keeps its digits.
    """
    u, r, p = (np.asarray(x, dtype=np.float64) for x in (voltage, resistance, power))
    inside = u * u - 4.0 * r * p
    with np.errstate(invalid="ignore"):
        return np.asarray(2.0 * p / (u + np.sqrt(inside)))


def rate_current(capacity: float, rate: float) -> float:
    """Current of a C rate [A]: the rate times the capacity over one hour.

    Args:
        capacity: [C]
        rate: For example 20 for ``20C`` [1/h].
    """
    return rate * capacity / 3600.0


def peukert_time(capacity: float, rated_time: float, current: ArrayLike, exponent: float) -> Floats:
    """Discharge time from a capacity that is stated for a rated time [s].

    Args:
        capacity: Charge given when discharged over the rated time [C].
        rated_time: [s]
        current: [A]
        exponent: Peukert's k, 1 or more.

    Source: Peukert, Elektrotechnische Zeitschrift (1897), t = H (C / (I H))^k.
    """
    return np.asarray(
        rated_time * (capacity / (np.asarray(current, np.float64) * rated_time)) ** exponent
    )


def peukert_time_one_ampere(capacity: float, current: ArrayLike, exponent: float) -> Floats:
    """Discharge time from a Peukert capacity, the charge given at 1 A [s].

    Not the same as the capacity at a rated time: the same symbol in other texts.

    Args:
        capacity: Charge given when discharged at 1 A [C].
        current: [A]
        exponent: Peukert's k, 1 or more.
    """
    return np.asarray(capacity / np.asarray(current, np.float64) ** exponent)
