"""One whole check of the demo walker, everything compiled and loaded."""

from __future__ import annotations

from pathlib import Path

import legwright as lw

ROOK = Path(__file__).parents[1] / "robots" / "rook"


def test_check_rook(benchmark) -> None:
    """All areas, all gaits, the envelope."""
    robot = lw.load(ROOK)
    lw.check(robot)
    findings = benchmark.pedantic(lw.check, args=(robot,), rounds=3, iterations=1)
    assert findings
