"""A simulated rig that can be made ill: every fault of the table, on demand.

It stands between the physics world and the runtime, for the fault campaign, tests and demos.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError, did_you_mean
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.faults import Fault
from legwright.rig.port import Drives
from legwright.rig.simulated import Simulated
from legwright.rig.symptoms import Limits, Outside
from legwright.robot.robot import Robot

JAMMED = 400.0
"""Factor on a gear's friction that no servo overcomes."""
DRIVE_ERROR = 0x2310
"""Continuous over-current; CiA 402 error codes, object 603F."""


@dataclass(slots=True, eq=False)
class Illness:
    """What is wrong now."""

    silent: NDArray[np.bool_]
    """(J,): joints whose answers and targets are lost; they hold what they were told."""
    fault: NDArray[np.int64]
    """(J,): error codes; such a drive is limp."""
    current: dict[int, float] = field(default_factory=dict)
    """Joint's number -> what its sensor shows [A]."""
    winding: dict[int, float] = field(default_factory=dict)
    """Joint's number -> what its drive tells [K]."""
    voltage: float | None = None
    buses: tuple[bool, ...] = (True,)
    outside: Outside = field(default_factory=Outside)


class Ailing:
    """A simulated rig; `inflict` and `heal` change what is wrong with it."""

    real = False
    calibrated = True

    def __init__(self, rig: Simulated, *, buses: tuple[int, ...] | None = None) -> None:
        """Stand before a rig that is well.

        Args:
            rig: The rig.
            buses: Number of each joint's bus; all on one when None.
        """
        self.rig, count = rig, len(rig.robot.joint_names)
        self.buses = buses or (0,) * count
        self._limits = Limits.of(rig.robot, self.buses)
        self._count = count
        self.heal()

    def heal(self) -> None:
        """Take away what can be taken away; a broken servo stays broken, a freed one is free."""
        self.illness = Illness(
            silent=np.zeros(self._count, dtype=np.bool_),
            fault=np.zeros(self._count, dtype=np.int64),
            buses=(True,) * (max(self.buses) + 1),
        )
        self.rig.world.drift_friction(np.ones(self._count))
        self.rig.world.lean(0.0)

    def inflict(self, fault: Fault, joint: str = "") -> None:
        """Make one cause of a fault true.

        Args:
            fault: Which; faults that come through requests or the ground are not had here.
            joint: Where, for faults of one joint; the first joint when empty.

        Raises:
            RequestError: for a joint that is none, or a fault that is not had here.
        """
        names = self.robot.joint_names
        if joint and joint not in names:
            raise RequestError("joint", joint, f"a joint. {did_you_mean(joint, names)}")
        j = names.index(joint) if joint else 0
        ills = self._ills(j)
        if fault not in ills:
            raise RequestError("fault", fault.value, "one that a rig can have")
        ills[fault]()

    def _ills(self, j: int) -> dict[Fault, Callable[[], object]]:
        ill, limits = self.illness, self._limits
        lowest = limits.voltage if np.isfinite(limits.voltage) else 10.0

        def outside(**more: object) -> None:
            ill.outside = replace(ill.outside, **more)  # type: ignore[arg-type]

        def shown(place: dict[int, float], value: float) -> None:
            place[j] = value

        def bus_off() -> None:
            bus = self.buses[j]
            ill.silent |= np.array([number == bus for number in self.buses])
            ill.buses = tuple(alive and k != bus for k, alive in enumerate(ill.buses))

        def jam() -> None:
            factors = np.ones(self._count)
            factors[j] = JAMMED
            self.rig.world.drift_friction(factors)

        def drive_fault() -> None:
            ill.fault[j] = DRIVE_ERROR

        def voltage(share: float) -> None:
            ill.voltage = share * lowest

        def lean(degrees: float) -> None:
            self.rig.world.lean(float(np.radians(degrees)))

        return {
            Fault.JOINT_SILENT: lambda: self.rig.world.silence(self.robot.joint_names[j]),
            Fault.BUS_OFF: bus_off,
            Fault.DRIVE_FAULT: drive_fault,
            Fault.FOLLOWING: jam,
            Fault.OVER_CURRENT: lambda: shown(ill.current, 1.1 * float(limits.current[j])),
            Fault.WARM: lambda: shown(ill.winding, float(limits.winding[j]) - 10.0),
            Fault.HOT: lambda: shown(ill.winding, float(limits.winding[j]) - 2.0),
            Fault.LOW_VOLTAGE: lambda: voltage(1.01),
            Fault.CRITICAL_VOLTAGE: lambda: voltage(0.97),
            Fault.TILT: lambda: lean(31.0),
            Fault.FALLEN: lambda: lean(60.0),
            Fault.OVERRUN: lambda: outside(late=0.08, late_row=4),
            Fault.CLOCK_JUMP: lambda: outside(jump=7.0),
            Fault.SERVICE_SILENT: lambda: outside(service_silent=True),
            Fault.CLIENT_SILENT: lambda: outside(driver_silent=True),
            Fault.DISK_FULL: lambda: outside(disk_full=True),
        }

    # The rig ------------------------------------------------------------------------------

    @property
    def robot(self) -> Robot:
        """The robot that is moved."""
        return self.rig.robot

    @property
    def rate(self) -> float:
        """Bus cycles per second [Hz]."""
        return self.rig.rate

    @property
    def notes(self) -> tuple[str, ...]:
        """What is assumed."""
        return self.rig.notes

    def sense(self) -> Sensed:
        """Readings, as far as they arrive."""
        sensed, ill = self.rig.sense(), self.illness
        q, qd, current = (np.array(x) for x in (sensed.q, sensed.qd, sensed.current))
        for values in (q, qd, current):
            values[ill.silent] = np.nan
        for j, value in ill.current.items():
            current[j] = value
        voltage = sensed.voltage if ill.voltage is None else ill.voltage
        return replace(sensed, q=q, qd=qd, current=current, voltage=voltage)

    def drives(self) -> Drives:
        """State of the drives."""
        drives, ill = self.rig.drives(), self.illness
        winding = np.array(drives.winding)
        for j, value in ill.winding.items():
            winding[j] = value
        fault = np.where(ill.fault != 0, ill.fault, drives.fault)
        return Drives(
            powered=drives.powered & (ill.fault == 0), fault=fault, winding=winding,
            buses=ill.buses, voltage=drives.voltage,
        )  # fmt: skip

    def apply(self, targets: Targets) -> None:
        """Send targets, as far as they arrive."""
        ill = self.illness
        self.rig.apply(replace(targets, q=np.where(ill.silent, np.nan, targets.q)))

    def power(self, on: bool) -> None:
        """Switch torque."""
        self.rig.power(on)

    def advance(self) -> None:
        """End the cycle; drives with an error are limp."""
        if self.illness.fault.any():
            world = self.rig.world
            world.energise(world.powered & (self.illness.fault == 0))
        self.rig.advance()

    def close(self) -> None:
        """Power off."""
        self.rig.close()
