"""The keys of a sheet that can be edited in place, each with what a page needs to offer it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal, NamedTuple, get_args

from pydantic import BaseModel

from legwright.errors import LegwrightError
from legwright.locomotion.stance import footing
from legwright.mechanics.loads import ASSUMED_FRICTION
from legwright.robot.robot import Robot
from legwright.robot.sheet import Sheet
from legwright.robot.sheet_faults import quoted
from legwright.robot.sheet_keys import at_key, key_path
from legwright.robot.sheet_text import SheetText
from legwright.units import shown
from legwright.views.desk.field_kinds import (
    GAUGES,
    Kind,
    bare,
    in_unit,
    kind_of,
    meanings,
    model_of,
    split,
    step_of,
)
from legwright.views.desk.said import Field

Path = tuple[str | int, ...]

WORDS = {"about", "owner", "identification", "revision"}
"""Keys of the sheet's top that hold any text; other texts are names of files or of other tables."""
SKIPPED = {"legs", "shells", "gait", "by_gait", "nodes", "drive", "pad", "route", "not_legs"}
"""Tables that are no matter of a value typed in place."""
ALWAYS = {
    "requirements", "stance", "foot", "dimensions", "travel", "coxa", "femur", "tibia", "zero",
    "plates", "segments",
}  # fmt: skip
"""Tables of which also what is not stated is offered, once they stand in the sheet."""
CORNERS = ("x", "y", "z")
EXAMPLES: Mapping[Path, str] = {("stance", "cycle"): "1.2 s"}
"""Quantities whose usual unit is not that of their kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One key that a table of the sheet knows."""

    name: str
    annotation: Any
    inner: type[BaseModel] | None
    kind: Kind | None
    about: str
    default: object


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """A key with the kind of its value."""

    path: Path
    kind: Kind
    about: str
    default: object


class Known(NamedTuple):
    """Fields of one table of the sheet, and all that they were made of."""

    made_of: tuple[object, ...]
    fields: tuple[Field, ...]


def fields_of(
    robot: Robot, now: SheetText, kept: SheetText, known: dict[str, Known] | None = None
) -> tuple[Field, ...]:
    """All fields of a robot's sheet, in the sheet's order.

    Args:
        robot: The robot that `now` describes; gives what the sheet leaves open.
        now: The sheet's content, with the edits.
        kept: The content on disk.
        known: Table -> its fields of an earlier edit, taken over where the table is the same
            object; filled.
    """
    known = {} if known is None else known
    found = _found(robot, now)
    lists = now.table.get("servo"), now.table.get("harness")  # they offer choices elsewhere
    fields: list[Field] = []
    for entry in _entries_of(Sheet):
        name = entry.name
        made_of = now.table.get(name), kept.table.get(name), *lists, found.get(name)
        last = known.get(name)
        if last is None or any(a is not b for a, b in zip(last.made_of, made_of, strict=True)):
            own = found.get(name, {})
            known[name] = last = Known(made_of, tuple(_fields(entry, now, kept, own)))
        fields += last.fields
    return tuple(fields)


def _fields(
    entry: Entry, now: SheetText, kept: SheetText, found: Mapping[str, str]
) -> Iterator[Field]:
    """Those of one key or table at the top of the sheet."""
    for leaf in _leaves_of(entry, now.table, ()):
        stated = at_key(now.table, leaf.path)
        if not isinstance(stated, (list, dict)):
            yield _field(leaf, stated, at_key(kept.table, leaf.path), now.table, found)


def key_of(path: Path) -> str:
    """A path as errors print it: places of lists in brackets, counted from 1."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
            continue
        plain = not re.search(r"[.\[\]\"'\s]", part)
        text += ("." if text else "") + (part if plain else f'"{part}"')
    return text


def same_key(key: str) -> str:
    """A key as `Field` spells it.

    Raises:
        RequestError: when it is no key.
    """
    return key_of(key_path(key))


@lru_cache(maxsize=64)
def _entries_of(model: type[BaseModel]) -> tuple[Entry, ...]:
    """What a table of the sheet knows."""
    said = meanings(model)
    return tuple(
        Entry(
            name=name,
            annotation=info.annotation,
            inner=model_of(info.annotation),
            kind=kind_of(info.annotation, info.metadata),
            about=said.get(name, ""),
            default=None if info.is_required() else info.get_default(call_default_factory=True),
        )
        for name, info in model.model_fields.items()
        if name not in SKIPPED
    )


def _leaves(model: type[BaseModel], table: Mapping[str, Any], at: Path) -> Iterator[Leaf]:
    """Keys under a table: all that the sheet states, and in some tables what it may state."""
    for entry in _entries_of(model):
        yield from _leaves_of(entry, table, at)


def _leaves_of(entry: Entry, table: Mapping[str, Any], at: Path) -> Iterator[Leaf]:
    """Those of one entry of a table."""
    path: Path = (*at, entry.name)
    held, kind = table.get(entry.name), entry.kind
    if entry.inner is not None:
        if isinstance(held, dict) or (entry.name in ALWAYS and path != ("dimensions",)):
            yield from _leaves(entry.inner, held if isinstance(held, dict) else {}, path)
    elif kind is not None:
        offered = held is not None or (bool(at) and at[-1] in ALWAYS)
        if offered and not (kind.words and not _worded(path)):
            usual = replace(kind, example=EXAMPLES.get(path[:2], kind.example))
            yield Leaf(path=path, kind=usual, about=entry.about, default=entry.default)
    elif isinstance(held, dict):
        yield from _named(entry, held, path)
    elif isinstance(held, list):
        yield from _places(entry.annotation, held, path, entry.about)


def _worded(path: Path) -> bool:
    """Whether a text at a path is one to type, or a choice of `_choices`."""
    return (len(path) == 1 and path[0] in WORDS) or path[-1] in ("conductor", "connector", "gauge")


def _named(entry: Entry, held: Mapping[str, Any], at: Path) -> Iterator[Leaf]:
    """Entries of a table whose keys are names."""
    arguments = get_args(bare(entry.annotation))
    if len(arguments) != 2:
        return
    inner = model_of(arguments[1])
    for name, value in held.items():
        if inner is not None and isinstance(value, dict):
            yield from _leaves(inner, value, (*at, name))
            continue
        kind = kind_of(arguments[1])
        if kind is not None and (not kind.words or at == ("fit",)):
            yield Leaf(path=(*at, name), kind=kind, about=entry.about, default=None)


def _places(annotation: Any, held: list[Any], at: Path, about: str) -> Iterator[Leaf]:
    """Quantities in lists, and in lists of lists."""
    arguments = [each for each in get_args(bare(annotation)) if each is not Ellipsis]
    for index, value in enumerate(held):
        inner = arguments[min(index, len(arguments) - 1)] if arguments else None
        if isinstance(value, list):
            yield from _places(inner, value, (*at, index), about)
            continue
        kind = kind_of(inner)
        if kind is not None and not kind.words:
            yield Leaf(path=(*at, index), kind=kind, about=about, default=None)


def _field(
    leaf: Leaf, stated: object, kept: object, table: Mapping[str, Any], found: Mapping[str, str]
) -> Field:
    key, kind = key_of(leaf.path), leaf.kind
    origin: Literal["set", "derived", "assumed"] = "set"
    value = _text(stated)
    if stated is None and key in found:
        origin, value = "derived", found[key]
    elif stated is None:
        origin, value = "assumed", _assumed(leaf)
    number, unit = split(value or kind.example)
    unit = unit or (split(kind.example)[1] if kind.example else "")
    choices = _choices(leaf, table)
    if choices and value and value not in choices:
        choices = (value, *choices)
    numeric = not choices and not kind.words
    return Field(
        key=key,
        label=_label(leaf.path),
        group=str(leaf.path[0]) if len(leaf.path) > 1 else "sheet",
        value=value,
        number=number if value and numeric else None,
        unit=unit if numeric else "",
        low=in_unit(kind.low, unit) if numeric else None,
        high=in_unit(kind.high, unit) if numeric else None,
        step=step_of(number, unit, whole=kind.whole) if numeric else None,
        origin=origin,
        choices=choices,
        about=leaf.about,
        kept=_text(kept),
    )


def _text(value: object) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else quoted(value)


def _assumed(leaf: Leaf) -> str:
    """What is taken where the sheet says nothing; empty where that is nothing."""
    if leaf.path == ("requirements", "friction"):
        return f"{ASSUMED_FRICTION:g}"
    if leaf.default is None or isinstance(leaf.default, BaseModel | dict | tuple):
        return ""
    if leaf.kind.example and isinstance(leaf.default, float):
        return shown(leaf.default, leaf.kind.example)
    return _text(leaf.default)


def _found(robot: Robot, now: SheetText) -> Mapping[str, Mapping[str, str]]:
    """Table -> key -> what the program found for it, as the sheet would write it."""
    if all(at_key(now.table, ("stance", key)) for key in ("body_height", "foot_distance")):
        return {}  # finding a stance takes longer than all else here
    try:
        stand = footing(robot)
    except LegwrightError:
        return {}
    away = ((stand.feet[:, :2] - robot.hips[:, :2]) ** 2).sum(axis=1) ** 0.5
    return {
        "stance": {
            "stance.body_height": shown(round(stand.height, 4), "105 mm"),
            "stance.foot_distance": shown(round(float(away.mean()), 4), "105 mm"),
        }
    }


def _choices(leaf: Leaf, table: Mapping[str, Any]) -> tuple[str, ...]:
    """The words that can be, where a key names another table or a standard size."""
    harness = table.get("harness")
    if leaf.path[0] == "fit":
        return tuple(table.get("servo", {}))
    if leaf.path[-1] == "gauge":
        return GAUGES
    if leaf.path[-1] in ("conductor", "connector") and isinstance(harness, dict):
        return tuple(harness.get(str(leaf.path[-1]), {}))
    return leaf.kind.choices


def _label(path: Path) -> str:
    """The last part of a key in words, with the name of the entry that it belongs to."""
    words = [str(part).replace("_", " ") for part in path if isinstance(part, str)]
    places = [part for part in path if isinstance(part, int)]
    label = words[-1] if len(words) < 3 else f"{words[-2]} {words[-1]}"
    if path[0] == "fit":
        return f"servo of {label.replace('*', '').strip() or 'all'}"
    if not places:
        return label
    if path[:2] == ("dimensions", "hips") and len(places) == 2:
        return f"hip {places[0] + 1} {('x', 'y', 'yaw')[places[1]]}"
    corner = CORNERS[places[-1]] if places[-1] < len(CORNERS) else str(places[-1] + 1)
    return f"{label} {corner}" if len(path) - len(words) == 1 else label
