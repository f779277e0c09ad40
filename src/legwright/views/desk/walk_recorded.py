"""A recording as a story: the same curves, feet, events and moments as of a live walk."""

from __future__ import annotations

from math import isfinite
from pathlib import Path

import numpy as np

from legwright.rig.recorder import ROUTINE
from legwright.rig.replay import Recording, Track, read_recording
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.touchdowns import ONSET
from legwright.study.walk_score import tilt
from legwright.views.desk.said import Happening
from legwright.views.desk.walk_poses import PERIOD, Pose, flat_body, in_body, in_world
from legwright.views.desk.walk_rows import Readings, layout_of, leaning, rows_of
from legwright.views.desk.walk_story import About, Batch, Story, Terrain
from legwright.views.run import Run, run_of


def recorded_story(path: Path, robot: Robot | None = None) -> Story:
    """Read a recording.

    Args:
        path: An MCAP file of ours, whole or cut off.
        robot: The robot on the desk: where a recording of it holds no truth, its body is drawn
            so high that its lowest foot is on the ground.

    Raises:
        RequestError: if it is none.
    """
    run = run_of(read_recording(path))
    about = about_of(run)
    story = Story(about=about)
    readings = readings_of(run)
    story.add(
        Batch(
            time=run.time,
            rows=rows_of(about.layout, readings),
            touch=None if run.force is None else run.force > ONSET,
            contact=run.contact,
            events=_events(run),
            poses=_poses(
                run, readings, robot if robot and fits(about, robot.joint_names) else None
            ),
        )
    )
    return story


def about_of(run: Run) -> About:
    """What a recorded run is about."""
    told = run.recording.about
    wanted = told.get("wanted_margin")
    scenery = run.scenery
    terrain = None
    if scenery is not None:
        terrain = Terrain(
            heights=scenery.heights, spacing=scenery.spacing, start=scenery.start
        )  # fmt: skip
    return About(
        layout=layout_of(run.legs, len(run.joints)),
        robot=run.robot,
        joints=run.joints,
        hips=run.hips,
        weight=run.weight if isfinite(run.weight) else None,
        wanted_margin=None if wanted is None else float(wanted),
        lowest_voltage=max(_known(told.get("lowest_voltage")), default=None),
        highest_winding=min(_known(told.get("highest_winding")), default=None),
        truth=run.force is not None,
        terrain=terrain,
        notes=tuple(str(note) for note in told.get("notes", ())),
    )


def _known(values: object) -> list[float]:
    return [float(v) for v in values if v is not None] if isinstance(values, list) else []


def readings_of(run: Run) -> Readings:
    """What the curves of a recorded run are made of."""
    first = run.row(run.begin) if isfinite(run.begin) else len(run.time)
    return Readings(
        force=run.force,
        felt=run.felt,
        current=run.current,
        supply=run.voltage,
        servo=run.servo_voltage,
        winding=run.winding if run.winding is not None else _told_winding(run),
        margin=run.margin,
        tilt=_tilt(run),
        way=_way(run.body, first),
        believed=_way(run.place, first),
    )


def _way(track: Floats | None, first: int) -> Floats | None:
    """Forward since a row; nan before it."""
    if track is None:
        return None
    way = track[:, 0] - track[min(first, len(track) - 1), 0]
    way[:first] = np.nan
    return np.asarray(way)


def _tilt(run: Run) -> Floats | None:
    if run.body is not None:
        return tilt(run.body)
    up = _up(run)
    return None if up is None else leaning(up)


def _up(run: Run) -> Floats | None:
    sensed = run.recording.tracks.get("/sensed")
    values = None if sensed is None else sensed.fields.get("up")
    if not isinstance(values, np.ndarray) or values.ndim != 2 or values.shape[1] != 3:
        return None
    return _held(sensed, values.astype(np.float64), run.time)


def _told_winding(run: Run) -> Floats | None:
    """What the drives told, held until they told the next."""
    drives = run.recording.tracks.get("/drives")
    values = None if drives is None else drives.fields.get("winding")
    if not isinstance(values, np.ndarray) or values.ndim != 2:
        return None
    return _held(drives, values.astype(np.float64), run.time)


def _held(track: Track | None, values: Floats, time: Floats) -> Floats | None:
    if track is None or not len(track.time):
        return None
    at = np.searchsorted(track.time, time + 1e-9, side="right") - 1
    return np.asarray(values[np.clip(at, 0, len(values) - 1)])


def _events(run: Run) -> tuple[Happening, ...]:
    found = [
        Happening(time=event.time, what=event.what, leg=event.leg, text=event.text)
        for event in run.events
        if event.what not in ROUTINE
    ]
    notices = run.recording.tracks.get("/notice")
    if notices is not None:
        rows = zip(
            notices.time, notices.fields["word"], notices.fields["text"], strict=False
        )  # fmt: skip
        found += [
            Happening(time=float(time), what=str(word), leg="", text=str(text))
            for time, word, text in rows
        ]
    return tuple(sorted(found, key=lambda event: event.time))


def _poses(run: Run, readings: Readings, robot: Robot | None) -> tuple[Pose, ...]:
    """A moment every `PERIOD`."""
    q = _positions(run.recording)
    if q is None or len(q) == 0:
        return ()
    times = np.arange(run.time[0], run.time[-1] + PERIOD, PERIOD)
    rows = np.unique(np.clip(np.searchsorted(run.time, times - 1e-6), 0, len(run.time) - 1))
    up, truth = _up(run), run.recording.tracks.get("/truth")
    force = None if truth is None else np.asarray(truth.fields["force"], dtype=np.float64)
    legs, joints = len(run.legs), len(run.joints)
    nothing, unknown = np.full(joints, np.nan), np.full((legs, 3), np.nan)
    found = []
    for row in rows.tolist():
        body = _body(run, row, up, q[min(row, len(q) - 1)], robot)
        known = force is not None and row < len(force)
        found.append(
            Pose(
                time=float(run.time[row]),
                q=q[min(row, len(q) - 1)],
                body=body,
                force=in_body(body, force[row]) if force is not None and known else unknown,
                felt=run.felt[row],
                touch=np.full(legs, np.nan)
                if run.force is None
                else (run.force[row] > ONSET).astype(np.float64),
                contact=run.contact[row].astype(np.float64),
                current=nothing if run.current is None else run.current[row],
                winding=nothing if readings.winding is None else readings.winding[row],
                voltage=nothing if run.servo_voltage is None else run.servo_voltage[row],
                margin=float(run.margin[row]),
            )
        )
    return tuple(found)


def _positions(recording: Recording) -> Floats | None:
    for topic in ("/truth", "/sensed"):
        track = recording.tracks.get(topic)
        if track is not None and isinstance(track.fields.get("q"), np.ndarray):
            return np.nan_to_num(np.asarray(track.fields["q"], dtype=np.float64))
    return None


def _body(run: Run, row: int, up: Floats | None, q: Floats, robot: Robot | None) -> Floats:
    if run.body is not None:
        return np.asarray(run.body[row])
    place = np.zeros(3) if run.place is None else np.nan_to_num(run.place[row])
    level = flat_body(place, 0.0, None if up is None else up[row])
    if robot is None:
        return level
    feet = [leg.foot(q[robot.columns[name]]) for name, leg in robot.legs.items()]
    level[2] = -float(in_world(level, np.array(feet))[:, 2].min())
    return level


def fits(about: About, joints: tuple[str, ...]) -> bool:
    """Whether a robot with these joints can show the moments of a walk."""
    return about.joints == joints
