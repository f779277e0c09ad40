"""Static balance: the support polygon and the margins that are measured from it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.errors import RequestError
from legwright.mechanics._polygon import hull, stance_margins
from legwright.robot.tree import Floats, read_only

DOWN = (0.0, 0.0, -1.0)
NO_SUPPORT = read_only([-np.inf])


def horizontal(gravity: ArrayLike) -> Floats:
    """Axes of the horizontal plane and the vertical.

    Args:
        gravity: (..., 3), any length > 0.

    Returns:
        (..., 3, 3): rows are the x axis laid into the horizontal plane (the y axis where x is
        vertical), the axis to its left, and up; in the axes of ``gravity``.

    Raises:
        RequestError: Where gravity is zero.
    """
    g = np.asarray(gravity, dtype=np.float64)
    size = np.linalg.norm(g, axis=-1, keepdims=True)
    if not (size > 0.0).all():
        raise RequestError("gravity", gravity, "longer than zero")
    up = -g / size
    steep = np.abs(up[..., :1]) > 1.0 - 1e-9
    start = np.where(steep, (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))
    ahead = start - (start * up).sum(axis=-1, keepdims=True) * up
    ahead = ahead / np.linalg.norm(ahead, axis=-1, keepdims=True)
    return np.stack([ahead, np.cross(up, ahead), up], axis=-2)


def support_polygon(
    feet: ArrayLike, *, contact: ArrayLike | None = None, gravity: ArrayLike = DOWN
) -> NDArray[np.int64]:
    """Feet at the corners of the support polygon.

    Args:
        feet: Foot points, (L, 3) [m].
        contact: Feet that stand, (L,); all when None.
        gravity: (3,), same axes.

    Returns:
        Indices into ``feet``, counter-clockwise seen from above; fewer than three where the
        stance feet span no area.

    Source: McGhee & Frank, Mathematical Biosciences 3:331-351, 1968: convex hull of the stance
        feet, projected along gravity.
    """
    points = np.asarray(feet, dtype=np.float64)
    stance = np.flatnonzero(np.ones(len(points)) if contact is None else np.asarray(contact))
    if not len(stance):
        return stance.astype(np.int64)
    flat = points[stance] @ horizontal(gravity)[:2].T
    order = np.empty(2 * len(stance) + 1, dtype=np.int64)
    count = hull(np.array(flat[:, 0]), np.array(flat[:, 1]), order)
    return stance[order[:count]].astype(np.int64)


def static_margin(
    feet: ArrayLike,
    com: ArrayLike,
    *,
    contact: ArrayLike | None = None,
    gravity: ArrayLike = DOWN,
) -> Floats:
    """Static stability margin: least horizontal distance from the centre of mass to the rim.

    Args:
        feet: Foot points, (..., L, 3) [m].
        com: Centre of mass, (..., 3) [m].
        contact: Feet that stand, (..., L); all when None.
        gravity: (..., 3), same axes.

    Returns:
        (...,) [m]: negative outside the support polygon, never positive where the stance feet
        span no area, -inf without stance feet.

    Source: McGhee & Frank, Mathematical Biosciences 3:331-351, 1968.
    """
    points = np.asarray(feet, dtype=np.float64)
    lead, legs = points.shape[:-2], points.shape[-2]
    g = np.asarray(gravity, dtype=np.float64)
    if not (g != 0.0).any(axis=-1).all():
        raise RequestError("gravity", gravity, "longer than zero")
    stance = np.broadcast_to(True if contact is None else np.asarray(contact), (*lead, legs))
    found = stance_margins(
        np.array(points, order="C").reshape(-1, legs, 3),
        np.array(np.broadcast_to(com, (*lead, 3)), dtype=np.float64, order="C").reshape(-1, 3),
        np.array(np.broadcast_to(g, (*lead, 3)) if g.ndim > 1 else g[None], order="C").reshape(
            -1, 3
        ),
        np.array(stance, dtype=np.bool_, order="C").reshape(-1, legs),
    )
    return np.asarray(found.reshape(lead))


def longitudinal_margin(
    feet: ArrayLike,
    com: ArrayLike,
    heading: ArrayLike = (1.0, 0.0, 0.0),
    *,
    contact: ArrayLike | None = None,
    gravity: ArrayLike = DOWN,
) -> float:
    """Longitudinal stability margin: least distance to the rim ahead and behind.

    Args:
        feet: Foot points, (L, 3) [m].
        com: Centre of mass, (3,) [m].
        heading: Direction of travel, (3,); its horizontal part counts.
        contact: Feet that stand, (L,); all when None.
        gravity: (3,), same axes.

    Returns:
        [m]: negative outside the support polygon, -inf where the line along the heading
        misses it.

    Source: McGhee & Frank, Mathematical Biosciences 3:331-351, 1968.
    """
    axes = horizontal(gravity)[:2]
    ahead = axes @ np.asarray(heading, dtype=np.float64)
    ahead = ahead / np.linalg.norm(ahead)
    corners = support_polygon(feet, contact=contact, gravity=gravity)
    flat = (np.asarray(feet, dtype=np.float64)[corners] - np.asarray(com)) @ axes.T
    along, side = flat @ ahead, flat @ np.array([-ahead[1], ahead[0]])
    crossings: list[float] = []
    for i in range(len(corners)):
        j = (i + 1) % len(corners)
        low, high = min(side[i], side[j]), max(side[i], side[j])
        if low <= 0.0 <= high:
            if low == high:
                crossings += [along[i], along[j]]
            else:
                share = -side[i] / (side[j] - side[i])
                crossings.append(along[i] + share * (along[j] - along[i]))
    return float(min(max(crossings), -min(crossings))) if crossings else -np.inf


def _edges(starts: Floats) -> Floats:
    """Unit directions from each corner to the next."""
    along = np.roll(starts, -1, axis=0) - starts
    return np.asarray(along / np.linalg.norm(along, axis=1, keepdims=True))


def energy_heights(
    feet: ArrayLike,
    com: ArrayLike,
    *,
    contact: ArrayLike | None = None,
    gravity: ArrayLike = DOWN,
) -> Floats:
    """Rise of the centre of mass before the robot tips over each edge of the support polygon.

    The edges join the feet themselves, which need not be level.

    Args:
        feet: Foot points, (L, 3) [m].
        com: Centre of mass, (3,) [m].
        contact: Feet that stand, (L,); all when None.
        gravity: (3,), same axes.

    Returns:
        (E,) [m], for the edges from each corner of `support_polygon` to the next; negative
        where the centre of mass lies beyond the edge: what it has fallen by already. Never
        positive for all edges where the stance feet span no area; -inf without stance feet.

    Source: Messuri & Klein, IEEE J. Robotics & Automation RA-1(3):132-141, 1985; in the form
        h = |R| (1 - cos θ) cos ψ.
    """
    starts = np.asarray(feet, dtype=np.float64)[
        support_polygon(feet, contact=contact, gravity=gravity)
    ]
    up = horizontal(gravity)[2]
    arm = np.asarray(com, dtype=np.float64) - starts
    if len(starts) < 2:
        return np.asarray(arm @ up - np.linalg.norm(arm, axis=1)) if len(arm) else NO_SUPPORT
    along = _edges(starts)
    arm = arm - (arm * along).sum(axis=1, keepdims=True) * along
    steep = up - (along @ up)[:, None] * along
    rise = np.linalg.norm(arm, axis=1) * np.linalg.norm(steep, axis=1) - (arm * steep).sum(axis=1)
    inward = np.cross(up, along)
    return np.asarray(np.where((arm * inward).sum(axis=1) >= 0.0, rise, -rise))


def normalised_energy_margin(
    feet: ArrayLike,
    com: ArrayLike,
    *,
    contact: ArrayLike | None = None,
    gravity: ArrayLike = DOWN,
) -> float:
    """Normalised energy stability margin: least of `energy_heights`, where more is said [m].

    The energy stability margin of Messuri & Klein [J] is this times the weight.

    Source: Hirose, Tsukagoshi & Yoneda, ICRA 2001, pp. 181-186.
    """
    return float(energy_heights(feet, com, contact=contact, gravity=gravity).min())


def force_angles(
    feet: ArrayLike,
    com: ArrayLike,
    force: ArrayLike,
    moment: ArrayLike = (0.0, 0.0, 0.0),
    *,
    contact: ArrayLike | None = None,
    gravity: ArrayLike = DOWN,
) -> tuple[Floats, Floats, Floats]:
    """Angle, lever and size of the net force about each edge of the support polygon.

    Args:
        feet: Foot points, (L, 3) [m].
        com: Centre of mass, (3,) [m].
        force: All that acts on the robot but the ground: weight, inertia, pushes, (3,) [N].
        moment: The same about the centre of mass, (3,) [N·m].
        contact: Feet that stand, (L,); all when None.
        gravity: (3,), same axes; only tells what is up.

    Returns:
        θ (E,) [rad], negative where the force points beyond the edge; |d| (E,) [m]; |f| (E,)
        [N]; for the edges from each corner of `support_polygon` to the next.

    Raises:
        RequestError: Where the stance feet span no area.

    Source: Papadopoulos & Rey, ICRA 1996, pp. 3111-3116; Vehicle System Dynamics 33(1):29-48,
        2000.
    """
    corners = support_polygon(feet, contact=contact, gravity=gravity)
    if len(corners) < 3:
        raise RequestError("feet", len(corners), "at least three stance feet that span an area")
    starts = np.asarray(feet, dtype=np.float64)[corners]
    along = _edges(starts)
    net, twist = np.asarray(force, dtype=np.float64), np.asarray(moment, dtype=np.float64)
    to_edge = starts - np.asarray(com, dtype=np.float64)
    to_edge = to_edge - (to_edge * along).sum(axis=1, keepdims=True) * along
    reach = np.linalg.norm(to_edge, axis=1, keepdims=True)
    towards = to_edge / reach
    f = net - (along @ net)[:, None] * along
    f = f + np.cross(towards, (along @ twist)[:, None] * along) / reach
    size = np.linalg.norm(f, axis=1)
    unit = f / np.where(size > 0.0, size, 1.0)[:, None]
    turned = (np.cross(unit, towards) * along).sum(axis=1)
    angle = np.arctan2(-turned, (unit * towards).sum(axis=1))
    lever = np.linalg.norm(to_edge - (to_edge * unit).sum(axis=1, keepdims=True) * unit, axis=1)
    return np.asarray(angle), np.asarray(lever), np.asarray(size)


def force_angle_margin(
    feet: ArrayLike,
    com: ArrayLike,
    force: ArrayLike,
    moment: ArrayLike = (0.0, 0.0, 0.0),
    *,
    contact: ArrayLike | None = None,
    gravity: ArrayLike = DOWN,
    levers: bool = True,
) -> float:
    """Force-angle stability measure.

    Args:
        feet: See `force_angles`, as all others.
        com: [m]
        force: [N]
        moment: [N·m]
        contact: Feet that stand.
        gravity: Tells what is up.
        levers: True for the 2000 form, min θ |d| |f| [N·m·rad]; False for the 1996 form,
            min θ |f| [N·rad] (from memory).

    Returns:
        Negative where the robot tips.
    """
    angle, lever, size = force_angles(feet, com, force, moment, contact=contact, gravity=gravity)
    return float((angle * size * (lever if levers else 1.0)).min())
