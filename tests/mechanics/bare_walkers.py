"""Small walkers for tests: built from bare numbers, without files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np

from legwright.robot.chain import Chain
from legwright.robot.leg import Leg, Reach
from legwright.robot.robot import Robot
from legwright.robot.servo import Servo
from legwright.robot.sheet import Sheet
from legwright.robot.tree import Floats, Link, Solid, Tree

PLACES = {
    "left-front": (0.12, 0.08),
    "left-middle": (0.0, 0.1),
    "left-rear": (-0.12, 0.08),
    "right-front": (0.12, -0.08),
    "right-middle": (0.0, -0.1),
    "right-rear": (-0.12, -0.08),
}
COXA, FEMUR, TIBIA = 0.05, 0.08, 0.12
POSE = (0.0, 0.5, -1.6)
"""Yaw, pitch, pitch, up positive: feet below and outside the hips."""


class Walked:
    """Forward kinematics by plain matrix products, for one chain."""

    def __init__(self, chain: Chain) -> None:
        self.chain = chain

    def foot(self, q: Floats) -> Floats:
        q = np.asarray(q, dtype=np.float64)
        return np.apply_along_axis(self._one, -1, q)

    def _one(self, q: Floats) -> Floats:
        chain, pose = self.chain, np.eye(4)
        for i, s in enumerate(chain.coupling @ q + chain.offset):
            step = np.eye(4)
            if chain.prismatic[i]:
                step[:3, 3] = s * chain.axes[i]
            else:
                x, y, z = chain.axes[i]
                K = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
                step[:3, :3] += np.sin(s) * K + (1 - np.cos(s)) * K @ K
            pose = pose @ chain.placements[i] @ step
        return pose[:3, :3] @ chain.foot + pose[:3, 3]

    def jacobian(self, q: Floats) -> Floats:
        h = 1e-6
        columns = [(self.foot(q + h * e) - self.foot(q - h * e)) / (2 * h) for e in np.eye(len(q))]
        return np.stack(columns, axis=-1)

    def reach(self, p: Floats, near: Floats | None) -> Reach:
        raise NotImplementedError


def rod(mass: float, length: float) -> Solid:
    """A thin rod along x from the origin."""
    across = mass * length**2 / 12 + 1e-6
    return Solid(
        mass=mass, com=np.array([length / 2, 0.0, 0.0]), inertia=np.diag([1e-6, across, across])
    )


def leg_chain(x: float, y: float, prefix: str) -> Chain:
    """A yaw-pitch-pitch leg that points outward from (x, y)."""
    heading = np.arctan2(y, 0.0) if x == 0 else np.sign(y) * np.arctan2(abs(y), x)
    placements = np.repeat(np.eye(4)[None], 3, axis=0)
    c, s = np.cos(heading), np.sin(heading)
    placements[0, :2, :2] = [[c, -s], [s, c]]
    placements[0, :2, 3] = x, y
    placements[1, 0, 3], placements[2, 0, 3] = COXA, FEMUR
    names = tuple(f"{prefix}_{part}" for part in ("coxa", "femur", "tibia"))
    return Chain(
        joint_names=names,
        moving_names=names,
        link_names=names,
        foot_link=f"{prefix}_foot",
        placements=placements,
        axes=np.array([[0.0, 0, 1], [0, -1, 0], [0, -1, 0]]),
        prismatic=(False, False, False),
        coupling=np.eye(3),
        offset=np.zeros(3),
        foot=np.array([TIBIA, 0.0, 0.0]),
        lower=np.full(3, -2.6),
        upper=np.full(3, 2.6),
        solids=(rod(0.06, COXA), rod(0.08, FEMUR), rod(0.05, TIBIA)),
    )


def walker(
    chains: Mapping[str, Chain] | None = None,
    *,
    trunk: Solid | None = None,
    servos: Mapping[str, Servo | None] | None = None,
    sheet: Sheet | None = None,
) -> Robot:
    """A six-legged walker, or one with the given legs."""
    if chains is None:
        chains = {name: leg_chain(*place, name) for name, place in PLACES.items()}
    if trunk is None:
        trunk = Solid(mass=1.2, com=np.zeros(3), inertia=np.diag([4e-3, 8e-3, 1e-2]))
    legs = {
        name: Leg(name=name, chain=chain, kinematics=Walked(chain))
        for name, chain in chains.items()
    }
    links = {"body": Link(name="body", solid=trunk)}
    for chain in chains.values():
        for name, solid in zip(chain.link_names, chain.solids, strict=True):
            links[name] = Link(name=name, solid=solid)
    return Robot(
        name="walker",
        source=Path("walker"),
        tree=Tree(name="walker", root="body", links=links, joints={}),
        body="body",
        legs=MappingProxyType(legs),
        trunk=trunk,
        held={},
        servos=servos or {},
        sheet=sheet or Sheet(),
    )


def stance(robot: Robot) -> Floats:
    """Joint positions at which every leg stands as `POSE` says."""
    return np.tile(POSE, len(robot.legs))
