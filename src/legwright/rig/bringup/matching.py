"""Which node turns which joint, and which way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.rig.bringup.bench import Bench, Witness
from legwright.rig.bringup.motions import SLOW, WAG, glide, place_of, wag
from legwright.robot.robot import Robot

SEEN = 0.4
"""Share of a wag that must show in the drive's own angle."""
NUDGE = np.radians(6.0)
"""How far a drive turns to show its direction [rad]."""
FURTHER = 3
"""So many nudges are tried, each longer than the last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """One drive and its joint."""

    node: int
    joint: str
    moved: float
    """Of the wag asked for, the share that was seen."""


def match_nodes(
    bench: Bench, witness: Witness, joints: tuple[str, ...]
) -> tuple[list[Match], list[str]]:
    """Wag every drive in turn and hear which joint it was.

    Args:
        bench: The bench.
        witness: Who watches.
        joints: Joints to be found.

    Returns:
        What was found, and one sentence for each thing that is wrong.
    """
    found: list[Match] = []
    wrong: list[str] = []
    rest = list(joints)
    for node in bench.find():
        witness.watch()
        moved = wag(bench, node) / (2.0 * WAG)
        if moved < SEEN:
            wrong.append(f"Node {node} did not follow: {moved:.0%} of its wag. Is the leg free?")
            continue
        joint = witness.which(node, tuple(rest))
        if joint is None:
            wrong.append(f"Node {node} turns no joint that is still to be found.")
            continue
        rest.remove(joint)
        found.append(Match(node=node, joint=joint, moved=moved))
    wrong += [f"No node turns {joint}." for joint in rest]
    return found, wrong


def direction_of(bench: Bench, witness: Witness, robot: Robot, match: Match) -> int | None:
    """Whether the joint grows the drive's way.

    Args:
        bench: The bench.
        witness: Who watches.
        robot: The robot, for the question.
        match: Node and joint.

    Returns:
        +1 or -1; None where the witness saw nothing.
    """
    question = question_of(robot, match.joint)
    place = place_of(bench, match.node)
    for turn in range(1, FURTHER + 1):
        start = float(bench.read().angle[place])
        witness.watch()
        glide(bench, match.node, start + turn * NUDGE, speed=SLOW)
        way = 1
        if float(bench.read().angle[place]) - start < 0.5 * turn * NUDGE:  # at its stop
            witness.watch()
            glide(bench, match.node, start - turn * NUDGE, speed=SLOW)
            way = -1
        grew = witness.grew(match.joint, question)
        glide(bench, match.node, start)
        bench.hold(match.node, None)
        if grew is not None:
            return way if grew else -way
    return None


def question_of(robot: Robot, joint: str) -> str:
    """What a positive turn of a joint looks like, as a question.

    The foot's motion is taken where the robot stands; its largest part names the way.
    """
    for name, leg in robot.legs.items():
        if joint not in leg.joint_names:
            continue
        k = leg.joint_names.index(joint)
        lower, upper = leg.chain.lower, leg.chain.upper
        q = np.clip(np.zeros(len(leg.joint_names)), lower, upper)
        moves = leg.jacobian(q)[:, k]
        axis = int(np.abs(moves).argmax())
        words = (("forward", "backward"), ("to the left", "to the right"), ("up", "down"))
        way = words[axis][0 if moves[axis] > 0.0 else 1]
        return f"Did the foot of {name} move {way}?"
    return f"Did {joint} turn its positive way (right-hand rule about its axis)?"
