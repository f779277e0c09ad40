"""The leg whose last two of three axes are parallel, in the measures of its closed form."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from legwright.mechanics.screws import Screws
from legwright.robot.placement import cross
from legwright.robot.tree import Floats

PARALLEL = 1e-9
"""Largest sine between two axes that count as parallel."""
OBLIQUE = 1e-4
"""Smallest sine between first and second axis for which the closed form is used."""
SIZE = 32
"""Length of the packed measures; the places are named in `_knee.py`."""


def middle_of(lower: Floats, upper: Floats) -> Floats:
    """Middle of each joint's range; 0, or the finite limit nearest to it, where unlimited.

    Args:
        lower: Smallest positions, (n,) [rad or m], -inf allowed.
        upper: Largest positions, (n,) [rad or m], inf allowed.

    Returns:
        (n,) [rad or m]
    """
    finite = np.isfinite(lower) & np.isfinite(upper)
    with np.errstate(invalid="ignore"):
        return np.where(finite, (lower + upper) / 2.0, np.clip(0.0, lower, upper))


def knee_of(screws: Screws, lower: Floats, upper: Floats) -> Floats | None:
    """Packed measures of the closed form, or None where it does not apply.

    In the frame after joint 1 the foot stays in a plane normal to the parallel axes. The
    frame chosen here has z along axis 1 and x along the part of axis 2 normal to it, so axis
    2 is (sin g, 0, cos g), and the plane's own axes are y and (-cos g, 0, sin g).

    Args:
        screws: The chain.
        lower: Smallest joint positions, (3,) [rad].
        upper: Largest joint positions, (3,) [rad].

    Returns:
        (SIZE,) or None.
    """
    a1, a2, a3 = screws.axis if len(screws.axis) == 3 else (None, None, None)
    if a1 is None or a2 is None or a3 is None or screws.slides.any():
        return None
    if not np.array_equal(screws.coupling, np.eye(3)) or np.any(screws.offset != 0.0):
        return None
    along = a2 - a1 * float(a1 @ a2)
    slant = float(np.linalg.norm(along))
    if float(np.linalg.norm(cross(a2, a3))) > PARALLEL or slant < OBLIQUE:
        return None
    x = along / slant
    frame = np.array([x, cross(a1, x), a1])
    cosine = float(a1 @ a2)
    across = np.array([-cosine, 0.0, slant])

    def flat(point: Floats) -> Floats:
        seen = frame @ (point - screws.origin[0])
        return np.array([seen[1], across @ seen])

    hip, knee, foot = flat(screws.origin[1]), flat(screws.origin[2]), flat(screws.foot)
    femur, tibia = knee - hip, foot - knee
    turn2 = math.atan2(femur[1], femur[0])
    turn3 = math.atan2(tibia[1], tibia[0])
    plane = float(a2 @ (screws.foot - screws.origin[0]))
    sign = 1.0 if float(a2 @ a3) > 0.0 else -1.0
    pack = np.zeros(SIZE)
    pack[0:9] = frame.ravel()
    pack[9:12] = screws.origin[0]
    pack[12:18] = slant, cosine, plane, hip[0], hip[1], sign
    pack[18:22] = np.hypot(*femur), turn2, np.hypot(*tibia), turn3 - turn2
    pack[22:25], pack[25:28] = lower, upper
    pack[28:31] = middle_of(lower, upper)
    return pack


def closed_turns(measures: Sequence[float], q1: Floats, q2: Floats, q3: Floats) -> Floats:
    """Cosine and sine of the angles of a leg in closed form; no length of it is in them.

    Args:
        measures: Places 12 to 21 of the packed measures.
        q1: Positions of its joints, (N,) each [rad].
        q2: As ``q1``.
        q3: As ``q1``.

    Returns:
        (6, N): of joint 1, of the femur, and of the tibia in the foot's plane.
    """
    t2 = q2 + measures[7]
    t3 = t2 + measures[5] * q3 + measures[9]
    return np.array([turn(angle) for angle in (q1, t2, t3) for turn in (np.cos, np.sin)])


def closed_feet(measures: Sequence[float], turns: Floats) -> Floats:
    """Foot points of a leg in closed form, in the leg's own frame.

    Args:
        measures: Places 12 to 21 of the packed measures.
        turns: From `closed_turns`, (6, N).

    Returns:
        (3, N) [m]
    """
    slant, cosine, place, u0, v0, _, femur, _, tibia, _ = measures
    c, s, c2, s2, c3, s3 = turns
    u = u0 + femur * c2 + tibia * c3
    v = v0 + femur * s2 + tibia * s3
    across = slant * place - cosine * v
    return np.array([c * across - s * u, s * across + c * u, cosine * place + slant * v])
