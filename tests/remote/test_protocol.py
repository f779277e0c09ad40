"""Messages, and the schema that documents them."""

from __future__ import annotations

import json
import runpy
from pathlib import Path
from typing import Any, get_args

import jsonschema
import pytest

from legwright.errors import LinkError
from legwright.remote import asked, said
from legwright.remote.wire import asked as read
from legwright.remote.wire import frame, schema

DOCS = Path(__file__).parents[2] / "docs"


def test_the_schema_is_current() -> None:
    made = runpy.run_path(str(DOCS / "make_protocol_schema.py"))
    assert made["FILE"].read_text("utf-8") == made["text"](), "python docs/make_protocol_schema.py"


def test_what_a_robot_says_keeps_to_the_schema(driver: Any) -> None:
    """Referee: an independent validator, on every message of a short drive."""
    whole = schema()
    check = jsonschema.Draft202012Validator(
        {"$ref": "#/$defs/from robot to client", "$defs": whole["$defs"]}
    )
    driver.say("subscribe", rate=20.0, fields=list(said.FIELDS))
    driver.ask("probe", leg="left-front", push=3.0)
    driver.run(4.0)
    driver.raw(type="nonsense")
    kinds = {message["type"] for message in driver.got}
    assert {"welcome", "driver", "answer", "ended", "event", "state", "error"} <= kinds
    for message in driver.got:
        check.validate(message)


def test_every_message_is_documented() -> None:
    page = (DOCS / "protocol.md").read_text("utf-8")
    for kind in (*get_args(asked.AnyAsked), *get_args(said.AnySaid)):
        assert f"`{kind.__struct_config__.tag}`" in page, kind.__name__
    for field in said.FIELDS:
        assert f"`{field}`" in page, field


@pytest.mark.parametrize(
    "text", ["{", "[]", '{"type":"walk"}', '{"type":"fly","n":1}', "\udc80", b"\xff"]
)
def test_what_is_no_message_says_so(text: str | bytes) -> None:
    with pytest.raises(LinkError, match="No message of this protocol"):
        read(text)


def test_newer_clients_may_say_more_than_we_know() -> None:
    text = json.dumps({"type": "ping", "n": 3, "colour": "red"})
    assert read(text) == asked.Ping(n=3)


def test_a_message_survives_the_wire() -> None:
    walk = asked.Walk(n=3, heard=1.25, forward=0.1, pose=(0, 0, 0.01, 0, 0, 0), seconds=2.0)
    assert read(frame(walk)) == walk
