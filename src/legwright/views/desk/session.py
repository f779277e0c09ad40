"""The robot on the desk and what has been done to it. No sockets, no threads, no clock."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from legwright.errors import LegwrightError, RequestError, RobotError, did_you_mean
from legwright.mechanics.opening import edited, load, write_variant
from legwright.robot.editing import opened
from legwright.robot.loading import SHEET_NAME
from legwright.robot.robot import Robot
from legwright.robot.sheet_keys import at_key, key_path, laid_over
from legwright.robot.sheet_text import SheetText
from legwright.views.desk.fields import Known, fields_of, same_key
from legwright.views.desk.history import Edits, History
from legwright.views.desk.on_disk import Stamp, files_of, stamp_of
from legwright.views.desk.refusals import words_of
from legwright.views.desk.said import Change, Field

PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
"""Names of variant folders."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Stand:
    """The robot in one state of its edits."""

    robot: Robot
    text: SheetText
    """Its sheet's content."""
    disk: SheetText
    """The content on disk."""
    known: dict[str, Known]
    """Fields of tables, taken over from state to state."""

    @cached_property
    def fields(self) -> tuple[Field, ...]:
        """What can be edited; found when it is asked for, since a picture does not wait for it."""
        return fields_of(self.robot, self.text, self.disk, self.known)


class Session:
    """One robot, edited in memory."""

    def __init__(self, path: Path) -> None:
        """Open a robot.

        Raises:
            RobotError: where its files make none.
        """
        self.path = path
        self.disk: SheetText = opened(path)
        self.kept: Robot = load(path)
        """As on disk."""
        self.stamp: Stamp = stamp_of(files_of(self.disk, self.kept))
        """Of its files, when they were read or looked at last."""
        self.read = ""
        """What came of files that changed, in words; empty where none has since the last edit."""
        self.unread = False
        """Whether the files as they are now make no robot."""
        self.rev = 1
        self.written = ""
        """Variant folder that the present edits were written to."""
        self._history = History()
        self._known: dict[str, Known] = {}
        self._stand = self._made({})
        self._kept_stand = self._stand

    # What is so -----------------------------------------------------------------------------

    @property
    def robot(self) -> Robot:
        """With the edits."""
        return self._stand.robot

    @property
    def fields(self) -> tuple[Field, ...]:
        """What can be edited."""
        return self._stand.fields

    @property
    def edits(self) -> Edits:
        """What differs from what is on disk."""
        return self._history.edits

    @property
    def undo_words(self) -> str:
        """What undo would take back; empty for nothing."""
        return self._history.undo

    @property
    def redo_words(self) -> str:
        """What redo would bring back; empty for nothing."""
        return self._history.redo

    @property
    def changes(self) -> tuple[Change, ...]:
        """What differs from what is on disk, key by key."""
        before = {field.key: field.value for field in self._kept_stand.fields}
        return tuple(
            Change(key=key, before=before.get(key, ""), after=value)
            for key, value in self.edits.items()
        )

    @property
    def family(self) -> Path:
        """Folder that the robot's folder lies in."""
        return self.disk.file.resolve().parent.parent

    def variants(self) -> tuple[str, ...]:
        """Folders beside the robot's that hold a sheet."""
        own = self.disk.file.resolve().parent.name
        try:
            found = sorted(each.parent.name for each in self.family.glob(f"*/{SHEET_NAME}"))
        except OSError:
            return ()
        return tuple(name for name in found if name != own)[:200]

    # What is done ---------------------------------------------------------------------------

    def edit(self, key: str, value: str, *, now: float) -> None:
        """Change one key of the sheet, in memory; a fault changes nothing.

        Args:
            key: As a `Field` names it.
            value: As typed; empty goes back to what is on disk.
            now: Time [s]; edits of one key that follow closely are undone as one.

        Raises:
            RequestError: for a key that cannot be edited here.
            RobotError: for a value that cannot be, with its key and the cure.
        """
        key, value = same_key(key), value.strip()
        field = next((each for each in self.fields if each.key == key), None)
        if field is None:
            raise self._no_field(key)
        edits = {**self.edits, key: value}
        if not value or value == field.kept:
            del edits[key]
        if edits == self.edits:
            return
        self._enter(edits)
        self._history = self._history.done(
            edits,
            label=field.label,
            before=field.value,
            after=value or field.kept,
            key=key,
            now=now,
        )

    def _no_field(self, key: str) -> RequestError | RobotError:
        """Why a key cannot be edited."""
        if key_path(key)[0] == "dimensions" and "dimensions" not in self.disk.table:
            shape = self.disk.table.get("urdf", self.disk.file.name)
            return RobotError(
                self.disk.file, key, f"cannot be edited: the shape of this robot is '{shape}'",
                "Change that file; only what the sheet states can be edited here.",
            )  # fmt: skip
        keys = [each.key for each in self.fields]
        return RequestError(
            "key", key, f"a value of this sheet that can be edited. {_near(key, keys)}"
        )

    def undo(self) -> None:
        """Take back the last edit.

        Raises:
            RequestError: when there is none.
        """
        if not self._history.undo:
            raise RequestError("undo", "nothing", "an edit first; nothing has been changed")
        self._enter(self._history.back().edits)
        self._history = self._history.back()

    def redo(self) -> None:
        """Bring back what was undone.

        Raises:
            RequestError: when there is nothing.
        """
        if not self._history.redo:
            raise RequestError("redo", "nothing", "an undo first; nothing has been taken back")
        self._enter(self._history.forth().edits)
        self._history = self._history.forth()

    def put_back(self, *, now: float) -> None:
        """Back to what is on disk; one step that can be undone."""
        if self.edits:
            self._enter({})
            self._history = self._history.done({}, label="put back", now=now)

    def keep(self, name: str) -> Path:
        """Write the edits as a new folder beside the robot's.

        Args:
            name: Of the folder.

        Returns:
            The new sheet.

        Raises:
            RequestError: for a name that is none or is taken, or when nothing differs.
            RobotError: where it cannot be written.
        """
        if not PLAIN.fullmatch(name):
            raise RequestError(
                "name", name, "letters, digits, - and _, at most 64: it names a folder"
            )
        if not self.edits:
            raise RequestError("edits", "none", "at least one: all is as on disk")
        folder = self.family / name
        if folder.exists():
            raise RequestError("name", name, "one that no folder here has yet")
        sheet = write_variant(folder, self.disk, dict(self.edits))
        self.written = name
        return sheet

    def _enter(self, edits: Edits) -> None:
        """Go to a state; nothing changes where it makes no robot."""
        self._stand = self._made(edits) if edits else self._kept_stand
        self.rev += 1
        self.written = self.read = ""
        self.unread = False

    def _made(self, edits: Edits) -> Stand:
        robot = edited(self.disk, edits) if edits else self.kept
        text = laid_over(self.disk, edits)
        return Stand(robot=robot, text=text, disk=self.disk, known=self._known)

    def look(self) -> Stamp:
        """The stamp of the files as they are now."""
        return stamp_of(Path(name) for name, _, _ in self.stamp)

    def reread(self, *, now: float) -> None:
        """Read files that have changed; the edits stay on top of them.

        What makes no robot changes nothing, and `read` says why.

        Args:
            now: Time [s].
        """
        self.stamp, name = self.look(), self.disk.file.name
        looked = {row[0]: row for row in self.stamp}
        before = self.disk, self.kept, self._kept_stand
        try:
            self.disk, self.kept = opened(self.path), load(self.path)
            self._kept_stand = self._made({})
            own = {field.key: field.value for field in self._kept_stand.fields}
            edits = {key: value for key, value in self.edits.items() if own.get(key) != value}
            self._enter(edits)
        except LegwrightError as error:
            self.disk, self.kept, self._kept_stand = before
            self.read = "The files have changed, and no robot can be read from them: "
            self.read += words_of(error)
            self.unread = True
            return
        named = stamp_of(files_of(self.disk, self.kept))
        self.stamp = tuple(looked.get(row[0], row) for row in named)  # what changed since is seen
        self.read = f"{name} or a file that it names has changed, and was read again."
        if edits != self.edits:
            self._history = self._history.done(edits, label="read again", now=now)

    def stated(self, key: str) -> bool:
        """Whether the sheet with the edits states a key."""
        return at_key(self._stand.text.table, key_path(key)) is not None


def _near(key: str, keys: list[str]) -> str:
    said = did_you_mean(key, keys)
    return said if len(said) < 200 else "Known here: what the fields show."
