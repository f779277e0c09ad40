"""A bench whose secrets are known is a rig."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from legwright.errors import RigError
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.bringup.bench import Bench
from legwright.rig.port import Drives
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class CalibratedBench:
    """Drives by node number, spoken to by joint."""

    def __init__(
        self, bench: Bench, robot: Robot, nodes: Mapping[str, int], direction: Floats, zero: Floats
    ) -> None:
        """Join a bench to a robot.

        Args:
            bench: The bench.
            robot: The robot.
            nodes: Joint -> node.
            direction: (J,): +1 or -1.
            zero: (J,) [rad]

        Raises:
            RigError: if a node does not answer.
        """
        found = bench.find()
        missing = [name for name in robot.joint_names if nodes[name] not in found]
        if missing:
            raise RigError(
                f"{', '.join(missing[:3])} do not answer. Look at cables, supply and node numbers."
            )
        self.robot, self._bench = robot, bench
        self._nodes = [nodes[name] for name in robot.joint_names]
        self._places = np.array([found.index(node) for node in self._nodes])
        self._way, self._zero = np.asarray(direction), np.asarray(zero)
        self._on = np.zeros(len(self._nodes), dtype=np.bool_)
        self._open = True

    @property
    def rate(self) -> float:
        """Bus cycles per second [Hz]."""
        return self._bench.rate

    @property
    def real(self) -> bool:
        """Whether something moves that can hurt."""
        return self._bench.real

    @property
    def notes(self) -> tuple[str, ...]:
        """What is assumed."""
        return ("On the bench: drives are spoken to one by one.",)

    @property
    def buses(self) -> tuple[int, ...]:
        """Number of each joint's bus: a bench does not tell them apart."""
        return (0,) * len(self._nodes)

    @property
    def calibrated(self) -> bool:
        """Nodes, directions and zeros have been found."""
        return True

    def sense(self) -> Sensed:
        """Readings of this cycle."""
        self._check()
        seen = self._bench.read()
        at, way = self._places, self._way
        volts = seen.voltage[np.isfinite(seen.voltage)]
        return Sensed(
            q=way * seen.angle[at] + self._zero,
            qd=way * seen.speed[at],
            current=way * seen.current[at],
            voltage=float(volts.max()) if volts.size else float("nan"),
            up=seen.up,
            spin=seen.spin,
        )

    def drives(self) -> Drives:
        """State of the drives."""
        self._check()
        count = len(self._nodes)
        return Drives(
            powered=self._on.copy(),
            fault=np.zeros(count, np.int64),
            winding=np.full(count, np.nan),
        )

    def apply(self, targets: Targets) -> None:
        """Send targets; nan leaves a joint as it is."""
        self._check()
        if not self._on.any():
            return
        own = self._way * (targets.q - self._zero)
        for node, angle in zip(self._nodes, own, strict=True):
            if np.isfinite(angle):
                self._bench.hold(node, float(angle))

    def power(self, on: bool) -> None:
        """Hold where the drives are, or let all go limp."""
        if on:
            self._check()
        seen = self._bench.read()
        for node, place in zip(self._nodes, self._places, strict=True):
            angle = float(seen.angle[place])
            self._bench.hold(node, angle if on and np.isfinite(angle) else None)
        self._on[:] = on

    def advance(self) -> None:
        """End the cycle."""
        self._check()
        self._bench.advance()

    def close(self) -> None:
        """All drives limp."""
        self._bench.close()
        self._on[:] = False
        self._open = False

    def _check(self) -> None:
        if not self._open:
            raise RigError("The bench is closed. Open it anew.")
