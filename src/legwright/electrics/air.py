"""Still air around a warm wire: its properties, and the heat that it carries off."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from legwright.robot.tree import Floats

SEA_LEVEL = 101325.0
"""Standard pressure [Pa]."""

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m²·K⁴)]; CODATA 2018."""

GAS_CONSTANT = 287.053
"""Of dry air [J/(kg·K)]; U.S. Standard Atmosphere 1976."""

HEAT_CAPACITY = 1006.0
"""Of air at constant pressure [J/(kg·K)]."""

GRAVITY = 9.80665
"""[m/s²]"""


def conductivity(temperature: ArrayLike) -> Floats:
    """Thermal conductivity of air [W/(m·K)].

    Args:
        temperature: [K]

    Source: U.S. Standard Atmosphere 1976, equation 53.
    """
    t = np.asarray(temperature, dtype=np.float64)
    return np.asarray(2.64638e-3 * t**1.5 / (t + 245.4 * 10.0 ** (-12.0 / t)))


def viscosity(temperature: ArrayLike) -> Floats:
    """Dynamic viscosity of air [Pa·s].

    Args:
        temperature: [K]

    Source: Sutherland's law with the constants of the U.S. Standard Atmosphere 1976, eq. 51.
    """
    t = np.asarray(temperature, dtype=np.float64)
    return np.asarray(1.458e-6 * t**1.5 / (t + 110.4))


def rayleigh(
    diameter: ArrayLike, surface: ArrayLike, ambient: ArrayLike, pressure: float = SEA_LEVEL
) -> Floats:
    """Rayleigh number of a horizontal cylinder in still air, properties at film temperature.

    Args:
        diameter: [m]
        surface: Temperature of the surface [K].
        ambient: [K]
        pressure: [Pa]
    """
    warm, cool = np.asarray(surface, np.float64), np.asarray(ambient, np.float64)
    film = 0.5 * (warm + cool)
    density = pressure / (GAS_CONSTANT * film)
    mu = viscosity(film)
    diffusivity = conductivity(film) / (density * HEAT_CAPACITY)
    buoyancy = GRAVITY / film * np.abs(warm - cool) * np.asarray(diameter, np.float64) ** 3
    return np.asarray(buoyancy * density / (mu * diffusivity))


def natural_convection(
    diameter: ArrayLike, surface: ArrayLike, ambient: ArrayLike, pressure: float = SEA_LEVEL
) -> Floats:
    """Heat transfer coefficient of a horizontal cylinder in still air [W/(m²·K)].

    Args:
        diameter: [m]
        surface: Temperature of the surface [K].
        ambient: [K]
        pressure: [Pa]

    Source: Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049; valid for Rayleigh
    numbers from 1e-5 to 1e12.
    """
    warm, cool = np.asarray(surface, np.float64), np.asarray(ambient, np.float64)
    film = 0.5 * (warm + cool)
    k = conductivity(film)
    prandtl = viscosity(film) * HEAT_CAPACITY / k
    shape = (1.0 + (0.559 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    ra = rayleigh(diameter, warm, cool, pressure)
    nusselt = (0.60 + 0.387 * ra ** (1.0 / 6.0) / shape) ** 2
    return np.asarray(nusselt * k / np.asarray(diameter, np.float64))


def radiation(surface: ArrayLike, ambient: ArrayLike, emissivity: float) -> Floats:
    """Heat flux radiated to surroundings at ambient temperature [W/m²]; Stefan and Boltzmann."""
    warm, cool = np.asarray(surface, np.float64), np.asarray(ambient, np.float64)
    return np.asarray(emissivity * STEFAN_BOLTZMANN * (warm**4 - cool**4))
