"""Pinocchio as the referee of assembled robots."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pinocchio as pin

from legwright.robot.chain import Chain
from legwright.robot.placement import shifted, turned
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Solid


class Referee:
    """Pinocchio's model of the same file, its root free, at given joint positions."""

    def __init__(self, path: Path, body: str) -> None:
        self.model = pin.buildModelFromUrdf(str(path), pin.JointModelFreeFlyer())
        self.data = self.model.createData()
        self.body = self.model.getFrameId(body)

    def place(self, positions: dict[str, float]) -> None:
        """Move every named joint to its position."""
        q = pin.neutral(self.model)
        for name, value in positions.items():
            joint = self.model.joints[self.model.getJointId(name)]
            if joint.nq == 2:  # continuous joints are stored as cosine and sine
                q[joint.idx_q : joint.idx_q + 2] = np.cos(value), np.sin(value)
            else:
                q[joint.idx_q] = value
        pin.ccrba(self.model, self.data, q, np.zeros(self.model.nv))
        pin.framesForwardKinematics(self.model, self.data, q)

    def at(self, link: str) -> Floats:
        """Origin of a link in the body frame, (3,)."""
        frame = self.data.oMf[self.model.getFrameId(link)]
        return np.array((self.data.oMf[self.body].inverse() * frame).translation)

    def total(self) -> Solid:
        """The whole robot as one rigid body, in the body frame (Pinocchio's `ccrba`)."""
        body = self.data.oMf[self.body]
        turn = body.rotation
        return Solid(
            mass=self.data.Ig.mass,
            com=turn.T @ (np.array(self.data.com[0]) - body.translation),
            inertia=turn.T @ np.array(self.data.Ig.inertia) @ turn,
        )


def pose_of_joint(chain: Chain, i: int, s: float) -> Floats:
    move = shifted if chain.prismatic[i] else turned
    return chain.placements[i] @ move(chain.axes[i], s)


def foot_of(chain: Chain, q: Floats) -> Floats:
    """The foot point by plain products of matrices."""
    pose = np.eye(4)
    for i, s in enumerate(chain.coupling @ q + chain.offset):
        pose = pose @ pose_of_joint(chain, i, s)
    return pose[:3, :3] @ chain.foot + pose[:3, 3]


def solids_of(robot: Robot, positions: dict[str, Floats]) -> list[tuple[Floats, Solid]]:
    """Trunk and every leg's parts with their poses in the body frame."""
    parts = [(np.eye(4), robot.trunk)]
    for name, leg in robot.legs.items():
        pose, chain = np.eye(4), leg.chain
        for i, s in enumerate(chain.coupling @ positions[name] + chain.offset):
            pose = pose @ pose_of_joint(chain, i, s)
            parts.append((pose, chain.solids[i]))
    return parts
