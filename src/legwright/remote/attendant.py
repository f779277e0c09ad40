"""The service process: people, recorder, lights and pad; it never touches a drive.

It hears reports from the control process and hands requests over. When it dies, the robot stands
still; when it comes back, all goes on.
"""

from __future__ import annotations

import asyncio
import json
import os
import queue
import signal
import threading
import time
from collections.abc import Callable
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any

import msgspec
import numpy as np

from legwright.errors import RigError
from legwright.mechanics.drive import drives_of
from legwright.mechanics.opening import load
from legwright.remote.discovery import announced
from legwright.remote.server import Tls, endpoint, listening
from legwright.remote.service import Record, Service
from legwright.remote.sign_in import Doors
from legwright.rig.control import CARD, CONTROL, HEARTBEAT, SERVICE
from legwright.rig.faults import RULES, Recovery
from legwright.rig.hand.device import Device
from legwright.rig.hand.mapping import Hand, asked, gaits_of
from legwright.rig.handover import Mailbox, Pulse, pack_pulse, pack_request, unpack_report
from legwright.rig.lights.shown import Calmer, Pattern, Scene, shown
from legwright.rig.lights.strip import Strip
from legwright.rig.logbook import Logbook
from legwright.rig.runtime import Report
from legwright.robot.robot import Robot

LIT = 0.04
"""Period of the lights [s]."""
CARD_PATIENCE = 180.0
"""The control process may take so long to open its rig [s]: kernels compile at first use."""
DUMB = 0.5
"""The control process counts as gone when it has told nothing for so long [s]."""
BACKLOG = 2000
"""Reports that may wait for the recorder."""


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


class Writer:
    """Writes the logbook in a thread of its own, so that a slow disk delays nobody."""

    def __init__(self, book: Logbook) -> None:
        """Begin."""
        self._book = book
        self._queue: queue.Queue[Report | Record | None] = queue.Queue(BACKLOG)
        self._thread = threading.Thread(target=self._write, name="logbook", daemon=True)
        self._thread.start()
        self.dropped = 0
        """Reports for which there was no room in the queue."""
        self.problem = ""
        """Why the recorder failed last."""

    @property
    def full(self) -> bool:
        """Whether the disk is full."""
        return self._book.full

    def put(self, what: Report | Record) -> None:
        """Hand something over; never waits."""
        try:
            self._queue.put_nowait(what)
        except queue.Full:
            self.dropped += 1

    def __enter__(self) -> Writer:
        """The writer itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Write what waits, and close."""
        self._queue.put(None)
        self._thread.join(5.0)

    def _write(self) -> None:
        while True:
            what = self._queue.get()
            if what is None:
                self._book.close()
                return
            try:
                if isinstance(what, Record):
                    self._book.notice(what.time, what.word, what.text)
                else:
                    self._book.report(what)
            except Exception as error:  # a recorder that fails is told, and tries again
                self.problem = f"{type(error).__name__}: {error}"
                self._book.close()


class Lamps:
    """The robot's lights, where it has any."""

    def __init__(self, robot: Robot, pattern: Pattern) -> None:
        """Open the strip; a strip that is not there is told once and left alone."""
        lights = robot.sheet.lights
        self.count = 0 if lights is None else lights.count
        self._pattern, self.problem = pattern, ""
        self._strip: Strip | None = None
        self._calmer = Calmer(max(self.count, 1))
        self._columns = [robot.columns[name] for name in robot.legs]
        self._stall = np.asarray(drives_of(robot).stall_torque)
        self._gain = np.asarray(drives_of(robot).torque_constant)
        if lights is not None and lights.device:
            try:
                self._strip = Strip(lights.device, brightness=lights.brightness)
            except RigError as error:
                self.problem = str(error)

    def show(self, report: Report, time: float) -> None:
        """Show a report."""
        if self.count == 0:
            return
        share = np.nan_to_num(np.abs(self._gain * report.sensed.current) / self._stall)
        act = any(RULES[fault].recovery is not Recovery.ITSELF for fault in report.faults)
        scene = Scene(
            mode=report.mode,
            warning=bool(report.faults),
            act=act,
            contact=report.contact,
            strain=np.array([share[columns].max() for columns in self._columns]),
        )
        colours = self._calmer.calm(shown(scene, self._pattern, time, self.count), time)
        if self._strip is not None:
            self._strip.show(colours)


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
        self._heard = clock()
        self._last: Report | None = None
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
            self._heard, self._last = self._clock(), report
            self._service.report(report)
            if self._writer is not None:
                self._writer.put(report)
        self.hand_over()

    def hand_over(self) -> None:
        """Send requests, keep records."""
        for request in self._service.requests():
            self._box.send(pack_request(request))
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
        if self._pad is not None:
            reading = self._pad.read()
            self._hand, found = asked(self._robot, self._gaits, self._hand, reading, now)
            for request in found:
                self._box.send(pack_request(request))
        if self._writer is not None and self._writer.problem:
            self._service.announce(now, "recorder", f"Not recorded: {self._writer.problem}.")
            self._writer.problem = ""
        if self._last is not None and now - self._heard > DUMB:
            self._last = None
            text = "The control process tells nothing; the drives hold what they were told."
            self._service.announce(now, "control silent", text)
        self.hand_over()

    def light(self) -> None:
        """Show the last report on the lights."""
        if self._last is not None:
            self._lamps.show(self._last, self._clock())


async def attend(settings: ServiceSettings) -> None:
    """Serve until a signal ends it, or the process that started this one is gone.

    Args:
        settings: What to serve.
    """
    robot = load(settings.robot)
    card = await _card(settings.folder / CARD)
    service = Service(robot, rate=card["rate"], real=card["real"], doors=settings.doors)
    box = Mailbox(settings.folder / SERVICE, settings.folder / CONTROL)
    over, parent = asyncio.Event(), os.getppid()
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
            [route], service, clock=time.monotonic, host=settings.host, port=settings.port,
            tls=settings.tls,
        ) as address:  # fmt: skip
            (settings.folder / "address").write_text(address, encoding="utf-8")
            told = announced(robot.name, address) if settings.announce else None
            tasks = [
                asyncio.create_task(_every(HEARTBEAT, attendant.beat)),
                asyncio.create_task(_every(LIT, attendant.light)),
            ]
            async with told or nullcontext():
                while not over.is_set() and os.getppid() == parent:
                    with suppress(TimeoutError):
                        await asyncio.wait_for(over.wait(), 0.5)
            for task in tasks:
                task.cancel()
        loop.remove_reader(box.fileno())
    box.close()


async def _card(path: Path) -> dict[str, Any]:
    """What the control process says of its rig, as soon as it does."""
    end = time.monotonic() + CARD_PATIENCE
    while time.monotonic() < end:
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
