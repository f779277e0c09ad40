"""Faults on demand: what simulated drives and their buses suffer from.

Every fault stays until it is healed; those that a real drive latches stay in its error code until
it is reset.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError, did_you_mean
from legwright.rig.can import frames as f
from legwright.robot.tree import Floats


class Ail(Enum):
    """What a drive can suffer from; the value is the word in tests and demos."""

    DEAD = "dead"
    """No power at that drive: silent and limp."""
    FROZEN = "frozen"
    """Its program hangs: the same answer again and again, the motor held where it is."""
    MUTE = "mute"
    """It works but is not heard."""
    EMERGENCY = "emergency"
    """It finds an error of its own (`amount`: the code), tells it, and goes limp."""
    HOT = "hot"
    """Its winding sensor reads `amount` kelvins more; at the trip it goes into fault."""
    OVER_CURRENT = "over-current"
    """Its current reads `amount` times as much."""
    BLOCKED = "blocked"
    """Its position does not change, whatever the motor does: something holds the leg, or the
    sensor's cable is broken."""


class BusAil(Enum):
    """What a bus can suffer from."""

    CUT = "cut"
    """Nothing passes."""
    BABBLE = "babble"
    """Somebody sends high-priority frames without pause: nothing else passes, and the rubbish
    arrives."""
    LOSS = "loss"
    """Each frame is lost with a probability of `amount`."""
    LATE = "late"
    """Answers come `amount` seconds later."""
    LOW = "low voltage"
    """All drives on it measure `amount` volts less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suffering:
    """One bus's troubles."""

    cut: bool = False
    babble: bool = False
    loss: float = 0.0
    late: float = 0.0
    low: float = 0.0


RUBBISH = 400
"""Frames that a babbling node gets onto a bus of 1 Mbit/s between two looks, at least."""
WINDING_TRIP = 0x4310
"""Error code of an over-temperature of the drive; CiA 402-2."""


class Ailments:
    """Who suffers from what."""

    def __init__(self, names: tuple[str, ...], buses: int, seed: int = 0) -> None:
        """All are healthy."""
        self._names = names
        count = len(names)
        self.dead, self.frozen, self.mute, self.blocked = (
            np.zeros(count, dtype=np.bool_) for _ in range(4)
        )
        self.code = np.zeros(count, dtype=np.int64)
        self.hotter: Floats = np.zeros(count)
        self.factor: Floats = np.ones(count)
        self.buses = [Suffering() for _ in range(buses)]
        self.bus_of = np.zeros(count, dtype=np.int64)
        """Number of each drive's bus, (R,); the bench fills it in."""
        self.random = np.random.default_rng(seed)

    def inflict(self, joint: str, ail: Ail, amount: float = 0.0) -> None:
        """Let a drive suffer.

        Args:
            joint: Its joint.
            ail: From what.
            amount: See `Ail`.

        Raises:
            RequestError: if there is no such joint.
        """
        row = self.row(joint)
        if ail is Ail.EMERGENCY:
            self.code[row] = int(amount) or 0x5000
        elif ail is Ail.HOT:
            self.hotter[row] = amount
        elif ail is Ail.OVER_CURRENT:
            self.factor[row] = amount
        else:
            self._mask(ail)[row] = True

    def heal(self, joint: str) -> None:
        """End all that a drive suffers from; a fault that it has latched stays."""
        row = self.row(joint)
        for mask in (self.dead, self.frozen, self.mute, self.blocked):
            mask[row] = False
        self.code[row], self.hotter[row], self.factor[row] = 0, 0.0, 1.0

    def trouble(self, bus: int, **what: float | bool) -> None:
        """Let a bus suffer: fields of `Suffering`; all others are well again."""
        self.buses[bus] = Suffering(**what)  # type: ignore[arg-type]

    @property
    def low(self) -> Floats:
        """Voltage that each drive measures too little, (R,) [V]."""
        return np.array([bus.low for bus in self.buses])[self.bus_of]

    def row(self, joint: str) -> int:
        """A joint's place."""
        if joint not in self._names:
            raise RequestError("joint", joint, f"a drive. {did_you_mean(joint, self._names)}")
        return self._names.index(joint)

    def passed(self, bus: int, frames: f.Frames) -> f.Frames:
        """What of these frames gets through a bus."""
        state = self.buses[bus]
        if state.cut or state.babble:
            return frames[:0]
        if state.loss > 0.0 and len(frames):
            return frames[self.random.random(len(frames)) >= state.loss]
        return frames

    def rubbish(self, bus: int) -> f.Frames | None:
        """What a babbling node sends."""
        if not self.buses[bus].babble:
            return None
        payload = self.random.integers(0, 256, (RUBBISH, 8), dtype=np.uint8)
        return f.table(np.full(RUBBISH, 0x001), 8, payload)

    def _mask(self, ail: Ail) -> NDArray[np.bool_]:
        return {
            Ail.DEAD: self.dead,
            Ail.FROZEN: self.frozen,
            Ail.MUTE: self.mute,
            Ail.BLOCKED: self.blocked,
        }[ail]
