"""Numbers, names and poses out of XML attributes, each fault with its place."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import NoReturn

from legwright.errors import RobotError
from legwright.robot.placement import pose_of
from legwright.robot.tree import Floats, read_only
from legwright.robot.xml_text import Element

LONGEST = 1000.0
"""Metres; anything farther away is a slip of units."""
LARGEST = 1e9
"""No mass, inertia, force or speed of a robot is larger, in SI units."""


@dataclass(frozen=True, slots=True)
class Reader:
    """Reads the attributes of one link or joint."""

    path: Path
    what: str
    """For example ``joint 'knee'``."""

    def fail(self, element: Element, problem: str, cure: str) -> NoReturn:
        """Refuse an element."""
        raise RobotError(self.path, f"line {element.line}, {self.what}", problem, cure)

    def numbers(self, element: Element, key: str, count: int) -> tuple[float, ...] | None:
        """Finite numbers of an attribute, None where it is absent."""
        text = element.attributes.get(key)
        if text is None:
            return None
        words = text.split()
        if len(words) != count:
            wanted = "one number" if count == 1 else f"{count} numbers"
            self.fail(
                element,
                f"<{element.tag}> {key}={text[:60]!r} holds {len(words)}, not {wanted}",
                f"Write {wanted}" + (" with spaces between." if count > 1 else "."),
            )
        return tuple(self._number(element, key, word) for word in words)

    def number(self, element: Element, key: str) -> float | None:
        """One finite number, None where the attribute is absent."""
        values = self.numbers(element, key, 1)
        return None if values is None else values[0]

    def needed(self, element: Element, key: str) -> float:
        """One finite number that must be there."""
        value = self.number(element, key)
        if value is None:
            self.fail(element, f"<{element.tag}> lacks {key}", f'Add {key}="...".')
        return value

    def word(self, element: Element, key: str) -> str:
        """A text that must be there and not empty."""
        text = element.attributes.get(key, "").strip()
        if not text:
            self.fail(element, f"<{element.tag}> has no {key}", f'Add {key}="...".')
        return text

    def origin(self, element: Element) -> Floats:
        """Pose of the element's <origin>, the identity where there is none, (4, 4)."""
        origin = element.first("origin")
        if origin is None:
            return read_only(pose_of((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)))
        x, y, z = self.numbers(origin, "xyz", 3) or (0.0, 0.0, 0.0)
        roll, pitch, yaw = self.numbers(origin, "rpy", 3) or (0.0, 0.0, 0.0)
        if max(abs(x), abs(y), abs(z)) > LONGEST:
            self.fail(
                origin,
                f"<origin> xyz={origin.attributes['xyz']!r} lies more than {LONGEST:g} m away",
                "Lengths are in metres; was this written in millimetres?",
            )
        return read_only(pose_of((x, y, z), (roll, pitch, yaw)))

    def _number(self, element: Element, key: str, word: str) -> float:
        try:
            value = float(word) if "_" not in word else float("nan")
        except ValueError:
            self.fail(
                element,
                f"<{element.tag}> {key} holds {word[:40]!r}, which is not a number",
                "Write plain decimal numbers in SI units.",
            )
        if not isfinite(value) or abs(value) > LARGEST:
            self.fail(
                element,
                f"<{element.tag}> {key} holds {word[:40]!r}, which is not a finite, sane number",
                "Write plain decimal numbers in SI units.",
            )
        return value
