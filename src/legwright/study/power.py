"""Power: the robot's circuit, and what reaches each servo in each case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from legwright.electrics.circuit import Circuit, circuit_of
from legwright.electrics.demand import unknown_servos
from legwright.electrics.mishaps import Mishap, mishaps
from legwright.electrics.supply import Doing, Supply, supplies
from legwright.errors import RobotError
from legwright.mechanics.draw import draw
from legwright.robot.robot import Robot
from legwright.study.asked import Asked
from legwright.study.evidence import Case

Cases = Mapping[str, Case]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Power:
    """What is known of a robot's electrical side."""

    circuit: Circuit | None = None
    missing: str = ""
    """What to enter in the sheet, where there is no circuit or no current."""
    fault: RobotError | None = None
    """Why the circuit that the sheet states cannot be."""
    supplies: Mapping[str, Supply] = field(default_factory=dict)
    """Case name -> its supply, battery as low as that walk lets it become."""
    mishaps: tuple[Mishap, ...] = ()
    """Stalls during the case that draws most."""
    legs: tuple[str, ...] = ()

    @property
    def hardest(self) -> Supply:
        """The supply of the case with the largest RMS current from the battery."""
        return max(self.supplies.values(), key=lambda one: float(np.nan_to_num(one.rms[0])))

    def stalls_of(self, what: str) -> tuple[Mishap, ...]:
        """Mishaps of one ``servo``, one ``leg`` or ``all``."""
        kind = {"leg": self.legs, "all": ("all servos",)}
        if what in kind:
            return tuple(one for one in self.mishaps if one.name in kind[what])
        return tuple(one for one in self.mishaps if len(one.stalled) == 1)

    @property
    def lost(self) -> float:
        """Largest voltage lost between the battery's terminals and a leg joint's servo [V]."""
        found = [
            float(np.max(one.terminal[:, None] - one.voltage))
            for one in self.supplies.values()
            if not one.brown_out
        ]
        return max(found, default=0.0)


def power_of(
    robot: Robot, cases: Cases, *, known: Mapping[str, Supply] | None = None, stalled: bool = True
) -> Power:
    """The circuit of a robot, and what it gives to each case.

    Args:
        robot: The robot.
        cases: Walked and weighed cases.
        known: Case name -> supply, of cases that are fed already.
        stalled: Whether stalls during the hardest case are asked too.
    """
    missing = missing_of(robot)
    if missing:
        return Power(missing=missing)
    try:
        circuit = circuit_of(robot)
    except RobotError as error:
        return Power(fault=error)
    unknown = unknown_servos(robot)
    if unknown:
        words = f"Give the servo of {unknown[0]} rated_voltage and stall_current."
        return Power(circuit=circuit, missing=words)
    found = {name: replace(one, circuit=circuit) for name, one in (known or {}).items()}
    found |= _supplied(robot, circuit, {name: cases[name] for name in cases if name not in found})
    power = Power(
        circuit=circuit, supplies={name: found[name] for name in cases}, legs=tuple(robot.legs)
    )
    return replace(power, mishaps=mishaps(robot, circuit, power.hardest)) if stalled else power


def _supplied(robot: Robot, circuit: Circuit, cases: Cases) -> dict[str, Supply]:
    """The supplies of cases, those of one ambient temperature together."""
    found: dict[str, Supply] = {}
    for ambient in dict.fromkeys(case.draw.ambient for case in cases.values()):
        mine = {name: case for name, case in cases.items() if case.draw.ambient == ambient}
        given = supplies(robot, circuit, list(map(doing_of, mine.values())), ambient=ambient)
        found |= dict(zip(mine, given, strict=True))
    return found


def doing_of(case: Case) -> Doing:
    """What a case asks of its supply."""
    return Doing(motion=case.motion, loads=case.loads, winding=case.draw.winding)


def missing_of(robot: Robot) -> str:
    """The table to fill in before there is a circuit; empty where there is one."""
    sheet = robot.sheet
    if sheet.battery is None:
        return "Describe the [battery]."
    if sheet.hub is None or not sheet.hub.branch:
        return "Describe the [hub] and its [hub.branch.NAME] tables."
    return ""


def fed(robot: Robot, cases: Cases, power: Power) -> dict[str, Case]:
    """The cases with currents and headroom at the voltage that really arrives.

    Args:
        robot: The robot.
        cases: Walked and weighed cases.
        power: Their supplies; cases without one, and such as brown out, stay as they are.
    """
    at = dict(cases)
    for name, case in cases.items():
        given = power.supplies.get(name)
        if given is None or given.brown_out:
            continue
        drawn = draw(
            robot, case.motion, case.loads, voltage=given.voltage, ambient=case.draw.ambient
        )
        at[name] = replace(case, draw=drawn)
    return at


def asked_behind(asked: Asked, power: Power) -> Asked:
    """What is asked, at the cut-off voltage less the most that the wiring loses.

    Args:
        asked: What is asked, at the battery's cut-off voltage.
        power: The supplies of all cases.
    """
    lost = power.lost
    if asked.voltage is None or lost <= 0.0:
        return asked
    volts = asked.voltage - lost
    why = f"at {volts:.3g} V, the battery at its cut-off less {lost:.2g} V lost in the wiring"
    return replace(asked, voltage=volts, voltage_why=why)
