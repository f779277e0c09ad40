"""The built-in simulated robot: a process with physics world, supervisor and service on loopback.

Pages reach it as they reach a robot's program, through the desk's relay; so all that is driven
here is driven alike on the machine.
"""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from legwright.errors import LegwrightError
from legwright.remote.glance import shades
from legwright.remote.hosting import hosted
from legwright.remote.lamps import Lamps
from legwright.remote.local import Local
from legwright.remote.writing import Lit, Writer
from legwright.rig.lights.shown import Pattern
from legwright.rig.logbook import Logbook
from legwright.rig.runtime import Report
from legwright.rig.simulated import Simulated
from legwright.robot.robot import Robot

LIT = 0.04
"""Period of the lights [s]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Simulation:
    """A robot to be simulated."""

    robot: Robot
    ground: str
    seed: int
    folder: Path
    """Where it is recorded, when it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Switch the recorder."""

    on: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """It can be driven."""

    address: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """It cannot be simulated."""

    text: str


class Recording:
    """The recorder that can be switched."""

    def __init__(self, simulation: Simulation, rate: float, notes: tuple[str, ...]) -> None:
        """It does not write yet."""
        self._of, self._rate, self._notes = simulation, rate, notes
        self._open = ExitStack()
        self._writer: Writer | None = None

    @property
    def on(self) -> bool:
        """Whether it writes."""
        return self._writer is not None and not self._writer.full

    def switch(self, on: bool) -> None:
        """Begin a file, or end it."""
        if on == (self._writer is not None):
            return
        self._open.close()
        self._writer = None
        if on:
            book = Logbook(
                self._of.folder, self._of.robot, rate=self._rate, notes=self._notes
            )  # fmt: skip
            self._writer = self._open.enter_context(Writer(book))

    def put(self, what: Report | Lit) -> None:
        """Keep something, where it writes."""
        if self._writer is not None:
            self._writer.put(what)


class Showing:
    """Follows each cycle: lights, recorder."""

    def __init__(self, robot: Robot, recording: Recording) -> None:
        """Nothing shown yet."""
        self._lamps, self._recording = Lamps(robot, Pattern.STATE), recording
        self._due = 0.0
        self.local: Local | None = None

    def tell(self, report: Report) -> None:
        """One cycle's report."""
        self._recording.put(report)
        if self.local is None:
            return
        readings = self.local.service.readings
        readings.recorded = self._recording.on
        self.local.service.records.clear()  # who came and went is kept by a robot's own program
        if report.time < self._due:
            return
        self._due = report.time + LIT
        colours = self._lamps.show(report, report.time)
        if colours is not None:
            readings.lights = shades(colours)
            self._recording.put(Lit(time=report.time, colours=colours))


def work(line: Connection, simulation: Simulation) -> None:
    """Simulate a robot until the line closes.

    Args:
        line: `Record` in; `Ready` or `Failed` out.
        simulation: The robot.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's Ctrl-C is for the desk
    try:
        asyncio.run(_run(line, simulation))
    except LegwrightError as error:
        line.send(Failed(text=str(error)))
    except (EOFError, OSError):
        return


async def _run(line: Connection, simulation: Simulation) -> None:
    rig = Simulated(simulation.robot, ground=simulation.ground, seed=simulation.seed)
    recording = Recording(simulation, rig.rate, rig.notes)
    showing = Showing(simulation.robot, recording)
    local = Local(rig, tell=showing.tell)
    showing.local = local
    over = asyncio.Event()
    async with hosted(local) as address:
        loop = asyncio.get_running_loop()
        loop.add_reader(line.fileno(), _hearing(line, recording, over))
        line.send(Ready(address=address, notes=rig.notes))
        await over.wait()
        loop.remove_reader(line.fileno())
    recording.switch(False)


def _hearing(line: Connection, recording: Recording, over: asyncio.Event) -> Callable[[], None]:
    def hear() -> None:
        try:
            while line.poll():
                order = line.recv()
                if isinstance(order, Record):
                    recording.switch(order.on)
        except (EOFError, OSError):
            over.set()

    return hear
