"""Drives on CAN on the bench, by node: before it is known which joint each one turns."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError, RigError
from legwright.rig.bringup.bench import Readout
from legwright.rig.can.network import ANSWER, Network
from legwright.rig.can.opening import opened_by_node
from legwright.rig.can.wire import Wire
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class CanBench:
    """Every drive that answers, but those of mast and tools; limp until told to hold."""

    def __init__(
        self,
        robot: Robot,
        wires: Sequence[Wire],
        *,
        rate: float | None = None,
        real: bool = True,
        inertial: Callable[[], Floats | None] = lambda: None,
        spin: Callable[[], Floats | None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        """Find drives and set them up, without limits: the joints' are not known yet.

        Args:
            robot: The robot; nodes that its sheet gives to mast and tools are left alone.
            wires: Its open buses; the bench closes them.
            rate: Cycles per second; the sheet's update rate, or 100, when None [Hz].
            real: Whether something moves that can hurt.
            inertial: Reads the direction against gravity in the body frame, where a sensor does.
            spin: Reads the turn rates about the body's axes likewise, (3,) [rad/s].
            clock: The steady clock.
            sleep: Waits so many seconds.

        Raises:
            RigError: if no drive answers, or one refuses its set-up.
        """
        bus = robot.sheet.bus
        self.rate = rate or (float(bus.update_rate) if bus is not None else 100.0)
        self.real, self._inertial, self._spin = real, inertial, spin
        self._sleep = sleep
        beside = [node for name, node in bus.nodes.items() if name in robot.held] if bus else []
        try:
            found = opened_by_node(robot, wires, beside, self.rate, clock=clock, sleep=sleep)
        except BaseException:
            for wire in wires:
                wire.close()
            raise
        self._scales = found.scales
        self._network = Network(wires, found, self.rate, clock=clock, sleep=sleep)
        self._network.let_go(np.ones(len(found.axes.names), dtype=np.bool_))
        self._nodes = found.axes.node
        self._found = np.argsort(self._nodes)

    def find(self) -> tuple[int, ...]:
        """Node numbers that answer, ascending."""
        self._network.drain()
        order = np.argsort(self._nodes)
        self._found = order[~self._network.readings.silent[order]]
        return tuple(int(node) for node in self._nodes[self._found])

    def read(self) -> Readout:
        """Readings of this cycle."""
        self._network.drain()
        read, at = self._network.readings, self._found

        def told(values: Floats) -> Floats:
            return np.where(read.silent, np.nan, values)[at]

        return Readout(
            angle=told(self._scales.position(read.position)),
            speed=told(self._scales.speed(read.speed)),
            current=told(self._scales.current(read.current)),
            voltage=told(read.volts),
            up=self._inertial(),
            spin=self._spin(),
        )

    def hold(self, node: int, angle: float | None) -> None:
        """Let one drive go to its own angle from the next cycle on; limp when None.

        Raises:
            RequestError: if there is no such node.
            RigError: if the drive reports an error.
        """
        which: NDArray[np.bool_] = self._nodes == node
        if not which.any():
            raise RequestError("node", node, "one that answers")
        row, network = int(np.flatnonzero(which)[0]), self._network
        if angle is None:
            network.let_go(which)
            return
        if network.on[row] and network.readings.fault[row]:
            network.let_go(which)
            raise RigError(
                f"Node {node} reports error {network.readings.fault[row]:#06x} and went limp. "
                "Look what blocks it, and begin this step again."
            )
        network.on[row] = True
        network.goal[row] = self._scales.count(np.full(len(which), angle))[row]

    def advance(self) -> None:
        """One cycle, by the clock: commands, SYNC, and the time to answer."""
        self._network.cycle()
        self._sleep(ANSWER / self.rate)
        self._network.wake()

    def close(self) -> None:
        """All drives limp; leave the bus."""
        self._network.close()
