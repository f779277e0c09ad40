"""XML text in, plain elements with line numbers out; hostile or broken files refused early."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from xml.parsers import expat

from legwright.errors import RobotError

LARGEST_FILE = 20_000_000
"""Bytes; a description without its meshes is far smaller."""
DEEPEST = 200
"""Levels of nesting; a URDF needs five."""


@dataclass(slots=True, eq=False)
class Element:
    """One XML element; text between the tags is left out, URDF has none that matters."""

    tag: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)

    def first(self, tag: str) -> Element | None:
        """The first child with a tag, if any."""
        return next(self.all(tag), None)

    def all(self, tag: str) -> Iterator[Element]:
        """The children with a tag, in the order of the file."""
        return (child for child in self.children if child.tag == tag)


def read_text(path: Path) -> str:
    """The text of a description file.

    Args:
        path: The file.

    Returns:
        Its text.

    Raises:
        RobotError: if it is missing, no file, empty, too large or not UTF-8.
    """
    try:
        if not path.exists():
            raise RobotError(path, "", "does not exist", "Check the path.")
        if not path.is_file():
            raise RobotError(path, "", "is not a file", "Name a .urdf file.")
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise RobotError(
                path,
                "",
                f"is {size / 1e6:.0f} MB, larger than {LARGEST_FILE / 1e6:.0f} MB",
                "Keep meshes in files of their own; a URDF only names them.",
            )
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "is not a usable path"
        raise RobotError(path, "", f"cannot be read: {reason}", "Check path and rights.") from None
    if not raw.strip():
        raise RobotError(path, "", "is empty", "Write the robot's links and joints into it.")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise RobotError(
            path, f"line {line}", "is not UTF-8 text", "Save the file with UTF-8 encoding."
        ) from None


class _Builder:
    """Collects elements while the parser runs."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.parser = expat.ParserCreate("utf-8")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.StartDoctypeDeclHandler = self.refuse_doctype
        self.open: list[Element] = []
        self.root: Element | None = None

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        line = self.parser.CurrentLineNumber
        if len(self.open) >= DEEPEST:
            raise RobotError(
                self.path,
                f"line {line}",
                f"nests elements more than {DEEPEST} deep",
                "A URDF lists links and joints side by side; close the elements.",
            )
        element = Element(tag, attributes, line)
        if self.open:
            self.open[-1].children.append(element)
        else:
            self.root = element
        self.open.append(element)

    def end(self, _tag: str) -> None:
        self.open.pop()

    def refuse_doctype(self, *_: object) -> None:
        raise RobotError(
            self.path,
            f"line {self.parser.CurrentLineNumber}",
            "has a DOCTYPE, which may define or load entities",
            "Remove the <!DOCTYPE ...> declaration; a URDF needs none.",
        )


def parse_xml(text: str, path: Path) -> Element:
    """The root element of an XML text.

    Args:
        text: The whole text.
        path: Where it comes from, for errors.

    Returns:
        The root, all below it reachable through `Element.children`.

    Raises:
        RobotError: if it is not XML, is cut off, holds a DOCTYPE or nests absurdly deep.
    """
    builder = _Builder(path)
    try:
        builder.parser.Parse(text.encode("utf-8", "surrogatepass"), True)
    except expat.ExpatError as error:
        reason = expat.ErrorString(error.code) or "malformed"
        cut_off = builder.root is not None and bool(builder.open) and "no element" in reason
        raise RobotError(
            path,
            f"line {error.lineno}",
            "ends before its elements are closed" if cut_off else f"is not XML: {reason}",
            "Open it in an editor that marks XML faults, or export it again.",
        ) from None
    if builder.root is None:
        raise RobotError(path, "", "holds no XML element", "A URDF starts with <robot name=...>.")
    return builder.root
