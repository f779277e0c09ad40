"""The bench procedure: steps in order, each with its caution, its check and its record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from legwright.locomotion.stance import footing
from legwright.rig.bringup.bench import Bench, Witness
from legwright.rig.bringup.identify import identify
from legwright.rig.bringup.matching import Match, direction_of, match_nodes
from legwright.rig.bringup.motions import glide
from legwright.rig.bringup.progress import Progress, Record, write_progress
from legwright.rig.bringup.supply_test import load_branch
from legwright.rig.bringup.trial_walk import Trial, trial_walk
from legwright.rig.bringup.zeros import zero_by_pose, zero_by_stops
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

GRAVITY_OFF = 0.3
"""Gravity torque may differ so much from the description's, in shares of the largest one."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Work:
    """What a step has at hand."""

    robot: Robot
    bench: Bench
    witness: Witness
    progress: Progress
    zeros_by: str = "stops"
    """``stops``, ``jig`` or ``hand``."""
    on_ground: Callable[[], Bench] | None = None
    """Gives the bench with the robot set down on the ground; None where people do that."""
    tell: Callable[[str], None] = field(default=lambda text: None)
    """Told what is under way."""

    def of(self, step: str, name: str) -> Any:
        """What an earlier step measured."""
        return self.progress.value(step, name)

    def zeros(self) -> tuple[dict[str, int], Floats, Floats]:
        """Nodes by joint, directions (J,) and zeros (J,) as found."""
        names = self.robot.joint_names
        nodes, ways = self.of("match", "node"), self.of("direction", "direction")
        zeros = self.of("zero", "zero")
        return (
            {name: int(nodes[name]) for name in names},
            np.array([float(ways[name]) for name in names]),
            np.array([float(zeros[name]) for name in names]),
        )


Outcome = tuple[str, list[str], dict[str, Any]]
"""Summary, what is wrong, what was measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the procedure."""

    key: str
    title: str
    caution: str
    """Read out before it begins; it needs agreement."""
    run: Callable[[Work], Outcome]


def limits_of(robot: Robot) -> dict[str, tuple[float, float]]:
    """Joint -> lower and upper limit [rad]."""
    return {
        name: (float(low), float(high))
        for leg in robot.legs.values()
        for name, low, high in zip(leg.joint_names, leg.chain.lower, leg.chain.upper, strict=True)
    }


def _stand(work: Work) -> Outcome:
    return "The robot is on its stand, the supply is limited, a stop is within reach.", [], {}


def _nodes(work: Work) -> Outcome:
    found = work.bench.find()
    bus = work.robot.sheet.bus
    stated = {} if bus is None else bus.nodes
    wanted = {stated[name]: name for name in work.robot.joint_names if name in stated}
    wrong = [
        f"Node {node} ({wanted[node]}) does not answer." for node in wanted if node not in found
    ]
    if not wanted and len(found) < len(work.robot.joint_names):
        wrong.append(f"{len(found)} nodes answer, {len(work.robot.joint_names)} are needed.")
    others = [node for node in found if wanted and node not in wanted]
    text = f"{len(found)} nodes answer" + (f", {len(others)} of no leg joint." if others else ".")
    return text, wrong, {"nodes": list(found), "others": others}


def _match(work: Work) -> Outcome:
    found, wrong = match_nodes(work.bench, work.witness, work.robot.joint_names)
    bus = work.robot.sheet.bus
    stated = {} if bus is None else bus.nodes
    moved = [m.joint for m in found if stated.get(m.joint, m.node) != m.node]
    text = f"{len(found)} joints have their nodes"
    text += f"; {len(moved)} sit on another node than the sheet says." if moved else "."
    values = {"node": {m.joint: m.node for m in found}, "swapped": moved}
    return text, wrong, values


def _direction(work: Work) -> Outcome:
    ways: dict[str, int] = {}
    wrong: list[str] = []
    for joint, node in work.of("match", "node").items():
        work.tell(joint)
        match = Match(node=int(node), joint=joint, moved=1.0)
        way = direction_of(work.bench, work.witness, work.robot, match)
        if way is None:
            wrong.append(f"Nobody saw which way {joint} turned.")
        else:
            ways[joint] = way
    flipped = sum(way < 0 for way in ways.values())
    return f"{flipped} of {len(ways)} drives turn against their joint.", wrong, {"direction": ways}


def _zero(work: Work) -> Outcome:
    limits, nodes = limits_of(work.robot), work.of("match", "node")
    ways, zeros, travel = work.of("direction", "direction"), {}, {}
    wrong: list[str] = []
    for joint in _feet_last(work.robot):
        work.tell(joint)
        node, way = int(nodes[joint]), int(ways[joint])
        if work.zeros_by == "stops":
            found = zero_by_stops(work.bench, node, way, *limits[joint])
        else:
            jig = work.zeros_by == "jig"
            found = zero_by_pose(work.bench, work.witness, node, joint, way, 0.0, jig=jig)
        if found is None:
            wrong.append(f"{joint}: no zero was found. Is its stop there, is its leg free?")
            continue
        zeros[joint] = found.zero
        travel[joint] = found.travel
        if found.wrong:
            wrong.append(f"{joint}: {found.wrong}")
    rounded = {joint: float(np.round(np.degrees(z) * 2.0) / 2.0) for joint, z in zeros.items()}
    text = f"{len(zeros)} zeros by {work.zeros_by}; rounded to half a degree beside them."
    return text, wrong, {"zero": zeros, "rounded_deg": rounded, "travel": travel}


def _feet_last(robot: Robot) -> list[str]:
    """Coxas of all legs first, then what hangs on them."""
    depth = max(len(leg.joint_names) for leg in robot.legs.values())
    return [
        leg.joint_names[k]
        for k in range(depth)
        for leg in robot.legs.values()
        if k < len(leg.joint_names)
    ]


def _identify(work: Work) -> Outcome:
    nodes, ways, zeros = work.zeros()
    names, pose = work.robot.joint_names, footing(work.robot).q
    for j, name in enumerate(names):
        glide(work.bench, nodes[name], float(ways[j] * (pose[j] - zeros[j])), speed=0.8)
    friction, gravity, expected, threshold = {}, {}, {}, {}
    for j, name in enumerate(names):
        work.tell(name)
        found = identify(
            work.bench, work.robot, name, nodes[name], int(ways[j]), float(zeros[j]), pose
        )
        friction[name], gravity[name] = found.friction, found.gravity
        expected[name], threshold[name] = found.expected, found.threshold
    largest = max(abs(value) for value in expected.values())
    wrong = [
        f"{name} holds {gravity[name]:.2f} N·m against gravity, the description says "
        f"{expected[name]:.2f} N·m: look at masses and at what rubs."
        for name in names
        if abs(gravity[name] - expected[name]) > GRAVITY_OFF * largest + 0.5 * friction[name]
    ]
    wrong += [f"{name} has no friction: is its gear coupled?" for name in names
              if friction[name] <= 0.0]  # fmt: skip
    low, high = min(friction.values()), max(friction.values())
    values = {"friction": friction, "gravity": gravity, "expected": expected,
              "threshold": threshold}  # fmt: skip
    return f"Gear friction is {low:.2f} to {high:.2f} N·m.", wrong, values


def _harness(work: Work) -> Outcome:
    hub = work.robot.sheet.hub
    if hub is None or work.robot.sheet.battery is None:
        return "The sheet states no battery or hub: the harness was not tested.", [], {}
    nodes, ways, zeros = work.zeros()
    limits = limits_of(work.robot)
    stops = {
        name: (float(ways[j] * (limits[name][1] - zeros[j])), float(ways[j]))
        for j, name in enumerate(work.robot.joint_names)
    }
    measured, predicted, wrong = {}, {}, []
    for branch, entry in hub.branch.items():
        joints = tuple(name for name in entry.chain if name in nodes)
        if not joints:
            continue
        work.tell(branch)
        for fall in load_branch(work.bench, work.robot, joints, nodes, stops):
            measured[fall.joint], predicted[fall.joint] = fall.measured, fall.predicted
            wrong += [fall.wrong] if fall.wrong else []
    if not all(np.isfinite(list(measured.values()))):
        return "The drives do not tell their voltage: the harness was not tested.", [], {}
    worst = max(measured, key=lambda name: measured[name])
    text = f"At most {measured[worst]:.2f} V are lost, on the way to {worst}."
    return text, wrong, {"measured": measured, "predicted": predicted}


def _walk(work: Work, on_ground: bool) -> Outcome:
    bench = work.bench
    if on_ground and work.on_ground is not None:
        bench = work.on_ground()
    nodes, ways, zeros = work.zeros()
    try:
        trial: Trial = trial_walk(bench, work.robot, nodes, ways, zeros, on_ground=on_ground)
    finally:
        if bench is not work.bench:
            bench.close()
    return trial.summary, list(trial.wrong), trial.values


STEPS: tuple[Step, ...] = (
    Step(
        key="stand", title="On the stand", run=_stand,
        caution="Put the robot on a stand so that no foot touches anything. Limit the supply's "
        "current to about two servos' stall current. Keep a stop within reach. Lithium cells: "
        "use a bench supply first, never leave a battery alone.",
    ),
    Step(
        key="nodes", title="Find nodes", run=_nodes,
        caution="Switch the supply on. Nothing should move or smell; if it does, switch off.",
    ),
    Step(
        key="match", title="Match nodes to joints", run=_match,
        caution="Single joints will wag by 4°. Keep hands off the legs: joints pinch.",
    ),
    Step(
        key="direction", title="Directions", run=_direction,
        caution="Single joints will turn by some 6°. Keep hands off the legs: joints pinch.",
    ),
    Step(
        key="zero", title="Zeros and travel", run=_zero,
        caution="Each joint will creep to both of its stops, or hang limp while you set it. "
        "Keep hands off a joint that has power.",
    ),
    Step(
        key="identify", title="Friction and gravity", run=_identify,
        caution="All legs go to their stance, then single joints sweep by 12°. Keep hands off.",
    ),
    Step(
        key="harness", title="Harness under load", run=_harness,
        caution="The joints of one leg at a time press against their stops for a second. "
        "Raise the supply's limit to one leg's fuse. Cables may grow warm, none may smell.",
    ),
    Step(
        key="air", title="Gait in the air", run=lambda work: _walk(work, False),
        caution="All legs will walk in the air. Stand back by a leg's length.",
    ),
    Step(
        key="ground", title="First steps", run=lambda work: _walk(work, True),
        caution="Set the robot on flat ground, nobody in front of it, stop within reach. It "
        "stands up, walks a few steps and sits down.",
    ),
)  # fmt: skip


def run_step(step: Step, work: Work, path: Path | None) -> tuple[Progress, Record]:
    """Do one step and keep its record.

    Args:
        step: The step.
        work: What it has at hand.
        path: Where progress is kept; None keeps it nowhere.

    Returns:
        Progress with the new record, and the record.
    """
    if work.witness.agree(step.caution):
        summary, wrong, values = step.run(work)
    else:
        summary, wrong, values = "It was not begun.", ["The caution was not agreed to."], {}
    record = Record(
        step=step.key,
        ok=not wrong,
        when=datetime.now().astimezone().isoformat(timespec="seconds"),
        version=version("legwright"),
        summary=summary,
        wrong=tuple(wrong),
        values=values,
    )
    progress = work.progress.with_record(record)
    if path is not None:
        write_progress(path, progress)
    return progress, record
