"""Heat of a winding: copper's resistance, first-order warming, where it settles and when.

The winding is one lump: ``tau dT/dt = P(T) * R_th - (T - ambient)`` with the copper loss
``P(T) = <i²> R20 (1 + α (T - 20 °C))``. The equation is linear in T, so the steady
temperature and the time to a limit are closed forms, copper's rise included.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from legwright.robot.tree import Floats

COPPER_COEFFICIENT = 0.00393
"""Temperature coefficient of annealed copper's resistance at 20 °C [1/K]; IEC 60028:1925."""

REFERENCE = 293.15
"""20 °C, at which winding resistances are stated [K]."""


def copper_factor(temperature: ArrayLike) -> Floats:
    """Resistance of a copper winding over that at 20 °C.

    Args:
        temperature: Of the winding [K].

    Returns:
        R / R20, same shape, never below 0.

    Source: IEC 60028:1925, resistance linear in temperature with 0.00393/K at 20 °C.
    """
    rise = np.asarray(temperature, dtype=np.float64) - REFERENCE
    return np.asarray(np.maximum(1.0 + COPPER_COEFFICIENT * rise, 0.0))


def winding_heat(current: ArrayLike, resistance: ArrayLike, temperature: ArrayLike) -> Floats:
    """Heat that current makes in a winding [W].

    Args:
        current: Winding current, (..., J) [A].
        resistance: Of the winding at 20 °C, (J,) [Ω].
        temperature: Of the winding, (J,) [K].
    """
    i = np.asarray(current, dtype=np.float64)
    return np.asarray(i * i * (np.asarray(resistance) * copper_factor(temperature)))


def mean_square(samples: ArrayLike) -> Floats:
    """Mean of the squares over a cycle of evenly spaced samples: (T, ...) -> (...)."""
    x = np.asarray(samples, dtype=np.float64)
    return np.asarray(np.einsum("t...,t...->...", x, x) / x.shape[0])


def warm_up(final_rise: ArrayLike, time: ArrayLike, time_constant: ArrayLike) -> Floats:
    """Rise above ambient after a time of constant heat, from ambient.

    Args:
        final_rise: Where it would settle [K].
        time: Since the heat began [s].
        time_constant: Of the winding [s].

    Returns:
        Rise [K].

    Source: first-order lumped model, textbook.
    """
    ratio = np.asarray(time, dtype=np.float64) / np.asarray(time_constant, dtype=np.float64)
    return np.asarray(final_rise, dtype=np.float64) * -np.expm1(-ratio)


def time_to_rise(
    final_rise: ArrayLike, limit: ArrayLike, time_constant: ArrayLike, start: ArrayLike = 0.0
) -> Floats:
    """Time until a rise is reached under constant heat.

    Args:
        final_rise: Where it would settle [K]; negative together with a negative time constant
            for a winding that runs away.
        limit: The rise asked about [K].
        time_constant: [s]
        start: Rise at the beginning [K].

    Returns:
        Time [s]; 0 where the start is at or above the limit, inf where it is never reached.

    Source: textbook, t = τ ln((ΔT∞ - ΔT0) / (ΔT∞ - ΔT_limit)).
    """
    final, wall, tau, begin = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (final_rise, limit, time_constant, start))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        time = tau * np.log1p((wall - begin) / (final - wall))
    reached = np.where(tau > 0.0, final > wall, True)
    never = np.where(reached, time, np.inf)
    known = ~np.isnan(final + wall + tau + begin)
    return np.where(known, np.where(begin >= wall, 0.0, never), np.nan)


def loop_gain(square: ArrayLike, resistance: ArrayLike, thermal_resistance: ArrayLike) -> Floats:
    """How much of each kelvin copper's rising resistance adds again; at 1 the winding runs away.

    Args:
        square: Mean square of the winding current [A²].
        resistance: At 20 °C [Ω].
        thermal_resistance: Winding to ambient [K/W].
    """
    heat = np.asarray(square, dtype=np.float64) * np.asarray(resistance)
    return np.asarray(COPPER_COEFFICIENT * heat * np.asarray(thermal_resistance))


def runaway_current(resistance: ArrayLike, thermal_resistance: ArrayLike) -> Floats:
    """RMS winding current above which no steady temperature exists [A].

    Args:
        resistance: At 20 °C [Ω].
        thermal_resistance: Winding to ambient [K/W].
    """
    per_square = loop_gain(1.0, resistance, thermal_resistance)
    with np.errstate(divide="ignore"):
        return 1.0 / np.sqrt(per_square)


def steady_temperature(
    square: ArrayLike, resistance: ArrayLike, thermal_resistance: ArrayLike, ambient: ArrayLike
) -> Floats:
    """Where the winding's temperature settles, copper's rise included.

    Args:
        square: Mean square of the winding current over a cycle that is short against the
            winding's time constant [A²].
        resistance: At 20 °C [Ω].
        thermal_resistance: Winding to ambient [K/W].
        ambient: [K]

    Returns:
        Temperature [K]; inf where it runs away (no steady state), nan where an input is nan.

    Source: balance of copper loss (IEC 60028) and the first-order model.
    """
    gain = loop_gain(square, resistance, thermal_resistance)
    cold = gain / COPPER_COEFFICIENT * copper_factor(ambient)
    with np.errstate(divide="ignore", invalid="ignore"):
        rise = cold / (1.0 - gain)
    return np.asarray(ambient) + np.where(gain >= 1.0, np.inf, rise)


def temperature_after(
    square: ArrayLike,
    resistance: ArrayLike,
    thermal_resistance: ArrayLike,
    time_constant: ArrayLike,
    *,
    time: ArrayLike,
    ambient: ArrayLike,
    start: ArrayLike | None = None,
) -> Floats:
    """Winding temperature after a time, copper's rise included, runaway too.

    Args:
        square: Mean square of the winding current [A²].
        resistance: At 20 °C [Ω].
        thermal_resistance: Winding to ambient [K/W].
        time_constant: Of the winding [s].
        time: Since the current began [s].
        ambient: [K]
        start: Winding temperature at the beginning [K]; ambient when None.

    Returns:
        Temperature [K]; inf where a runaway exceeds all numbers, nan where an input is nan.
    """
    slack, heated = _balance(square, resistance, thermal_resistance, ambient)
    base = np.asarray(ambient, dtype=np.float64)
    begin = 0.0 if start is None else np.asarray(start, dtype=np.float64) - base
    final = heated / slack
    with np.errstate(over="ignore"):
        way = -np.expm1(-slack * np.asarray(time, np.float64) / np.asarray(time_constant))
        return np.asarray(base + begin + (final - begin) * way)


def time_to_temperature(
    square: ArrayLike,
    resistance: ArrayLike,
    thermal_resistance: ArrayLike,
    time_constant: ArrayLike,
    *,
    limit: ArrayLike,
    ambient: ArrayLike,
    start: ArrayLike | None = None,
) -> Floats:
    """Time until the winding reaches a limit, copper's rise included.

    Args:
        square: Mean square of the winding current [A²].
        resistance: At 20 °C [Ω].
        thermal_resistance: Winding to ambient [K/W].
        time_constant: Of the winding [s].
        limit: Highest winding temperature [K].
        ambient: [K]
        start: Winding temperature at the beginning [K]; ambient when None.

    Returns:
        Time [s]; inf where never, nan where an input is nan.
    """
    slack, heated = _balance(square, resistance, thermal_resistance, ambient)
    final = heated / slack
    base = np.asarray(ambient, dtype=np.float64)
    begin = 0.0 if start is None else np.asarray(start) - base
    return time_to_rise(
        final, np.asarray(limit) - base, np.asarray(time_constant) / slack, start=begin
    )


def _balance(
    square: ArrayLike, resistance: ArrayLike, thermal_resistance: ArrayLike, ambient: ArrayLike
) -> tuple[Floats, Floats]:
    """How much each kelvin cools more than it heats, and the rise without copper's [K]."""
    gain = loop_gain(square, resistance, thermal_resistance)
    slack = 1.0 - gain
    slack = np.where(np.abs(slack) < 1e-9, 1e-9, slack)  # at 0 the rise is a straight line
    return slack, gain / COPPER_COEFFICIENT * copper_factor(ambient)


def continuous_current(
    resistance: ArrayLike, thermal_resistance: ArrayLike, limit: ArrayLike, ambient: ArrayLike
) -> Floats:
    """RMS winding current at which the winding settles exactly at its limit [A].

    Args:
        resistance: At 20 °C [Ω].
        thermal_resistance: Winding to ambient [K/W].
        limit: Highest winding temperature [K].
        ambient: [K]

    Returns:
        Current; 0 where the ambient is at or above the limit.
    """
    room = np.maximum(np.asarray(limit, dtype=np.float64) - np.asarray(ambient), 0.0)
    per_square = np.asarray(thermal_resistance) * resistance * copper_factor(limit)
    return np.asarray(np.sqrt(room / per_square))
