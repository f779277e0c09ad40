"""A four-legged walker of round measures, written as a URDF, for hand-checked cases."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from legwright.robot.chain import Chain
from legwright.robot.leg import Reach
from legwright.robot.loading import load
from legwright.robot.placement import turned
from legwright.robot.robot import Robot

INERTIAL = (
    '<inertial><mass value="0.1"/><inertia ixx="1e-4" iyy="1e-4" izz="1e-4" ixy="0" '
    'ixz="0" iyz="0"/></inertial>'
)
BOX = '<box size="0.30 0.16 0.06"/>'
COXA = '<box size="0.02 0.03 0.02"/>'
FOOT_RADIUS = 0.01


class ForwardOnly:
    """Where a foot is, straight from the chain; it reaches nothing."""

    def __init__(self, chain: Chain) -> None:
        self.chain = chain

    def foot(self, q: np.ndarray) -> np.ndarray:
        flat = q.reshape(-1, q.shape[-1])
        return np.array([self._one(row) for row in flat]).reshape(*q.shape[:-1], 3)

    def _one(self, q: np.ndarray) -> np.ndarray:
        pose = np.eye(4)
        for placement, axis, angle in zip(self.chain.placements, self.chain.axes, q, strict=True):
            pose = pose @ placement @ turned(axis, angle)
        return pose[:3, :3] @ self.chain.foot + pose[:3, 3]

    def jacobian(self, q: np.ndarray) -> np.ndarray:
        raise NotImplementedError

    def reach(self, p: np.ndarray, near: np.ndarray | None) -> Reach:
        raise NotImplementedError


def shape(geometry: str, xyz: str = "0 0 0", rpy: str = "0 0 0") -> str:
    return (
        f'<collision><origin xyz="{xyz}" rpy="{rpy}"/><geometry>{geometry}</geometry></collision>'
    )


def link(name: str, *shapes: str) -> str:
    return f'<link name="{name}">{INERTIAL}{"".join(shapes)}</link>'


def joint(name: str, parent: str, child: str, xyz: str, axis: str, limit: float) -> str:
    return (
        f'<joint name="{name}" type="revolute"><parent link="{parent}"/><child link="{child}"/>'
        f'<origin xyz="{xyz}"/><axis xyz="{axis}"/>'
        f'<limit lower="{-limit}" upper="{limit}" effort="3" velocity="5"/></joint>'
    )


def leg(name: str, x: float, side: int, coxa: str, limit: float) -> str:
    """Hip at (x, ±0.08, 0); coxa 0.05 and femur 0.08 outward, tibia 0.12 down."""
    return "".join(
        [
            link(f"{name}_coxa", shape(coxa, f"0 {side * 0.025} 0") if coxa else ""),
            link(
                f"{name}_femur",
                shape(
                    '<cylinder radius="0.008" length="0.08"/>',
                    f"0 {side * 0.04} 0",
                    "1.5707963267948966 0 0",
                ),
            ),
            link(f"{name}_tibia", shape('<box size="0.012 0.012 0.12"/>', "0 0 -0.06")),
            link(f"{name}_foot", shape(f'<sphere radius="{FOOT_RADIUS}"/>')),
            joint(f"{name}_a", "body", f"{name}_coxa", f"{x} {side * 0.08} 0", "0 0 1", limit),
            joint(
                f"{name}_b", f"{name}_coxa", f"{name}_femur", f"0 {side * 0.05} 0", "1 0 0", limit
            ),
            joint(
                f"{name}_c", f"{name}_femur", f"{name}_tibia", f"0 {side * 0.08} 0", "1 0 0", limit
            ),
            f'<joint name="{name}_tip" type="fixed"><parent link="{name}_tibia"/>'
            f'<child link="{name}_foot"/><origin xyz="0 0 -0.12"/></joint>',
        ]
    )


def walker(folder: Path, *, trunk: str = BOX, coxa: str = COXA, limit: float = 1.2) -> Robot:
    """The walker, its trunk and coxas drawn as asked."""
    text = f'<?xml version="1.0"?><robot name="walker">{link("body", shape(trunk))}'
    for name, x, side in (("lf", 0.1, 1), ("lr", -0.1, 1), ("rf", 0.1, -1), ("rr", -0.1, -1)):
        text += leg(name, x, side, coxa, limit)
    path = folder / "walker.urdf"
    path.write_text(text + "</robot>", encoding="utf-8")
    return load(path, solver=ForwardOnly)
