"""Messages as text frames, and the schema of both directions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

from legwright.errors import LinkError
from legwright.remote.asked import VERSION, AnyAsked, Asked
from legwright.remote.said import AnySaid, Said

LARGEST = 262_144
"""A frame may not be longer [byte]."""

T = TypeVar("T")
_ASKED: msgspec.json.Decoder[AnyAsked] = msgspec.json.Decoder(AnyAsked)
_SAID: msgspec.json.Decoder[AnySaid] = msgspec.json.Decoder(AnySaid)
_ENCODER = msgspec.json.Encoder()


def frame(message: Asked | Said) -> str:
    """A message as the text of one frame; nan and infinity become null."""
    return _ENCODER.encode(message).decode()


def asked(text: str | bytes) -> AnyAsked:
    """A client's message.

    Raises:
        LinkError: Word ``message``, saying what is wrong and where.
    """
    return _decoded(_ASKED, text)


def said(text: str | bytes) -> AnySaid:
    """A robot's message.

    Raises:
        LinkError: Word ``message``.
    """
    return _decoded(_SAID, text)


def _decoded(decoder: msgspec.json.Decoder[T], text: str | bytes) -> T:
    if len(text) > LARGEST:
        raise LinkError("message", f"The message is longer than {LARGEST} bytes.")
    try:
        return decoder.decode(text)
    except (msgspec.MsgspecError, UnicodeError, RecursionError) as error:
        reason = str(error) or type(error).__name__
        raise LinkError("message", f"No message of this protocol: {reason}.") from None


def schema() -> Mapping[str, Any]:
    """JSON schema of all messages; docs/protocol.schema.json holds it."""
    both = msgspec.json.schema_components([AnyAsked, AnySaid], ref_template="#/$defs/{name}")
    (asked_part, said_part), parts = both
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Legwright remote protocol, version {VERSION}",
        "description": "One message is one WebSocket text frame. See docs/protocol.md.",
        "$defs": {
            "from client to robot": asked_part,
            "from robot to client": said_part,
            **parts,
        },
    }
