"""Legs that the sheet names, where detection must be overruled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from legwright.errors import RobotError, did_you_mean
from legwright.robot.legs import Found
from legwright.robot.limbs import Limb
from legwright.robot.paths import common_link, joints_to
from legwright.robot.sheet import LegEntry
from legwright.robot.tree import Joint, Tree


def known(names: Iterable[str], choices: Iterable[str], source: Path, key: str, what: str) -> None:
    """Refuse names in the sheet that the description does not have.

    Args:
        names: What the sheet says.
        choices: What there is.
        source: The sheet.
        key: Where in it.
        what: What the names should be, for example ``link``.

    Raises:
        RobotError: for the first unknown name.
    """
    there = list(choices)
    for name in names:
        if name not in there:
            raise RobotError(source, key, f"names the unknown {what} '{name}'",
                             did_you_mean(name, there))  # fmt: skip


def legs_of_sheet(tree: Tree, entries: Mapping[str, LegEntry], source: Path) -> Found:
    """The legs that the sheet names by their feet.

    A leg's joints are those that only its own foot hangs from, or of them the ones listed.

    Args:
        tree: The description.
        entries: Leg name -> entry.
        source: The sheet, for errors.

    Returns:
        Body link and legs, with their names.

    Raises:
        RobotError: for unknown names, fewer than two legs, or a leg without driven joints.
    """
    for name, entry in entries.items():
        known([entry.foot], tree.links, source, f"legs.{name}.foot", "link")
        known(entry.joints, tree.joints, source, f"legs.{name}.joints", "joint")
    if len(entries) < 2:
        raise RobotError(source, "legs", "names one leg only", "Name all legs, or none.")
    ways = {name: joints_to(tree, entry.foot) for name, entry in entries.items()}
    uses = Counter(joint.name for way in ways.values() for joint in way)
    limbs = tuple(
        _limb(name, entries[name], [j for j in way if uses[j.name] == 1], source)
        for name, way in ways.items()
    )
    body = common_link(tree, [limb.base for limb in limbs])
    return Found(body, limbs, tuple(entries), ())


def _limb(name: str, entry: LegEntry, way: Sequence[Joint], source: Path) -> Limb:
    own = [joint.name for joint in way if joint.actuated]
    for joint in entry.joints:
        if joint not in own:
            raise RobotError(
                source,
                f"legs.{name}.joints",
                f"lists '{joint}', which is no driven joint of this leg alone",
                did_you_mean(joint, own) if own else "Check the foot of this leg.",
            )
    chosen = list(entry.joints) or own
    if len(chosen) < 2:
        raise RobotError(
            source,
            f"legs.{name}",
            f"has {len(chosen)} driven joints between the body and '{entry.foot}'",
            "A leg needs two or more; check its foot.",
        )
    if [joint for joint in own if joint in chosen] != list(chosen):
        raise RobotError(
            source, f"legs.{name}.joints", "are not in the order from base to foot",
            "Write " + ", ".join(f"'{joint}'" for joint in own if joint in chosen) + ".",
        )  # fmt: skip
    start = next(i for i, joint in enumerate(way) if joint.name == chosen[0])
    stiff = frozenset(own) - frozenset(chosen)
    return Limb(tuple(way[start:]), entry.foot, stiff)
