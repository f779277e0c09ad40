"""A recorded run as pictures and plots want it: arrays over one clock, names, limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.rig.replay import Recording, Track, read_recording
from legwright.rig.scenery import Scenery, scenery_of
from legwright.robot.tree import Floats
from legwright.study.recorded import begin_of
from legwright.views.symbols import short_names

__all__ = ["Happening", "Run", "read_recording", "run_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """One event."""

    time: float
    what: str
    leg: str
    text: str


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Run:
    """A run; `None` where the file does not hold it. T rows, L legs, J joints, F poses."""

    recording: Recording
    robot: str
    legs: tuple[str, ...]
    """Short names: L1, L2, …"""
    hips: tuple[tuple[float, float], ...]
    """Forward, to the left [m]."""
    joints: tuple[str, ...]
    rate: float
    weight: float
    """[N]"""
    begin: float
    """When it was told to walk [s]; inf if never."""
    time: Floats
    """(T,) [s]"""
    contact: NDArray[np.bool_]
    """(T, L): felt."""
    felt: Floats
    """(T, L): force as felt [N]; nan in places."""
    margin: Floats
    """(T,) [m]"""
    force: Floats | None
    """(T, L): true, upward [N]."""
    body: Floats | None
    """(T, 7): true."""
    place: Floats | None
    """(T, 3): as the controller believes."""
    current: Floats | None
    """(T, J): as read [A]."""
    voltage: Floats | None
    """(T,): of the supply, as read [V]."""
    servo_voltage: Floats | None
    """(T, J): true [V]."""
    winding: Floats | None
    """(T, J): true [K]."""
    events: tuple[Happening, ...]
    scenery: Scenery | None
    pose_time: Floats
    """(F,) [s]"""
    poses: Floats
    """(F, B, 7)"""

    @property
    def metres(self) -> float:
        """How far it came since it was told to walk, true or else as believed [m]."""
        track = self.body if self.body is not None else self.place
        first = self.row(self.begin)
        if track is None or first >= len(track):
            return 0.0
        return float(track[-1, 0] - track[first, 0])

    def row(self, time: float) -> int:
        """Index of the first row at or after a time."""
        return int(np.searchsorted(self.time, time - 1e-6))


def run_of(recording: Recording) -> Run:
    """The run in a recording.

    Args:
        recording: As `read_recording` gives it.

    Returns:
        The run.

    Raises:
        RequestError: if it holds nothing that was sensed or felt, or makes no sense.
    """
    try:
        return _run_of(recording)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        if isinstance(error, RequestError):
            raise
        name = str(recording.about["robot"])
        raise RequestError("recording", name, "as docs/recording.md describes it") from error


def _run_of(recording: Recording) -> Run:
    about, tracks = recording.about, recording.tracks
    legs, joints = tuple(about["legs"]), tuple(about["joints"])
    felt, sensed = tracks.get("/felt"), tracks.get("/sensed")
    clock = felt if felt is not None else sensed
    if clock is None or not len(clock.time):
        raise RequestError("recording", about["robot"], "one that holds /felt or /sensed")
    time = np.asarray(clock.time, dtype=np.float64)
    count = len(time)
    truth = tracks.get("/truth")
    hips = about.get("hips") or [[0.0, 1.0 if "left" in leg else -1.0] for leg in legs]
    points = tuple((float(h[0]), float(h[1])) for h in hips)
    force = _table(truth, "force", count)
    poses = tracks.get("/pose")
    return Run(
        recording=recording,
        robot=str(about["robot"]),
        legs=short_names(legs, points),
        hips=points,
        joints=joints,
        rate=float(about["rate"]),
        weight=float(about.get("weight") or np.nan),
        begin=begin_of(recording),
        time=time,
        contact=_contact(felt, count, len(legs)),
        felt=_or_nan(_table(felt, "force", count), (count, len(legs))),
        margin=_or_nan(_table(felt, "margin", count), (count,)),
        force=None if force is None else force[..., 2],
        body=_table(truth, "body", count),
        place=_table(felt, "place", count),
        current=_table(sensed, "current", count),
        voltage=_table(sensed, "voltage", count),
        servo_voltage=_table(truth, "voltage", count),
        winding=_table(truth, "winding", count),
        events=_events(tracks.get("/event")),
        scenery=_scenery(tracks.get("/scene")),
        pose_time=np.zeros(0) if poses is None else poses.time,
        poses=np.zeros((0, 0, 7)) if poses is None else np.asarray(poses.fields["links"]),
    )


def _table(track: Track | None, name: str, count: int) -> Floats | None:
    """A field as (T, ...), its last row repeated where the file broke off within a cycle."""
    if track is None or name not in track.fields or not len(track.time):
        return None
    try:
        values = np.asarray(track.fields[name], dtype=np.float64)
    except (ValueError, TypeError):
        return None
    if len(values) < count:
        values = np.concatenate([values, np.repeat(values[-1:], count - len(values), axis=0)])
    return values[:count]


def _or_nan(values: Floats | None, shape: tuple[int, ...]) -> Floats:
    return np.full(shape, np.nan) if values is None or values.shape != shape else values


def _contact(felt: Track | None, count: int, legs: int) -> NDArray[np.bool_]:
    values = _table(felt, "contact", count)
    if values is None or values.shape != (count, legs):
        return np.zeros((count, legs), dtype=bool)
    return values > 0.5


def _events(track: Track | None) -> tuple[Happening, ...]:
    if track is None:
        return ()
    fields: Any = track.fields
    rows = zip(track.time, fields["what"], fields["leg"], fields["text"], strict=False)
    return tuple(
        Happening(time=float(t), what=str(what), leg=str(leg), text=str(text))
        for t, what, leg, text in rows
    )


def _scenery(track: Track | None) -> Scenery | None:
    if track is None:
        return None
    return scenery_of({name: values[0] for name, values in track.fields.items()})
