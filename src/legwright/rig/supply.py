"""What feeds the servos: a stiff supply, or a battery that sags behind its resistance."""

from __future__ import annotations

from math import isfinite
from typing import Protocol

import numpy as np

from legwright.errors import RequestError, RobotError
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class Supply(Protocol):
    """Everything between the source and the servos' terminals."""

    about: str
    """One sentence for people: what it is, what it leaves out."""

    def voltages(self, currents: Floats, dt: float) -> Floats:
        """Voltage at each servo.

        Args:
            currents: That each servo draws, (J,) [A].
            dt: For how long [s].

        Returns:
            (J,) [V]; the same array may be written again at the next call.
        """
        ...

    @property
    def total(self) -> float:
        """Current that left the source in the last call [A]."""
        ...

    @property
    def terminal(self) -> float:
        """Voltage of the source's terminals at the last call [V]."""
        ...


class Stiff:
    """A bench supply: the same voltage everywhere, whatever is drawn."""

    def __init__(self, voltage: float, joints: int) -> None:
        if not (isfinite(voltage) and voltage > 0.0):
            raise RequestError("supply voltage", voltage, "finite and more than 0 V")
        self.about = f"stiff supply of {voltage:.3g} V, no harness"
        self._volts = np.full(joints, voltage)
        self.terminal = voltage
        self.total = 0.0

    def voltages(self, currents: Floats, dt: float) -> Floats:
        """The set voltage at every servo; see `Supply`."""
        self.total = float(currents.sum())
        return self._volts


class Sagging:
    """A battery behind one resistance; every servo sees the same voltage.

    The charge that is drawn lowers the open-circuit voltage along the chemistry's curve.
    Loads that are no servos draw constant power on top.
    """

    def __init__(self, robot: Robot, *, charge: float = 1.0) -> None:
        """Take battery, fuse and switch from the sheet.

        Args:
            robot: Its sheet has a [battery].
            charge: State of charge at the start, 0 to 1.

        Raises:
            RequestError: if there is no battery or the charge is out of range.
        """
        from legwright.electrics.battery import Pack, internal_resistance, open_voltage

        battery = robot.sheet.battery
        if battery is None:
            raise RequestError("battery", None, "stated in the build sheet ([battery])")
        if not 0.0 < charge <= 1.0:
            raise RequestError("charge", charge, "more than 0 and at most 1")
        pack = Pack(
            chemistry=battery.chemistry,
            series=battery.series,
            parallel=battery.parallel,
            capacity=battery.capacity,
            cell_resistance=battery.cell_resistance,
            cell_cutoff=battery.cell_cutoff,
        )
        self._soc = np.linspace(0.0, 1.0, 101)
        self._open = open_voltage(pack, self._soc)
        protection = robot.sheet.protection
        extra = 0.0
        if protection is not None:
            extra = protection.fuse_resistance + protection.switch_resistance
        self.resistance = float(internal_resistance(pack, charge)) + extra
        self.charge = charge
        self._capacity = pack.capacity
        self._other = other_power(robot)
        self.total = 0.0
        self.terminal = float(np.interp(charge, self._soc, self._open))
        self._volts = np.full(len(robot.joint_names), self.terminal)
        self.about = (
            f"battery at {charge:.0%} behind {1e3 * self.resistance:.3g} mΩ, "
            f"{self._other:.3g} W beside the servos, no harness"
        )
        self._since = 0.0
        self._rest = self.terminal

    def voltages(self, currents: Floats, dt: float) -> Floats:
        """One voltage for all; see `Supply`."""
        total = float(currents.sum()) + self._other / max(self.terminal, 1.0)
        self.total = total
        self.charge -= total * dt / self._capacity
        self._since += dt
        if self._since > 0.1:  # the curve is slow; looking it up each step would cost more
            self._rest = float(np.interp(self.charge, self._soc, self._open))
            self._since = 0.0
        self.terminal = max(self._rest - self.resistance * total, 0.0)
        self._volts.fill(self.terminal)
        return self._volts


def other_power(robot: Robot) -> float:
    """What the robot draws beside its servos, at the battery [W]."""
    sheet, power = robot.sheet, 0.0
    for load in sheet.load.values():
        power += load.power / (load.regulator_efficiency or 1.0)
    if sheet.lights is not None:
        lights = sheet.lights
        volts = lights.supply or 5.0
        watts = lights.count * lights.current * lights.brightness * volts
        power += watts / (lights.regulator_efficiency or 1.0)
    return power


def supply_of(robot: Robot, *, charge: float = 1.0) -> Supply:
    """The best supply that the sheet allows: battery and harness, battery, or a stiff one.

    Args:
        robot: The robot.
        charge: State of charge of the battery, 0 to 1.
    """
    if robot.sheet.battery is not None:
        try:
            from legwright.rig.wired_supply import Wired

            return Wired(robot, charge=charge)
        except (RobotError, KeyError):  # no hub, or servos that no cable reaches
            return Sagging(robot, charge=charge)
    from legwright.mechanics.drive import drives_of

    rated = drives_of(robot).voltage
    known = rated[np.isfinite(rated)]
    return Stiff(float(known.min()) if known.size else 12.0, len(robot.joint_names))
