"""The wiring of a robot as one value: circuit, worst readings, findings, and what was chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from math import isfinite
from typing import Any

import numpy as np

from legwright.electrics.bring_up import CAUTIONS
from legwright.electrics.choose import Choice, applied, choose
from legwright.electrics.circuit import Circuit, circuit_of
from legwright.electrics.cut_list import WireTotal, cut_list, wire_totals
from legwright.electrics.parts import Item, Kind
from legwright.electrics.pin_table import missing_pins
from legwright.electrics.readings import Readings, idle_readings, worst_readings
from legwright.electrics.wire_list import wire_list
from legwright.robot.robot import Robot
from legwright.study.check import Progress, study
from legwright.study.evidence import Study
from legwright.study.export import finding_as_json
from legwright.study.finding import Verdict

AREAS = ("electrics",)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Wiring:
    """What an assembler's documents are made from."""

    study: Study
    circuit: Circuit
    readings: Readings
    """At the worst moment of all walks; idle where nothing is known of the walks' currents."""
    hottest: Mapping[str, float]
    """Designation -> highest temperature where it is known [K]."""
    choice: Choice | None = None

    @property
    def robot(self) -> Robot:
        """The robot, with the chosen parts in its sheet if any were chosen."""
        return self.study.robot

    @property
    def failed(self) -> bool:
        """Whether any electrical finding fails."""
        return any(finding.verdict is Verdict.FAIL for finding in self.study.findings)

    @property
    def notes(self) -> tuple[str, ...]:
        """What was assumed, and connectors with too few pins for the bus."""
        bus = self.robot.sheet.bus.kind if self.robot.sheet.bus else ""
        short = tuple(
            f"Connector '{name}' has too few pins for the {bus} bus: some data wires are missing."
            for name in missing_pins(self.circuit, bus=bus)
        )
        return (*self.circuit.notes, *short)

    @property
    def totals(self) -> tuple[WireTotal, ...]:
        """Wire to buy."""
        bus = self.robot.sheet.bus.kind if self.robot.sheet.bus else ""
        return wire_totals(cut_list(wire_list(self.circuit, bus=bus)))


def wiring_of(
    robot: Robot,
    *,
    choosing: bool = False,
    progress: Progress | None = None,
    found: Study | None = None,
) -> Wiring:
    """Study a robot's electrical side.

    Args:
        robot: The robot.
        choosing: Whether wires, hub copper and fuses are chosen anew.
        progress: Told what is being done, how many are done, of how many.
        found: A study of this robot that holds the electrical areas, if there is one already.

    Returns:
        Wiring.

    Raises:
        RobotError: where the sheet states no circuit, or one that cannot be.
        RequestError: where nothing that can be chosen passes.
    """
    circuit_of(robot)
    found = found or study(robot, only=AREAS, progress=progress)
    choice = None
    if choosing and found.circuit is not None:
        choice = choose(robot, found.circuit, list(found.supplies.values()))
        found = study(applied(robot, choice), only=AREAS, progress=progress)
    circuit = found.circuit or circuit_of(found.robot)
    return Wiring(
        study=found,
        circuit=circuit,
        readings=worst_readings(found.supplies) or idle_readings(circuit, found.robot),
        hottest=_hottest(circuit, found),
        choice=choice,
    )


def _hottest(circuit: Circuit, found: Study) -> dict[str, float]:
    rows = [supply.temperature for supply in found.supplies.values()]
    if not rows:
        return {}
    most = np.max(np.array(rows), axis=0)
    pairs = zip(circuit.items, most.tolist(), strict=True)
    return {item.designation: value for item, value in pairs if isfinite(value)}


def wiring_as_json(wiring: Wiring) -> dict[str, Any]:
    """Wiring as JSON-ready data, SI units; the shape is described in docs/wiring.md.

    Args:
        wiring: The wiring.
    """
    circuit, readings = wiring.circuit, wiring.readings
    return {
        "robot": wiring.robot.name,
        "verdict": "fail" if wiring.failed else "pass",
        "moment": readings.moment,
        "consumers": [
            {
                "designation": one.designation,
                "name": one.name,
                "branch": one.branch,
                "voltage": _finite(readings.voltage.get(one.node)),
                "lowest_voltage": _finite(readings.lowest.get(one.name)),
                "least_allowed": _finite(readings.least.get(one.name)),
            }
            for one in circuit.consumers
        ],
        "items": [_item(item, wiring) for item in circuit.items],
        "totals": [asdict(total) for total in wiring.totals],
        "choice": _choice(wiring.choice),
        "findings": [finding_as_json(finding) for finding in wiring.study.findings],
        "notes": list(wiring.notes),
        "cautions": list(CAUTIONS),
    }


def _item(item: Item, wiring: Wiring) -> dict[str, Any]:
    readings, name = wiring.readings, item.designation
    return {
        "designation": name,
        "kind": item.kind.name.lower(),
        "name": item.name,
        "branch": item.branch,
        "size": item.wire.name if item.wire else None,
        "length": _finite(item.length),
        "length_from": item.origin.value if item.origin else None,
        "rating": _finite(item.rating),
        "resistance": _finite(item.resistance),
        "current": _finite(readings.current.get(name)),
        "peak_current": _finite(readings.peak.get(name)),
        "drop": _finite(readings.drop.get(name)),
        "temperature": _finite(wiring.hottest.get(name)),
    }


def _choice(choice: Choice | None) -> dict[str, Any] | None:
    if choice is None:
        return None
    return {
        "parts": [asdict(part) for part in choice.chosen],
        "mass": _finite(choice.mass),
        "mass_before": _finite(choice.mass_before),
        "drop": _finite(choice.drop),
    }


def hottest_cable(wiring: Wiring) -> tuple[Item, float] | None:
    """The hottest cable and its temperature [K]; None where nothing is known."""
    known = [
        (item, wiring.hottest[item.designation])
        for item in wiring.circuit.of(Kind.CABLE)
        if item.designation in wiring.hottest
    ]
    return max(known, key=lambda pair: pair[1], default=None)


def _finite(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(value)
