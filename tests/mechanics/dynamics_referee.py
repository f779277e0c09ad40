"""The independent referee: the same robot in Pinocchio, on a free-flying base."""

from __future__ import annotations

import numpy as np
import pinocchio as pin

from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import rotations
from legwright.robot.robot import Robot


class Referee:
    """Pinocchio's model of a robot that was read from a URDF file."""

    def __init__(self, robot: Robot) -> None:
        self.robot = robot
        self.model = pin.buildModelFromUrdf(str(robot.source), pin.JointModelFreeFlyer())
        self.data = self.model.createData()
        self.root_to_body = self.model.frames[self.model.getFrameId(robot.body)].placement
        self.columns = [
            self.model.joints[self.model.getJointId(name)].idx_v for name in robot.joint_names
        ]
        self.feet = [self.model.getFrameId(leg.chain.foot_link) for leg in robot.legs.values()]

    def _set(self, q: np.ndarray, name: str, angle: float) -> None:
        joint = self.model.joints[self.model.getJointId(name)]
        if joint.nq == 2:  # a continuous joint is stored as cosine and sine
            q[joint.idx_q : joint.idx_q + 2] = np.cos(angle), np.sin(angle)
        else:
            q[joint.idx_q] = angle

    def state(self, motion: Motion, t: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Configuration, velocity and acceleration of sample ``t`` in Pinocchio's layout."""
        R = rotations(motion.body[t, 3:])
        body_to_root = self.root_to_body.inverse()
        root = pin.SE3(R, motion.body[t, :3]) * body_to_root
        q = pin.neutral(self.model)
        q[:7] = pin.SE3ToXYZQUAT(root)
        for name, angle in {
            **dict(zip(self.robot.joint_names, motion.q[t], strict=True)),
            **self.robot.held,
        }.items():
            self._set(q, name, angle)
        v, a = np.zeros(self.model.nv), np.zeros(self.model.nv)
        twist, felt = motion.twist[t], motion.acceleration[t].copy()
        felt[:3] -= np.cross(twist[3:], twist[:3])  # Pinocchio's acceleration is spatial
        v[:6] = self.root_to_body.act(pin.Motion(twist)).vector
        a[:6] = self.root_to_body.act(pin.Motion(felt)).vector
        v[self.columns], a[self.columns] = motion.qd[t], motion.qdd[t]
        return q, v, a

    def rnea(self, motion: Motion, t: int, force: np.ndarray | None = None):
        """Drive torques (J,) and base wrench (6,) about the body origin, body axes."""
        self.model.gravity.linear = np.array(motion.gravity)
        q, v, a = self.state(motion, t)
        outside = pin.StdVec_Force([pin.Force.Zero() for _ in range(self.model.njoints)])
        if force is not None:
            pin.framesForwardKinematics(self.model, self.data, q)
            R = rotations(motion.body[t, 3:])
            for frame, f in zip(self.feet, force, strict=True):
                own, joint = self.model.frames[frame], self.model.frames[frame].parentJoint
                turned = self.data.oMf[frame].rotation.T @ R @ f
                outside[joint] += own.placement.act(pin.Force(turned, np.zeros(3)))
        tau = pin.rnea(self.model, self.data, q, v, a, outside)
        wrench = self.root_to_body.actInv(pin.Force(tau[:6])).vector
        return tau[self.columns], wrench
