"""A serial chain of joints from the body to a foot, as bare numbers."""

from __future__ import annotations

from dataclasses import dataclass

from legwright.robot.tree import Floats, Solid


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Chain:
    """Everything kinematics and dynamics need of one leg; fixed joints are merged away.

    The chain has ``m`` moving joints and ``n <= m`` drives; a mimic joint moves without a
    drive of its own. Joint positions follow from drive positions q by
    ``coupling @ q + offset``; ``coupling`` is the identity where there are no mimic joints.
    """

    joint_names: tuple[str, ...]
    """Names of the n driven joints, base to foot."""
    moving_names: tuple[str, ...]
    """Names of all m moving joints, base to foot."""
    link_names: tuple[str, ...]
    """For each moving joint, the link that it carries."""
    foot_link: str
    """Last link of the chain."""
    placements: Floats
    """(m, 4, 4): pose of moving joint i's frame in the frame of moving joint i-1 (the body
    frame for i = 0) with that joint at zero."""
    axes: Floats
    """(m, 3): unit axis of each moving joint in its own frame."""
    prismatic: tuple[bool, ...]
    """(m,): True where the joint slides."""
    coupling: Floats
    """(m, n)"""
    offset: Floats
    """(m,) [rad or m]"""
    foot: Floats
    """(3,): the foot point in the last moving joint's frame [m]."""
    lower: Floats
    """(n,): smallest drive positions [rad or m]; -inf where unlimited."""
    upper: Floats
    """(n,): largest drive positions [rad or m]; inf where unlimited."""
    solids: tuple[Solid, ...]
    """For each moving joint, all that moves rigidly with it, in that joint's frame."""
    foot_radius: float = 0.0
    """Radius of the foot's rounding, from its sphere shape or the sheet [m]."""
