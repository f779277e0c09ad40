"""One robot being run: rig, supervisor and controller, cycle by cycle.

`Runtime.cycle` reads no clock: whoever calls passes the steady time, whether that is the loop of
the control process, a test, or a program that holds a simulated robot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion.command import Command
from legwright.locomotion.controller import Controller, Stage
from legwright.locomotion.planted import stands
from legwright.locomotion.signals import Event, Sensed, Targets
from legwright.rig.faults import Fault, Stop
from legwright.rig.following import Following
from legwright.rig.port import Drives, Rig
from legwright.rig.request import Answer, Request
from legwright.rig.start_checks import unfit
from legwright.rig.supervisor import Mode, Notice, Signs, Watch, supervise
from legwright.rig.symptoms import Limits, Outside, symptoms
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Report:
    """All that one cycle brought."""

    time: float
    """Steady time [s]."""
    mode: Mode
    sensed: Sensed
    drives: Drives
    targets: Targets
    """What the joints were told; nan where they keep their place or are limp."""
    faults: tuple[Fault, ...]
    """Declared and not cleared."""
    contact: NDArray[np.bool_]
    """(L,): feet that the controller stands on."""
    force: Floats
    """(L,): felt force of the ground [N]; nan where nothing feels it."""
    margin: float
    """Static stability margin [m]; nan while nothing stands."""
    place: Floats
    """(3,): odometry x, y [m], yaw [rad]."""
    settled: bool = False
    """Whether it is up, all feet stand, and nothing is under way."""
    answers: tuple[Answer, ...] = ()
    notices: tuple[Notice, ...] = ()
    events: tuple[Event, ...] = field(default=())


class Runtime:
    """Runs one rig. `cycle` is called once per bus cycle."""

    def __init__(
        self,
        rig: Rig,
        *,
        feel: bool = True,
        controller: Controller | None = None,
    ) -> None:
        """Get ready; nothing is switched on.

        Args:
            rig: The robot's rig.
            feel: Whether feet feel the ground through servo current.
            controller: A controller that is already there.
        """
        self.rig, self.robot = rig, rig.robot
        self.controller = controller or Controller(rig.robot, rate=rig.rate, feel=feel)
        self.limits = Limits.of(rig.robot, rig.buses)
        self.watch = Watch(mode=self._found())
        self.following = Following(rate=rig.rate)
        self._told: Targets | None = None
        self._events: tuple[Event, ...] = ()
        self._still = Targets(
            q=np.full(len(rig.robot.joint_names), np.nan),
            qd=np.zeros(len(rig.robot.joint_names)),
        )

    def cycle(
        self, now: float, requests: Sequence[Request] = (), outside: Outside | None = None
    ) -> Report:
        """Sense, judge, move, send. The caller calls `Rig.advance` afterwards.

        Args:
            now: Steady time [s].
            requests: What came in since the last cycle.
            outside: What is known beside the drives.
        """
        sensed, drives = self.rig.sense(), self.rig.drives()
        around = replace(outside or Outside(), events=self._events)
        signs = Signs(
            now=now,
            present=symptoms(self.limits, sensed, drives, self._told, around),
            requests=requests,
            stage=self.controller.stage,
            settled=self.controller.settled and not self.following.away,
            unfit=self._unfit(sensed, drives),
        )
        powered = self.watch.mode not in (Mode.LIMP, Mode.FAULT)
        self.watch, verdict = supervise(self.watch, signs)
        if verdict.power != powered:
            self.rig.power(verdict.power)
            self.controller.restart()
            self.following.forget()
            self._told = None
        self._events = ()
        targets = self._still
        if verdict.command is not None:
            targets = self._move(sensed, verdict.command)
            self._told = targets
            self.rig.apply(targets)
        return self._report(now, sensed, drives, targets, verdict.answers, verdict.notices)

    def _move(self, sensed: Sensed, command: Command) -> Targets:
        led = self.following.step(command, self._told)
        if led is not None:
            return led
        targets, self._events = self.controller.step(sensed, command, 1 / self.rig.rate)
        return targets

    def expect_event(self, event: Event) -> None:
        """Let the next cycle hear of an event as if the controller had told it: for tests."""
        self._events = (*self._events, event)

    def kill(self) -> None:
        """Power off at once, whatever else is going on."""
        self.rig.power(False)

    def _found(self) -> Mode:
        """Drives that hold already are taken over as they are: the loop was started anew."""
        if not self.rig.drives().powered.all():
            return Mode.LIMP
        sensed = self.rig.sense()
        if np.isnan(sensed.q).any():
            return Mode.HOLDING
        found = stands(self.robot, self.controller.able, sensed.q, sensed.up)
        return Mode.HOLDING if found is None else Mode.STANDING

    @property
    def _settled(self) -> bool:
        up = self.controller.stage is Stage.UP and self.controller.settled
        return up and not self.following.away

    def _unfit(self, sensed: Sensed, drives: Drives) -> str:
        if self.watch.mode is not Mode.LIMP:
            return ""
        fixed = self.controller.able.fixed
        return unfit(
            self.robot, fixed.lower, fixed.upper, sensed, drives, calibrated=self.rig.calibrated
        )

    def _report(
        self, now: float, sensed: Sensed, drives: Drives, targets: Targets,
        answers: tuple[Answer, ...], notices: tuple[Notice, ...],
    ) -> Report:  # fmt: skip
        controller, watch = self.controller, self.watch
        moving = watch.mode not in (Mode.LIMP, Mode.FAULT, Mode.HOLDING)
        legs = len(self.robot.legs)
        felt = moving and controller.feel
        return Report(
            time=now,
            mode=watch.mode,
            sensed=sensed,
            drives=drives,
            targets=targets,
            faults=tuple(f for f, stop in watch.active.items() if stop is not Stop.TELL)
            + tuple(f for f, stop in watch.active.items() if stop is Stop.TELL),
            contact=controller.contact if moving else np.zeros(legs, dtype=np.bool_),
            force=controller.felt.force if felt else np.full(legs, np.nan),
            margin=controller.margin if moving else float("nan"),
            place=controller.place,
            settled=moving and self._settled,
            answers=answers,
            notices=notices,
            events=self._events,
        )
