"""The order of legs, and their names by place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from legwright.robot.tree import Floats

ORDINALS = ("second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
MIDLINE = 0.05
"""Share of the half width within which a leg stands on the midline."""


def ordered_names(places: Floats) -> list[tuple[int, str]]:
    """Legs from left-front to left-rear, then right-front to right-rear, then the midline's.

    Args:
        places: Where each leg stands, x forward and y left, (L, 2) [m].

    Returns:
        Pairs of the leg's index in `places` and its name, in order.
    """
    y = places[:, 1] - _middle(places[:, 1])
    line = MIDLINE * float(np.max(np.abs(y), initial=0.0)) + 1e-9
    left = [i for i in range(len(y)) if y[i] > line]
    right = [i for i in range(len(y)) if y[i] < -line]
    centre = [i for i in range(len(y)) if abs(y[i]) <= line]
    result = []
    for side, members in (("left", left), ("right", right)):
        members.sort(key=lambda i: (-round(float(places[i, 0]), 6), -round(abs(float(y[i])), 6)))
        result += [
            (i, f"{side}-{rank}" if rank else side)
            for i, rank in zip(members, ranks(len(members)), strict=True)
        ]
    centre.sort(key=lambda i: -round(float(places[i, 0]), 6))
    return result + list(zip(centre, _centre_names(places[:, 0], centre), strict=True))


def _middle(y: Floats) -> float:
    """Where the midline runs: at y = 0, or midway where that leaves the sides unlike."""
    line = MIDLINE * float(np.max(np.abs(y), initial=0.0))
    if int(np.sum(y > line)) == int(np.sum(y < -line)):
        return 0.0
    midway = float(np.max(y) + np.min(y)) / 2.0
    half = y - midway
    line = MIDLINE * float(np.max(np.abs(half), initial=0.0))
    return midway if int(np.sum(half > line)) == int(np.sum(half < -line)) else 0.0


def ranks(count: int) -> list[str]:
    """Names along one side, front to rear: front, second, ..., rear; middle for three."""
    if count == 1:
        return [""]
    if count == 3:
        return ["front", "middle", "rear"]
    between = [ORDINALS[i] if i < len(ORDINALS) else f"{i + 2}th" for i in range(max(count - 2, 0))]
    return ["front", *between, "rear"][:count]


def _centre_names(x: Floats, centre: Sequence[int]) -> list[str]:
    if len(centre) == 1:
        reach = float(np.max(x) - np.min(x))
        ahead = float(x[centre[0]] - (np.max(x) + np.min(x)) / 2.0)
        if abs(ahead) < 0.25 * reach or reach == 0.0:
            return ["centre"]
        return ["front" if ahead > 0.0 else "rear"]
    return ["centre" if rank == "middle" else rank for rank in ranks(len(centre))]
