"""Robot descriptions for tests, written link by link."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, pi, sin
from pathlib import Path

from legwright.robot.chain import Chain
from legwright.robot.loading import load
from legwright.robot.robot import Robot

BLOCK = '<inertia ixx="2e-4" iyy="2e-4" izz="2e-4" ixy="0" ixz="0" iyz="0"/>'
SIX = [(0.12, 0.08), (0.0, 0.1), (-0.12, 0.08), (0.12, -0.08), (0.0, -0.1), (-0.12, -0.08)]
FOUR = [(0.12, 0.08), (-0.12, 0.08), (0.12, -0.08), (-0.12, -0.08)]
Triple = tuple[float, float, float]
ORIGIN: Triple = (0.0, 0.0, 0.0)


def xyz(values: Sequence[float]) -> str:
    return " ".join(f"{value:.12g}" for value in values)


def link(name: str, mass: float | None = 0.1, at: Triple = ORIGIN, shape: str = "") -> str:
    inertial = "" if mass is None else (
        f'<inertial><origin xyz="{xyz(at)}"/><mass value="{mass:g}"/>{BLOCK}</inertial>'
    )  # fmt: skip
    body = f"<collision><geometry>{shape}</geometry></collision>" if shape else ""
    return f'<link name="{name}">{inertial}{body}</link>'


def joint(
    name: str, parent: str, child: str, at: Triple = ORIGIN, rpy: Triple = ORIGIN,
    kind: str = "revolute", axis: Triple = (0, 0, 1),
    span: tuple[float, float] = (-1.2, 1.2), more: str = "",
) -> str:  # fmt: skip
    limit = f'<limit lower="{span[0]:g}" upper="{span[1]:g}" effort="4" velocity="6"/>'
    moves = f'<axis xyz="{xyz(axis)}"/>{limit}{more}' if kind != "fixed" else ""
    return (
        f'<joint name="{name}" type="{kind}"><parent link="{parent}"/><child link="{child}"/>'
        f'<origin xyz="{xyz(at)}" rpy="{xyz(rpy)}"/>{moves}</joint>'
    )


def leg(
    name: str, parent: str, at: Triple, heading: float,
    lengths: Triple = (0.05, 0.08, 0.12), foot: str = "_foot",
) -> list[str]:  # fmt: skip
    """Coxa, femur and tibia: yaw, pitch, pitch; the femur's positive turn lowers the leg."""
    a, b, c = lengths
    return [
        joint(f"{name}_coxa", parent, f"{name}_1", at, (0, 0, heading), span=(-0.8, 0.8)),
        link(f"{name}_1"),
        joint(f"{name}_femur", f"{name}_1", f"{name}_2", (a, 0, 0), axis=(0, 1, 0)),
        link(f"{name}_2"),
        joint(f"{name}_tibia", f"{name}_2", f"{name}_3", (b, 0, 0), axis=(0, 1, 0), span=(0, 2.2)),
        link(f"{name}_3"),
        joint(f"{name}_end", f"{name}_3", f"{name}{foot}", (c, 0, 0), kind="fixed"),
        link(f"{name}{foot}", 0.01, shape='<sphere radius="0.008"/>'),
    ]


def walker(
    hips: Sequence[tuple[float, float]] = tuple(SIX), body: str = "base", foot: str = "_foot"
) -> list[str]:
    """A body and three-joint legs that point outwards; leg i is called ``k{i}``."""
    parts = [link(body, 1.5, shape='<box size="0.3 0.16 0.05"/>')]
    for i, (x, y) in enumerate(hips):
        parts += leg(f"k{i}", body, (x, y, 0.0), pi / 2 if y > 0 else -pi / 2, foot=foot)
    return parts


def mast(parent: str = "base", at: Triple = (0.1, 0.0, 0.08), name: str = "mast") -> list[str]:
    return [
        joint(f"{name}_pan", parent, f"{name}_1", at),
        link(f"{name}_1"),
        joint(f"{name}_tilt", f"{name}_1", f"{name}_2", (0, 0, 0.04), axis=(0, 1, 0)),
        link(f"{name}_2"),
        joint(f"{name}_fix", f"{name}_2", f"{name}_lens", (0.03, 0, 0), kind="fixed"),
        link(f"{name}_lens", None),
    ]


def ring(count: int, radius: float = 0.12) -> list[tuple[float, float]]:
    """Hips on a circle, the first straight ahead."""
    return [
        (radius * cos(2 * pi * i / count), radius * sin(2 * pi * i / count)) for i in range(count)
    ]


def robot_xml(parts: Sequence[str], name: str = "robin") -> str:
    return f'<?xml version="1.0"?>\n<robot name="{name}">\n' + "\n".join(parts) + "\n</robot>\n"


def written(folder: Path, parts: Sequence[str], name: str = "robot.urdf") -> Path:
    path = folder / name
    path.write_text(robot_xml(parts), encoding="utf-8")
    return path


class Numbers:
    """A stand-in for the solvers of the mechanics room: it only keeps the chain."""

    def __init__(self, chain: Chain) -> None:
        self.chain = chain


def read(folder: Path, parts: Sequence[str]) -> Robot:
    return load(written(folder, parts), solver=Numbers)  # type: ignore[arg-type]


def ends(robot: Robot) -> dict[str, str]:
    """Leg name -> foot link."""
    return {name: leg.chain.foot_link for name, leg in robot.legs.items()}
