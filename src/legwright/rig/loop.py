"""The control loop: absolute deadlines, one thread that waits for nothing else.

What was measured before (a thread of its own process, no garbage collection, real-time priority
where the system grants it) is in the decision record on processes; `benchmarks/test_bench_loop.py`
measures it here.
"""

from __future__ import annotations

import gc
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from legwright.rig.request import Request
from legwright.rig.runtime import Report, Runtime
from legwright.rig.symptoms import Outside
from legwright.robot.tree import Floats

KEPT = 4096
"""Cycles whose lateness is remembered."""
LATE = 0.5
"""Share of a period from which a cycle counts as late."""
LEFT_BEHIND = 4
"""Periods after which missed cycles are skipped instead of run after one another."""
PRIORITY = 60
"""Of the loop among real-time threads; common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lateness:
    """How late cycles began [s]."""

    median: float
    p99: float
    worst: float
    skipped: int
    """Cycles left out."""


class Loop:
    """Calls `Runtime.cycle` once per period."""

    def __init__(
        self,
        runtime: Runtime,
        *,
        hear: Callable[[], Sequence[Request]] = tuple,
        tell: Callable[[Report], object] = lambda report: None,
        outside: Callable[[], Outside] = Outside,
        clock: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        """Get ready.

        Args:
            runtime: What is run.
            hear: Gives the requests that came in since the last call; must not wait.
            tell: Takes each report; must not wait.
            outside: Gives what is known beside the drives.
            clock: The steady clock.
            wall: The wall clock, watched for jumps.
            sleep: Waits so many seconds.
        """
        self.runtime = runtime
        self._hear, self._tell, self._outside = hear, tell, outside
        self._clock, self._wall, self._sleep = clock, wall, sleep
        self._late: Floats = np.zeros(KEPT)
        self._count = self._skipped = 0

    @property
    def lateness(self) -> Lateness:
        """Of the last cycles."""
        seen = self._late[: min(self._count, KEPT)]
        if not len(seen):
            return Lateness(median=0.0, p99=0.0, worst=0.0, skipped=0)
        median, p99 = np.percentile(seen, (50, 99))
        return Lateness(
            median=float(median), p99=float(p99), worst=float(seen.max()), skipped=self._skipped
        )

    def run(self, until: Callable[[Report], bool]) -> Report:
        """Run until a report says that it is enough.

        Args:
            until: Asked after every cycle.

        Returns:
            The last report.
        """
        period, row = 1.0 / self.runtime.rig.rate, 0
        due = self._clock()
        drift = self._wall() - due
        while True:
            now = self._clock()
            late = now - due
            self._late[self._count % KEPT] = late
            self._count += 1
            row = row + 1 if late > LATE * period else 0
            gap = self._wall() - now - drift
            drift += gap
            around = replace(self._outside(), late=late, late_row=row, jump=gap)
            report = self.runtime.cycle(now, self._hear(), around)
            self.runtime.rig.advance()
            self._tell(report)
            if until(report):
                return report
            due += period
            behind = self._clock() - due
            if behind > LEFT_BEHIND * period:
                missed = int(behind / period)
                self._skipped += missed
                due += missed * period
            elif behind < 0.0:
                self._sleep(-behind)


def calm(*, realtime: bool) -> str:
    """Make this thread as punctual as the system allows; call it last, before the loop.

    Args:
        realtime: Whether to ask for a real-time priority.

    Returns:
        What was granted, in one sentence.
    """
    gc.collect()
    gc.freeze()
    gc.disable()
    if not realtime:
        return "Normal priority, as asked."
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(PRIORITY))
    except (AttributeError, OSError):
        return "Normal priority: the system grants no real-time priority to this user."
    return f"Real-time priority {PRIORITY}."
