"""One motion from its order to its end: how long it may go on, and when it is done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf
from types import MappingProxyType

import numpy as np

from legwright.locomotion.command import SINGLE, Command, Kind
from legwright.locomotion.signals import Event
from legwright.rig.faults import RULES, Fault, Stop
from legwright.rig.runtime import Report
from legwright.rig.supervisor import RENEWED, Mode

SLOW, CALM = 0.15, 0.3
"""Joints asked to go slower than this [rad/s] for so long [s] are not on their way any more:
levelling the body and sharing the load go on for ever, but slower."""
FELT_FOR = 0.1
"""How hard a foot touched is felt for so long: the observer lags behind by some cycles [s]."""
STOPPING: Mapping[str, Fault] = MappingProxyType(
    {fault.value: fault for fault, rule in RULES.items() if rule.stop.value <= Stop.STAND.value}
)
"""Word of a notice -> the fault that ends motion."""


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """How a motion ended."""

    ok: bool
    word: str = ""
    text: str = ""
    touch: Report | None = None
    """The cycle in which the foot touched."""
    force: float | None = None
    """The push of a probe at its end; of a placed foot the median of what was felt in the 0.1 s
    after it touched [N]."""


@dataclass(slots=True, kw_only=True)
class Task:
    """A motion that a driver asked for."""

    n: int
    """Of the message."""
    session: str
    command: Command
    expires: float
    """Robot time at which it ends unless renewed [s]."""
    seconds: float = inf
    """For walks [s]."""
    began: float | None = None
    """When the robot took it up [s]; None before."""
    stopping: bool = False
    """Its time is over; the robot comes to a stand."""
    told: bool = False
    """Its end was told already, but it goes on (a lifted leg)."""
    touch: Report | None = None
    """The cycle in which its foot touched."""
    felt: list[float] = field(default_factory=list)
    rest: float | None = None
    """Since when nothing moves [s]."""

    @property
    def renewable(self) -> bool:
        """Whether it goes on only while it is renewed."""
        return self.command.kind in RENEWED and not self.stopping

    def over(self, now: float) -> bool:
        """Whether its time is up and the robot is to stand."""
        return self.began is not None and not self.stopping and now - self.began >= self.seconds

    def stopped(self, report: Report) -> End | None:
        """How a fault or a stop ended it in this cycle, or None."""
        if self.began is None:
            return None
        for notice in report.notices:
            if notice.word in STOPPING:
                return End(ok=False, word=notice.word, text=notice.text)
        sits = self.command.kind is Kind.SIT
        if report.mode in (Mode.LIMP, Mode.FAULT) and not sits:
            return End(ok=False, word="stopped", text=f"The robot is {report.mode.value}.")
        if report.mode is Mode.SITTING_DOWN and not sits:
            return End(ok=False, word="stopped", text="The robot sits down.")
        return None

    def see(self, report: Report, legs: Mapping[str, slice]) -> End | None:
        """Follow one cycle; how the motion ended by itself, or None while it goes on.

        Args:
            report: What the cycle brought.
            legs: Leg -> its columns in rows of joints, in the robot's order.
        """
        if self.began is None:
            return None
        if self.command.kind not in SINGLE:
            self._rest(report, slice(None))
            return self._whole(report)
        return self._single(report, legs)

    def _rest(self, report: Report, joints: slice) -> None:
        fastest = float(np.nanmax(np.abs(report.targets.qd[joints]), initial=0.0))
        if fastest > SLOW:
            self.rest = None
        elif self.rest is None:
            self.rest = report.time

    def _rested(self, report: Report) -> bool:
        return self.rest is not None and report.time - self.rest >= CALM

    def _whole(self, report: Report) -> End | None:
        kind = self.command.kind
        if kind is Kind.FOLLOW:
            return self._led(report)
        if kind is Kind.SIT:
            down = report.mode in (Mode.HOLDING, Mode.LIMP, Mode.FAULT)
            return End(ok=True) if down else None
        if kind is Kind.WALK and not self.stopping:
            return None
        if kind is Kind.HOLD:
            return End(ok=True) if self._rested(report) else None
        return End(ok=True) if report.mode is Mode.STANDING and report.settled else None

    def _led(self, report: Report) -> End | None:
        """The path is over when its last row was told, and stays so."""
        path = self.command.path
        if self.told or path is None:
            return None
        there = np.array_equal(report.targets.q[list(path.columns)], path.q[-1])
        still = float(np.abs(report.targets.qd).max()) == 0.0
        return End(ok=True) if there and still else None

    def _probed(self, event: Event, report: Report) -> End:
        """A probe ends with the push that was reached, not with that of the touch."""
        if event.limit == "ground":
            return End(ok=False, word="no ground", text=event.text)
        return End(ok=True, touch=self.touch or report, force=event.force, text=event.text)

    def _single(self, report: Report, legs: Mapping[str, slice]) -> End | None:
        leg = self.command.leg
        self._rest(report, legs[leg])
        stands = bool(report.contact[list(legs).index(leg)])
        for event in report.events:
            if event.leg != leg:
                continue
            if event.what == "unstable":
                return End(ok=False, word=event.what, text=event.text)
            if event.what == "touched":
                self.touch = report
            if event.what == "probed":
                return self._probed(event, report)
        if self.command.kind is Kind.LIFT:
            if self.told or stands or not self._rested(report):
                return None
            return End(ok=True)
        if self.touch is None:
            return None
        if report.time - self.touch.time <= FELT_FOR:
            self.felt.append(float(report.force[list(legs).index(leg)]))
        if not report.settled:
            return None
        force = float(np.median(self.felt)) if self.felt else float("nan")
        return End(ok=True, touch=self.touch, force=force if force == force else None)
