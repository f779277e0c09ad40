"""Which limbs of a tree are its legs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RobotError
from legwright.robot.limb_likeness import alike, same_kinds
from legwright.robot.limb_places import Places, places_of, plan_view
from legwright.robot.limbs import Limb, Limbs, candidates
from legwright.robot.paths import common_link
from legwright.robot.tree import Tree

Flags = NDArray[np.bool_]

MOST_LIMBS = 100
"""Chains of joints; a description with more is not a walking robot."""
SIMILAR = 2.0
"""Factor within which the lengths of unlike legs of one robot lie."""
BELOW = 0.2
"""Share of its length by which a leg's end comes below the hip. The shares here are common
sense, no published source."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The outcome of leg detection."""

    body: str
    """The link where the legs branch off."""
    limbs: tuple[Limb, ...]
    """The legs, in no particular order."""
    names: tuple[str, ...] = ()
    """Their names, where the sheet gives them."""
    notes: tuple[str, ...] = ()


def find_legs(tree: Tree, path: Path, *, not_legs: Sequence[str] = ()) -> Found:
    """The legs of a robot, from its description alone.

    Legs are limbs of two or more driven joints, alike in their joints and lengths, that
    together make up most of what the robot can stretch; others join them when they have as
    many joints, are about as long, hang at the same height, reach as low and stand in pairs.

    Args:
        tree: The description.
        path: Its file, for errors.
        not_legs: Links and joints through which no leg runs.

    Returns:
        Body link and legs.

    Raises:
        RobotError: if there are fewer than two legs.
    """
    ways = Limbs(tree)
    limbs = [limb for limb in candidates(tree, ways) if not _runs_through(limb, not_legs)]
    if len(limbs) > MOST_LIMBS:
        raise RobotError(
            path,
            "<robot>",
            f"has {len(limbs)} chains of driven joints, more than {MOST_LIMBS}",
            "Describe one robot per file.",
        )
    like: Callable[[Limb, Limb], bool]
    for like in (_alike, _similar):
        for group in sorted(_groups(limbs, like), key=_weight, reverse=True):
            legs = _standing(tree, group)
            if len(legs) > 1:
                legs, notes = _joined(tree, legs, _shortened(limbs, legs, ways))
                body = common_link(tree, [leg.base for leg in legs])
                return Found(body, tuple(legs), (), (*notes, *_doubts(tree, body, legs, limbs)))
    raise _no_legs([limb for limb in limbs if _low(tree, [limb])[0]], limbs, path)


def _runs_through(limb: Limb, names: Sequence[str]) -> bool:
    own = {name for joint in limb.joints for name in (joint.name, joint.child)}
    return not own.isdisjoint(names)


def _alike(one: Limb, other: Limb) -> bool:
    return alike(one.joints, other.joints)


def _similar(one: Limb, other: Limb) -> bool:
    """Alike in their joints, roughly alike in length."""
    short, long = sorted((one.length, other.length))
    return same_kinds(one.joints, other.joints) and long <= SIMILAR * short


def _groups(limbs: Sequence[Limb], like: Callable[[Limb, Limb], bool]) -> list[list[Limb]]:
    """Limbs that are alike, directly or through others."""
    groups: list[list[Limb]] = []
    for limb in limbs:
        near = [group for group in groups if any(like(limb, other) for other in group)]
        groups = [group for group in groups if not any(group is one for one in near)]
        groups.append([limb, *(other for group in near for other in group)])
    return groups


def _weight(group: Sequence[Limb]) -> float:
    return round(sum(limb.length for limb in group), 9)


def _standing(tree: Tree, group: Sequence[Limb]) -> list[Limb]:
    """The members of a group that are legs, where at least two can end below their hips.

    One whose limits keep its end up is still a leg if its hip is level with the others'.
    """
    if len(group) < 2:
        return []
    places = places_of(tree, common_link(tree, [limb.base for limb in group]), group)
    low = _reaching_low(places)
    if np.sum(low) < 2:
        return []
    level = float(np.median(places.heights[low]))
    near = low | (np.abs(places.heights - level) < 0.25 * places.lengths)
    return [limb for i, limb in enumerate(group) if near[i] and not _on_top(places, i)]


def _low(tree: Tree, group: Sequence[Limb]) -> list[bool]:
    """Which limbs of a group can end well below their hips."""
    places = places_of(tree, common_link(tree, [limb.base for limb in group]), group)
    return list(_reaching_low(places))


def _reaching_low(places: Places) -> Flags:
    return places.lowest < places.heights - BELOW * places.lengths


def _on_top(places: Places, i: int) -> bool:
    """Whether a limb sits above the others, near their middle and midline, as an arm would."""
    others = np.delete(places.hips, i, axis=0)
    if len(others) < 3:
        return False
    higher = places.heights[i] - float(np.max(others @ places.up))
    if higher <= 0.05 * places.lengths[i]:
        return False
    seen = plan_view(places.hips, places.up)
    gaps = seen - (seen.sum(axis=0) - seen[i]) / len(others)
    spread, width = np.linalg.norm(gaps, axis=1), np.abs(gaps[:, 1])
    return bool(
        spread[i] < 0.6 * np.max(np.delete(spread, i))
        and width[i] < 0.4 * np.max(np.delete(width, i))
    )


def _others(limbs: Sequence[Limb], legs: Sequence[Limb]) -> list[Limb]:
    """The limbs that are no legs."""
    first = {leg.joints[0].name for leg in legs}
    return [limb for limb in limbs if limb.joints[0].name not in first]


def _shortened(limbs: Sequence[Limb], legs: Sequence[Limb], ways: Limbs) -> list[Limb]:
    """The limbs, those that are like legs with more joints at the end (a claw, a tool) cut."""
    most = len(legs[0].moving)
    result = []
    for limb in limbs:
        short = ways.from_joint(limb.joints[0], most)
        longer = len(limb.moving) > most
        result.append(short if longer and any(_alike(short, leg) for leg in legs) else limb)
    return result


def _joined(
    tree: Tree, legs: list[Limb], limbs: Sequence[Limb]
) -> tuple[list[Limb], tuple[str, ...]]:
    """The main group and the legs of another build that stand beside it."""
    near = [limb for limb in _others(limbs, legs) if any(_similar(limb, leg) for leg in legs)]
    if not near:
        return legs, ()
    both = [*legs, *near]
    places = places_of(tree, common_link(tree, [limb.base for limb in both]), both)
    taken = [near[i - len(legs)] for i in _beside(places, len(legs))]
    notes = tuple(
        f"The chain that ends in '{limb.end}' is not like the other legs; taken as a leg."
        for limb in taken
        if not any(_alike(limb, leg) for leg in legs)
    )
    return [*legs, *taken], notes


def _beside(places: Places, count: int) -> list[int]:
    """Which places from `count` on are those of legs beside the first `count` ones."""
    length = float(np.median(places.lengths[:count]))
    height = float(np.median(places.heights[:count]))
    lowest = float(np.median(places.lowest[:count]))
    fits = [
        i
        for i in range(count, len(places.hips))
        if abs(places.heights[i] - height) < 0.5 * length
        and places.lowest[i] < lowest + 0.5 * length
        and not _on_top(places, i)
    ]
    return [i for i in fits if _has_partner(places, i, [*range(count), *fits], length)]


def _has_partner(places: Places, i: int, others: Sequence[int], length: float) -> bool:
    """Whether another hip mirrors this one across the midline of all hips."""
    hips = places.hips[list(others)]
    side = np.cross(places.up, (1.0, 0.0, 0.0) if abs(places.up[0]) < 0.5 else (0.0, 0.0, 1.0))
    across = hips @ side
    middle = float(np.max(across) + np.min(across)) / 2.0
    offset = float(places.hips[i] @ side) - middle
    if abs(offset) < 0.1 * length:
        return False
    mirrored = places.hips[i] - 2.0 * offset * side
    gaps = np.linalg.norm(hips - mirrored, axis=1)
    return bool(np.any((gaps < 0.3 * length) & (np.asarray(others) != i)))


def _doubts(tree: Tree, body: str, legs: Sequence[Limb], limbs: Sequence[Limb]) -> tuple[str, ...]:
    """Notes on limbs that might be legs and are not taken as such."""
    others = _others(limbs, legs)
    if not others:
        return ()
    places = places_of(tree, body, [*legs, *others])
    ground = float(np.max(places.lowest[: len(legs)]))
    return tuple(
        f"The chain that ends in '{limb.end}' is not taken as a leg; its joints are held. "
        "Name all legs under [legs] in the sheet if it is one."
        for limb, low in zip(others, places.lowest[len(legs) :], strict=True)
        if low <= ground or any(_alike(limb, leg) for leg in legs)
    )


def _no_legs(low: Sequence[Limb], limbs: Sequence[Limb], path: Path) -> RobotError:
    if len(low) == 1:
        return RobotError(
            path,
            f"joint '{low[0].joints[0].name}'",
            "starts the only chain of joints that could be a leg; one leg cannot walk",
            "Describe the other legs, or name all legs under [legs] in the sheet.",
        )
    if any(_similar(a, b) for i, a in enumerate(limbs) for b in limbs[:i]):
        return RobotError(
            path,
            f"joint '{limbs[0].joints[0].name}'",
            "starts a chain like others, but none of their ends comes below its first joint: "
            "no foot can touch the ground",
            "Check joint axes and limits; z points up in the body frame.",
        )
    return RobotError(
        path,
        "<robot>",
        "has no legs: no two like chains of two or more driven joints",
        "Check joint types, or name the legs under [legs] in the sheet.",
    )
