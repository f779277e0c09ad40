"""What kind of value a key of the sheet holds: quantity, number, truth or one of some words."""

from __future__ import annotations

import ast
import inspect
import types
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import floor, log10
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt
from pydantic import BaseModel

from legwright.units import Example, unit_of

STEPS: Mapping[str, float] = {
    "mm": 1.0, "cm": 0.1, "m": 0.01, "um": 1.0, "deg": 1.0, "kg": 0.05, "g": 1.0, "s": 0.1,
    "ms": 1.0, "us": 1.0, "min": 1.0, "V": 0.1, "A": 0.5, "mA": 1.0, "A*h": 0.1, "N": 1.0,
    "N*m": 0.1, "m/s": 0.01, "deg/s": 1.0, "rad/s": 0.1, "K": 1.0, "degC": 1.0, "Hz": 10.0,
    "ohm": 0.1, "mohm": 0.5, "K/W": 0.5, "N/mm": 0.5, "kg/m^3": 10.0, "W": 0.5, "uF": 10.0,
}  # fmt: skip
"""A handy step by unit; common practice, no published source."""
GAUGES = tuple(f"{gauge} AWG" for gauge in range(8, 31, 2))
"""Wire gauges that are offered; the even ones are what is sold (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Of a leaf of the sheet."""

    example: str = ""
    """A quantity of its dimension; empty where it holds none."""
    low: float | None = None
    """SI, or bare."""
    high: float | None = None
    choices: tuple[str, ...] = ()
    whole: bool = False
    """Whether only whole numbers can be."""
    words: bool = False
    """Whether any text can be."""


def bare(annotation: Any) -> Any:
    """An annotation without its ``| None``."""
    if get_origin(annotation) in (Union, types.UnionType):
        inner = [each for each in get_args(annotation) if each is not type(None)]
        return inner[0] if len(inner) == 1 else annotation
    return annotation


def model_of(annotation: Any) -> type[BaseModel] | None:
    """The table that a field holds, or None."""
    inner = bare(annotation)
    return inner if isinstance(inner, type) and issubclass(inner, BaseModel) else None


def kind_of(annotation: Any, metadata: Iterable[Any] = ()) -> Kind | None:
    """The kind of a leaf; None for tables, lists and whatever is not for editing in place.

    Args:
        annotation: Of the field.
        metadata: Of the field.
    """
    marks = list(metadata)
    inner = bare(annotation)
    while get_origin(inner) is Annotated:
        inner, *more = get_args(inner)
        marks += more
        inner = bare(inner)
    low, high = _bounds(marks)
    for mark in marks:
        if isinstance(mark, Example):
            low = mark.least if low is None else low
            high = mark.most if high is None else high
            return Kind(example=mark.text, low=low, high=high)
    if get_origin(inner) is Literal:
        return Kind(choices=tuple(str(each) for each in get_args(inner)))
    if inner is bool:
        return Kind(choices=("true", "false"))
    if inner in (int, float):
        return Kind(low=low, high=high, whole=inner is int)
    return Kind(words=True) if inner is str else None


def _bounds(marks: Iterable[Any]) -> tuple[float | None, float | None]:
    low: float | None = None
    high: float | None = None
    for mark in marks:
        inner = getattr(mark, "metadata", ())  # pydantic's own FieldInfo
        for each in (mark, *inner):
            if isinstance(each, Ge | Gt):
                low = float(each.ge if isinstance(each, Ge) else each.gt)  # type: ignore[arg-type]
            if isinstance(each, Le | Lt):
                high = float(each.le if isinstance(each, Le) else each.lt)  # type: ignore[arg-type]
    return low, high


def in_unit(value: float | None, unit: str) -> float | None:
    """An SI value in a unit, to 9 digits; None stays None, an unknown unit gives None."""
    if value is None or not unit:
        return value
    known = unit_of(unit)
    return None if known is None else float(f"{(value - known.offset) / known.factor:.9g}")


def split(text: str) -> tuple[float | None, str]:
    """Number and unit of a quantity as written; None and nothing for words."""
    number, _, unit = text.strip().partition(" ")
    try:
        return float(number), unit.strip()
    except ValueError:
        return None, ""


def step_of(number: float | None, unit: str, *, whole: bool) -> float:
    """A handy step: by the unit, else one in the second digit of the number."""
    if whole:
        return 1.0
    if unit in STEPS:
        return STEPS[unit]
    if not number:
        return 0.01
    return float(f"{10.0 ** (floor(log10(abs(number))) - 1):.1g}")


@lru_cache(maxsize=64)
def meanings(model: type[BaseModel]) -> Mapping[str, str]:
    """Field name -> its meaning, as the model's source says it."""
    found: dict[str, str] = {}
    try:
        whole = ast.parse(inspect.getsource(model)).body[0]
    except (OSError, TypeError, SyntaxError):
        return found
    if not isinstance(whole, ast.ClassDef):
        return found
    for one, two in pairwise(whole.body):
        if not (isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name)):
            continue
        if isinstance(two, ast.Expr) and isinstance(two.value, ast.Constant):
            found[one.target.id] = " ".join(str(two.value.value).split())
    return found
