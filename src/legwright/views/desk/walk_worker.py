"""The walk's process: walks the edited robot in the physics world, and tells what each step brings.

It is a process, because physics is work for a whole core: pages must not wait for it. The steps
are those of `legwright walk`, and so is the recording.
"""

from __future__ import annotations

import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING

from legwright.errors import LegwrightError
from legwright.robot.robot import Robot
from legwright.study.trip import Trip
from legwright.views.desk.walk_story import About, Batch

if TYPE_CHECKING:
    from legwright.views.desk.walk_gather import Gather

TOLD = 1.0 / 30.0
"""How often what was walked is told [s]."""
FELL_BEHIND = 0.2
"""A world that is later than this against the clock is not hurried on afterwards [s]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Outset:
    """A walk to be walked."""

    robot: Robot
    trip: Trip
    seed: int
    felt: bool
    pace: float
    """World seconds per second; 0: as fast as it goes."""
    record: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Hold the world still, or let it go on."""

    paused: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Go at another pace."""

    pace: float


@dataclass(frozen=True, slots=True)
class End:
    """End the walk."""


@dataclass(frozen=True, slots=True)
class Rests:
    """The world is held still; all that was walked before has been told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Over:
    """The walk has ended."""

    text: str
    """How."""
    ok: bool


Order = Outset | Hold | Pace | End
Told = About | Batch | Rests | Over


class _EndedError(Exception):
    """The user ended the walk, or wants another instead."""

    def __init__(self, instead: Outset | None = None) -> None:
        """Keep what is to be walked instead: it was taken from the line, and comes only once."""
        super().__init__()
        self.instead = instead


class Metronome:
    """Keeps the world at a pace against a clock, and hears orders while it waits."""

    def __init__(
        self, line: Connection, pace: float, *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Begin.

        Args:
            line: Where orders come from.
            pace: World seconds per second; 0: as fast as it goes.
            clock: Steady clock [s].
        """
        self._line, self._clock, self.pace = line, clock, pace
        self._began, self._from = clock(), 0.0

    def keep(self, now: float, rest: Callable[[], None]) -> None:
        """Wait until the clock has come to a world time; do what is ordered meanwhile.

        Args:
            now: World time [s].
            rest: Called before the world is held still.

        Raises:
            _EndedError: when the walk is to end.
        """
        while True:
            ahead = self._due(now) - self._clock()
            if not self._line.poll(max(ahead, 0.0)):
                break
            self._obey(now, rest)
        if -ahead > FELL_BEHIND:
            self._restart(now)

    def _due(self, now: float) -> float:
        return self._began + (now - self._from) / self.pace if self.pace else 0.0

    def _restart(self, now: float) -> None:
        self._began, self._from = self._clock(), now

    def _obey(self, now: float, rest: Callable[[], None]) -> None:
        order = self._line.recv()
        while isinstance(order, Hold) and order.paused:
            rest()
            order = self._line.recv()
        if isinstance(order, End | Outset):
            raise _EndedError(order if isinstance(order, Outset) else None)
        if isinstance(order, Pace):
            self.pace = order.pace
        self._restart(now)


def work(line: Connection) -> None:
    """Walk whatever is ordered over a line, until it closes.

    Args:
        line: Orders in, what is told out.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's Ctrl-C is for the desk
    try:
        while True:
            order = line.recv()
            while isinstance(order, Outset):
                came = _walk(order, line)
                if isinstance(came, Over):
                    line.send(came)
                order = came
    except (EOFError, OSError):
        return


def _walk(outset: Outset, line: Connection) -> Over | Outset:
    """Walk, and say how it ended; or what is to be walked instead."""
    from legwright.study.outing import Keeper, recorder_for, set_out, steps
    from legwright.views.desk.walk_gather import Gather

    try:
        world, controller = set_out(
            outset.robot, outset.trip, seed=outset.seed, felt=outset.felt
        )  # fmt: skip
        recorder = recorder_for(
            outset.record, world, controller, outset.trip, seed=outset.seed, felt=outset.felt
        )
    except LegwrightError as error:
        return Over(text=str(error), ok=False)
    gather = Gather(world, controller)
    line.send(gather.about)
    metronome, told = Metronome(line, outset.pace), time.monotonic()

    def tell() -> None:
        batch = gather.take()
        if batch is not None:
            line.send(batch)

    def rest() -> None:
        tell()
        line.send(Rests())

    with recorder:
        keeper = Keeper(recorder, world, controller)
        try:
            for step in steps(world, controller, outset.trip, outset.seed):
                keeper.keep(step)
                gather.add(step)
                if time.monotonic() - told >= TOLD:
                    told = time.monotonic()
                    tell()
                metronome.keep(world.time, rest)
        except _EndedError as ended:
            keeper.stopped(world.time)
            if ended.instead is not None:
                return ended.instead
            tell()
            return Over(text=f"You ended it at {world.time:.1f} s.", ok=True)
        except LegwrightError as error:
            tell()
            return Over(text=str(error), ok=False)
    tell()
    return _how(gather, outset.trip, world.time)


def _how(gather: Gather, trip: Trip, now: float) -> Over:
    """How a walk came to its end by itself."""
    if gather.fell:
        return Over(text=f"It fell over after {gather.way:.2f} m, at {now:.1f} s.", ok=False)
    if gather.way >= trip.distance - 1e-6:
        return Over(text=f"It came {gather.way:.2f} m in {now:.1f} s.", ok=True)
    if gather.astray:
        text = f"It left its track after {gather.way:.2f} m, at {now:.1f} s."
        return Over(text=text, ok=False)
    return Over(text=f"It gets no farther than {gather.way:.2f} m.", ok=False)
