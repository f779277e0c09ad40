"""The control process: it owns the rig, and nothing else in it may wait.

It hears requests and the service's heartbeat through a datagram socket, and tells every cycle's
report through it. When the service falls silent the robot stands still; when the process that
started both is gone it sits down, switches off and ends. What it fails of itself takes no power
from the drives: they hold, and the process that is started next takes them over.
"""

from __future__ import annotations

import json
import os
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import FrameType

import numpy as np

from legwright.errors import LegwrightError
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.signals import Sensed
from legwright.mechanics.opening import load
from legwright.rig.faults import Stop
from legwright.rig.handover import Mailbox, Pulse, pack_report, unpack_request
from legwright.rig.loop import Loop, calm
from legwright.rig.port import Rig
from legwright.rig.request import Request, Word
from legwright.rig.runtime import Report, Runtime
from legwright.rig.supervisor import Mode
from legwright.rig.symptoms import Outside
from legwright.robot.robot import Robot

HEARTBEAT = 0.05
"""Period of the service's heartbeat [s]."""
SILENT = 2.0 * HEARTBEAT
"""The service counts as silent from then on; the fault table adds its own patience [s]."""
CONTROL, SERVICE, CARD = "control", "service", "rig.json"
"""Names of the two ends of the hand-over, and of the file that tells about the rig."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What the control process is told when it starts."""

    robot: Path
    rig: str
    folder: Path
    """Private folder of the sockets."""
    feel: bool = True
    realtime: bool = True
    options: dict[str, str] = field(default_factory=dict)
    """For the rig."""
    parent: int = 0
    """Process whose end is a reason to sit down; the one that started this when 0."""


class Hearing:
    """What came in through the mailbox, and how long the service has been silent."""

    def __init__(
        self, box: Mailbox, clock: Callable[[], float] = time.monotonic, *, parent: int = 0
    ) -> None:
        """Nothing has been heard yet."""
        self._box, self._clock = box, clock
        self._heard = clock()
        self._parent = parent or os.getppid()
        self._signals: list[int] = []
        self._stops: list[Request] = []
        self._pulse = Pulse()
        self.ending = False
        """Whether the process is to end once the robot is off."""
        self.refused = 0
        """Datagrams that made no sense."""

    def begin(self) -> None:
        """The loop begins: of what waited while the rig was opened, only stops still count."""
        waited = self.requests()
        self._stops = [request for request in waited if request.word is Word.STOP]
        self._heard = self._clock()

    def on_signal(self, number: int, frame: FrameType | None) -> None:
        """A signal asks to sit down and end; a second one to switch off now."""
        del frame
        self._signals.append(number)

    def requests(self) -> list[Request]:
        """Requests since the last cycle."""
        found, self._stops = self._stops, []
        for data in self._box.take():
            try:
                request = unpack_request(data)
            except (ValueError, LegwrightError):
                self.refused += 1
                continue
            self._heard = self._clock()
            if isinstance(request, Pulse):
                self._pulse = request
            else:
                found.append(request)
        if not self.ending and os.getppid() != self._parent:
            self._signals.append(signal.SIGTERM)
        while self._signals:
            self._signals.pop()
            stop = Stop.AT_ONCE if self.ending else Stop.SIT
            found.append(Request(word=Word.STOP, sender="signal", stop=stop))
            self.ending = True
        return found

    def outside(self) -> Outside:
        """What is known beside the drives."""
        silent = self._clock() - self._heard > SILENT
        return Outside(
            service_silent=silent and not self.ending,
            driver_silent=self._pulse.driver_silent,
            disk_full=self._pulse.disk_full,
        )


def run_control(settings: Settings, open_rig: Callable[[str, Robot, dict[str, str]], Rig]) -> None:
    """Run until a signal ends it; the robot is off then.

    Args:
        settings: What to run.
        open_rig: Opens a rig by its text, for a robot, with options.
    """
    box = Mailbox(settings.folder / CONTROL, settings.folder / SERVICE)
    hearing = Hearing(box, parent=settings.parent)
    signal.signal(signal.SIGTERM, hearing.on_signal)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal's goes to the keeper, which passes it
    robot = load(settings.robot)
    rig = open_rig(settings.rig, robot, settings.options)
    runtime = Runtime(rig, feel=settings.feel)
    warm(runtime.controller)
    hearing.begin()
    loop = Loop(
        runtime,
        hear=hearing.requests,
        tell=lambda report: box.post(pack_report(report)),
        outside=hearing.outside,
    )
    granted = calm(realtime=settings.realtime)
    _tell_card(settings.folder / CARD, rig, granted)

    def ended(report: Report) -> bool:
        return hearing.ending and report.mode in (Mode.LIMP, Mode.FAULT)

    loop.run(ended)
    rig.close()
    box.close()


def _tell_card(path: Path, rig: Rig, granted: str) -> None:
    """Tell the service about the rig, whole or not at all."""
    card = {"rate": rig.rate, "real": rig.real, "notes": [*rig.notes, granted]}
    new = path.with_suffix(".new")
    new.write_text(json.dumps(card), encoding="utf-8")
    new.replace(path)


def warm(controller: Controller) -> None:
    """Compile every kernel of the controller, then forget."""
    count = len(controller.robot.joint_names)
    up = np.array([0.0, 0.0, 1.0])
    sensed = Sensed(
        q=controller.able.fixed.rest.copy(), qd=np.zeros(count), current=np.zeros(count),
        voltage=1.0, up=up, spin=np.zeros(3),
    )  # fmt: skip
    walk = Command(kind=Kind.WALK, velocity=(0.02, 0.0))
    for _ in range(40):
        targets, _events = controller.step(sensed, walk, 1.0 / controller.rate)
        sensed = replace(sensed, q=targets.q, qd=targets.qd)
    controller.restart()
