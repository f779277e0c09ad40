"""A robot in this process: rig, runtime and service, cycle by cycle."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from legwright.remote.service import Service
from legwright.remote.sign_in import Doors
from legwright.rig.port import Rig
from legwright.rig.request import Request
from legwright.rig.runtime import Report, Runtime
from legwright.rig.symptoms import Outside


class Local:
    """Runs one rig with its service; its time is counted in cycles, so it is never late."""

    def __init__(
        self,
        rig: Rig,
        *,
        doors: Doors | None = None,
        feel: bool = True,
        tell: Callable[[Report], object] = lambda report: None,
    ) -> None:
        """Get ready; nothing is switched on.

        Args:
            rig: What moves; a simulated one.
            doors: All ways in; open when None.
            feel: Whether feet feel the ground.
            tell: Takes each report: a recorder, a test.
        """
        self.rig = rig
        self.runtime = Runtime(rig, feel=feel)
        self.service = Service(rig.robot, rate=rig.rate, real=rig.real, doors=doors)
        self.now = 0.0
        self._cycles = 0
        self._tell = tell

    def step(self, more: Sequence[Request] = ()) -> Report:
        """One cycle.

        Args:
            more: Requests beside those of the service.
        """
        outside = Outside(driver_silent=self.service.driver_silent(self.now))
        requests = [*self.service.requests(), *more]
        report = self.runtime.cycle(self.now, requests, outside)
        self.rig.advance()
        self._tell(report)
        self.service.report(report)
        self._cycles += 1
        self.now = self._cycles / self.rig.rate
        return report
