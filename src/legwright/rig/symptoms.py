"""From readings to causes: what is wrong in this cycle, with its figure in words."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from legwright.locomotion.signals import Event, Sensed, Targets
from legwright.mechanics.drive import drives_of
from legwright.rig.faults import Fault
from legwright.rig.port import Drives
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

ASTRAY = np.radians(8.0)
"""Following error that is a fault: twice that of an ordinary walk [rad]."""
STALL_SHARE = 0.9
"""Share of the stall current that is a fault."""
WARM, HOT = 15.0, 5.0
"""Distance of a winding from its limit [K]."""
LOW = 1.03
"""Low voltage over the lowest one."""
LEAN, FALLEN = np.radians(25.0), np.radians(45.0)
"""Tilt of the body [rad]."""
LATE, LATE_ROW = 0.05, 3
"""One cycle this late [s], or so many late ones in a row, are an overrun."""
JUMP = 0.5
"""Of the wall clock against the steady one [s]."""
SERVICE, CLIENT = 0.25, 30.0
"""Silence of the service process and of the driver [s]; the fault table counts them."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Limits:
    """What the readings are held against."""

    names: tuple[str, ...]
    current: Floats
    """(J,) [A]; nan where it is not known."""
    winding: Floats
    """(J,) [K]; nan where it is not known."""
    voltage: float
    """Below it servos reset or cells suffer [V]; nan where it is not known."""
    bus_of: tuple[int, ...]
    """(J,): number of each joint's bus."""

    @classmethod
    def of(cls, robot: Robot, buses: tuple[int, ...] | None = None) -> Limits:
        """Of a robot, from its sheet."""
        drive, count = drives_of(robot), len(robot.joint_names)
        battery = robot.sheet.battery
        lowest = np.nanmax(np.append(drive.lowest_voltage, np.nan)) if count else np.nan
        if battery is not None:
            cells = battery.series * battery.cell_cutoff
            lowest = cells if not lowest > cells else lowest
        return cls(
            names=robot.joint_names,
            current=STALL_SHARE * np.asarray(drive.voltage / drive.resistance, dtype=np.float64),
            winding=np.asarray(drive.highest_winding, dtype=np.float64),
            voltage=float(lowest),
            bus_of=buses or (0,) * count,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """What is known beside the drives."""

    late: float = 0.0
    """Lateness of this cycle [s]."""
    late_row: int = 0
    """Late cycles in a row."""
    jump: float = 0.0
    """Wall clock's jump since the last cycle [s]."""
    service_silent: bool = False
    driver_silent: bool = False
    disk_full: bool = False
    events: tuple[Event, ...] = field(default=())
    """The controller's, of the last cycle."""


def symptoms(
    limits: Limits, sensed: Sensed, drives: Drives, targets: Targets | None, outside: Outside
) -> dict[Fault, str]:
    """Causes of faults that are there now.

    Args:
        limits: What is allowed.
        sensed: Readings.
        drives: State of the drives.
        targets: What the joints were told; None while they are limp.
        outside: What is known beside the drives.

    Returns:
        Fault -> a clause with the figure.
    """
    found: dict[Fault, str] = {}
    _joints(limits, sensed, drives, targets, found)
    _supply_and_tilt(limits, sensed, found)
    if outside.late > LATE or outside.late_row >= LATE_ROW:
        found[Fault.OVERRUN] = f"A cycle came {1e3 * outside.late:.0f} ms late"
    if abs(outside.jump) > JUMP:
        found[Fault.CLOCK_JUMP] = f"The wall clock jumped by {outside.jump:+.1f} s"
    if outside.service_silent:
        found[Fault.SERVICE_SILENT] = "The service process is silent"
    if outside.driver_silent:
        found[Fault.CLIENT_SILENT] = "The driver is silent"
    if outside.disk_full:
        found[Fault.DISK_FULL] = "The recorder has no room left"
    for event in outside.events:
        if event.what == "no ground":
            found[Fault.LOST_FOOT] = event.text.rstrip(".")
    return found


def _joints(
    limits: Limits, sensed: Sensed, drives: Drives, targets: Targets | None,
    found: dict[Fault, str],
) -> None:  # fmt: skip
    silent = np.isnan(sensed.q)
    if silent.any():
        for bus, alive in enumerate(drives.buses):
            members = np.array([number == bus for number in limits.bus_of])
            if not alive or (members.any() and silent[members].all()):
                found[Fault.BUS_OFF] = f"Bus {bus + 1} is silent"
        name = limits.names[int(np.flatnonzero(silent)[0])]
        found[Fault.JOINT_SILENT] = f"{name} does not answer"
    faulty = np.flatnonzero(drives.fault)
    if faulty.size:
        j = int(faulty[0])
        found[Fault.DRIVE_FAULT] = f"{limits.names[j]} reports error {drives.fault[j]:#06x}"
    if targets is not None and drives.powered.any():
        gap = np.nan_to_num(np.abs(sensed.q - targets.q)) * drives.powered
        j = int(gap.argmax())
        if gap[j] > ASTRAY:
            text = f"{limits.names[j]} is {np.degrees(gap[j]):.0f}° from its target"
            found[Fault.FOLLOWING] = text
    over = np.nan_to_num(np.abs(sensed.current) / limits.current)
    j = int(over.argmax())
    if over[j] > 1.0:
        found[Fault.OVER_CURRENT] = f"{limits.names[j]} carries {abs(sensed.current[j]):.2f} A"
    room = np.nan_to_num(limits.winding - drives.winding, nan=np.inf)
    j = int(room.argmin())
    if room[j] < WARM:
        text = f"The winding of {limits.names[j]} is {room[j]:.0f} K from its limit"
        found[Fault.WARM] = text
        if room[j] < HOT:
            found[Fault.HOT] = text


def _supply_and_tilt(limits: Limits, sensed: Sensed, found: dict[Fault, str]) -> None:
    if sensed.voltage < LOW * limits.voltage:
        text = f"The supply has {sensed.voltage:.1f} V of at least {limits.voltage:.1f} V"
        found[Fault.LOW_VOLTAGE] = text
        if sensed.voltage < limits.voltage:
            found[Fault.CRITICAL_VOLTAGE] = text
    if sensed.up is not None and np.isfinite(sensed.up).all():
        tilt = float(np.arccos(np.clip(sensed.up[2] / np.linalg.norm(sensed.up), -1.0, 1.0)))
        if tilt > LEAN:
            found[Fault.TILT] = f"The body leans {np.degrees(tilt):.0f}°"
        if tilt > FALLEN:
            found[Fault.FALLEN] = found[Fault.TILT]
