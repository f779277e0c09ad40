"""The desk's messages: types of the page, frames in and out."""

from __future__ import annotations

import contextlib
import runpy
import struct
from pathlib import Path

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from legwright.errors import RequestError
from legwright.views.desk.asked import Edit, Pull
from legwright.views.desk.blocks import Pulled, packed, unpacked
from legwright.views.desk.said import Checking
from legwright.views.desk.wire import LARGEST, frame, heard

DOCS = Path(__file__).parents[2] / "docs"


def test_the_pages_types_are_made_from_the_messages() -> None:
    made = runpy.run_path(str(DOCS / "make_desk_types.py"))
    assert made["FILE"].read_text("utf-8") == made["text"](), "run: python docs/make_desk_types.py"


def test_a_block_comes_out_as_it_went_in_and_its_numbers_are_aligned() -> None:
    header = Pulled(rev=3, n=7, ok=False, stopped=("left_front_femur",), text="ein °")
    q, feet = np.linspace(-1, 1, 18), np.arange(18.0).reshape(6, 3)
    sent = packed(header, {"q": q, "feet": feet})
    (length,) = struct.unpack_from("<I", sent)
    assert (4 + length) % 4 == 0
    assert len(sent) == 4 + length + 4 * (18 + 18)
    told, arrays = unpacked(sent)
    assert isinstance(told, Pulled)
    assert (told.n, told.ok, told.stopped, told.text) == (7, False, header.stopped, "ein °")
    np.testing.assert_array_equal(arrays["q"], q.astype(np.float32))
    np.testing.assert_array_equal(arrays["feet"], feet)


def test_messages_are_read_by_their_tag() -> None:
    assert heard('{"type":"edit","n":4,"key":"dimensions.femur","value":"90 mm"}') == Edit(
        n=4, key="dimensions.femur", value="90 mm"
    )
    pull = heard('{"type":"pull","n":5,"what":"foot","name":"left-front","to":[0.1,0.2,0]}')
    assert isinstance(pull, Pull)
    assert pull.to == (0.1, 0.2, 0.0)


@pytest.mark.parametrize(
    "text",
    [
        "", "{", "null", "[]", "{}", '{"type":"dance"}', '{"type":"undo"}',
        '{"type":"edit","n":1,"key":"a"}', '{"type":"pull","n":1,"what":"ear","to":[]}',
        '{"type":"edit","n":1,"key":"a","value":"x' + "x" * LARGEST + '"}', b"\xff\xfe\x00",
        "[" * 5000,
    ],
)  # fmt: skip
def test_rubbish_is_refused_in_one_sentence(text: str | bytes) -> None:
    with pytest.raises(RequestError) as error:
        heard(text)
    assert len(str(error.value)) < 400
    assert "\n" not in str(error.value)


@given(st.binary(max_size=300))
def test_no_bytes_break_the_reader(data: bytes) -> None:
    with contextlib.suppress(RequestError):
        heard(data)


def test_numbers_that_are_none_become_null() -> None:
    text = frame(Checking(rev=1, area="reach", done=1, of=float("nan")))  # type: ignore[arg-type]
    assert msgspec.json.decode(text) == {
        "type": "checking", "rev": 1, "area": "reach", "done": 1, "of": None,
    }  # fmt: skip
