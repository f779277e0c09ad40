"""Random chains that nobody drew: any place and direction of the axes, any limits."""

from __future__ import annotations

import numpy as np

from legwright.robot.chain import Chain
from legwright.robot.tree import Floats


def chain_of(
    placements: Floats,
    axes: Floats,
    foot: Floats,
    lower: Floats,
    upper: Floats,
    *,
    prismatic: tuple[bool, ...] | None = None,
    coupling: Floats | None = None,
    offset: Floats | None = None,
) -> Chain:
    """A chain from bare numbers; axes need not be unit vectors."""
    m = len(placements)
    C = np.eye(m) if coupling is None else np.asarray(coupling, dtype=float)
    names = tuple(f"joint{i}" for i in range(m))
    axes = np.asarray(axes, dtype=float)
    return Chain(
        joint_names=names[: C.shape[1]],
        moving_names=names,
        link_names=names,
        foot_link="foot",
        placements=np.asarray(placements, dtype=float),
        axes=axes / np.linalg.norm(axes, axis=1, keepdims=True),
        prismatic=prismatic or (False,) * m,
        coupling=C,
        offset=np.zeros(m) if offset is None else np.asarray(offset, dtype=float),
        foot=np.asarray(foot, dtype=float),
        lower=np.asarray(lower, dtype=float),
        upper=np.asarray(upper, dtype=float),
        solids=(),
    )


def rotation(rng: np.random.Generator) -> Floats:
    """A random rotation matrix, from a random unit quaternion."""
    w, x, y, z = (v := rng.normal(size=4)) / np.linalg.norm(v)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def random_chain(joints: int, seed: int, *, parallel: bool = False) -> Chain:
    """A chain with random offsets, tilts, signs, zeros and limits; last two axes parallel?"""
    rng = np.random.default_rng(seed)
    placements, axes = np.tile(np.eye(4), (joints, 1, 1)), rng.normal(size=(joints, 3))
    for placement in placements:
        placement[:3, :3] = rotation(rng)
        placement[:3, 3] = rng.uniform(-0.1, 0.1, 3)
    if parallel:
        axes[-1] = placements[-1][:3, :3].T @ axes[-2] * rng.choice([-1.0, 1.0])
    lower = rng.uniform(-2.5, -0.3, joints)
    upper = lower + rng.uniform(0.8, 5.0, joints)
    return chain_of(placements, axes, rng.uniform(-0.12, 0.12, 3), lower, upper)


def plain_leg(
    coxa: float, femur: float, tibia: float, lower: Floats | float, upper: Floats | float
) -> Chain:
    """Coxa axis up, femur and tibia axes against y: positive angles lift, as in textbooks."""
    placements = np.tile(np.eye(4), (3, 1, 1))
    placements[1, 0, 3], placements[2, 0, 3] = coxa, femur
    ends = [np.broadcast_to(np.asarray(v, dtype=float), 3) for v in (lower, upper)]
    return chain_of(placements, [[0, 0, 1], [0, -1, 0], [0, -1, 0]], [tibia, 0, 0], *ends)
