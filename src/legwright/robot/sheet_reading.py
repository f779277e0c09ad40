"""Reading a build sheet: text in, a checked `Sheet` or one clear `RobotError` out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from legwright.errors import RobotError
from legwright.robot.sheet import SCHEMA, Sheet
from legwright.robot.sheet_faults import first_fault
from legwright.robot.sheet_relations import check_relations
from legwright.robot.sheet_text import SheetText, sheet_text


def read_sheet(path: Path) -> Sheet:
    """Read a build sheet.

    Args:
        path: The sheet, a TOML file.

    Returns:
        The sheet, with all quantities in SI.

    Raises:
        RobotError: with file, key, value and cure: of several faults, the first in the order
            of the file.
    """
    return sheet_of(sheet_text(Path(path)))


def sheet_of(text: SheetText) -> Sheet:
    """Check a sheet's merged content.

    Args:
        text: The content, from files or edited in memory.

    Returns:
        The sheet, with all quantities in SI.

    Raises:
        RobotError: with file, key, value and cure: of several faults, the first in the order
            of the file.
    """
    table = _without_schema(text)
    try:
        sheet = Sheet.model_validate(_with_servo_ids(table))
    except ValidationError as error:
        raise first_fault(text, table, error) from None
    check_relations(sheet, text)
    return sheet


def _without_schema(text: SheetText) -> dict[str, Any]:
    table = dict(text.table)
    schema = table.pop("schema", SCHEMA)
    if schema is True or schema != SCHEMA:
        raise RobotError(
            text.file_of(("schema",)),
            "schema",
            f"is {schema!r}, a version that this program does not know",
            f"Write schema = {SCHEMA}.",
        )
    return table


def _with_servo_ids(table: Mapping[str, Any]) -> dict[str, Any]:
    """Servo tables know their own name."""
    servos = table.get("servo")
    if not isinstance(servos, dict):
        return dict(table)
    named = {
        name: {"id": name, **servo} if isinstance(servo, dict) else servo
        for name, servo in servos.items()
    }
    return {**table, "servo": named}
