"""Quantities: our table and grammar against pint; what is refused."""

import subprocess
import sys

import pytest

from legwright.units import EVERYDAY, quantity, shown, to_si, unit_of

COMPOSITES = {
    "N*m": "newton*meter",
    "N*cm": "newton*centimeter",
    "g*cm^2": "gram*centimeter**2",
    "K/W": "kelvin/watt",
    "A*h": "ampere*hour",
    "mA*h": "milliampere*hour",
    "deg/s": "degree/second",
    "kg/m^3": "kilogram/meter**3",
    "N/mm": "newton/millimeter",
    "m/s**2": "meter/second**2",
    "mm²": "millimeter**2",
    "N·m": "newton*meter",
    "mΩ": "milliohm",
    "µm": "micrometer",
    "kgf*cm": "kilogram_force*centimeter",
    "W/m/K": "watt/meter/kelvin",
}


@pytest.fixture(scope="module")
def registry():
    pint = pytest.importorskip("pint")
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("name", sorted(set(EVERYDAY) - {"bit", "kbit", "Mbit", "rev"}))
def test_everyday_units_agree_with_pint(name, registry):
    """Referee: pint."""
    want = registry.Quantity(3.0, name).to_base_units()
    unit = EVERYDAY[name]
    assert 3.0 * unit.factor + unit.offset == pytest.approx(want.magnitude, rel=1e-12)
    bases = ("[length]", "[mass]", "[time]", "[current]", "[temperature]")
    assert tuple(want.dimensionality.get(base, 0) for base in bases) == unit.dimension[:5]


@pytest.mark.parametrize(("ours", "pints"), COMPOSITES.items())
def test_composite_units_agree_with_pint(ours, pints, registry):
    """Referee: pint."""
    spelled = ours.replace("²", "^2").replace("·", "*").replace("Ω", "ohm").replace("µ", "u")
    want = registry.Quantity(2.5, pints).to_base_units().magnitude
    unit = unit_of(spelled)
    assert unit is not None
    assert 2.5 * unit.factor == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "example", "value"),
    [
        ("85 mm", "1 m", 0.085),
        ("85mm", "1 m", 0.085),
        ("+1e2 mm", "1 m", 0.1),
        ("−3 mm", "1 m", None),
        ("-3 mm", "1 m", -0.003),
        ("35 °C", "1 K", 308.15),
        ("35 degC", "1 K", 308.15),
        ("9 °C/W", "1 K/W", 9.0),
        ("90°", "1 rad", 1.5707963267948966),
        ("60 rpm", "1 rad/s", 6.283185307179586),
        ("2 inch", "1 m", 0.0508),
        ("95 degF", "1 K", 308.15),
        ("1 Mbit/s", "1 Hz", 1e6),
        ("5 A*h", "1 A*h", 18000.0),
    ],
)
def test_values(text, example, value):
    """Expected values: definitions of the units (SI brochure; inch 25.4 mm exactly)."""
    assert to_si(text, example) == pytest.approx(-0.003 if value is None else value, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("85", "has no unit"),
        ("", "not a number with a unit"),
        ("mm", "not a number with a unit"),
        ("nan mm", "not finite"),
        ("inf mm", "not finite"),
        ("1e999 mm", "not finite"),
        ("1,5 mm", "decimal comma"),
        ("5 N", "is a force, not a length"),
        ("5 bananas", "unknown unit"),
        ("9**9**9**9 mm", "unknown unit"),
        ("9 mm**99999999", "unknown unit"),
        ("9 (mm)", "unknown unit"),
        ("9 __import__('os')", "unknown unit"),
        ("1 " + "m*" * 200 + "m", "too long"),
        ("5 mm mm", "unknown unit"),
        ("5 mm 3", "unknown unit"),
        ("1 / mm", "unknown unit"),
    ],
)
def test_refused(text, part):
    with pytest.raises(ValueError, match=part.replace("(", r"\(")):
        to_si(text, "80 mm")


def test_angles_are_no_bare_numbers():
    with pytest.raises(ValueError, match="is a rate, not a turn rate"):
        to_si("5 Hz", "20 deg/s")


def test_absolute_zero():
    with pytest.raises(ValueError, match="absolute zero"):
        to_si("-274 degC", "35 degC")


def test_shown_in_the_unit_of_the_example():
    assert shown(0.08, "85 mm") == "80 mm"
    assert shown(308.15, "25 degC") == "35 degC"


def test_everyday_sheets_never_import_pint():
    code = (
        "import sys, legwright.units as u; u.to_si('2 N*m', '1 N*m');"
        "from pathlib import Path; from legwright.robot.sheet_reading import read_sheet;"
        "read_sheet(Path('robots/rook/robot.toml')); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_quantity_is_an_annotated_float():
    assert quantity("80 mm").__origin__ is float
