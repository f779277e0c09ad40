"""The service process: people, recorder, lights and pad; it never touches a drive.

It hears reports from the control process and hands requests over. When it dies, the robot stands
still; when it comes back, all goes on. When the keeper dies, it stays until the control process
has sat the robot down, so that this is recorded too.
"""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import signal
import time
from collections.abc import Callable
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import msgspec

from legwright.errors import RigError
from legwright.mechanics.opening import load
from legwright.remote.discovery import announced
from legwright.remote.glance import KEEPER, Glance, pack_glance, shades
from legwright.remote.lamps import Lamps
from legwright.remote.server import Tls, endpoint, listening
from legwright.remote.service import Service
from legwright.remote.sign_in import Doors
from legwright.remote.writing import Lit, Writer
from legwright.rig.control import CARD, CONTROL, HEARTBEAT, SERVICE
from legwright.rig.hand.device import Device
from legwright.rig.hand.mapping import Hand, asked, gaits_of
from legwright.rig.handover import Mailbox, Pulse, pack_pulse, pack_request, unpack_report
from legwright.rig.lights.shown import Pattern
from legwright.rig.logbook import Logbook
from legwright.rig.request import Request, Word
from legwright.rig.runtime import Report
from legwright.robot.robot import Robot

ADDRESS = "address"
"""Name of the file that tells where the service listens."""
LIT = 0.04
"""Period of the lights [s]."""
CARD_PATIENCE = 600.0
"""The control process may take so long to open its rig [s]: kernels compile at first use."""
DUMB = 0.5
"""The control process counts as gone when it has told nothing for so long [s]."""
GONE = 2.0
"""With the keeper gone, the service ends when the control process has been dumb so long [s]."""
SHOWN = 0.25
"""Period of the keeper's status line [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceSettings:
    """What the service process is told when it starts."""

    robot: Path
    folder: Path
    """Private folder of the sockets."""
    logs: Path | None
    """Where recordings go; None records nothing."""
    host: str = "127.0.0.1"
    port: int = 8443
    doors: Doors = field(default_factory=Doors)
    tls: Tls | None = None
    origins: tuple[str, ...] = ()
    pad: Path | None = None
    pattern: Pattern = Pattern.STATE
    announce: bool = False
    """Whether the local network is told where the robot is."""
    glance: bool = False
    """Whether the keeper shows a status line."""
    parent: int = 0
    """Process whose end is a reason to end; the one that started this when 0."""


class Attendant:
    """Joins the hand-over, the service, the recorder, the lights and the pad."""

    def __init__(
        self, robot: Robot, service: Service, box: Mailbox, *, settings: ServiceSettings,
        writer: Writer | None, clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        """Get ready."""
        self._robot, self._service, self._box, self._clock = robot, service, box, clock
        self._writer = writer
        self._lamps = Lamps(robot, settings.pattern)
        self._gaits, self._hand = gaits_of(robot), Hand()
        self._pad = None if settings.pad is None else Device(settings.pad)
        self.heard = clock()
        """When the control process told something last [s]."""
        self._last: Report | None = None
        self._dumb = False
        self._unsent: list[Request] = []
        self.refused = 0
        """Datagrams that made no sense."""
        if self._lamps.problem:
            service.note(clock(), "lights", self._lamps.problem)

    def hear(self) -> None:
        """Reports came in."""
        for data in self._box.take():
            try:
                report = unpack_report(data)
            except (msgspec.DecodeError, ValueError):
                self.refused += 1
                continue
            self.heard, self._last = self._clock(), report
            if self._dumb:
                self._dumb = False
                text = f"The control process is back; the robot is {report.mode.value}."
                self._service.announce(self.heard, "control back", text)
            self._service.report(report)
            if self._writer is not None:
                self._writer.put(report)
        self.hand_over()

    def hand_over(self) -> None:
        """Send requests, keep records."""
        unsent, self._unsent = self._unsent, []
        for request in (*unsent, *self._service.requests()):
            sent = self._box.send(pack_request(request))
            if not sent and request.word is Word.STOP:
                self._unsent.append(request)  # a stop waits for a control process that starts anew
        while self._service.records:
            record = self._service.records.popleft()
            if self._writer is not None:
                self._writer.put(record)

    def beat(self) -> None:
        """One heartbeat: what only this process knows, the pad, and a control that is dumb."""
        now = self._clock()
        self._box.send(
            pack_pulse(
                Pulse(
                    disk_full=self._writer is not None and self._writer.full,
                    driver_silent=self._service.driver_silent(now),
                )
            )
        )
        self._service.readings.recorded = self._writer is not None and not self._writer.full
        if self._pad is not None:
            reading = self._pad.read()
            self._hand, found = asked(self._robot, self._gaits, self._hand, reading, now)
            for request in found:
                self._box.send(pack_request(request))
        if self._writer is not None and self._writer.problem:
            self._service.announce(now, "recorder", f"Not recorded: {self._writer.problem}.")
            self._writer.problem = ""
        if self._last is not None and now - self.heard > DUMB:
            self._last, self._dumb = None, True
            text = "The control process tells nothing; the drives hold what they were told."
            self._service.announce(now, "control silent", text)
        self.hand_over()

    def light(self) -> None:
        """Show the last report on the lights."""
        if self._last is None:
            return
        now = self._clock()
        colours = self._lamps.show(self._last, now)
        if colours is not None:
            self._service.readings.lights = shades(colours)
        if colours is not None and self._writer is not None:
            self._writer.put(Lit(time=now, colours=colours))

    def glance(self) -> None:
        """Tell the keeper what its status line shows."""
        report = self._last
        self._box.send_to(
            KEEPER,
            pack_glance(
                Glance(
                    mode="" if report is None else report.mode.value,
                    faults=() if report is None else tuple(f.value for f in report.faults),
                    voltage=None if report is None else report.sensed.voltage,
                    driver=self._service.driver_name,
                    recorded=self._writer is not None and not self._writer.full,
                    lights=shades(self._lamps.colours),
                )
            ),
        )


async def attend(settings: ServiceSettings) -> None:
    """Serve until a signal ends it, or the process that started this one is gone.

    Args:
        settings: What to serve.
    """
    parent = settings.parent or os.getppid()
    robot = load(settings.robot)
    card = await _card(settings.folder / CARD, parent)
    if card is None:
        return
    service = Service(robot, rate=card["rate"], real=card["real"], doors=settings.doors)
    box = Mailbox(settings.folder / SERVICE, settings.folder / CONTROL)
    over = asyncio.Event()
    loop = asyncio.get_running_loop()
    loop.add_signal_handler(signal.SIGTERM, over.set)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's: the control process sits first
    notes = tuple(card["notes"])
    book = None if settings.logs is None else Logbook(
        settings.logs, robot, rate=card["rate"], notes=notes
    )  # fmt: skip
    with Writer(book) if book is not None else nullcontext() as writer:
        attendant = Attendant(robot, service, box, settings=settings, writer=writer)
        loop.add_reader(box.fileno(), attendant.hear)
        route = endpoint(service, clock=time.monotonic, origins=settings.origins)
        async with listening(
            [route], service, clock=time.monotonic, host=settings.host,
            port=settings.port or _port_before(settings.folder),
            tls=settings.tls,
        ) as address:  # fmt: skip
            (settings.folder / ADDRESS).write_text(address, encoding="utf-8")
            told = announced(robot.name, address) if settings.announce else None
            tasks = [
                asyncio.create_task(_every(HEARTBEAT, attendant.beat)),
                asyncio.create_task(_every(LIT, attendant.light)),
            ]
            if settings.glance:
                tasks.append(asyncio.create_task(_every(SHOWN, attendant.glance)))
            async with told or nullcontext():
                while not over.is_set() and not _alone(parent, attendant.heard):
                    with suppress(TimeoutError):
                        await asyncio.wait_for(over.wait(), 0.5)
            for task in tasks:
                task.cancel()
        loop.remove_reader(box.fileno())
        attendant.hear()  # the last reports
    box.close()
    if os.getppid() != parent:
        shutil.rmtree(settings.folder, ignore_errors=True)  # nobody else is left to do it


def _port_before(folder: Path) -> int:
    """The free port that was found before this process was started anew; else 0."""
    with suppress(OSError):
        return urlsplit((folder / ADDRESS).read_text(encoding="utf-8")).port or 0
    return 0


def _alone(parent: int, heard: float) -> bool:
    """Whether the keeper is gone, and the control process after it."""
    return os.getppid() != parent and time.monotonic() - heard > GONE


async def _card(path: Path, parent: int) -> dict[str, Any] | None:
    """What the control process says of its rig, as soon as it does; None with the keeper gone."""
    end = time.monotonic() + CARD_PATIENCE
    while time.monotonic() < end:
        if os.getppid() != parent:
            return None
        with suppress(OSError, ValueError):
            return dict(json.loads(path.read_text(encoding="utf-8")))
        await asyncio.sleep(0.05)
    raise RigError("The control process did not open its rig. Look at its message.")


async def _every(period: float, call: Callable[[], None]) -> None:
    due = time.monotonic()
    while True:
        call()
        due = max(due + period, time.monotonic())
        await asyncio.sleep(due - time.monotonic())
