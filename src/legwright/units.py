"""Quantities at the edge: text with a unit in, SI numbers inside."""

from __future__ import annotations

from functools import cache
from math import isfinite
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BeforeValidator
from pydantic_core import PydanticCustomError

if TYPE_CHECKING:
    from pint import UnitRegistry

TEMPERATURES = {"degC": 273.15, "°C": 273.15, "K": 0.0}


@cache
def _registry() -> UnitRegistry[float]:
    from pint import UnitRegistry

    registry: UnitRegistry[float] = UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define("rpm = revolution / minute")
    return registry


def to_si(text: str, example: str) -> float:
    """The SI magnitude of a quantity written with its unit.

    Args:
        text: For example ``"85 mm"``, ``"2.2 N*m"``, ``"35 degC"``.
        example: A quantity of the wanted dimension, shown in errors: ``"80 mm"``.

    Returns:
        Magnitude in SI units (temperature in K).

    Raises:
        ValueError: with one clause that says what was expected.
    """
    import pint

    registry = _registry()
    try:
        wanted = registry.Quantity(example).to_base_units()
        given = registry.Quantity(text.replace("·", "*").replace("°C", "degC").replace("Ω", "ohm"))
        if not isinstance(given, registry.Quantity) or given.unitless:
            raise ValueError(f"has no unit; write it like '{example}'")
        value = float(given.to(wanted.units).magnitude)
    except pint.DimensionalityError:
        raise ValueError(f"is not of the kind '{example}'") from None
    except (pint.PintError, AttributeError, TypeError, SyntaxError, ArithmeticError):
        raise ValueError(f"is not a quantity; write it like '{example}'") from None
    except Exception as error:
        if isinstance(error, ValueError) and "write it like" in str(error):
            raise
        raise ValueError(f"is not a quantity; write it like '{example}'") from None
    if not isfinite(value):
        raise ValueError(f"is not finite; write it like '{example}'")
    return value


def quantity(example: str, *, least: float | None = None, above: float | None = None) -> Any:
    """A pydantic field type: text with a unit in the sheet, an SI float in the model.

    Args:
        example: A quantity of the wanted dimension.
        least: Smallest allowed SI value, if any.
        above: The SI value must be larger than this, if given.

    Returns:
        An annotated float type.
    """

    def parse(raw: object) -> float:
        if not isinstance(raw, str):
            raise PydanticCustomError("quantity", "must be text with a unit, like '{example}'",
                                      {"example": example})
        try:
            value = to_si(raw, example)
        except ValueError as error:
            raise PydanticCustomError("quantity", "{why}", {"why": str(error)}) from None
        if least is not None and value < least:
            raise PydanticCustomError("quantity", "must be at least {least:g} in SI units",
                                      {"least": least})
        if above is not None and value <= above:
            raise PydanticCustomError("quantity", "must be more than {above:g} in SI units",
                                      {"above": above})
        return value

    return Annotated[float, BeforeValidator(parse)]
