"""Folds a flat pattern up again, numerically: the way back, by another road than the pattern's.

The pattern is laid out by bend deductions between outside lengths; here each bend is walked
along its neutral fibre, so that the two agree only if both are right.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.bracket import Bracket
from legwright.robot.tree import Floats


def refolded(bracket: Bracket, flat: ArrayLike, depth: ArrayLike = 0.0) -> Floats:
    """Where points of the flat pattern come to lie in the folded part.

    Args:
        bracket: The bracket.
        flat: (..., 2): points of the flat pattern [m].
        depth: From the outside face into the sheet, 0 to the thickness, broadcast [m].

    Returns:
        (..., 3) in the part's frame [m].
    """
    points = np.asarray(flat, dtype=np.float64)
    into = np.broadcast_to(np.asarray(depth, dtype=np.float64), points.shape[:-1])
    along, side = np.abs(points[..., 0]), np.where(points[..., 0] < 0.0, -1.0, 1.0)
    outer = bracket.radius + bracket.thickness
    neutral = bracket.radius + bracket.k_factor * bracket.thickness
    start = bracket.half_web
    angle = np.clip((along - start) / neutral, 0.0, np.pi / 2.0)
    straight = np.minimum(along, start)
    past = np.maximum(along - start - neutral * np.pi / 2.0, 0.0)
    turn = outer - into
    # From the bend's centre: outward along x at angle 0, upward along z at a right angle.
    x = bracket.reach - outer + turn * np.cos(angle) - past * np.sin(angle)
    z = straight + turn * np.sin(angle) * (along > start) + past * np.cos(angle)
    return np.stack([x, points[..., 1], side * z], axis=-1)


def refolded_angle(bracket: AngleBracket, flat: ArrayLike, depth: ArrayLike = 0.0) -> Floats:
    """Where points of an angle bracket's flat pattern come to lie in the folded part.

    Args:
        bracket: The bracket.
        flat: (..., 2): points of the flat pattern [m].
        depth: From the outside face into the sheet, 0 to the thickness, broadcast [m].

    Returns:
        (..., 3) in the part's frame [m].
    """
    points = np.asarray(flat, dtype=np.float64)
    into = np.broadcast_to(np.asarray(depth, dtype=np.float64), points.shape[:-1])
    outer = bracket.radius + bracket.thickness
    neutral = bracket.radius + bracket.k_factor * bracket.thickness
    half = 0.5 * neutral * bracket.turn
    along = points[..., 0]
    angle = np.clip((half - along) / neutral, 0.0, bracket.turn)
    away = np.maximum(along - half, 0.0)  # on the base, beyond the bend
    past = np.maximum(-half - along, 0.0)  # on the riser, beyond the bend
    turn = outer - into
    # The bend's centre stands over where the base ends; radii point down at first.
    x = outer * np.tan(bracket.turn / 2.0) + away - turn * np.sin(angle) - past * np.cos(angle)
    z = outer - turn * np.cos(angle) + past * np.sin(angle)
    return np.stack([x, points[..., 1], z], axis=-1)
