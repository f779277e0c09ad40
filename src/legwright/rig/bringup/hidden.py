"""A simulated bench with secrets: nodes swapped, drives flipped, zeros anywhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.locomotion.signals import Targets
from legwright.rig.bringup.bench import Bench, Readout
from legwright.rig.bringup.motions import glide, wait
from legwright.rig.ground_choice import ground_of
from legwright.rig.scatter import Scatter
from legwright.rig.world import World
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

FIRST_NODE = 11
"""Of a robot whose sheet names no nodes."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Secrets:
    """What bring-up must find; arrays run as `Robot.joint_names`."""

    nodes: NDArray[np.int64]
    """(J,)"""
    direction: Floats
    """(J,): +1 or -1."""
    zero: Floats
    """(J,) [rad]"""

    @classmethod
    def drawn(cls, robot: Robot, seed: int) -> Secrets:
        """By chance: all nodes shuffled, half of the drives flipped, zeros within ±60°."""
        rng, names = np.random.default_rng(seed), robot.joint_names
        bus = robot.sheet.bus
        stated = bus.nodes if bus is not None else {}
        nodes = [stated.get(name, FIRST_NODE + k) for k, name in enumerate(names)]
        return cls(
            nodes=rng.permutation(np.array(nodes, dtype=np.int64)),
            direction=rng.choice([-1.0, 1.0], len(names)),
            zero=rng.uniform(-np.pi / 3.0, np.pi / 3.0, len(names)),
        )


class HiddenBench:
    """The physics world as a bench: the robot hangs on a stand, its drives keep their secrets."""

    real = False

    def __init__(
        self,
        robot: Robot,
        secrets: Secrets,
        *,
        seed: int,
        rate: float = 100.0,
        height: float | None = 0.4,
    ) -> None:
        """Put the robot on the stand, legs limp and somewhere.

        Args:
            robot: The robot.
            secrets: What is to be found.
            seed: Of noise, scatter and pose.
            rate: Bus cycles per second [Hz].
            height: Of the body frame on the stand; None stands the robot on the ground [m].
        """
        scatter = Scatter(friction=0.3, torque_constant=0.05)
        ground = ground_of(robot, "flat", seed=seed)
        self.world = World(robot, ground, seed=seed, rate=rate, stand=height, scatter=scatter)
        self._secrets, self._count = secrets, len(robot.joint_names)
        self._order = np.argsort(secrets.nodes)
        self._target = np.full(self._count, np.nan)
        self.world.power(False)

    @property
    def rate(self) -> float:
        """Bus cycles per second [Hz]."""
        return self.world.rate

    def find(self) -> tuple[int, ...]:
        """Node numbers that answer."""
        alive = ~np.isnan(self.world.sense().q)
        everything = np.argsort(self._secrets.nodes)
        self._order = everything[alive[everything]]
        return tuple(int(node) for node in self._secrets.nodes[self._order])

    def read(self) -> Readout:
        """Readings of this cycle."""
        sensed, way, order = self.world.sense(), self._secrets.direction, self._order
        angle = way * (sensed.q - self._secrets.zero)
        volts = self.world.truth().voltage
        return Readout(
            angle=angle[order],
            speed=(way * sensed.qd)[order],
            current=(way * sensed.current)[order],
            voltage=volts[order],
            up=sensed.up,
            spin=sensed.spin,
        )

    def hold(self, node: int, angle: float | None) -> None:
        """Let one drive go to its own angle; limp when None."""
        found = np.flatnonzero(self._secrets.nodes == node)
        if not found.size:
            raise RequestError("node", node, "one that answers")
        j = int(found[0])
        way, zero = self._secrets.direction[j], self._secrets.zero[j]
        self._target[j] = np.nan if angle is None else way * angle + zero
        self.world.energise(np.isfinite(self._target))

    def advance(self) -> None:
        """One cycle of physics."""
        self.world.apply(Targets(q=self._target.copy(), qd=np.zeros(self._count)))
        self.world.advance()

    def close(self) -> None:
        """All drives limp."""
        self._target[:] = np.nan
        self.world.power(False)


class Transparent(Bench, Protocol):
    """A simulated bench whose world can be looked into."""

    @property
    def world(self) -> World:
        """The physics world."""


class AllSeeing:
    """A witness who knows the truth of a hidden bench, and agrees to everything."""

    def __init__(self, bench: Transparent, secrets: Secrets) -> None:
        """Stand beside the bench."""
        self._bench, self._secrets = bench, secrets
        self._names = bench.world.robot.joint_names
        self._before = bench.world.truth().q

    def agree(self, caution: str) -> bool:
        """Always."""
        return bool(caution)

    def watch(self) -> None:
        """Remember where everything is now."""
        self._before = self._bench.world.truth().q

    def which(self, node: int, joints: tuple[str, ...]) -> str | None:
        """The joint that hangs on a node; None where it is not among those asked for."""
        name = self._names[int(np.flatnonzero(self._secrets.nodes == node)[0])]
        return name if name in joints else None

    def grew(self, joint: str, question: str) -> bool | None:
        """Whether the joint's true angle has grown; None below one degree."""
        j = self._names.index(joint)
        moved = float(self._bench.world.truth().q[j] - self._before[j])
        return None if not question or abs(moved) < np.radians(1.0) else moved > 0.0

    def set_to(self, joint: str, angle: float) -> bool:
        """Set a joint by hand, half a degree off."""
        j = self._names.index(joint)
        secrets, node = self._secrets, int(self._secrets.nodes[j])
        raw = secrets.direction[j] * (angle + np.radians(0.5) - secrets.zero[j])
        glide(self._bench, node, float(raw), speed=1.0)
        self._bench.hold(node, None)
        wait(self._bench, 0.2)
        return True
