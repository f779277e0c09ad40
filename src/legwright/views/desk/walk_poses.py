"""The robot at one moment of a walk, as the figure wants it, and the moments that are kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats

KEPT = 8192
"""Moments kept of one walk."""
PERIOD = 0.04
"""Their distance at the start [s]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pose:
    """One moment; nan where something is not known."""

    time: float
    """[s]"""
    q: Floats
    """(J,) [rad]"""
    body: Floats
    """(7,): x, y, z [m], quaternion w, x, y, z."""
    force: Floats
    """(L, 3): true force of the ground on each foot, body axes [N]."""
    felt: Floats
    """(L,): upward, as felt [N]."""
    touch: Floats
    """(L,): truly on the ground, 0 or 1."""
    contact: Floats
    """(L,): felt to be, 0 or 1."""
    current: Floats
    """(J,) [A]"""
    winding: Floats
    """(J,) [K]"""
    voltage: Floats
    """(J,) at the servos [V]"""
    margin: float
    """As the controller reckons [m]."""

    def arrays(self) -> dict[str, Floats]:
        """All but the time, by name, for a block."""
        return {
            "q": self.q, "body": self.body, "force": self.force, "felt": self.felt,
            "touch": self.touch, "contact": self.contact, "current": self.current,
            "winding": self.winding, "voltage": self.voltage, "margin": np.array([self.margin]),
        }  # fmt: skip


class Poses:
    """Moments of a walk, thinned out evenly when they become too many.

    All memory is taken with the first one: a walk of ten minutes then needs no more than one of ten
    seconds. Numbers are kept as pages are sent them, in single precision.
    """

    def __init__(self, *, period: float = PERIOD, most: int = KEPT) -> None:
        """None yet.

        Args:
            period: Least distance of two moments at the start [s].
            most: How many are kept.
        """
        self._period, self._most, self._count = period, most, 0
        self._time = np.zeros(most + 1)
        self._kept: dict[str, NDArray[np.float32]] = {}

    def add(self, pose: Pose) -> None:
        """Keep a moment, if it is far enough from the last."""
        if self._count and pose.time < self._time[self._count - 1] + self._period - 1e-6:
            return
        arrays = {name: np.asarray(array) for name, array in pose.arrays().items()}
        if not self._kept:
            self._kept = {
                name: np.full((self._most + 1, *array.shape), np.nan, np.float32)
                for name, array in arrays.items()
            }
        self._time[self._count] = pose.time
        for name, array in arrays.items():
            self._kept[name][self._count] = array
        self._count += 1
        if self._count > self._most:
            self._thin()

    def _thin(self) -> None:
        """Leave out every other one."""
        left = len(self._time[: self._count : 2])
        self._time[:left] = self._time[: self._count : 2].copy()
        for rows in self._kept.values():
            rows[:left] = rows[: self._count : 2].copy()
        self._count = left
        self._period *= 2.0

    def at(self, time: float) -> Pose | None:
        """The moment nearest to a time; None without any."""
        if not self._count:
            return None
        times = self._time[: self._count]
        after = int(np.searchsorted(times, time))
        near = range(max(after - 1, 0), min(after + 1, self._count))
        row = min(near, key=lambda n: abs(float(times[n]) - time))
        kept = {name: rows[row].astype(np.float64) for name, rows in self._kept.items()}
        margin = float(kept.pop("margin")[0])
        return Pose(time=float(times[row]), margin=margin, **kept)

    def __len__(self) -> int:
        """How many are kept."""
        return self._count


def in_body(body: Floats, world: Floats) -> Floats:
    """Vectors from world axes to body axes.

    Args:
        body: Pose, x, y, z [m], quaternion w, x, y, z, (7,).
        world: (N, 3).

    Returns:
        (N, 3)

    Source: Shuster, Journal of the Astronautical Sciences 41(4), 1993, eq. 154 [from memory].
    """
    return np.asarray(world @ _turn(body[3:]))


def in_world(body: Floats, vectors: Floats) -> Floats:
    """The way back of `in_body`: from body axes to world axes, (N, 3)."""
    return np.asarray(vectors @ _turn(body[3:]).T)


def _turn(wxyz: Floats) -> Floats:
    """Matrix whose columns are the body's axes in the world."""
    w, x, y, z = wxyz / np.linalg.norm(wxyz)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def flat_body(place: Floats, height: float, up: Floats | None) -> Floats:
    """A body pose from odometry, for a run without truth.

    Args:
        place: x, y [m], heading [rad].
        height: Of the body frame over the ground [m].
        up: Against gravity in body axes, (3,); upright when None.

    Returns:
        x, y, z [m], quaternion w, x, y, z.
    """
    half = 0.5 * float(place[2])
    heading = np.array([np.cos(half), 0.0, 0.0, np.sin(half)])
    lean = np.array([1.0, 0.0, 0.0, 0.0])
    if up is not None and np.isfinite(up).all() and np.linalg.norm(up) > 1e-6:
        x, y, z = up / np.linalg.norm(up)
        lean = np.array([1.0 + z, y, -x, 0.0])  # turns up, as the body has it, to z
        lean = (
            lean / np.linalg.norm(lean) if np.linalg.norm(lean) > 1e-6 else np.array([0, 1, 0, 0])
        )
    return np.concatenate([[place[0], place[1], height], _times(heading, lean)])


def _times(a: Floats, b: Floats) -> Floats:
    """Product of two quaternions, w first."""
    w, v, u, s = a[0], a[1:], b[1:], b[0]
    return np.concatenate([[w * s - v @ u], w * u + s * v + np.cross(v, u)])
