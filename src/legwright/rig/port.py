"""The door to a robot: the few calls that every rig answers, simulated or real.

A rig moves one robot. It senses, takes targets, and switches drive power; whoever calls decides
when a cycle begins. `tests/rig/rig_contract.py` holds what every rig must keep to:

- Before `power(True)` the joints are limp, and targets move nothing.
- After it, a joint holds the position at which it was found until a first target reaches it.
- A target of nan leaves its joint with what it was told before.
- Power may take some cycles to come on; `Drives.powered` tells when it is there.
- After `power(False)` the joints are limp at once; that call never fails and may be repeated.
- A joint that does not answer reads nan, two cycles later at most; nothing else does.
- `close` switches power off; every other call after it raises `RigError`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion.signals import Sensed, Targets
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drives:
    """What the drives say about themselves; arrays run as `Robot.joint_names`."""

    powered: NDArray[np.bool_]
    """(J,): the joint holds torque."""
    fault: NDArray[np.int64]
    """(J,): error code as CiA 402 object 603F codes it; 0 where there is none."""
    winding: Floats
    """(J,): winding temperature; nan where the drive does not tell [K]."""
    buses: tuple[bool, ...] = (True,)
    """Whether each bus is alive."""
    voltage: Floats | None = None
    """(J,): supply voltage at each drive; nan where one does not tell, None where none does [V]."""


class Rig(Protocol):
    """One robot behind its bus."""

    @property
    def robot(self) -> Robot:
        """The robot that is moved."""

    @property
    def rate(self) -> float:
        """Bus cycles per second [Hz]."""

    @property
    def real(self) -> bool:
        """Whether something moves that can hurt; real rigs run by the clock, always."""

    @property
    def notes(self) -> tuple[str, ...]:
        """What is assumed or left out, one sentence each."""

    @property
    def buses(self) -> tuple[int, ...]:
        """(J,): number of the bus on which each joint's drive hangs."""

    @property
    def calibrated(self) -> bool:
        """Whether zeros and directions of all joints are known; power needs them."""

    def sense(self) -> Sensed:
        """Readings of this cycle."""

    def drives(self) -> Drives:
        """State of the drives in this cycle."""

    def apply(self, targets: Targets) -> None:
        """Send targets; they act from the next cycle on."""

    def power(self, on: bool) -> None:
        """Switch the drives' torque; switching off never fails."""

    def advance(self) -> None:
        """End the cycle: a simulated rig computes it, a real one exchanges it on the bus."""

    def close(self) -> None:
        """Power off, and leave the bus."""
