"""Free memory goes back to the system. Referee: the kernel's own account of this process."""

from __future__ import annotations

import platform
from pathlib import Path

import pytest

from legwright.views.desk.tidy import tidy


def resident() -> float:
    """Memory that this process allocated and that is really there [MB]."""
    (line,) = (
        line
        for line in Path("/proc/self/smaps_rollup").read_text().splitlines()
        if line.startswith("Anonymous:")
    )
    return float(line.split()[1]) / 1024


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="a call of the GNU C library")
def test_what_lies_free_between_pieces_that_live_on_is_given_back() -> None:
    kept, free = [], []
    for n in range(1200):
        free.append(bytes([n % 255 + 1]) * 60_000)
        kept.append(bytes([n % 255 + 1]) * 700)
    kept_to = resident()
    free.clear()
    tidy()  # without it, some 30 MB at the end of it all go back, or nothing
    assert resident() < kept_to - 50.0  # of 69 MB
    assert [piece[0] for piece in kept[:300]] == [n % 255 + 1 for n in range(300)]


def test_it_may_be_called_at_any_time() -> None:
    for _ in range(3):
        tidy()
