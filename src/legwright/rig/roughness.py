"""Rough ground of published roughness: the classes of ISO 8608 as profiles and as surfaces.

One-sided displacement density ``Gd(n) = Gd(n0) (n / n0)^-2`` with n0 = 0.1 cycle/m. The
classes are geometric means at n0 (class A: 16e-6 m³), not the class limits and not the column
for 1 rad/m, which are often mistaken for them.

Source: ISO 8608:2016, tables C.1 and C.2 (from memory; means seen in two public simulators).
"""

from __future__ import annotations

import numpy as np

from legwright.errors import RequestError
from legwright.robot.tree import Floats

REFERENCE_FREQUENCY = 0.1
"""n0 [cycle/m]."""

CLASSES = {name: 16e-6 * 4.0**index for index, name in enumerate("ABCDEFGH")}
"""Class -> Gd(n0), geometric mean [m³]."""

LONGEST_WAVE = 0.1
"""Lowest spatial frequency of generated ground [cycle/m]."""

SHORTEST_WAVE = 10.0
"""Highest [cycle/m]; shorter waves are felt as texture by a foot of centimetres."""


def density(roughness: str | float) -> float:
    """Gd(n0) of a class letter, or the number itself [m³].

    Raises:
        RequestError: if it is neither a class nor a density.
    """
    if isinstance(roughness, str):
        if roughness.upper() not in CLASSES:
            raise RequestError("roughness class", roughness, "a letter from A to H (ISO 8608)")
        return CLASSES[roughness.upper()]
    if not (np.isfinite(roughness) and roughness > 0.0):
        raise RequestError("roughness Gd(n0)", roughness, "finite and more than 0 m³")
    return float(roughness)


def deviation(gd: float, low: float = LONGEST_WAVE, high: float = SHORTEST_WAVE) -> float:
    """Standard deviation of the height of a profile between two spatial frequencies [m].

    Args:
        gd: Gd(n0) [m³].
        low: [cycle/m]
        high: [cycle/m]

    Source: integral of the density, ``σ² = Gd(n0) n0² (1/n1 - 1/n2)``.
    """
    return float(np.sqrt(gd * REFERENCE_FREQUENCY**2 * (1.0 / low - 1.0 / high)))


def density_for(height: float, low: float = LONGEST_WAVE, high: float = SHORTEST_WAVE) -> float:
    """Gd(n0) of ground as rough as steps of random height [m³].

    Args:
        height: Of the highest step; heights spread evenly from 0 to it have the standard
            deviation ``height / √12``, which the profile is given [m].
        low: [cycle/m]
        high: [cycle/m]
    """
    return float(height**2 / 12.0 / (REFERENCE_FREQUENCY**2 * (1.0 / low - 1.0 / high)))


def profile(
    x: Floats,
    roughness: str | float,
    *,
    seed: int,
    waves: int = 1000,
    low: float = LONGEST_WAVE,
    high: float = SHORTEST_WAVE,
) -> Floats:
    """One track of rough ground.

    Args:
        x: Where, (N,) [m].
        roughness: Class letter or Gd(n0) [m³].
        seed: Of the phases.
        waves: Number of cosines.
        low: Lowest spatial frequency [cycle/m].
        high: Highest [cycle/m].

    Returns:
        Heights, (N,) [m].

    Source: ``h = Σ √(2 Gd(n) Δn) cos(2π n x + φ)``, ISO 8608 as sum of cosines.
    """
    step = (high - low) / waves
    n = low + (np.arange(waves) + 0.5) * step
    phase = np.random.default_rng(seed).uniform(0.0, 2.0 * np.pi, waves)
    gd = density(roughness) * (n / REFERENCE_FREQUENCY) ** -2.0
    return np.asarray(np.cos(2.0 * np.pi * np.outer(x, n) + phase) @ np.sqrt(2.0 * gd * step))


def surface(
    shape: tuple[int, int],
    spacing: float,
    roughness: str | float,
    *,
    seed: int,
    low: float = LONGEST_WAVE,
    high: float = SHORTEST_WAVE,
) -> Floats:
    """Ground that is equally rough in all directions: every straight track has the class.

    A two-sided surface density ``a k^-3`` gives every section the one-sided density
    ``4 a / n²``; towards the highest frequency the sections lose the part
    ``1 - √(1 - (n/n2)²)``, because no shorter waves run across them.

    Args:
        shape: Samples along x and y.
        spacing: Between samples [m].
        roughness: Class letter or Gd(n0) [m³].
        seed: Of the phases.
        low: Lowest spatial frequency [cycle/m].
        high: Highest [cycle/m].

    Returns:
        Heights of the given shape [m].

    Source: section of an isotropic random surface, its density integrated across (textbook);
    random phases as in `profile`.
    """
    if not 0.0 < low < high <= 0.5 / spacing:
        raise RequestError("spatial frequencies", (low, high), f"0 < low < high <= {0.5 / spacing}")
    count = max(int(np.ceil(1.0 / (low * spacing))), *shape)
    k = np.fft.fftfreq(count, spacing)
    radius = np.hypot(k[:, None], k[None, :])
    inside = (radius >= low) & (radius <= high)
    strength = 0.25 * density(roughness) * REFERENCE_FREQUENCY**2
    amplitude = np.zeros_like(radius)
    amplitude[inside] = np.sqrt(strength * radius[inside] ** -3.0) / (count * spacing)
    phase = np.random.default_rng(seed).uniform(0.0, 2.0 * np.pi, radius.shape)
    field = np.fft.ifft2(amplitude * np.exp(1j * phase)).real * count**2 * np.sqrt(2.0)
    return np.ascontiguousarray(field[: shape[0], : shape[1]])
