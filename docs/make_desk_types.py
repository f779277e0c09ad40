"""Writes page/src/wire.ts from the desk's messages: python docs/make_desk_types.py.

The page's types are made from the Python ones, so the two cannot drift apart; a test shows that
the file is current.
"""

from __future__ import annotations

import ast
import inspect
from itertools import pairwise
from pathlib import Path
from typing import Any, get_args

import msgspec
from msgspec import inspect as kinds

from legwright.views.desk import (
    asked,
    blocks,
    said,
    said_drive,
    said_shape,
    said_sheet,
    said_verdict,
    said_walk,
)

FILE = Path(__file__).parent.parent / "page" / "src" / "wire.ts"

SAID = (said_sheet, said_shape, said_verdict, said_walk, said_drive)

HEAD = """\
// The wire between desk and page. Made by `python docs/make_desk_types.py` from the messages in
// src/legwright/views/desk: change those, not this file.

"""

READER = """\
/** A block's arrays by name, as views into the frame. */
export type Arrays = Record<string, Float32Array>;

/** A block: header and arrays. */
export interface Received {
  header: AnyBlock;
  arrays: Arrays;
}

/** Take a binary frame apart; throws where it is too short for what its header names. */
export function readBlock(frame: ArrayBuffer): Received {
  const length = new DataView(frame).getUint32(0, true);
  const text = new TextDecoder().decode(new Uint8Array(frame, 4, length));
  const header = JSON.parse(text) as AnyBlock;
  const arrays: Arrays = {};
  let at = 4 + length;
  for (const { name, shape } of header.arrays) {
    const count = shape.reduce((product, n) => product * n, 1);
    arrays[name] = new Float32Array(frame, at, count);
    at += 4 * count;
  }
  return { header, arrays };
}
"""


def text() -> str:
    """The whole file."""
    parts = [HEAD, f"export const VERSION = {asked.VERSION};\n"]
    for title, module, union in (
        ("From page to desk", asked, asked.AnyAsked),
        ("From desk to page, as text", said, said.AnySaid),
        ("From desk to page, as blocks", blocks, blocks.AnyBlock),
    ):
        name = {asked: "AnyAsked", said: "AnySaid", blocks: "AnyBlock"}[module]
        parts.append(f"\n// {title} {'-' * (94 - len(title))}\n\n")
        for one in SAID if module is said else (module,):
            parts += [_interface(each, defaults=module is asked) for each in _structs(one)]
        members = " | ".join(_name(each) for each in get_args(union))
        parts.append(f"export type {name} =\n  {members.replace(' | ', chr(10) + '  | ')};\n\n")
    parts.append(READER)
    return "".join(parts)


def _structs(module: Any) -> list[Any]:
    """A module's structs that go over the wire, in the order of the file."""
    bases = {"Asked", "Numbered", "Said", "Block"}
    return [
        each
        for name, each in vars(module).items()
        if inspect.isclass(each)
        and issubclass(each, msgspec.Struct)
        and each.__module__ == module.__name__
        and name not in bases
    ]


def _name(struct: Any) -> str:
    """Its name on the page; some names mean other things there."""
    return {"Array": "ArrayPlace", "Field": "SheetField"}.get(struct.__name__, struct.__name__)


def _interface(struct: Any, *, defaults: bool) -> str:
    info = kinds.type_info(struct)
    if not isinstance(info, kinds.StructType):
        raise TypeError(struct)
    lines = [_doc(inspect.getdoc(struct) or "", ""), f"export interface {_name(struct)} {{\n"]
    if isinstance(info.tag, str):
        lines.append(f'  type: "{info.tag}";\n')
    words = _attribute_docs(struct)
    for field in info.fields:
        if field.name in words:
            lines.append(_doc(words[field.name], "  "))
        optional = "?" if defaults and not field.required else ""
        lines.append(f"  {field.encode_name}{optional}: {_type(field.type)};\n")
    return "".join(lines) + "}\n\n"


def _doc(words: str, indent: str) -> str:
    rows = [row.rstrip() for row in words.strip().splitlines()]
    if len(rows) == 1:
        return f"{indent}/** {rows[0]} */\n"
    body = "".join(f"{indent} * {row}".rstrip() + "\n" for row in rows)
    return f"{indent}/**\n{body}{indent} */\n"


def _attribute_docs(struct: Any) -> dict[str, str]:
    """Attribute name -> its words, those of the bases too."""
    found: dict[str, str] = {}
    for each in reversed(struct.__mro__):
        if each is msgspec.Struct or not issubclass(each, msgspec.Struct):
            continue
        body = ast.parse(inspect.getsource(each)).body[0].body  # type: ignore[attr-defined]
        for one, two in pairwise(body):
            if isinstance(one, ast.AnnAssign) and isinstance(two, ast.Expr):
                found[one.target.id] = inspect.cleandoc(two.value.value)  # type: ignore[union-attr,attr-defined]
    return found


def _type(kind: Any) -> str:
    if isinstance(kind, kinds.UnionType):
        return " | ".join(dict.fromkeys(_type(each) for each in kind.types))
    if isinstance(kind, kinds.LiteralType):
        return " | ".join(f'"{each}"' for each in sorted(kind.values))
    if isinstance(kind, kinds.StructType):
        return _name(kind.cls)
    if isinstance(kind, kinds.VarTupleType):
        inner = _type(kind.item_type)
        return f"({inner})[]" if "|" in inner else f"{inner}[]"
    if isinstance(kind, kinds.TupleType):
        return f"[{', '.join(_type(each) for each in kind.item_types)}]"
    if isinstance(kind, kinds.DictType):
        return f"Record<{_type(kind.key_type)}, {_type(kind.value_type)}>"
    plain = {
        kinds.IntType: "number", kinds.FloatType: "number", kinds.StrType: "string",
        kinds.BoolType: "boolean", kinds.NoneType: "null",
    }  # fmt: skip
    return plain[type(kind)]


if __name__ == "__main__":
    FILE.parent.mkdir(parents=True, exist_ok=True)
    FILE.write_text(text(), encoding="utf-8")
    print(FILE)
