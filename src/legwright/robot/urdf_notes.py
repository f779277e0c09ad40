"""What a description leaves open or states oddly, in sentences for the report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from legwright.robot.leg import Leg
from legwright.robot.tree import Joint, Link, Tree


def notes_on(tree: Tree, legs: Mapping[str, Leg]) -> tuple[str, ...]:
    """Notes on a checked tree and the legs in it, one sentence each."""
    return (
        *_on_links(tree.links.values()),
        *_on_joints(tree.joints.values()),
        *(
            f"Leg '{leg.name}' weighs nothing in the description; its torques come out too low."
            for leg in legs.values()
            if sum(solid.mass for solid in leg.chain.solids) <= 0.0
        ),
    )


def _on_links(links: Iterable[Link]) -> list[str]:
    points, odd = [], []
    for link in links:
        if link.solid.mass <= 0.0:
            continue
        low, middle, high = np.linalg.eigvalsh(link.solid.inertia)
        if high <= 0.0:
            points.append(link.name)
        elif low + middle < high * (1.0 - 1e-4):
            odd.append(link.name)
    notes = []
    if points:
        notes.append(f"No inertia is given for {listed(points)}; taken as point masses.")
    if odd:
        notes.append(f"The inertia of {listed(odd)} is that of no real body; used as given.")
    return notes


def _on_joints(joints: Iterable[Joint]) -> list[str]:
    blank = [j.name for j in joints if j.actuated and not (j.effort and j.velocity)]
    return [f"No effort or velocity limit is given for {listed(blank)}."] if blank else []


def listed(names: list[str]) -> str:
    """The first few names, and how many more there are."""
    shown = ", ".join(f"'{name}'" for name in names[:4])
    return shown if len(names) <= 4 else f"{shown} and {len(names) - 4} more"
