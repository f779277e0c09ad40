"""Memory of both processes while the robot walks and is watched and recorded for ten minutes."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from driven import Driven

import legwright as lw

SETTLING, MINUTES, MOST = 60.0, 10.0, 0.02


def own(pid: int) -> int:
    """Memory of a process that it shares with no other [pages]."""
    pages = Path(f"/proc/{pid}/statm").read_text().split()
    return int(pages[1]) - int(pages[2])


def walked(address: str, seconds: float) -> None:
    """Walk and stream for so long, through as many connections as a busy computer needs."""
    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0.0:
        try:
            with lw.connect(address) as robot:
                robot.stand()
                robot.walk(forward=0.05)
                robot.watch(rate=100.0, seconds=min(left, 10.0))
        except lw.LinkError:
            continue


@pytest.mark.long
def test_memory_stays_flat(tmp_path: Path) -> None:
    driven = Driven(tmp_path / "logs", "--set", "rate=100")
    try:
        address = driven.started()
        walked(address, SETTLING)
        before = {name: own(driven.pids[name]) for name in ("control", "service")}
        walked(address, 60.0 * MINUTES)
        for name, pages in before.items():
            grown = own(driven.pids[name]) / pages - 1.0
            print(f"{name}: {grown:+.2%} in {MINUTES:g} minutes")
            assert grown < MOST, name
    finally:
        driven.clear()
