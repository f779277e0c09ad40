"""Writes docs/protocol.schema.json from the messages: python docs/make_protocol_schema.py."""

from __future__ import annotations

import json
from pathlib import Path

from legwright.remote.wire import schema

FILE = Path(__file__).parent / "protocol.schema.json"


def text() -> str:
    """The schema as it is kept."""
    return json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8")
    print(FILE)
