"""Walkers drawn at random, with the traps that descriptions from elsewhere hold.

Arbitrary joint frames, flipped axes, shifted zeros, lateral offsets, tilted hips, fixed frames
in mid-chain, fittings, masts, arms, a turned second root, shuffled parts, names that say nothing.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import numpy as np
from descriptions import joint, link, mast
from scipy.spatial.transform import Rotation

from legwright.robot.placement import inverse, shifted
from legwright.robot.tree import Floats

X, Y, Z = np.eye(3)


@dataclass
class Drawn:
    """A random walker's parts and the truth about it."""

    parts: list[str] = field(default_factory=list)
    legs: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Foot link -> joints, base to foot."""


def turned(rotation: Rotation) -> Floats:
    pose = np.eye(4)
    pose[:3, :3] = rotation.as_matrix()
    return pose


def any_turn(rng: np.random.Generator) -> Floats:
    return turned(Rotation.from_quat(rng.normal(size=4)))


def placed(name: str, parent: str, child: str, pose: Floats, axis: Floats, kind: str,
           span: tuple[float, float] = (0, 0)) -> str:  # fmt: skip
    rpy = Rotation.from_matrix(pose[:3, :3]).as_euler("xyz")
    return joint(name, parent, child, tuple(pose[:3, 3]), tuple(rpy), kind, tuple(axis), span)


def drawn(seed: int) -> Drawn:
    """A walker with 4 to 10 legs of 2 to 4 joints."""
    rng = np.random.default_rng(seed)
    robot = Drawn()
    count, m = int(rng.choice([4, 5, 6, 8, 10])), int(rng.choice([2, 3, 3, 3, 4]))
    lengths = (0.06, 0.1, 0.15, 0.08) * rng.uniform(0.6, 1.6, 4)
    lengths = lengths[1:3] if m == 2 else lengths[:m]
    offsets = rng.uniform(-0.03, 0.03, 4) * (rng.random() < 0.5)
    tilt = rng.uniform(-0.2, 0.2) * (rng.random() < 0.5)
    radius = rng.uniform(0.08, 0.3)
    round_body = rng.random() < 0.5
    robot.parts.append(link("base", 2.0, shape=f'<cylinder radius="{radius:g}" length="0.05"/>'))
    for i in range(count):
        x, y, heading = _spot(i, count, radius, round_body)
        hip = shifted(np.array([x, y, rng.uniform(-0.02, 0.02)]), 1.0)
        hip = hip @ turned(Rotation.from_euler("ZY", [heading, tilt]))
        _leg(robot, rng, f"q{7 * i % count}x", hip, lengths, offsets)
    choice = rng.integers(4)
    if choice > 0:
        robot.parts += mast(at=(radius / 2, 0.0, rng.uniform(0.04, 0.1)))
    if choice == 2:
        _arm(robot, -radius / 3)
    if rng.random() < 0.5:
        turn = tuple(rng.uniform(-2, 2, 3))
        robot.parts += [link("w", None), joint("anchor", "w", "base", (0, 0, 1), turn, "fixed")]
    random.Random(seed).shuffle(robot.parts)
    return robot


def _spot(i: int, count: int, radius: float, round_body: bool) -> tuple[float, float, float]:
    if round_body:
        angle = 2 * np.pi * (i + 0.5) / count
        return radius * np.cos(angle), radius * np.sin(angle), angle
    half = (count + 1) // 2
    side = 1 if i < half else -1
    along = 1 - 2 * (i % half) / max(half - 1, 1)
    return radius * along, 0.6 * radius * side, side * np.pi / 2


def _leg(robot: Drawn, rng: np.random.Generator, name: str, hip: Floats, lengths: Floats,
         offsets: Floats) -> None:  # fmt: skip
    """Yaw first where there are more than two joints, then pitches."""
    m = len(lengths)
    parent, frame, nominal = "base", np.eye(4), hip
    names = []
    for j in range(m):
        yaw = j == 0 and m > 2
        axis, span = (Z, (-0.8, 0.8)) if yaw else (Y, (-1.4, 1.4) if j < m - 1 else (-0.6, 2.2))
        own = any_turn(rng) if rng.random() < 0.6 else np.eye(4)
        zero = turned(Rotation.from_rotvec(axis * rng.uniform(-0.5, 0.5)))
        pose = inverse(frame) @ nominal @ zero @ own
        axis = own[:3, :3].T @ axis
        if rng.random() < 0.5:
            axis, span = -axis, (-span[1], -span[0])
        if rng.random() < 0.3:
            extra = shifted(rng.uniform(-0.02, 0.02, 3), 1.0) @ any_turn(rng)
            robot.parts.append(placed(f"{name}{j}f", parent, f"{name}{j}m", extra, X, "fixed"))
            robot.parts.append(link(f"{name}{j}m", None if rng.random() < 0.5 else 0.01))
            parent, pose = f"{name}{j}m", inverse(extra) @ pose
        kind = "continuous" if rng.random() < 0.1 else "revolute"
        robot.parts.append(placed(f"{name}{j}", parent, f"{name}{j}l", pose, axis, kind, span))
        robot.parts.append(link(f"{name}{j}l", rng.uniform(0.05, 0.3)))
        names.append(f"{name}{j}")
        parent, frame = f"{name}{j}l", own
        nominal = shifted(np.array([lengths[j], offsets[j], 0.0]), 1.0)
        if rng.random() < 0.2:
            fit = shifted(rng.uniform(-0.03, 0.03, 3), 1.0)
            robot.parts.append(placed(f"{name}{j}b", parent, f"{name}{j}c", fit, X, "fixed"))
            robot.parts.append(link(f"{name}{j}c", 0.01))
    end = f"{name}e"
    robot.parts.append(placed(f"{end}j", parent, end, inverse(frame) @ nominal, X, "fixed"))
    robot.parts.append(link(end, 0.005, shape='<sphere radius="0.01"/>'))
    robot.legs[end] = tuple(names)


def _arm(robot: Drawn, x: float) -> None:
    robot.parts += [joint("a0", "base", "A0", (x, 0, 0.05)), link("A0")]
    for i in range(1, 5):
        robot.parts.append(joint(f"a{i}", f"A{i - 1}", f"A{i}", (0.1, 0, 0), axis=(0, 1, 0)))
        robot.parts.append(link(f"A{i}"))
