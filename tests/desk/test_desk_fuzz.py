"""Whatever a page sends, the desk answers in a sentence, keeps its state, and serves on."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any, get_args

import msgspec
import pytest
from desk_visitor import served, visiting
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from legwright.errors import LegwrightError
from legwright.views.desk.asked import AnyAsked, Hello
from legwright.views.desk.blocks import Pulled
from legwright.views.desk.session import Session

KINDS = [kind for kind in get_args(AnyAsked) if kind is not Hello]
ROOK = Path(__file__).parents[2] / "robots" / "rook"

odd = st.one_of(
    st.none(), st.booleans(), st.integers(-(2**70), 2**70), st.floats(allow_nan=False),
    st.text(max_size=30), st.lists(st.floats(allow_nan=False), max_size=8),
    st.dictionaries(st.text(max_size=8), st.floats(allow_nan=False), max_size=4),
    st.sampled_from(
        ["dimensions.femur", "90 mm", "left-front", "tripod", "foot", "body", "joint", "..", "\0",
         "wren", "tripod forward", "fit.*_femur", "dunnock", "1e308 mm", "-1 mm", "[", "𝟙 mm"]
    ),
)  # fmt: skip


@st.composite
def messages(draw: st.DrawFn) -> bytes:
    """Messages of every kind with fields that make sense, make none, or are missing."""
    kind = draw(st.sampled_from(KINDS))
    info = msgspec.inspect.type_info(kind)
    made: dict[str, Any] = {"type": info.tag, "n": draw(st.integers(0, 10**6))}  # type: ignore[union-attr]
    for field in info.fields:  # type: ignore[union-attr]
        if field.name != "n" and draw(st.integers(0, 9)):
            made[field.name] = draw(odd)
    return msgspec.json.encode(made)


@pytest.fixture(scope="module")
def edited() -> Session:
    return Session(ROOK)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_no_value_breaks_a_session(edited: Session, data: st.DataObject) -> None:
    key = data.draw(st.sampled_from([field.key for field in edited.fields]) | st.text(max_size=40))
    value = data.draw(
        st.text(max_size=30)
        | st.sampled_from(["0 mm", "1e-9 mm", "4999 mm", "-80 mm", "0 deg", "1 kg", "true", "3"])
    )
    before = edited.robot, dict(edited.edits), edited.rev
    try:
        edited.edit(key, value, now=1e9)
    except LegwrightError as error:
        assert (edited.robot, dict(edited.edits), edited.rev) == before
        assert "\n" not in str(error)
        return
    edited.put_back(now=2e9)
    assert edited.edits == {}


def test_a_storm_of_messages_leaves_the_desk_as_it_was(
    small: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Two pages throw 400 messages of all kinds; a third then finds the desk at work."""
    storm: list[bytes] = []

    @settings(max_examples=400, deadline=None, database=None, derandomize=True,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(messages())
    def gather(message: bytes) -> None:
        storm.append(message)

    gather()
    files = sorted(path.name for path in small.parent.iterdir())

    async def scene() -> None:
        async with served(small) as (desk, address):
            async with visiting(address) as one, visiting(address) as two:
                await one.hello()
                await two.hello()
                for number, message in enumerate(storm):
                    page = one if number % 2 else two
                    await page.connection.send(message.decode())
                    if number % 20 == 0:
                        await asyncio.sleep(0.02)
                await one.say("put_back")
                await one.say("show", case="tripod forward")
                n = await one.say("edit", key="dimensions.femr", value="1 mm")
                await one.text("refused", lambda told: told["n"] == n and "femr" in told["text"])
            async with visiting(address) as third:
                await third.hello()
                assert (await third.text("edits"))["list"] == []
                while True:
                    await third.say("pull", what="body", to=[0.0] * 6)
                    told = await third.hear()
                    if not isinstance(told, dict) and isinstance(told[0], Pulled):
                        break
                    await asyncio.sleep(0.05)
            assert not list(desk.board.pages)

    asyncio.run(scene())
    assert sorted(path.name for path in small.parent.iterdir()) == files
    assert not [record for record in caplog.records if record.levelname == "ERROR"]
