"""The page of a recorded walk: whole, cut off, or from hardware; labels apart."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import legwright as lw
from legwright.rig.replay import Recording, read_recording
from legwright.views import walk_page
from legwright.views.axes import Scale
from legwright.views.run import run_of
from legwright.views.time_plot import thinned
from legwright.views.walk_page import card_of, missing, show, walk_html
from legwright.views.walk_sheets import walk_sheets


@pytest.fixture(scope="module")
def recording(walked: tuple[dict[str, Any], Path]) -> Recording:
    return read_recording(walked[1])


def without(recording: Recording, *topics: str) -> Recording:
    return replace(recording, tracks={k: v for k, v in recording.tracks.items() if k not in topics})


def test_the_page_needs_nothing_from_outside(
    recording: Recording, walked: tuple[dict[str, Any], Path], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(walk_page, "animation", lambda run, folder: folder / "walk.gif")
    shown = show(recording, walked[1], tmp_path / "out")
    assert not shown.troubles
    page = (tmp_path / "out" / "walk.html").read_text("utf-8")
    assert not re.search(r'(src|href)="(?!data:)|url\((?!data:)|<script', page)
    for words in ("Feet on the ground", "Force on each foot", "Winding temperature", "Way in plan"):
        assert words in page
    assert page.count('<section class="sheet') >= 5 and 'src="data:image/png' in page


def test_no_two_labels_of_a_sheet_collide(recording: Recording) -> None:
    for sheet in walk_sheets(run_of(recording), card_of(recording), ()):
        labels = sheet.drawing.labels
        close = [
            (a.text, b.text) for k, a in enumerate(labels) for b in labels[k + 1 :] if a.meets(b)
        ]
        assert not close, (sheet.name, close[:4])


def test_hardware_has_no_truth_and_says_so(recording: Recording) -> None:
    hardware = without(recording, "/truth", "/scene", "/pose")
    assert card_of(hardware) is None
    page = walk_html(run_of(hardware), None)
    assert "NOT" in page and "not scored" in page and "as felt" in page


def test_a_recording_that_ends_before_the_walk_is_shown(recording: Recording) -> None:
    early = {}
    for topic, track in recording.tracks.items():
        count = int(np.searchsorted(track.time, 0.8))
        fields = {name: values[:count] for name, values in track.fields.items()}
        early[topic] = replace(track, time=track.time[:count], fields=fields)
    stub = replace(recording, tracks=early, whole=False)
    assert card_of(stub) is None
    assert "0.79 s" in missing(stub)
    assert walk_html(run_of(stub), None)


def test_what_a_torn_file_lacks_is_told(
    walked: tuple[dict[str, Any], Path], tmp_path: Path
) -> None:
    data = walked[1].read_bytes()
    (tmp_path / "torn.mcap").write_bytes(data[: int(0.7 * len(data))])
    torn = read_recording(tmp_path / "torn.mcap")
    told = missing(torn)
    assert f"{torn.ends:.2f} s" in told and f"{torn.lost} bytes" in told and "of 0.08 m" in told
    assert missing(read_recording(walked[1])) == ""


def test_a_run_without_anything_is_refused(recording: Recording) -> None:
    with pytest.raises(lw.RequestError, match="felt"):
        run_of(without(recording, "/felt", "/sensed"))


def test_no_peak_is_lost_in_thinning() -> None:
    rng = np.random.default_rng(3)
    time, values = np.arange(50_000) * 0.005, rng.normal(size=50_000)
    values[31_234] = 40.0
    t, v = thinned(time, values, Scale(low=0.0, high=250.0, start=0.0, end=100.0))
    assert len(t) < 1500 and v.max() == 40.0 and v.min() == values.min()
    assert (np.diff(t) > 0.0).all()
