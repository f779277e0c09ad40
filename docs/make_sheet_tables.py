"""Writes the key tables of docs/sheet.md from the models: python docs/make_sheet_tables.py."""

from __future__ import annotations

import ast
import inspect
import types
from itertools import pairwise
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from legwright.robot.sheet import Sheet
from legwright.units import Example

PAGE = Path(__file__).parent / "sheet.md"
MARK = "<!-- tables: made by docs/make_sheet_tables.py -->"


def tables() -> str:
    """All tables of the sheet, one section each."""
    return "\n".join(_section(path, model) for path, model in _models("", Sheet))


def _models(path: str, model: type[BaseModel]) -> list[tuple[str, type[BaseModel]]]:
    found = [(path, model)]
    for name, field in model.model_fields.items():
        inner, step = _inner(field.annotation)
        if inner is not None:
            found += _models(f"{path}.{name}{step}".lstrip("."), inner)
    return found


def _inner(annotation: Any) -> tuple[type[BaseModel] | None, str]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation, ""
    step = {dict: ".NAME", tuple: "[]"}.get(get_origin(annotation), "")
    for part in get_args(annotation):
        inner, more = _inner(part)
        if inner is not None:
            return inner, step + more
    return None, ""


def _section(path: str, model: type[BaseModel]) -> str:
    title = f"[[{path[:-2]}]]" if path.endswith("[]") else f"[{path}]" if path else "Top level"
    head = f"### `{title}`\n\n{(model.__doc__ or '').strip().splitlines()[0]}\n\n"
    rows = ["| key | meaning | written like | when left out |", "| --- | --- | --- | --- |"]
    said = _attribute_docs(model)
    for name, field in model.model_fields.items():
        meaning = said.get(name, "").replace("\n", " ").replace("|", "or")
        default = (
            "required"
            if field.is_required()
            else _default(field.get_default(call_default_factory=True))
        )
        rows.append(
            f"| `{name}` | {meaning} | {_like(field.annotation, field.metadata)} | {default} |"
        )
    return head + "\n".join(rows) + "\n"


def _attribute_docs(model: type[BaseModel]) -> dict[str, str]:
    body = ast.parse(inspect.getsource(model)).body[0].body  # type: ignore[attr-defined]
    said: dict[str, str] = {}
    for one, two in pairwise(body):
        if isinstance(one, ast.AnnAssign) and isinstance(two, ast.Expr):
            said[one.target.id] = " ".join(two.value.value.split())  # type: ignore[union-attr,attr-defined]
    return said


def _like(annotation: Any, metadata: list[Any]) -> str:
    for mark in metadata:
        if isinstance(mark, Example):
            return f'`"{mark.text}"`'
    if hasattr(annotation, "__metadata__"):
        return _like(annotation.__origin__, list(annotation.__metadata__))
    inner, step = _inner(annotation)
    if inner is not None:
        return "tables" if step else "table"
    parts = [part for part in get_args(annotation) if part is not type(None)]
    kind = get_origin(annotation)
    if kind in (types.UnionType,) or str(kind) == "typing.Union":
        return _like(parts[0], [])
    if str(kind) == "typing.Literal":
        return ", ".join(f'`"{part}"`' for part in parts)
    if kind is tuple:
        return "list of " + _like(parts[0], [])
    if kind is dict:
        return "table of " + _like(parts[1], [])
    return {str: "text", float: "number", int: "whole number", bool: "true or false"}.get(
        annotation, ""
    )


def _default(value: Any) -> str:
    if value is None or isinstance(value, BaseModel) or value in ({}, ()):
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return ", ".join(str(part) for part in value)
    return f"{value:g} (SI)" if isinstance(value, float) else str(value)


def page(text: str) -> str:
    """The page with its tables made anew."""
    return text.split(MARK, 1)[0] + MARK + "\n\n" + tables()


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
