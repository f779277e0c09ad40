"""The faults of a sheet, translated from the checker's words into the trade's."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from legwright.errors import RobotError, did_you_mean
from legwright.robot.sheet import Sheet
from legwright.robot.sheet_text import KeyPath, SheetText

_MISSING = object()
LONGEST_VALUE = 60
"""Longest piece of a value that is quoted in an error."""


def lacks(source: Path, place: str, problem: str, cure: str) -> RobotError:
    """The fault of a robot that does not state what a command needs.

    Args:
        source: The sheet or bare URDF that was read.
        place: The table that is missing.
        problem: What is wrong, as one clause.
        cure: What to state, as one sentence.

    Returns:
        The error to raise; it says how a bare URDF gets a sheet.
    """
    if source.suffix.lower() == ".urdf":
        cure = f"A URDF cannot say it: write a build sheet with 'legwright adopt {source}'. {cure}"
    return RobotError(source, place, problem, cure)


def first_fault(text: SheetText, table: Mapping[str, Any], error: ValidationError) -> RobotError:
    """The first fault in file order, with a count of the others.

    Args:
        text: The sheet as read.
        table: The table that was checked.
        error: What the checker found.

    Returns:
        The error to raise.
    """
    found = sorted(error.errors(include_url=False), key=lambda each: _rank(table, each["loc"]))
    fault = found[0]
    problem, cure = _words(fault, _value_at(table, fault["loc"]))
    others = len(found) - 1
    if others:
        cure += f" {others} more fault{'s' if others > 1 else ''} after this one."
    place = key_name(fault["loc"])
    return RobotError(text.file_of(fault["loc"]), place, _one_line(problem), _one_line(cure))


def _one_line(words: str) -> str:
    """A sentence in which line ends and other signs without a shape are written out."""
    return "".join(c if c.isprintable() or c == "\u202f" else repr(c)[1:-1] for c in words)


def key_name(key: KeyPath) -> str:
    """``servo.lark.stall_torque``; list places in brackets, counted from 1."""
    name = ""
    for part in key:
        if isinstance(part, int):
            name += f"[{part + 1}]"
        else:
            plain = part.replace("_", "").replace("-", "").isalnum()
            shown = part if plain and len(part) <= LONGEST_VALUE else repr(part[:LONGEST_VALUE])
            name += f".{shown}" if name else shown
    return name


def quoted(value: object) -> str:
    """A value as one writes it in a sheet, shortened."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list" if len(str(value)) > LONGEST_VALUE else str(value)
    shown = f'"{value}"' if isinstance(value, str) else str(value)
    return shown if len(shown) <= LONGEST_VALUE else shown[:LONGEST_VALUE] + '…"'


def _rank(table: Mapping[str, Any], key: KeyPath) -> tuple[int, ...]:
    """Place of a key in the order of the file; what is missing comes after its neighbours."""
    rank: list[int] = []
    here: Any = table
    for part in key:
        below = _step(here, part)
        if below is _MISSING:
            return (*rank, 1_000_000)
        rank.append(part if isinstance(part, int) else list(here).index(part))
        here = below
    return tuple(rank)


def _value_at(table: Mapping[str, Any], key: KeyPath) -> object:
    here: Any = table
    for part in key:
        here = _step(here, part)
    return here


def _step(here: object, part: str | int) -> object:
    """What lies under one part of a key."""
    if isinstance(here, Mapping):
        return here.get(part, _MISSING)
    if isinstance(here, list) and isinstance(part, int) and part < len(here):
        return here[part]
    return _MISSING


def _words(fault: ErrorDetails, value: object) -> tuple[str, str]:
    """Problem and cure of one fault."""
    kind, context = fault["type"], fault.get("ctx", {})
    if kind == "missing":
        return "is missing", "State it."
    if kind == "extra_forbidden":
        return "is not a key known here", did_you_mean(str(fault["loc"][-1]), _known(fault["loc"]))
    if kind == "quantity":
        why, _, advice = str(context["why"]).partition("; ")
        cure = (
            f"{advice[0].upper()}{advice[1:].rstrip('?')}{'?' * advice.endswith('?')}"
            if advice
            else ""
        )
        return f"{quoted(value)} {why}", _sentence(cure or "Correct the value")
    if kind == "literal_error":
        allowed = str(context["expected"]).replace("'", '"')
        return f"is {quoted(value)}, not one of the words known here", f"Write {allowed}."
    wanted = _WANTED.get(kind)
    if wanted is not None:
        return f"is {quoted(value)}, not {wanted}", f"Write {wanted}."
    message = fault["msg"].removeprefix("Input ").removeprefix("Value error, ")
    return f"is {quoted(value)}, but {message}", "Correct the value."


_WANTED = {
    "string_type": "a text in quotes",
    "int_type": "a whole number without quotes",
    "float_type": "a bare number without quotes",
    "bool_type": "true or false",
    "tuple_type": "a list in brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
}


def _sentence(text: str) -> str:
    return text if text.endswith((".", "?", "!")) else text + "."


def _known(key: KeyPath) -> list[str]:
    """Keys that the table around a key knows."""
    annotation: Any = Sheet
    for part in key[:-1]:
        annotation = _inside(annotation, part)
    model = _bare(annotation)
    own = ["extends", "schema", "servo_files"] if model is Sheet else []
    return [*getattr(model, "model_fields", {}), *own]


def _inside(annotation: Any, part: str | int) -> Any:
    """What a field, a dictionary's value or a list's entry is annotated with."""
    bare = _bare(annotation)
    if isinstance(bare, type) and issubclass(bare, BaseModel):
        field = bare.model_fields.get(str(part))
        return None if field is None else field.annotation
    inner = getattr(bare, "__args__", ())
    return inner[-1 if isinstance(part, str) else 0] if inner else None


def _bare(annotation: Any) -> Any:
    """An annotation without its ``| None``."""
    inner = getattr(annotation, "__args__", ())
    if type(None) in inner:
        return next(each for each in inner if each is not type(None))
    return annotation
