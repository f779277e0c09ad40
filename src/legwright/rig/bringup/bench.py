"""Drives on the bench, before it is known which joint each one turns.

A drive has its own angle: it grows the drive's way and is zero where the drive says so. What
bring-up finds is ``joint = direction · angle + zero``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Readout:
    """One reading of all drives, in the order of the last `Bench.find`; nan where one is silent."""

    angle: Floats
    """(N,): the drives' own angles [rad]."""
    speed: Floats
    """(N,) [rad/s]"""
    current: Floats
    """(N,): winding currents, signed with the drives' own angles [A]."""
    voltage: Floats
    """(N,): at the drives; nan where they do not tell [V]."""
    up: Floats | None = None
    """(3,): direction against gravity, body frame, where there is an inertial sensor."""
    spin: Floats | None = None
    """(3,): angular velocity of the body, body frame, likewise [rad/s]."""


class Bench(Protocol):
    """Drives by node number; every drive is limp until it is told to hold."""

    @property
    def rate(self) -> float:
        """Bus cycles per second [Hz]."""

    @property
    def real(self) -> bool:
        """Whether something moves that can hurt."""

    def find(self) -> tuple[int, ...]:
        """Node numbers that answer, ascending."""

    def read(self) -> Readout:
        """Readings of this cycle."""

    def hold(self, node: int, angle: float | None) -> None:
        """Let one drive go to its own angle from the next cycle on; limp when None."""

    def advance(self) -> None:
        """End the cycle."""

    def close(self) -> None:
        """All drives limp; leave the bus."""


class Witness(Protocol):
    """Whoever stands beside the bench: a person, or the truth of a simulated one."""

    def agree(self, caution: str) -> bool:
        """Whether the caution is heeded and the step may begin."""

    def watch(self) -> None:
        """Something is about to move."""

    def which(self, node: int, joints: tuple[str, ...]) -> str | None:
        """The joint that has just wagged; None where nothing was seen."""

    def grew(self, joint: str, question: str) -> bool | None:
        """Whether the joint has just turned its positive way; None where it was not seen."""

    def set_to(self, joint: str, angle: float) -> bool:
        """Set a limp joint to an angle by jig or by hand; False where it cannot be done."""
