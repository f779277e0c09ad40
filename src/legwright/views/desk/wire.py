"""Messages as text frames."""

from __future__ import annotations

import msgspec

from legwright.errors import RequestError
from legwright.views.desk.asked import AnyAsked
from legwright.views.desk.said import Said

LARGEST = 65_536
"""A frame from a page may not be longer [byte]."""

_ASKED: msgspec.json.Decoder[AnyAsked] = msgspec.json.Decoder(AnyAsked)
_ENCODER = msgspec.json.Encoder()


def frame(message: Said) -> str:
    """A message as the text of one frame; nan and infinity become null."""
    return _ENCODER.encode(message).decode()


def heard(text: str | bytes) -> AnyAsked:
    """A page's message.

    Raises:
        RequestError: saying in one sentence what is wrong with it.
    """
    if len(text) > LARGEST:
        raise RequestError("message", f"{len(text)} bytes long", f"at most {LARGEST} bytes")
    try:
        return _ASKED.decode(text)
    except (msgspec.MsgspecError, UnicodeError, RecursionError) as error:
        reason = str(error) or type(error).__name__
        raise RequestError("message", str(text)[:40], f"one of docs/desk.md: {reason}") from None
