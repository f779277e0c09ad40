"""What a page is told where something that it asked for cannot be done."""

from __future__ import annotations

import logging

from legwright.errors import LegwrightError, RequestError, RobotError
from legwright.views.desk.asked import Asked, Numbered
from legwright.views.desk.said import Refused
from legwright.views.desk.wire import frame

FAULT = "A fault of the desk itself"


def refusal(error: LegwrightError, number: int) -> str:
    """An error as the frame that refuses a message.

    Args:
        error: What was wrong.
        number: Of the message.
    """
    key = error.what if isinstance(error, RequestError) else ""
    if isinstance(error, RobotError):
        key = error.place
    return frame(Refused(n=number, key=key, text=words_of(error)))


def words_of(error: LegwrightError) -> str:
    """An error in words for a page, which need not know where folders lie.

    Args:
        error: What was wrong.
    """
    if not isinstance(error, RobotError):
        return str(error)
    file = "" if error.file is None else f"{error.file.parent.name}/{error.file.name}"
    where = ", ".join(part for part in (file, error.place) if part)
    return f"{where}: {error.problem}. {error.cure}"


def fault(message: Asked) -> str:
    """A fault of the desk itself, as the frame that refuses a message; told in the log too."""
    kind = type(message).__name__
    logging.getLogger(__name__).exception("%s could not be taken up", kind)
    number = message.n if isinstance(message, Numbered) else 0
    text = f"{FAULT}: {kind} could not be taken up. The terminal says more; nothing has changed."
    return frame(Refused(n=number, key="", text=text))
