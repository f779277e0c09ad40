"""A fault is one line, whatever stands in the value."""

from __future__ import annotations

from pathlib import Path

import pytest

from legwright.errors import RobotError
from legwright.mechanics.opening import edited

ROOK = Path(__file__).parents[2] / "robots" / "rook"


@pytest.mark.parametrize("value", ["0\n0", "1 m\nm", "3\tmm\r", "\u2028"])
def test_control_signs_are_written_out(value: str) -> None:
    """Found by a property test: a line end in a value broke the sentence in two."""
    with pytest.raises(RobotError) as error:
        edited(ROOK, {"requirements.speed_forward": value})
    assert str(error.value).splitlines() == [str(error.value)]
