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
    if isinstance(error, RobotError):
        file = "" if error.file is None else f"{error.file.parent.name}/{error.file.name}, "
        text = f"{file}{error.place}: {error.problem}. {error.cure}"
        return frame(Refused(n=number, key=error.place, text=text))
    key = error.what if isinstance(error, RequestError) else ""
    return frame(Refused(n=number, key=key, text=str(error)))


def fault(message: Asked) -> str:
    """A fault of the desk itself, as the frame that refuses a message; told in the log too."""
    kind = type(message).__name__
    logging.getLogger(__name__).exception("%s could not be taken up", kind)
    number = message.n if isinstance(message, Numbered) else 0
    text = f"{FAULT}: {kind} could not be taken up. The terminal says more; nothing has changed."
    return frame(Refused(n=number, key="", text=text))
