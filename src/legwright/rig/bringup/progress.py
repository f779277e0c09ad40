"""What bring-up has done so far: one record per step, kept in a file so that it can go on."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from legwright.errors import RobotError

FILE = "bringup.json"
SCHEMA = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One step that was done."""

    step: str
    """Its key."""
    ok: bool
    when: str
    """ISO 8601, with the offset of the local time."""
    version: str
    """Of this program."""
    summary: str
    """What came of it, in one sentence."""
    wrong: tuple[str, ...] = ()
    """What is wrong, one sentence each."""
    values: dict[str, Any] = field(default_factory=dict)
    """What was measured: name -> number, text, or joint -> number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """All records, the newest of each step."""

    robot: str
    records: dict[str, Record] = field(default_factory=dict)

    def done(self, step: str) -> bool:
        """Whether a step has been done and was in order."""
        return step in self.records and self.records[step].ok

    def with_record(self, record: Record) -> Progress:
        """The same with one step done anew."""
        return Progress(robot=self.robot, records={**self.records, record.step: record})

    def value(self, step: str, name: str) -> Any:
        """What a step measured.

        Raises:
            RobotError: if the step has not been done.
        """
        if not self.done(step):
            raise RobotError(None, step, "has not been done yet", "Begin with that step.")
        return self.records[step].values[name]


def read_progress(path: Path, robot: str) -> Progress:
    """Progress of a robot; empty where no file is.

    Raises:
        RobotError: naming the file and the cure.
    """
    if not path.exists():
        return Progress(robot=robot)
    cure = "Move the file away to begin anew."
    try:
        table = json.loads(path.read_text(encoding="utf-8"))
        if table["schema"] != SCHEMA:
            raise RobotError(path, "schema", f"is {table['schema']!r}, not {SCHEMA}", cure)
        if table["robot"] != robot:
            raise RobotError(path, "robot", f"is {table['robot']!r}, not {robot!r}", cure)
        records = {
            row["step"]: Record(**{**row, "wrong": tuple(row["wrong"])}) for row in table["records"]
        }
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise RobotError(path, "", f"is no record of a bring-up ({error})", cure) from None
    return Progress(robot=robot, records=records)


def write_progress(path: Path, progress: Progress) -> None:
    """Write a file whole or not at all.

    Raises:
        RobotError: if it cannot be written.
    """
    table = {
        "schema": SCHEMA,
        "robot": progress.robot,
        "records": [asdict(record) for record in progress.records.values()],
    }
    new = path.with_suffix(".json.new")
    try:
        with new.open("w", encoding="utf-8") as file:
            json.dump(table, file, indent=1, ensure_ascii=False)
            file.flush()
            os.fsync(file.fileno())
        new.replace(path)
    except OSError as error:
        cure = "Choose a folder that you may write to."
        raise RobotError(path, "", f"cannot be written ({error.strerror})", cure) from None
