"""Simulated drives on virtual buses as a rig: the whole robot over CANopen, without hardware.

Rig and drives run in lock-step on the drives' own clock, so that a run is the same each time and
as fast as the computer allows.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics.drive import drives_of
from legwright.rig.calibration import Calibration, blank, calibration_of
from legwright.rig.can.candump import logged
from legwright.rig.can.discovery import nodes_of
from legwright.rig.can.drive_faults import Ailments
from legwright.rig.can.drives import TRIP, DriveBench
from legwright.rig.can.network import ANSWER
from legwright.rig.can.plant import Plain, Plant, Walking, rated_currents
from legwright.rig.can.rig import CanRig
from legwright.rig.can.scales import scales_of
from legwright.rig.can.wire import Wire, open_wires
from legwright.rig.ground import Ground
from legwright.rig.ground_choice import ground_of
from legwright.rig.world import World
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

COUNTS = 65536
"""Position counts of a simulated drive per turn, where the sheet states none."""
_NUMBERS = itertools.count()


class VirtualCan(CanRig):
    """A robot whose simulated drives hang on virtual buses of this process."""

    def __init__(
        self,
        robot: Robot,
        *,
        ground: Ground | str = "flat",
        seed: int = 0,
        rate: float | None = None,
        physics: bool = True,
        mounting: Calibration | None = None,
        calibration: Calibration | None = None,
        wires: tuple[Sequence[Wire], Sequence[Wire]] | None = None,
        log: Path | None = None,
    ) -> None:
        """Set the robot on the ground, boot its drives, open them.

        Args:
            robot: The robot.
            ground: A ground, or the name of a family.
            seed: Of ground, noise, scatter and lost frames.
            rate: Bus cycles per second; the sheet's update rate, or 100, when None [Hz].
            physics: The physics world moves behind the drives; else plain axes.
            mounting: How the drives really are: nodes, directions, zeros. What the rig is told
                when None, so that the machine is calibrated.
            calibration: What the rig is told; that of the robot's folder when None.
            wires: The rig's and the drives' ends of the buses; virtual ones when None.
            log: File for the buses' traffic.
        """
        bus = robot.sheet.bus
        rate = rate or (float(bus.update_rate) if bus is not None else 100.0)
        told = calibration if calibration is not None else calibration_of(robot)
        if told is None and mounting is None:
            told = blank(robot)
        ground = ground_of(robot, ground, seed=seed) if isinstance(ground, str) else ground
        world = World(robot, ground, seed=seed, rate=rate) if physics else None
        ours, theirs = wires or virtual_wires(bus.buses if bus is not None else 1)
        self.world = world
        self.bench = bench_of(
            robot, theirs, rate=rate, world=world, mounting=mounting or told, seed=seed
        )
        notes = ("Simulated drives on virtual buses.", *(world.notes if world is not None else ()))
        if bus is not None and bus.kind != "can":
            notes = (f"The sheet's bus is {bus.kind}; its node ids are taken for CAN.", *notes)
        self._theirs = theirs
        ours = ours if log is None else logged(ours, log, self.bench.clock)
        super().__init__(
            robot, ours, rate=rate, calibration=told, real=False,
            inertial=lambda: self.bench.moved.up, spin=lambda: self.bench.moved.spin,
            clock=self.bench.clock, sleep=self.bench.idle, notes=notes,
        )  # fmt: skip

    def power(self, on: bool) -> None:
        """Lead the drives up the ladder, or let go of them at once."""
        super().power(on)
        if not on:
            self.bench.idle(0.0)

    def advance(self) -> None:
        """One period: commands, SYNC, the mechanics, the answers."""
        super().advance()
        self.bench.idle(ANSWER / self.rate)

    def close(self) -> None:
        """Power off; the drives' buses go too."""
        if not self._open:
            return
        super().close()
        for wire in self._theirs:
            wire.close()


def virtual_wires(buses: int) -> tuple[tuple[Wire, ...], tuple[Wire, ...]]:
    """Both ends of so many virtual buses of this process."""
    first = next(_NUMBERS)
    names = tuple(f"legwright-{first}-{bus}" for bus in range(buses))
    return open_wires("virtual", names, 1_000_000), open_wires("virtual", names, 1_000_000)


def bench_of(
    robot: Robot,
    wires: Sequence[Wire],
    *,
    rate: float,
    world: World | None = None,
    mounting: Calibration | None = None,
    seed: int = 0,
) -> DriveBench:
    """Simulated drives for all driven joints of a robot.

    Args:
        robot: The robot; its sheet gives the node ids.
        wires: The drives' ends of the buses; legs are shared out evenly, mast and tools hang on
            the first.
        rate: Cycles per second [Hz].
        world: The robot in the physics world; plain axes when None.
        mounting: Nodes, directions, zeros; none flipped, zero at count 0, when None.
        seed: Of lost frames.
    """
    known = mounting if mounting is not None else blank(robot)
    nodes = nodes_of(robot, known)
    names = tuple(nodes)
    bus = robot.sheet.bus
    counts = (bus.drive.counts if bus is not None else None) or COUNTS
    rated = rated_currents(robot, names)
    if bus is not None and bus.drive.rated_current is not None:
        rated = np.full(len(names), bus.drive.rated_current)
    scales = scales_of(known, names, counts=counts, rated=rated)
    held: Floats = np.array([robot.held[name] for name in names[len(robot.joint_names) :]])
    plant: Plant
    if world is not None:
        plant = Walking(world, held)
    else:
        start = np.append(_middle(robot), held)
        plant = Plain(start, 1.0 / rate)
    drive = drives_of(robot)
    hottest = np.nan_to_num(np.asarray(drive.highest_winding), nan=TRIP)
    return DriveBench(
        names,
        wires,
        wire=_wires_of(robot, names, len(wires)),
        node=np.array(list(nodes.values())),
        scales=scales,
        plant=plant,
        period=1.0 / rate,
        trip=np.append(hottest, np.full(len(held), TRIP)),
        ailments=Ailments(names, len(wires), seed),
    )


def _wires_of(robot: Robot, names: tuple[str, ...], buses: int) -> NDArray[np.int64]:
    legs = list(robot.legs.values())
    where = {
        joint: number * buses // len(legs)
        for number, leg in enumerate(legs)
        for joint in leg.joint_names
    }
    return np.array([where.get(name, 0) for name in names])


def _middle(robot: Robot) -> Floats:
    """Joint positions of the standing robot, (J,) [rad]."""
    from legwright.locomotion.stance import footing

    return np.asarray(footing(robot).q)
