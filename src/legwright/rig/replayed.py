"""A recording as a rig: it tells what was read, and moves nothing."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from legwright.errors import RigError
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.port import Drives
from legwright.rig.replay import read_recording
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class Replayed:
    """One recorded run, cycle by cycle; after the last cycle it stays there."""

    real = False
    calibrated = True

    def __init__(self, robot: Robot, path: Path | str) -> None:
        """Open a recording.

        Args:
            robot: The robot that was recorded.
            path: An MCAP file of `Recorder`.

        Raises:
            RequestError: if the file is missing or no recording of ours.
            RigError: if it holds another robot, or no readings.
        """
        self.robot = robot
        recording = read_recording(path)
        name = Path(path).name
        joints = tuple(recording.about.get("joints", ()))
        if joints != robot.joint_names:
            raise RigError(
                f"{name} was recorded with {recording.about.get('robot', 'another robot')}, whose "
                f"joints are not those of {robot.name}. Name the robot that was recorded."
            )
        track = recording.tracks.get("/sensed")
        if track is None:
            raise RigError(f"{name} holds no readings (channel /sensed). Choose another recording.")
        count = len(track.time)
        shape = (count, len(joints))
        self._q = _filled(track.fields.get("q"), shape)
        self._qd = _filled(track.fields.get("qd"), shape)
        self._current = _filled(track.fields.get("current"), shape)
        self._voltage = _filled(track.fields.get("voltage"), (count,))
        self._up = _told(track.fields.get("up"), count)
        self._spin = _told(track.fields.get("spin"), count)
        self.rate = float(recording.about.get("rate") or 100.0)
        who = recording.about.get("robot", "")
        other = () if who == robot.name else (f"{name} was recorded with {who}, not {robot.name}.",)
        about = tuple(recording.about.get("notes", ()))
        self.notes = (f"Replay of {name}: nothing moves.", *other, *about)
        self._row, self._open = 0, True

    @property
    def buses(self) -> tuple[int, ...]:
        """All joints on one bus: a recording does not tell."""
        return (0,) * len(self.robot.joint_names)

    @property
    def finished(self) -> bool:
        """Whether the last cycle has been reached."""
        return self._row >= len(self._q) - 1

    def sense(self) -> Sensed:
        """What was read in this cycle."""
        self._check()
        row = self._row
        return Sensed(
            q=self._q[row].copy(),
            qd=self._qd[row].copy(),
            current=self._current[row].copy(),
            voltage=float(self._voltage[row]),
            up=None if self._up is None else self._up[row].copy(),
            spin=None if self._spin is None else self._spin[row].copy(),
        )

    def drives(self) -> Drives:
        """All limp: nothing is moved."""
        self._check()
        count = len(self.robot.joint_names)
        return Drives(
            powered=np.zeros(count, dtype=np.bool_),
            fault=np.zeros(count, dtype=np.int64),
            winding=np.full(count, np.nan),
        )

    def apply(self, targets: Targets) -> None:
        """Targets move nothing."""
        del targets
        self._check()

    def power(self, on: bool) -> None:
        """A recording cannot be switched on.

        Raises:
            RigError: if that is asked.
        """
        if on:
            self._check()
            raise RigError("A recording moves nothing. Choose the rig sim, or a bus.")

    def advance(self) -> None:
        """On to the next recorded cycle."""
        self._check()
        self._row = min(self._row + 1, len(self._q) - 1)

    def close(self) -> None:
        """Nothing more can be read."""
        self._open = False

    def _check(self) -> None:
        if not self._open:
            raise RigError("The replay is closed. Open it anew.")


def _told(values: object, count: int) -> Floats | None:
    """What an inertial sensor told, (count, 3); None where there was none."""
    told = isinstance(values, np.ndarray) and values.shape == (count, 3)
    return _filled(values, (count, 3)) if told else None


def _filled(values: object, shape: tuple[int, ...]) -> Floats:
    """Recorded numbers, nan where one is missing."""
    if isinstance(values, np.ndarray) and values.shape == shape:
        return np.asarray(values, dtype=np.float64)
    filled = np.full(shape, np.nan)
    if isinstance(values, list):
        for row, one in enumerate(values[: shape[0]]):
            whole = isinstance(one, list) and len(one) == (shape[1] if len(shape) > 1 else 0)
            if whole:
                filled[row] = [np.nan if number is None else number for number in one]
            elif isinstance(one, int | float) and len(shape) == 1:
                filled[row] = one
    return filled
