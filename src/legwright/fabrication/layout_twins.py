"""Which foot places of which legs are the same seen in a mirror, so that one is worked out.

Legs of a symmetric robot mirror each other, and over a cycle each of them comes by the places
of the others, only later. So a leg is its own, or the mirror image of an earlier one, and every
foot place of a walk is an entry in one list. What is taken for a mirror image is tried: places,
joint travel to both limits and masses must agree in layouts from all over the lattice.
"""

from __future__ import annotations

import numpy as np

from legwright.fabrication._layout_kernel import lay
from legwright.fabrication._layout_leg import PLACED, ROW, place
from legwright.fabrication.layout_arrays import Build, Flags, Places, Walks, Whole
from legwright.robot.tree import Floats

MIRRORS = ((1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0))
"""Signs of x and y: through the plane between left and right, front and rear, or both."""
TRIALS = 6
"""Layouts in which a mirror image is tried."""
SPOTS = 9
"""Foot places of a leg at which it is tried."""
ALIKE = 1e-9
"""[m, rad, kg]"""
POINTS = (0, 3, 6, 25, 28, 31)
"""Points in a placed leg; see `_layout_leg.PLACED`."""


def places_of(build: Build, walks: Walks, values: Floats, counts: tuple[int, ...]) -> Places:
    """The foot places that differ, and which one each leg has in each sample.

    Args:
        build: The robot.
        walks: What is walked.
        values: (D, V) of the free dimensions.
        counts: (D,) how many of them count.

    Returns:
        The list and what refers to it.
    """
    legs = len(build.rows)
    kin, flip = np.arange(legs), np.ones((legs, 3))
    laid = [_laid(build, walks, values, pick) for pick in _picks(counts)]
    for leg in range(legs):
        for other in range(leg):
            if kin[other] != other:
                continue
            signs = next((m for m in _mirrors(laid, leg, other, build) if m is not None), None)
            if signs is not None:
                kin[leg], flip[leg] = other, signs
                break
    middles = laid[0][1] - laid[0][1].mean(axis=0)
    around = np.argsort(np.arctan2(middles[:, 1], middles[:, 0]))
    shared = np.array([_shared(build, box, kin, flip) for box in range(len(build.boxes))], bool)
    return _listed(walks, kin, flip, around, shared)


def _picks(counts: tuple[int, ...]) -> Whole:
    """Layouts from all over the lattice: its corners first and last, the others by chance."""
    rng = np.random.default_rng(7)
    most = np.array(counts)
    drawn = rng.integers(0, most, (TRIALS - 2, len(counts)))
    return np.array([np.zeros_like(most), most - 1, *drawn], dtype=np.int64)


def _laid(build: Build, walks: Walks, values: Floats, pick: Whole) -> tuple[Floats, Floats, Floats]:
    """Leg rows, standing feet, and foot places (L, SPOTS, 3) of one layout."""
    legs = len(build.rows)
    rows, middles = np.zeros((legs, ROW)), np.empty((legs, 2))
    lay(build, values, pick, rows, middles)
    cases, samples = walks.lift.shape[:2]
    spots = np.linspace(0, cases * samples - 1, SPOTS).astype(int)
    turn = walks.turn.reshape(cases * samples, legs, 2, 2)[spots]
    shift = walks.shift.reshape(cases * samples, legs, 2)[spots]
    lift = walks.lift.reshape(cases * samples, legs)[spots]
    flat = np.einsum("slij,lj->sli", turn, middles) + shift
    feet = np.concatenate([flat, (lift - build.height)[..., None]], axis=-1)
    return rows, middles, np.ascontiguousarray(feet.swapaxes(0, 1))


def _mirrors(
    laid: list[tuple[Floats, Floats, Floats]], leg: int, other: int, build: Build
) -> list[tuple[float, float, float] | None]:
    """Signs of x, y and of the leg's axis under which a leg is the image of another, or None."""
    found: list[tuple[float, float, float] | None] = []
    for x, y in MIRRORS:
        axes = {_axis_sign(rows, middles, feet, (x, y), leg, other) for rows, middles, feet in laid}
        axes.discard(None)
        alike = len(axes) == 1 and 0.0 not in axes
        found.append((x, y, float(axes.pop() or 0.0)) if alike else None)
    return found


def _axis_sign(
    rows: Floats, middles: Floats, feet: Floats, signs: tuple[float, float], leg: int, other: int
) -> float | None:
    """Sign of the mirrored femur axis; 0 where the legs are no images; None where none reaches."""
    image = np.array(signs)
    if not np.allclose(middles[leg], image * middles[other], rtol=0.0, atol=ALIKE):
        return 0.0
    mirror, ours, theirs = np.array([*signs, 1.0]), np.zeros(PLACED), np.zeros(PLACED)
    seen: float | None = None
    for foot in feet[leg]:
        away = mirror * foot
        room = place(rows[leg], foot[0], foot[1], foot[2], ours)
        if (room <= -10.0) != (place(rows[other], *away, theirs) <= -10.0):
            return 0.0
        if room <= -10.0:
            continue
        sign = 1.0 if ours[9:12] @ (mirror * theirs[9:12]) > 0.0 else -1.0
        if seen not in (None, sign) or not _same(rows, ours, theirs, mirror, sign, leg, other):
            return 0.0
        seen = sign
    return seen


def _same(
    rows: Floats, ours: Floats, theirs: Floats, mirror: Floats, sign: float, leg: int, other: int
) -> bool:
    pairs = [(ours[9:12], sign * mirror * theirs[9:12]), (ours[23:25], theirs[23:25])]
    pairs += [(ours[i : i + 3], mirror * theirs[i : i + 3]) for i in POINTS]
    pairs += [(rows[leg, [33, 37, 41]], rows[other, [33, 37, 41]])]
    near = all(np.allclose(one, two, rtol=0.0, atol=ALIKE) for one, two in pairs)
    return near and all(
        np.allclose(np.sort(_travel(rows[leg], ours, j)), np.sort(_travel(rows[other], theirs, j)),
                    rtol=0.0, atol=ALIKE)
        for j in range(3)
    )  # fmt: skip


def _travel(row: Floats, placed: Floats, joint: int) -> Floats:
    """From a joint's place to both of its limits [rad]."""
    at = placed[20 + joint]
    return np.array([at - row[22 + joint], row[25 + joint] - at])


def _shared(build: Build, box: int, kin: Whole, flip: Floats) -> bool:
    """Whether a box is its own image, and the legs that mirror each other have the same girth."""
    axes, centre = build.boxes[box, :9].reshape(3, 3), build.boxes[box, 9:12]
    upright = np.allclose(np.abs(axes), np.eye(3), rtol=0.0, atol=ALIKE)
    for leg, (x, y, sign) in enumerate(flip):
        other, beam = kin[leg], build.beam[leg]
        if leg == other:
            continue
        image = [x, y, 1.0] * centre
        theirs = build.beam[other].copy()
        for at, turned in ((2, sign * x * y), (4, sign)):
            if turned < 0.0:
                theirs[[at, at + 1]] = -theirs[[at + 1, at]]
        pairs = (
            (image, centre),
            (beam, theirs),
            (build.radius[leg], build.radius[other]),
            (build.today[leg, 5], build.today[other, 5]),
        )
        alike = all(np.allclose(one, two, rtol=0.0, atol=ALIKE) for one, two in pairs)
        if not (upright and alike and (build.apart[box, leg] == build.apart[box, other]).all()):
            return False
    return True


def _listed(walks: Walks, kin: Whole, flip: Floats, around: Whole, shared: Flags) -> Places:
    """Every foot place once."""
    cases, samples, legs = walks.lift.shape
    entry = np.zeros((cases, samples, legs), dtype=np.int64)
    owner: list[int] = []
    keys: list[Floats] = []
    for head in np.unique(kin):
        members = np.flatnonzero(kin == head)
        own = []
        for leg in members:
            signs = flip[leg, :2]
            turn = walks.turn[:, :, leg] * signs[:, None] * signs[None, :]
            shift = walks.shift[:, :, leg] * signs
            lift = walks.lift[:, :, leg]
            own.append(
                np.concatenate(
                    [turn.reshape(-1, 4), shift.reshape(-1, 2), lift.reshape(-1, 1)], axis=1
                )
            )
        rows = np.concatenate(own)
        _, first, back = np.unique(
            np.round(rows, 10) + 0.0, axis=0, return_index=True, return_inverse=True
        )
        back = back.reshape(len(members), cases, samples)
        for at, leg in enumerate(members):
            entry[:, :, leg] = back[at] + len(owner)
        keys.append(rows[first])
        owner += [int(head)] * len(first)
    return Places(
        flip=flip, entry=entry, owner=np.array(owner, dtype=np.int64), path=np.concatenate(keys),
        shared=shared, around=around.astype(np.int64),
    )  # fmt: skip
