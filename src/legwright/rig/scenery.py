"""What pictures of a run are drawn from: solids of the robot, the ground, and poses over time.

It goes into the recording, so that a picture needs neither the robot's folder nor an engine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from legwright.errors import RequestError
from legwright.mechanics.shapes import link_poses
from legwright.mechanics.solids import Solid, solids_of
from legwright.rig.ground import Ground
from legwright.rig.recorder import Recorder
from legwright.rig.truth import Truth
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

RATE = 12.5
"""Poses kept per second."""
GRID = 0.02
"""Distance of the ground's samples [m]."""
BESIDE = 0.9
"""How far the ground is kept to each side, behind the start and past the end [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Part:
    """One solid of the robot."""

    link: int
    """Place of its link among those of ``/pose``."""
    leg: int
    """Index of its leg; -1 for the trunk and what it carries."""
    solid: Solid


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Scenery:
    """Robot and ground as a picture needs them."""

    parts: tuple[Part, ...]
    heights: Floats
    """(R, C): ground at start + spacing * (row, column) [m]."""
    spacing: float
    """[m]"""
    start: tuple[float, float]
    """x, y of heights[0, 0] [m]."""

    def ground(self) -> Ground:
        """The ground, for its heights."""
        return Ground(name="recorded", heights=self.heights, spacing=self.spacing, start=self.start)


def shown_links(robot: Robot) -> dict[str, int]:
    """Links that have a solid, with the index of their leg; -1 for the trunk."""
    owner = {
        link: index
        for index, leg in enumerate(robot.legs.values())
        for link in leg.chain.moving_names
    }
    tree, legs = robot.tree, {}
    waiting = [(tree.root, -1)]
    while waiting:
        link, leg = waiting.pop()
        if solids_of(robot, link):
            legs[link] = leg
        for name in tree.child_joints.get(link, ()):
            waiting.append((tree.joints[name].child, owner.get(name, leg)))
    return legs


class Watcher:
    """Puts the scenery on record once, and the links' poses while the run goes on."""

    def __init__(
        self, recorder: Recorder, robot: Robot, ground: Ground, *, length: float | None = None
    ) -> None:
        """Record the scenery.

        Args:
            recorder: Where to.
            robot: The robot.
            ground: What it walks on.
            length: How far ahead the ground is kept; all of it when None [m].
        """
        self._out, self._robot = recorder, robot
        self._links = shown_links(robot)
        self._due = 0.0
        recorder.put("/scene", 0.0, _scene(robot, self._links, ground, length))

    def watch(self, truth: Truth) -> None:
        """Record the poses if they are due; call it once per bus cycle."""
        if truth.time + 1e-9 < self._due:
            return
        self._due = max(self._due + 1.0 / RATE, truth.time)
        self._out.put("/pose", truth.time, {"links": self._poses(truth)})

    def _poses(self, truth: Truth) -> list[list[float]]:
        """(B, 7): x, y, z [m], quaternion w, x, y, z."""
        import mujoco

        turn = np.empty(9)
        mujoco.mju_quat2Mat(turn, truth.body[3:])
        body = np.eye(4)
        body[:3, :3], body[:3, 3] = turn.reshape(3, 3), truth.body[:3]
        poses = link_poses(self._robot, truth.q[None])
        rows = []
        for link in self._links:
            pose = body @ (poses[link] if poses[link].ndim == 2 else poses[link][0])
            quaternion = np.empty(4)
            mujoco.mju_mat2Quat(quaternion, np.ascontiguousarray(pose[:3, :3]).ravel())
            rows.append([*pose[:3, 3].tolist(), *quaternion.tolist()])
        return rows


def _scene(
    robot: Robot, links: Mapping[str, int], ground: Ground, length: float | None
) -> dict[str, Any]:
    rows, _ = ground.heights.shape
    far = ground.start[0] + ground.spacing * (rows - 1) if length is None else length
    x = np.arange(-BESIDE, max(far, 0.0) + BESIDE + 0.5 * GRID, GRID)
    y = np.arange(-BESIDE, BESIDE + 0.5 * GRID, GRID)
    parts = [
        {
            "link": index,
            "leg": leg,
            "points": np.round(points, 5).tolist(),
            "faces": [list(face) for face in faces],
        }
        for index, (link, leg) in enumerate(links.items())
        for points, faces in solids_of(robot, link)
    ]
    return {
        "links": list(links),
        "parts": parts,
        "heights": np.round(ground.height(x[:, None], y[None, :]), 4),
        "spacing": GRID,
        "start": [float(x[0]), float(y[0])],
    }


def scenery_of(scene: Mapping[str, Any]) -> Scenery:
    """The scenery in a ``/scene`` message.

    Args:
        scene: Its fields.

    Returns:
        The scenery.

    Raises:
        RequestError: if it makes no sense.
    """
    try:
        parts = tuple(
            Part(
                link=int(part["link"]),
                leg=int(part["leg"]),
                solid=(
                    np.array(part["points"], dtype=np.float64).reshape(-1, 3),
                    tuple(tuple(int(i) for i in face) for face in part["faces"]),
                ),
            )
            for part in scene["parts"]
        )
        start = scene["start"]
        return Scenery(
            parts=parts,
            heights=np.array(scene["heights"], dtype=np.float64),
            spacing=float(scene["spacing"]),
            start=(float(start[0]), float(start[1])),
        )
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise RequestError("/scene", "unlike its description", "as in docs/recording.md") from error
