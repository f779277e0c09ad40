"""Pictures of a recorded walk: written without any graphics stack, showing that it moved."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

import legwright as lw
from legwright.mechanics.solids import solids_of
from legwright.rig.replay import read_recording
from legwright.rig.scenery import shown_links
from legwright.views import walk_film
from legwright.views.run import Run, run_of
from legwright.views.walk_sketch import axes, placed, tips


@pytest.fixture(scope="module")
def run(walked: tuple[dict[str, Any], Path]) -> Run:
    return run_of(read_recording(walked[1]))


def test_the_strip_shows_six_moments_and_the_way(run: Run, tmp_path: Path) -> None:
    with Image.open(walk_film.strip(run, tmp_path / "strip.png")) as image:
        picture = np.asarray(image.convert("L")).astype(int)
    width, height = walk_film.SIZE
    assert picture.shape[1] == 2 * width + 3 * walk_film.MARGIN
    assert picture.shape[0] > 3 * height
    m = walk_film.MARGIN
    first, last = (picture[top : top + height, left : left + width] for top, left in (
        (m, m), (m + 2 * (height + m), 2 * m + width)))  # fmt: skip
    assert np.ptp(first) > 200  # ink on paper
    assert (np.abs(first - last) > 60).sum() > 500  # it moved


def test_the_animation_without_an_encoder_is_a_gif(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(name: str) -> Any:
        raise ImportError(name)

    monkeypatch.setattr(walk_film, "import_module", none)
    monkeypatch.setattr(walk_film, "MOST", 6)
    path = walk_film.animation(run, tmp_path)
    assert path.name == "walk.gif"
    with Image.open(path) as image:
        assert 2 <= image.n_frames <= 6 and image.size == walk_film.SIZE


def test_the_animation_with_an_encoder_is_an_mp4(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    av = pytest.importorskip("av")
    monkeypatch.setattr(walk_film, "MOST_VIDEO", 10)
    path = walk_film.animation(run, tmp_path)
    assert path.name == "walk.mp4"
    with av.open(str(path)) as video:
        frames = sum(1 for _ in video.decode(video=0))
    assert 2 <= frames <= 10


def test_a_recording_without_poses_gives_no_picture(run: Run, tmp_path: Path) -> None:
    bare = replace(run, scenery=None, poses=run.poses[:0], pose_time=run.pose_time[:0])
    with pytest.raises(lw.RequestError, match="pictures"):
        walk_film.strip(bare, tmp_path / "strip.png")


def test_a_long_run_is_shown_faster_and_says_so(run: Run) -> None:
    count = 2000
    long = replace(
        run, poses=np.repeat(run.poses[:1], count, axis=0), begin=0.0,
        pose_time=np.arange(count) / 12.5,
    )  # fmt: skip
    at, pause, faster = walk_film.pacing(long, 160)
    assert len(at) <= 160 and faster >= 8.0
    assert len(at) * pause * faster == pytest.approx(160.0, rel=0.05)
    assert walk_film.pacing(run, 10_000)[2] == 1.0


def test_drawn_feet_lie_where_the_engine_has_them(
    run: Run, walked: tuple[dict[str, Any], Path]
) -> None:
    """Referee: centres of the feet that the engine told, a foot's radius above the tips."""
    assert run.scenery is not None
    truth = read_recording(walked[1]).tracks["/truth"]
    for pose in (0, len(run.poses) // 2, len(run.poses) - 1):
        row = int(np.argmin(np.abs(truth.time - run.pose_time[pose])))
        feet = truth.fields["feet"][row]
        drawn = tips(run.scenery, placed(run.scenery, run.poses[pose]), len(run.legs))
        assert np.abs(drawn[:, :2] - feet[:, :2]).max() < 0.02
        assert (feet[:, 2] - drawn[:, 2] + 2e-3 >= 0.0).all()
        assert (feet[:, 2] - drawn[:, 2] < 0.02).all()


def test_the_viewers_axes_are_right_handed() -> None:
    right, down, near = axes(np.radians(-58.0), np.radians(24.0))
    assert np.cross(right, -down) == pytest.approx(near)
    assert down[2] < 0.0 < near[2]


def test_every_link_with_a_shape_is_shown() -> None:
    robot = lw.load("robots/rook")
    links = shown_links(robot)
    assert {n for n, link in robot.tree.links.items() if link.shapes} <= set(links)
    assert all(solids_of(robot, name) for name in links)
    assert {leg for leg in links.values()} == {-1, *range(6)}
