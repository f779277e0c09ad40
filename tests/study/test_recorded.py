"""A recording gives the score that the walk gave."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from legwright.rig.replay import Recording, read_recording
from legwright.study.outing import SETTLE
from legwright.study.recorded import begin_of, recorded_row, walk_log


def test_the_score_of_the_recording_is_the_score_of_the_walk(
    walked: tuple[dict[str, Any], Path],
) -> None:
    row, path = walked
    back = recorded_row(read_recording(path))
    assert back is not None and list(back) == list(row)
    for key, value in row.items():
        if isinstance(value, float):
            assert back[key] == pytest.approx(value, rel=1e-4, abs=1e-5), key
        else:
            assert back[key] == value, key
    assert row["steps"] > 3 and row["distance"] > 0.05
    assert row["slowed"]["limit"] in ("stride", "joint speed")
    assert 0.0 < row["slowed"]["share"] < 1.0


def test_a_recording_cut_off_is_scored_as_far_as_it_goes(
    walked: tuple[dict[str, Any], Path], tmp_path: Path
) -> None:
    row, path = walked
    data = path.read_bytes()
    (tmp_path / "torn.mcap").write_bytes(data[: int(0.6 * len(data))])
    torn = read_recording(tmp_path / "torn.mcap")
    back = recorded_row(torn)
    assert not torn.whole and torn.lost > 0
    assert back is not None and back["stopped"] and not back["finished"]
    assert 0.0 < back["distance"] < row["distance"]


def test_without_truth_or_without_a_walk_there_is_no_score(
    walked: tuple[dict[str, Any], Path],
) -> None:
    whole = read_recording(walked[1])
    assert begin_of(whole) == pytest.approx(SETTLE)
    hardware = _without(whole, "/truth")
    assert walk_log(hardware) is None and recorded_row(hardware) is None
    early = replace(whole, tracks={**whole.tracks, "/felt": _upto(whole, 1.0)})
    assert walk_log(early) is None


def _without(recording: Recording, topic: str) -> Recording:
    return replace(recording, tracks={k: v for k, v in recording.tracks.items() if k != topic})


def _upto(recording: Recording, time: float) -> Any:
    track = recording.tracks["/felt"]
    count = int(np.searchsorted(track.time, time))
    fields = {name: values[:count] for name, values in track.fields.items()}
    return replace(track, time=track.time[:count], fields=fields)
