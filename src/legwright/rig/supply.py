"""What feeds the servos: a stiff supply, or a battery that sags behind its resistance.

All supplies are linear: the voltage at a servo falls by a resistance times each servo's
current. So one kernel runs them all, inside the physics step.
"""

from __future__ import annotations

from math import isfinite

import numpy as np
from numpy.typing import ArrayLike

from legwright.electrics.battery import Pack, internal_resistance, open_voltage
from legwright.errors import RequestError, RobotError
from legwright.rig import _supply_kernel as s
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class Supply:
    """A source behind resistances; the base of all supplies."""

    def __init__(
        self,
        about: str,
        resistance: ArrayLike,
        *,
        rest: float,
        inner: float = 0.0,
        common: float = 0.0,
        other: float = 0.0,
    ) -> None:
        """Wire it up.

        Args:
            about: One sentence for people: what it is, what it leaves out.
            resistance: That the paths to two servos share, (J, J) [Ω].
            rest: Open-circuit voltage [V].
            inner: Resistance of the source itself [Ω].
            common: From the source to where the servos' paths part [Ω].
            other: Power of all that is no servo [W].
        """
        self.about = about
        self.resistance = np.ascontiguousarray(resistance, dtype=np.float64)
        self.line = np.zeros(s.LINE)
        self.line[[s.REST, s.PARTING, s.TERMINAL]] = rest
        self.line[s.INNER], self.line[s.COMMON], self.line[s.OTHER] = inner, common, other
        self.line[s.START], self.line[s.CAPACITY] = 1.0, np.inf
        self.curve = np.zeros(0)
        """Open-circuit voltage at evenly spread states of charge, 0 to 1; empty where it does not
        fall [V]."""
        self._volts = np.full(len(self.resistance), rest)

    def voltages(self, currents: Floats, dt: float) -> Floats:
        """Voltage at each servo.

        Args:
            currents: That each servo draws, (J,) [A].
            dt: For how long [s].

        Returns:
            (J,) [V]; the same array is written again at the next call.
        """
        s.feed(self.resistance, self.line, currents, dt, self._volts)
        return self._volts

    @property
    def total(self) -> float:
        """Current that leaves the source [A]."""
        return float(self.line[s.TOTAL])

    @property
    def terminal(self) -> float:
        """Voltage of the source's terminals [V]."""
        return float(self.line[s.TERMINAL])

    @property
    def energy(self) -> float:
        """Energy that has left its terminals [J]."""
        return float(self.line[s.ENERGY])


class Stiff(Supply):
    """A bench supply: the same voltage everywhere, whatever is drawn."""

    def __init__(self, voltage: float, joints: int) -> None:
        if not (isfinite(voltage) and voltage > 0.0):
            raise RequestError("supply voltage", voltage, "finite and more than 0 V")
        about = f"stiff supply of {voltage:.3g} V, no harness"
        super().__init__(about, np.zeros((joints, joints)), rest=voltage)


class Battery(Supply):
    """A battery whose open-circuit voltage falls with its charge along the chemistry's curve."""

    def __init__(
        self, about: str, resistance: ArrayLike, pack: Pack, charge: float, *,
        inner: float, common: float, other: float,
    ) -> None:  # fmt: skip
        soc = np.linspace(0.0, 1.0, 101)
        curve = np.ascontiguousarray(open_voltage(pack, soc))
        rest = float(np.interp(charge, soc, curve))
        super().__init__(about, resistance, rest=rest, inner=inner, common=common, other=other)
        self.curve, self.line[s.START], self.line[s.CAPACITY] = curve, charge, pack.capacity

    @property
    def charge(self) -> float:
        """State of charge, 0 to 1."""
        line = self.line
        return float(line[s.START] - line[s.DRAWN] / line[s.CAPACITY])


class Sagging(Battery):
    """A battery behind one resistance; every servo sees the same voltage."""

    def __init__(self, robot: Robot, *, charge: float = 1.0) -> None:
        """Take battery, fuse and switch from the sheet.

        Args:
            robot: Its sheet has a [battery].
            charge: State of charge at the start, 0 to 1.

        Raises:
            RequestError: if there is no battery or the charge is out of range.
        """
        pack = pack_of(robot)
        check_charge(charge)
        protection = robot.sheet.protection
        extra = 0.0
        if protection is not None:
            extra = protection.fuse_resistance + protection.switch_resistance
        inner = float(internal_resistance(pack, charge))
        ohms, other, joints = inner + extra, other_power(robot), len(robot.joint_names)
        about = (
            f"battery at {charge:.0%} behind {1e3 * ohms:.3g} mΩ, "
            f"{other:.3g} W beside the servos, no harness"
        )
        shared = np.full((joints, joints), ohms)
        super().__init__(about, shared, pack, charge, inner=inner, common=ohms, other=other)


def pack_of(robot: Robot) -> Pack:
    """The battery of the sheet.

    Raises:
        RequestError: if there is none.
    """
    battery = robot.sheet.battery
    if battery is None:
        raise RequestError("battery", None, "stated in the build sheet ([battery])")
    return Pack(
        chemistry=battery.chemistry,
        series=battery.series,
        parallel=battery.parallel,
        capacity=battery.capacity,
        cell_resistance=battery.cell_resistance,
        cell_cutoff=battery.cell_cutoff,
    )


def check_charge(charge: float) -> None:
    """Refuse a state of charge that is none.

    Raises:
        RequestError: outside 0 to 1.
    """
    if not 0.0 < charge <= 1.0:
        raise RequestError("charge", charge, "more than 0 and at most 1")


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
