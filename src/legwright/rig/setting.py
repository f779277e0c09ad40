"""Setting a robot down: level, at rest, its lowest point on the ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from legwright.mechanics.ground import UP
from legwright.mechanics.shapes import link_poses, lowest
from legwright.rig.ground import Ground
from legwright.rig.scene import Scene
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

if TYPE_CHECKING:
    import mujoco


def set_down(
    robot: Robot, ground: Ground, scene: Scene, data: mujoco.MjData, q: Floats, *,
    at: tuple[float, float], yaw: float, lift: float, stand: float | None = None,
) -> None:  # fmt: skip
    """Reset the engine's state and set the robot level on the ground.

    Args:
        robot: The robot.
        ground: What it is set on.
        scene: Its model.
        data: The engine's state; changed.
        q: Joint positions, (J,) [rad].
        at: Where the body frame stands, x, y [m].
        yaw: Heading [rad].
        lift: Gap under the lowest foot, or under the belly where that is lower [m].
        stand: Height of a bench stand that holds the body frame instead, or None [m].
    """
    import mujoco

    model = scene.model
    mujoco.mj_resetData(model, data)
    data.qpos[scene.at_q] = q
    mujoco.mj_kinematics(model, data)
    turn = np.array([np.cos(0.5 * yaw), 0.0, 0.0, np.sin(0.5 * yaw)])
    back, spot, quaternion = np.empty(4), np.empty(3), np.empty(4)
    mujoco.mju_negQuat(back, data.xquat[scene.body])
    mujoco.mju_mulQuat(quaternion, turn, back)
    mujoco.mju_rotVecQuat(spot, data.xpos[scene.body] - data.qpos[:3], quaternion)
    data.qpos[:3] = np.array([*at, 0.0]) - spot
    data.qpos[3:7] = quaternion
    mujoco.mj_kinematics(model, data)
    feet = data.geom_xpos[scene.foot_geoms]
    under = ground.height(feet[:, 0], feet[:, 1]) + scene.foot_radius
    gap = float((feet[:, 2] - under).min())
    belly = float(ground.height(*at)) - _lowest(robot, q)
    data.qpos[2] += lift + max(-gap, belly - float(data.xpos[scene.body, 2]))
    if stand is not None:
        mujoco.mj_kinematics(model, data)
        data.qpos[2] += stand - float(data.xpos[scene.body, 2])
        mujoco.mj_kinematics(model, data)
        data.mocap_pos[scene.stand] = data.xpos[scene.body]
        data.mocap_quat[scene.stand] = data.xquat[scene.body]
    mujoco.mj_forward(model, data)


def _lowest(robot: Robot, q: Floats) -> float:
    """Height of the robot's lowest point in the level body frame [m]; feet left out."""
    poses = link_poses(robot, q[None])
    feet = {leg.chain.foot_link for leg in robot.legs.values()}
    heights = [
        float(np.min(lowest(shape, poses[name], UP)))
        for name, link in robot.tree.links.items()
        for shape in link.shapes
        if name not in feet
    ]
    return min(heights, default=0.0)
