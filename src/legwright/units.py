"""Quantities at the edge: text with a unit in, SI numbers inside.

A quantity is a number and a unit, ``"85 mm"`` or ``"2.2 N*m"``; a unit is a product of unit
names with one-digit exponents, ``g*cm^2`` or ``K/W``. The everyday names are a table here;
pint is asked for any other name, once, and only then imported.
"""

from __future__ import annotations

import re
from functools import lru_cache
from math import isfinite, pi
from typing import Annotated, Any, NamedTuple

from pydantic import BeforeValidator
from pydantic_core import PydanticCustomError

LONGEST = 80
"""Longest text that is looked at as a quantity."""

Dimension = tuple[int, int, int, int, int, int]
"""Exponents of length, mass, time, current, temperature and angle."""

_BASES = ("[length]", "[mass]", "[time]", "[current]", "[temperature]")


class Unit(NamedTuple):
    """What a unit is in SI: ``si = value * factor + offset``."""

    dimension: Dimension
    factor: float
    offset: float = 0.0


class Example(NamedTuple):
    """Marks a field's type with a quantity of its dimension and its bounds, for documents."""

    text: str
    least: float | None = None
    """Smallest SI value, or what it must exceed."""
    most: float | None = None
    """Largest SI value."""


_NONE: Dimension = (0, 0, 0, 0, 0, 0)
_LENGTH: Dimension = (1, 0, 0, 0, 0, 0)
_MASS: Dimension = (0, 1, 0, 0, 0, 0)
_TIME: Dimension = (0, 0, 1, 0, 0, 0)
_CURRENT: Dimension = (0, 0, 0, 1, 0, 0)
_WARMTH: Dimension = (0, 0, 0, 0, 1, 0)
_ANGLE: Dimension = (0, 0, 0, 0, 0, 1)
_RATE: Dimension = (0, 0, -1, 0, 0, 0)
_FORCE: Dimension = (1, 1, -2, 0, 0, 0)
_POWER: Dimension = (2, 1, -3, 0, 0, 0)
_VOLTAGE: Dimension = (2, 1, -3, -1, 0, 0)
_RESISTANCE: Dimension = (2, 1, -3, -2, 0, 0)

EVERYDAY: dict[str, Unit] = {
    "m": Unit(_LENGTH, 1.0),
    "cm": Unit(_LENGTH, 1e-2),
    "mm": Unit(_LENGTH, 1e-3),
    "um": Unit(_LENGTH, 1e-6),
    "kg": Unit(_MASS, 1.0),
    "g": Unit(_MASS, 1e-3),
    "mg": Unit(_MASS, 1e-6),
    "s": Unit(_TIME, 1.0),
    "ms": Unit(_TIME, 1e-3),
    "us": Unit(_TIME, 1e-6),
    "min": Unit(_TIME, 60.0),
    "h": Unit(_TIME, 3600.0),
    "A": Unit(_CURRENT, 1.0),
    "mA": Unit(_CURRENT, 1e-3),
    "K": Unit(_WARMTH, 1.0),
    "degC": Unit(_WARMTH, 1.0, 273.15),
    "rad": Unit(_ANGLE, 1.0),
    "mrad": Unit(_ANGLE, 1e-3),
    "deg": Unit(_ANGLE, pi / 180.0),
    "rev": Unit(_ANGLE, 2.0 * pi),
    "rpm": Unit((0, 0, -1, 0, 0, 1), 2.0 * pi / 60.0),
    "Hz": Unit(_RATE, 1.0),
    "kHz": Unit(_RATE, 1e3),
    "MHz": Unit(_RATE, 1e6),
    "N": Unit(_FORCE, 1.0),
    "mN": Unit(_FORCE, 1e-3),
    "kN": Unit(_FORCE, 1e3),
    "J": Unit((2, 1, -2, 0, 0, 0), 1.0),
    "W": Unit(_POWER, 1.0),
    "mW": Unit(_POWER, 1e-3),
    "V": Unit(_VOLTAGE, 1.0),
    "mV": Unit(_VOLTAGE, 1e-3),
    "ohm": Unit(_RESISTANCE, 1.0),
    "mohm": Unit(_RESISTANCE, 1e-3),
    "F": Unit((-2, -1, 4, 2, 0, 0), 1.0),
    "uF": Unit((-2, -1, 4, 2, 0, 0), 1e-6),
    "Pa": Unit((-1, 1, -2, 0, 0, 0), 1.0),
    "MPa": Unit((-1, 1, -2, 0, 0, 0), 1e6),
    "bit": Unit(_NONE, 1.0),
    "kbit": Unit(_NONE, 1e3),
    "Mbit": Unit(_NONE, 1e6),
}

KINDS: dict[Dimension, str] = {
    _LENGTH: "a length",
    _MASS: "a mass",
    _TIME: "a time",
    _CURRENT: "a current",
    _WARMTH: "a temperature",
    _ANGLE: "an angle",
    _RATE: "a rate",
    _FORCE: "a force",
    _POWER: "a power",
    _VOLTAGE: "a voltage",
    _RESISTANCE: "a resistance",
    (2, 0, 0, 0, 0, 0): "an area",
    (3, 0, 0, 0, 0, 0): "a volume",
    (1, 0, -1, 0, 0, 0): "a speed",
    (1, 0, -2, 0, 0, 0): "an acceleration",
    (0, 0, -1, 0, 0, 1): "a turn rate",
    (2, 1, -2, 0, 0, 0): "a torque",
    (0, 0, 1, 1, 0, 0): "a charge",
    (2, 1, 0, 0, 0, 0): "an inertia",
    (-3, 1, 0, 0, 0, 0): "a density",
    (0, 1, -2, 0, 0, 0): "a stiffness",
    (-2, -1, 3, 0, 1, 0): "a thermal resistance",
    (-2, -1, 4, 2, 0, 0): "a capacitance",
    (-1, 1, -2, 0, 0, 0): "a pressure",
    (3, 0, -1, 0, 0, 0): "a flow",
    (1, -1, 2, 0, 0, 0): "a wear rate",
    _NONE: "a bare number",
}

_QUANTITY = re.compile(
    r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*((?![,.]).*?)\s*", re.ASCII
)
_TERM = re.compile(r"\s*([A-Za-z_%°]+)\s*(?:(?:\*\*|\^)\s*(-?\d)(?!\d))?\s*")
_SPELLING = str.maketrans(
    {"·": "*", "⋅": "*", "×": "*", "µ": "u", "μ": "u", "−": "-", "\u2126": "ohm", "\u03a9": "ohm"}
)
_POWERS = {"²": "^2", "³": "^3", "°C": "degC", "°": "deg"}


@lru_cache(maxsize=4096)
def to_si(text: str, example: str) -> float:
    """The SI magnitude of a quantity written with its unit.

    Args:
        text: For example ``"85 mm"``, ``"2.2 N*m"``, ``"35 degC"``.
        example: A quantity of the wanted dimension, shown in errors: ``"80 mm"``.

    Returns:
        Magnitude in SI units (temperature in K, angle in rad).

    Raises:
        ValueError: with one clause that says what was expected.
    """
    wanted = _read(example, example)[1].dimension
    number, unit = _read(text, example)
    if unit.dimension != wanted:
        kind = KINDS.get(wanted, "a quantity of the right kind")
        given = KINDS.get(unit.dimension, "of another kind")
        raise ValueError(f"is {given}, not {kind}; write it like '{example}'")
    value = number * unit.factor + unit.offset
    if not isfinite(value):
        raise ValueError(f"is not finite; write it like '{example}'")
    if wanted == _WARMTH and value < 0.0:
        raise ValueError("lies below absolute zero")
    return value


def _read(text: str, example: str) -> tuple[float, Unit]:
    """Number and unit of a quantity; the example only serves the error."""
    if len(text) > LONGEST:
        raise ValueError(f"is too long for a quantity; write it like '{example}'")
    plain = text.translate(_SPELLING)
    for written, spelled in _POWERS.items():
        plain = plain.replace(written, spelled)
    match = _QUANTITY.fullmatch(plain)
    if match is None:
        raise ValueError(f"{_why_no_number(plain)}; write it like '{example}'")
    if not match[2]:
        raise ValueError(f"has no unit; write it like '{example}'")
    unit = unit_of(match[2])
    if unit is None:
        raise ValueError(f"has the unknown unit '{match[2]}'; write it like '{example}'")
    return float(match[1]), unit


def _why_no_number(text: str) -> str:
    if re.match(r"\s*[+-]?(nan|inf)", text, re.IGNORECASE):
        return "is not finite"
    if re.match(r"\s*[+-]?\d+,\d", text):
        return "has a decimal comma"
    return "is not a number with a unit"


@lru_cache(maxsize=512)
def unit_of(text: str) -> Unit | None:
    """What a unit is in SI.

    Args:
        text: A product of unit names, for example ``N*m`` or ``K/W`` or ``g*cm^2``.

    Returns:
        The unit, or None where the text is none.
    """
    parts = re.split(r"(?<!\*)\*(?!\*)|(/)", text)
    terms, sign = [], 1
    for part in parts:
        if part is None:
            continue
        if part == "/":
            sign = -1
            continue
        match = _TERM.fullmatch(part)
        unit = None if match is None else _named(match[1])
        if match is None or unit is None:
            return None
        terms.append((unit, sign * int(match[2] or 1)))
        sign = 1
    if len(terms) == 1 and terms[0][1] == 1:
        return terms[0][0]
    return _product(terms)


def _product(terms: list[tuple[Unit, int]]) -> Unit | None:
    """Product of powers; a temperature inside a product is a difference."""
    dimension, factor = [0] * 6, 1.0
    for unit, power in terms:
        factor *= unit.factor**power
        dimension = [
            have + power * more for have, more in zip(dimension, unit.dimension, strict=True)
        ]
    a, b, c, d, e, f = dimension
    return Unit((a, b, c, d, e, f), factor)


def _named(name: str) -> Unit | None:
    return EVERYDAY.get(name) or _asked_of_pint(name)


@lru_cache(maxsize=256)
def _asked_of_pint(name: str) -> Unit | None:
    """A unit name that is not in the table, as pint knows it."""
    registry = _registry()
    try:
        zero = registry.Quantity(0.0, name).to_base_units()
        one = registry.Quantity(1.0, name).to_base_units()
        powers = {str(base): int(power) for base, power in one.dimensionality.items()}
        angle = int(dict(one.unit_items()).get("radian", 0))
    except Exception:  # pint raises its own, Python's and its parser's errors for odd names
        return None
    if set(powers) - set(_BASES):
        return None
    a, b, c, d, e = (powers.get(base, 0) for base in _BASES)
    offset = float(zero.magnitude)
    return Unit((a, b, c, d, e, angle), float(one.magnitude) - offset, offset)


@lru_cache(maxsize=1)
def _registry() -> Any:
    from pint import UnitRegistry

    return UnitRegistry(autoconvert_offset_to_baseunit=True)


def quantity(
    example: str,
    *,
    least: float | None = None,
    above: float | None = None,
    most: float | None = None,
) -> Any:
    """A pydantic field type: text with a unit in the sheet, an SI float in the model.

    Args:
        example: A quantity of the wanted dimension.
        least: Smallest allowed SI value, if any.
        above: The SI value must be larger than this, if given.
        most: Largest allowed SI value, if any: beyond it somebody mixed up two units.

    Returns:
        An annotated float type.
    """
    bound = least if above is None else above

    def parse(raw: object) -> float:
        if not isinstance(raw, str):
            raise _fault(f"must be text with a unit, like '{example}'")
        try:
            value = to_si(raw, example)
        except ValueError as error:
            raise _fault(str(error)) from None
        if least is not None and value < least:
            raise _fault(
                "must not be negative" if least == 0 else f"is below {shown(least, example)}"
            )
        if above is not None and value <= above:
            raise _fault(
                "must be positive" if above == 0 else f"must be above {shown(above, example)}"
            )
        if most is not None and value > most:
            raise _fault(f"is more than {shown(most, example)}; is the unit right?")
        return value

    return Annotated[float, BeforeValidator(parse), Example(example, bound, most)]


def shown(value: float, example: str) -> str:
    """An SI value in the unit of an example: ``0.08`` like ``"85 mm"`` -> ``"80 mm"``."""
    unit = _read(example, example)[1]
    name = example.strip().split(" ", 1)[-1]
    return f"{(value - unit.offset) / unit.factor:.6g} {name}"


def _fault(why: str) -> PydanticCustomError:
    return PydanticCustomError("quantity", "{why}", {"why": why})
