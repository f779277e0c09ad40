"""A simulated bench on CAN with secrets: bring-up over the bus, without hardware."""

from __future__ import annotations

from legwright.rig.bringup.hidden import Secrets
from legwright.rig.calibration import Calibration, JointCalibration
from legwright.rig.can.bench import CanBench
from legwright.rig.can.virtual import bench_of, virtual_wires
from legwright.rig.ground_choice import ground_of
from legwright.rig.scatter import Scatter
from legwright.rig.world import World
from legwright.robot.robot import Robot


class VirtualBench(CanBench):
    """Simulated drives, mounted anyhow; the robot hangs on a stand in the physics world."""

    def __init__(
        self,
        robot: Robot,
        secrets: Secrets,
        *,
        seed: int,
        rate: float = 100.0,
        height: float | None = 0.4,
    ) -> None:
        """Put the robot on the stand, boot its drives.

        Args:
            robot: The robot; its sheet gives the node ids.
            secrets: What is to be found.
            seed: Of noise, scatter and pose.
            rate: Bus cycles per second [Hz].
            height: Of the body frame on the stand; None stands the robot on the ground [m].
        """
        bus = robot.sheet.bus
        self.world = World(
            robot, ground_of(robot, "flat", seed=seed), seed=seed, rate=rate, stand=height,
            scatter=Scatter(friction=0.3, torque_constant=0.05),
        )  # fmt: skip
        ours, self._theirs = virtual_wires(bus.buses if bus is not None else 1)
        self.drives = bench_of(
            robot, self._theirs, rate=rate, world=self.world, mounting=mounting_of(robot, secrets)
        )
        super().__init__(
            robot, ours, rate=rate, real=False, inertial=lambda: self.drives.moved.up,
            spin=lambda: self.drives.moved.spin, clock=self.drives.clock, sleep=self.drives.idle,
        )  # fmt: skip

    def close(self) -> None:
        """All drives limp; the buses go too."""
        super().close()
        self.drives.idle(0.0)
        for wire in self._theirs:
            wire.close()


def mounting_of(robot: Robot, secrets: Secrets) -> Calibration:
    """How drives with these secrets are mounted."""
    rows = zip(
        robot.joint_names, secrets.nodes.tolist(), secrets.direction, secrets.zero, strict=True
    )
    return Calibration(
        robot=robot.name,
        joints={
            name: JointCalibration(node=node, direction=int(way), zero=float(zero))
            for name, node, way, zero in rows
        },
    )
