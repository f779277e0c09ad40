"""Contact patch, wear and screw of a foot."""

import numpy as np
import pytest
from scipy.integrate import dblquad

from legwright.fabrication.foot import (
    bending_stress,
    cap_volume,
    patch,
    stress_area,
    wear_distance,
)


def test_patch_pressure_carries_the_load():
    """Law: the pressure p0 √(1 − r²/a²), summed over the patch, is the load."""
    found = patch(14.0, 0.009, 1.2e6, 0.49)
    r = np.linspace(0.0, found.radius, 200_001)
    pressure = found.peak * np.sqrt(1.0 - (r / found.radius) ** 2)
    assert np.trapezoid(pressure * 2.0 * np.pi * r, r) == pytest.approx(14.0, rel=1e-6)


@pytest.mark.parametrize("share", [0.0, 0.4, 0.8])
def test_patch_flattens_the_ball(share):
    """Law: the half space under that pressure (Boussinesq) sinks by δ − r²/2R inside the patch."""
    force, radius, modulus, poisson = 10.0, 0.01, 2e6, 0.45
    found = patch(force, radius, modulus, poisson)
    a = found.radius

    def along(s: float, angle: float) -> float:
        x, y = share * a + s * np.cos(angle), s * np.sin(angle)
        rest = 1.0 - (x * x + y * y) / a**2
        return found.peak * np.sqrt(rest) if rest > 0.0 else 0.0

    def end(angle: float) -> float:
        b = share * a * np.cos(angle)
        return -b + np.sqrt(b * b + a * a * (1.0 - share**2))

    total, _ = dblquad(along, 0.0, 2.0 * np.pi, 0.0, end, epsrel=1e-6)
    sink = (1.0 - poisson**2) / (np.pi * modulus) * total
    assert sink == pytest.approx(found.sink - (share * a) ** 2 / (2.0 * radius), rel=1e-4)


def test_stiffness_is_the_slope_of_force_over_sink():
    below, above = (patch(force, 0.009, 1.2e6, 0.49) for force in (9.999, 10.001))
    slope = 0.002 / (above.sink - below.sink)
    assert patch(10.0, 0.009, 1.2e6, 0.49).stiffness == pytest.approx(slope, rel=1e-5)


def test_worn_cap_volume():
    assert cap_volume(0.009, 0.009) == pytest.approx(2.0 / 3.0 * np.pi * 0.009**3)
    assert cap_volume(0.018, 0.009) == pytest.approx(4.0 / 3.0 * np.pi * 0.009**3)


def test_wear_by_distance():
    walked = wear_distance(0.002, 0.009, 1e-12, 5.0, 0.03)
    assert 1e-12 * 5.0 * 0.03 * walked == pytest.approx(cap_volume(0.002, 0.009))
    assert wear_distance(0.002, 0.009, 0.0, 5.0, 0.03) == np.inf


@pytest.mark.parametrize(
    ("screw", "area"), [("M3", 5.03), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1), ("M8", 36.6)]
)
def test_stress_areas(screw, area):
    """Published: ISO 898-1, table of nominal stress areas (from memory)."""
    assert stress_area(screw) * 1e6 == pytest.approx(area, rel=4e-3)


def test_bending_of_a_round_section():
    core = np.sqrt(4.0 * stress_area("M4") / np.pi)
    inertia = np.pi * core**4 / 64.0
    assert bending_stress("M4", 30.0, 0.02) == pytest.approx(0.6 * 0.5 * core / inertia)
