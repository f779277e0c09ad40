"""What can go wrong, said once.

The tree::

    LegwrightError
    ├── RobotError          the robot folder cannot be read or makes no sense
    ├── RequestError        the robot is fine, what was asked of it is not
    ├── RigError            a bus, a drive or a rig that cannot be used
    └── LinkError           the robot cannot be reached, or refuses; it says what to do
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from math import isfinite
from numbers import Integral, Real
from pathlib import Path

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")


def on_one_line(text: str) -> str:
    """The same with line ends and other control characters spelled out."""
    return _CONTROL.sub(lambda found: repr(found[0])[1:-1], text)


class LegwrightError(Exception):
    """Root of every error that this package raises on purpose."""


class RobotError(LegwrightError):
    """A robot description that cannot be used, with the place and the way out.

    Attributes:
        file: The file that holds the fault, or None when no file is at fault.
        place: Where in it: a key (``servo.lark.stall_torque``), a line, a link or a joint.
        problem: What is wrong, with the offending value, as one clause.
        cure: What to do about it, as one sentence.
    """

    def __init__(self, file: Path | str | None, place: str, problem: str, cure: str) -> None:
        super().__init__(file, place, problem, cure)  # same args: survives pickling
        self.file = None if file is None else Path(file)
        self.place = place
        self.problem = problem
        self.cure = cure

    def __str__(self) -> str:
        where = ", ".join(part for part in (str(self.file or ""), self.place) if part)
        return on_one_line(f"{where}: " * bool(where) + f"{self.problem}. {self.cure}")


class RequestError(LegwrightError, ValueError):
    """A value passed by the caller that the function cannot work with.

    Attributes:
        what: Name of the argument.
        value: What was passed.
        allowed: What would have been accepted.
    """

    def __init__(self, what: str, value: object, allowed: str) -> None:
        super().__init__(what, value, allowed)
        self.what, self.value, self.allowed = what, value, allowed

    def __str__(self) -> str:
        end = "" if self.allowed.endswith((".", "?")) else "."
        return f"{self.what} is {self.value!r}, must be {self.allowed}{end}"


class RigError(LegwrightError):
    """A bus, a drive or a whole rig that cannot be opened or used."""


class LinkError(LegwrightError):
    """The robot cannot be reached, or refuses what was asked.

    Attributes:
        word: A word for programs: ``refused``, ``sign-in``, ``not driver``, ``lost``, ``late``,
            ``version``, ``certificate``.
    """

    def __init__(self, word: str, text: str) -> None:
        super().__init__(word, text)
        self.word, self.text = word, text

    def __str__(self) -> str:
        return self.text


def require_number(what: str, value: object) -> None:
    """Refuse what is no finite real number.

    Args:
        what: Name of the argument.
        value: What was passed.

    Raises:
        RequestError: naming the argument and its value.
    """
    if isinstance(value, bool) or not isinstance(value, Real) or not isfinite(value):
        raise RequestError(what, value, "a finite number")


def require_whole(what: str, value: object, least: int, why: str = "") -> None:
    """Refuse what is no whole number, or too small a one.

    Args:
        what: Name of the argument.
        value: What was passed.
        least: Smallest allowed.
        why: Why no smaller one is allowed.

    Raises:
        RequestError: naming the argument, its value and the least.
    """
    if isinstance(value, bool) or not isinstance(value, Integral) or value < least:
        reason = f": {why}" if why else ""
        raise RequestError(what, value, f"a whole number, at least {least}{reason}")


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A clause that offers the nearest known words, or lists them all when few.

    Args:
        word: What was written.
        known: What would have been understood.

    Returns:
        For example ``Did you mean 'payload'?`` or ``Known here: a, b, c.``
    """
    names = sorted(set(known))
    near = difflib.get_close_matches(word, names, n=2, cutoff=0.6)
    if near:
        return "Did you mean " + " or ".join(f"'{name}'" for name in near) + "?"
    return "Known here: " + ", ".join(names) + "."
