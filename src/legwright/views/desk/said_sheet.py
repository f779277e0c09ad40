"""What the desk tells of the sheet: what can be edited, what differs, what could not be done."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from legwright.views.desk.telling import Said


class Field(Struct, frozen=True, kw_only=True):
    """One key of the sheet that can be edited in place."""

    key: str
    """``dimensions.femur``"""
    label: str
    """In words: ``femur``."""
    group: str
    """Heading that it stands under: ``dimensions``."""
    value: str
    """As the sheet writes it: ``85 mm``; empty where the sheet does not say."""
    number: float | None
    """The number in `value`, in `unit`; null for words."""
    unit: str
    """Empty for bare numbers and words."""
    low: float | None
    """Least number that can be, in `unit`; null: no bound."""
    high: float | None
    step: float | None
    """A handy step, in `unit`; null for words."""
    origin: Literal["set", "derived", "assumed"]
    """Stated in the sheet; found by the program; taken for want of anything stated."""
    choices: tuple[str, ...]
    """The only words that can be, if any: servo ids, gauges."""
    about: str
    """One sentence on its meaning."""
    kept: str
    """The value on disk."""


class Named(Struct, frozen=True, kw_only=True):
    """A gait of this robot."""

    name: str
    duty: float
    phases: dict[str, float]
    """Leg -> share of the cycle at which it touches down."""


class Welcome(Said, frozen=True, kw_only=True, tag="welcome"):
    """Answers `hello`, and comes again when anything in it changes."""

    version: int
    robot: str
    folder: str
    """Name of the robot's folder."""
    file: str
    """In it: the sheet, or the description of a robot without one."""
    fixed: str
    """What cannot be edited here, why, and how to get further; empty where a sheet makes it all."""
    about: str
    owner: str
    identification: str
    variant: str
    """Name of the folder that was kept last, or the robot's own."""
    revision: str
    """The sheet's own."""
    rev: int
    legs: dict[str, tuple[str, ...]]
    """Leg -> its joints, base to foot."""
    short: dict[str, str]
    """Leg -> its name on drawings: L1, R3."""
    joints: tuple[str, ...]
    """The J axis of every array."""
    servos: dict[str, str]
    """Joint -> servo id; empty where the sheet names none."""
    cases: tuple[str, ...]
    """What the study walks."""
    case: str
    """The one that is shown; empty for a walk of the user's own."""
    gaits: tuple[Named, ...]
    grounds: tuple[str, ...]
    recordings: tuple[str, ...]
    variants: tuple[str, ...]
    """Folders beside the robot's that can be compared with."""
    compared: str
    """The one that is; empty for what is on disk."""
    notes: tuple[str, ...]
    """What was assumed while reading."""


class Refused(Said, frozen=True, kw_only=True, tag="refused"):
    """Something asked for could not be done; nothing has changed."""

    n: int
    """Of the message; 0 where it had none."""
    key: str
    """Of the sheet, where one is at fault."""
    text: str
    """What is wrong and how to cure it, for people."""


class Done(Said, frozen=True, kw_only=True, tag="done"):
    """Something that leaves no other trace has been done."""

    n: int
    text: str


class Change(Struct, frozen=True, kw_only=True):
    """One key that differs from what is on disk."""

    key: str
    before: str
    after: str


class Edits(Said, frozen=True, kw_only=True, tag="edits"):
    """What differs from what is on disk."""

    rev: int
    list: tuple[Change, ...]
    undo: str
    """What undo would take back, in words; empty when there is nothing."""
    redo: str
    kept: str
    """Variant folder that these edits were written to; empty where they are not."""
    read: str
    """What came of files on disk that changed, in words; empty where none has since the last
    edit."""
    unread: bool
    """Whether the files as they are now make no robot: what is shown is of before."""
    under: str
    """What the blocks of ``before`` are of: ``on disk``, or the compared variant; empty where
    nothing lies under the robot: then pages forget what they have of it."""


class Fields(Said, frozen=True, kw_only=True, tag="fields"):
    """What can be edited; after an edit it comes behind the picture."""

    rev: int
    list: tuple[Field, ...]
