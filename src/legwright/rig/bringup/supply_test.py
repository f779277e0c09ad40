"""The harness under load: does each servo lose the voltage that the wiring says it must?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from legwright.electrics.circuit import circuit_of
from legwright.mechanics.drive import drives_of
from legwright.mechanics.servo_current import supply_current
from legwright.rig.bringup.bench import Bench
from legwright.rig.bringup.motions import glide, place_of, wait
from legwright.rig.wired_supply import shared_resistance
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

PRESS = np.radians(2.5)
"""How far past its stop a drive is told to go [rad]; half of a full bridge (common practice)."""
PRESSED = 0.6
"""For so long [s]."""
SLACK, SHARE = 0.03, 0.3
"""Fall of voltage may differ by so many volts, and by this share of what was predicted: contacts
and crimps are stated as typical values."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """Voltage lost on the way to one servo."""

    joint: str
    current: float
    """The servo's own supply current [A]."""
    measured: float
    """[V]"""
    predicted: float
    """[V]"""

    @property
    def wrong(self) -> str:
        """What is wrong, in one sentence; empty where nothing is."""
        over = self.measured - self.predicted
        if abs(over) <= SLACK + SHARE * abs(self.predicted):
            return ""
        more = "more" if over > 0.0 else "less"
        return (
            f"{self.joint} loses {self.measured:.2f} V at {self.current:.2f} A, {more} than the "
            f"{self.predicted:.2f} V of its wiring. Look at crimps and plugs on its way."
        )


def load_branch(
    bench: Bench,
    robot: Robot,
    joints: tuple[str, ...],
    node: Mapping[str, int],
    raw_stop: Mapping[str, tuple[float, float]],
) -> list[Fall]:
    """Press the joints of one branch against their stops together and read voltages.

    Args:
        bench: The bench.
        robot: The robot; its sheet states battery and harness.
        joints: Of the branch.
        node: Joint -> node.
        raw_stop: Joint -> own angle of its upper stop, and the drive's way towards it.

    Returns:
        One row per joint.
    """
    for joint in joints:
        stop, way = raw_stop[joint]
        glide(bench, node[joint], stop - way * np.radians(0.5), speed=0.8)
    before = _mean(wait(bench, 0.3))
    for joint in joints:
        stop, way = raw_stop[joint]
        bench.hold(node[joint], stop + way * PRESS)
    pressed = _mean(wait(bench, PRESSED)[-round(0.3 * bench.rate) :])
    for joint in joints:
        stop, way = raw_stop[joint]
        bench.hold(node[joint], stop - way * PRESS)
    wait(bench, 0.2)
    circuit, drive = circuit_of(robot), drives_of(robot)
    network = circuit.network(charge=1.0)
    names = tuple(name for name in robot.joint_names if name in node)
    shared = shared_resistance(network, tuple(circuit.servos[name].node for name in names))
    places = np.array([place_of(bench, node[name]) for name in names])
    columns = np.array([robot.joint_names.index(name) for name in names])
    drawn = []
    for current, volts in (before, pressed):
        full, level = np.zeros(len(robot.joint_names)), np.full(len(robot.joint_names), np.nan)
        full[columns], level[columns] = current[places], volts[places]
        drawn.append(supply_current(drive, full, 0.0 * full, level)[columns])
    predicted = shared @ (drawn[1] - drawn[0])
    measured = before[1][places] - pressed[1][places]
    return [
        Fall(
            joint=name,
            current=float(drawn[1][k]),
            measured=float(measured[k]),
            predicted=float(predicted[k]),
        )
        for k, name in enumerate(names)
        if name in joints
    ]


def _mean(seen: list) -> tuple[Floats, Floats]:  # type: ignore[type-arg]
    """Mean current and voltage of some readouts."""
    return (
        np.mean([one.current for one in seen], axis=0),
        np.mean([one.voltage for one in seen], axis=0),
    )
