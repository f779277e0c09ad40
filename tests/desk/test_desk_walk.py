"""A walk in the physics world on the desk: what pages see is what the recording says."""

from __future__ import annotations

import asyncio
import tracemalloc
from itertools import groupby
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from legwright.errors import RequestError
from legwright.mechanics.opening import load
from legwright.rig.replay import read_recording
from legwright.views.desk.asked import WalkStart
from legwright.views.desk.blocks import AnyBlock, Run, unpacked
from legwright.views.desk.pages import Board, Page
from legwright.views.desk.said import Happening, Said, Walking
from legwright.views.desk.walk_asked import outset_of
from legwright.views.desk.walk_history import MOST, History
from legwright.views.desk.walk_poses import KEPT, Pose, Poses, flat_body, in_body, in_world
from legwright.views.desk.walk_recorded import recorded_story
from legwright.views.desk.walk_rows import layout_of
from legwright.views.desk.walk_story import EDGES, EVENTS, About, Batch, Story
from legwright.views.desk.walking import WalkWing
from legwright.views.desk.wire import heard

ROBOTS = Path(__file__).parents[2] / "robots"
PATIENCE = 120.0
"""Kernels may have to be compiled first [s]."""


class Held:
    def __init__(self) -> None:
        self.robot = load(ROBOTS / "rook")


class Desktop:
    """As much of a desk as a walk needs."""

    def __init__(self) -> None:
        self.session, self.board, self.said = Held(), Board(), list[Said]()

    def say(self, key: str, message: Said, *, keep: bool = True) -> None:
        self.said.append(message)


class Reader:
    """A page that keeps all that it is sent."""

    def __init__(self) -> None:
        self.page = Page(lambda: None)
        self.blocks: list[tuple[AnyBlock, dict[str, np.ndarray]]] = []
        self.texts: list[dict[str, Any]] = []

    def read(self) -> None:
        for frame in self.page.drain():
            if isinstance(frame, bytes):
                self.blocks.append(unpacked(frame))
            else:
                self.texts.append(msgspec.json.decode(frame))

    def curves(self) -> tuple[np.ndarray, np.ndarray, float]:
        """Least and greatest of each bin as a page puts them together, and the bins' width."""
        low, high, width = np.zeros((0, 0)), np.zeros((0, 0)), 0.0
        for header, arrays in self.blocks:
            if header.__struct_config__.tag != "run":
                continue
            if header.start:  # type: ignore[union-attr]
                low, high = arrays["low"], arrays["high"]
            else:
                at = header.at  # type: ignore[union-attr]
                assert at <= len(low)
                low = np.concatenate([low[:at], arrays["low"]])
                high = np.concatenate([high[:at], arrays["high"]])
            width = header.width  # type: ignore[union-attr]
        return low, high, width

    def runs(self) -> list[Run]:
        return [header for header, _ in self.blocks if isinstance(header, Run)]

    def edges(self) -> np.ndarray:
        found: list[np.ndarray] = []
        for header, arrays in self.blocks:
            if header.__struct_config__.tag == "run":
                found = [*([] if header.start else found), arrays["edges"]]  # type: ignore[union-attr]
        return np.concatenate(found)


async def ask(wing: WalkWing, page: Page, text: str) -> None:
    message = heard(text)
    await wing.hearers[type(message)](page, message)


async def until(wing: WalkWing, *states: str) -> None:
    async with asyncio.timeout(PATIENCE):
        while wing.said().state not in states:
            await asyncio.sleep(0.02)


START = (
    '{"type":"walk_start","n":1,"ground":"steps","seed":3,"gait":"tripod","speed":0.05,'
    '"distance":0.1,"pace":0}'
)


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A short walk that was watched from the start and by one who came in its middle."""
    folder = tmp_path_factory.mktemp("walks")
    first, late, film = Reader(), Reader(), Reader()
    desk = Desktop()

    async def run() -> None:
        wing = WalkWing(desk, folder)
        try:
            await wing.start()
            await ask(wing, first.page, '{"type":"walk_watch","n":1,"on":true}')
            await ask(wing, first.page, START)
            await until(wing, "walking")
            async with asyncio.timeout(PATIENCE):
                while wing.said().time < 1.0:
                    first.read()
                    await asyncio.sleep(0.02)
            await ask(wing, first.page, '{"type":"walk_pause","n":2,"paused":true}')
            await until(wing, "paused")
            held = wing.said().time
            await asyncio.sleep(0.3)  # no less: in this time it would have gone on
            assert wing.said().time == held
            await ask(wing, late.page, '{"type":"walk_watch","n":1,"on":true}')
            await ask(wing, late.page, '{"type":"film","n":2}')
            async with asyncio.timeout(PATIENCE):
                while not any(text["type"] == "film" for text in late.texts):
                    late.read()
                    await asyncio.sleep(0.05)
            await ask(wing, first.page, '{"type":"walk_pause","n":3,"paused":false}')
            await until(wing, "ended")
            first.read()
            late.read()
            await ask(wing, film.page, '{"type":"walk_at","n":1,"time":1.2}')
            film.read()
        finally:
            await wing.close()

    asyncio.run(run())
    return folder, desk, first, late, film


def test_the_curves_are_those_of_the_recording(walked: Any) -> None:
    folder, desk, first, _, _ = walked
    (path,) = folder.glob("*.mcap")
    recording = read_recording(path)
    truth, sensed = recording.tracks["/truth"].fields, recording.tracks["/sensed"].fields
    low, high, width = first.curves()
    about = next(text for text in first.texts if text["type"] == "walk_about")
    names = about["columns"]
    legs = len(about["legs"])
    time = recording.tracks["/felt"].time
    bins = (time / width + 1e-6).astype(int)
    assert len(low) == bins[-1] + 1
    for column, told in (
        (0, truth["force"][:, 0, 2]),
        (legs - 1, truth["force"][:, legs - 1, 2]),
        (names.index("voltage/servo"), truth["voltage"].min(axis=1)),
        (names.index("voltage/supply"), sensed["voltage"]),
        (names.index("current/femur"), np.abs(sensed["current"][:, 1::3]).max(axis=1)),
        (names.index("winding/tibia"), truth["winding"][:, 2::3].max(axis=1) - 273.15),
        (names.index("margin"), 1e3 * recording.tracks["/felt"].fields["margin"]),
    ):
        values = np.asarray(told, dtype=float)
        known = [n for n in range(len(low)) if np.isfinite(values[bins == n]).any()]
        assert known
        for n in known:
            part = values[bins == n]
            assert low[n, column] == pytest.approx(np.nanmin(part), abs=2e-3, rel=1e-5)
            assert high[n, column] == pytest.approx(np.nanmax(part), abs=2e-3, rel=1e-5)
    end = desk.said[-2] if desk.said[-1].__struct_config__.tag == "recordings" else desk.said[-1]
    assert end.state == "ended" and "came 0.10 m" in end.text  # type: ignore[attr-defined]


def test_feet_touch_when_the_recording_says_so(walked: Any) -> None:
    folder, _, first, _, _ = walked
    (path,) = folder.glob("*.mcap")
    recording = read_recording(path)
    force = recording.tracks["/truth"].fields["force"][:, :, 2]
    time, on = recording.tracks["/felt"].time, force > 0.1
    edges = first.edges()
    for leg in range(force.shape[1]):
        changes = np.flatnonzero(np.diff(np.concatenate([[False], on[:, leg]]).astype(int)))
        mine = edges[(edges[:, 0] == leg) & (edges[:, 1] == 0)]
        assert np.allclose(mine[:, 2], time[changes], atol=1e-3)
        assert (mine[:, 3] > 0.5).tolist() == on[changes, leg].tolist()


def test_who_comes_later_sees_all(walked: Any) -> None:
    _, _, first, late, _ = walked
    for mine, other in zip(first.curves(), late.curves(), strict=True):
        assert np.array_equal(mine, other, equal_nan=True)
    assert np.array_equal(first.edges(), late.edges())


def test_a_recording_shows_the_same_as_the_live_walk(walked: Any) -> None:
    folder, _, first, _, shown = walked
    (path,) = folder.glob("*.mcap")
    story = recorded_story(path)
    low, high = story.history.since(0)
    assert np.allclose(low, first.curves()[0], atol=5e-3, equal_nan=True)
    assert np.allclose(high, first.curves()[1], atol=5e-3, equal_nan=True)
    mine, other = (edges[np.lexsort(edges.T)] for edges in (story.edges_since(0), first.edges()))
    assert np.allclose(mine, other, atol=1e-3)
    header, arrays = shown.blocks[-1]
    recording = read_recording(path)
    truth, felt = recording.tracks["/truth"].fields, recording.tracks["/felt"]
    row = int(np.argmin(np.abs(felt.time - header.time)))
    assert felt.time[row] == pytest.approx(1.2, abs=0.05)
    assert not header.live
    for name in ("q", "body", "winding", "voltage"):
        assert np.allclose(arrays[name], truth[name][row], atol=1e-4), name
    assert np.allclose(arrays["contact"], felt.fields["contact"][row])
    assert np.allclose(
        in_world(truth["body"][row], arrays["force"]), truth["force"][row], atol=1e-3
    )


def test_a_walk_is_begun_anew_while_another_is_walked(tmp_path: Path) -> None:
    """The first ends, recorded as stopped; the second is walked from its own start to its end."""
    desk, page = Desktop(), Page(lambda: None)

    async def run() -> None:
        wing = WalkWing(desk, tmp_path)
        try:
            await wing.start()
            await ask(wing, page, START.replace('"distance":0.1', '"distance":50'))
            await until(wing, "walking")
            async with asyncio.timeout(PATIENCE):
                while wing.said().time < 0.5:
                    await asyncio.sleep(0.02)
            await ask(wing, page, START.replace('"seed":3', '"seed":4'))
            assert wing.said().state == "starting"
            await until(wing, "ended")
            assert wing.said().seed == 4
            assert "came 0.1" in wing.said().text
        finally:
            await wing.close()

    asyncio.run(run())
    states = [told.state for told in desk.said if isinstance(told, Walking)]
    assert [state for state, _ in groupby(states)] == [
        "none", "starting", "walking", "starting", "walking", "ended"
    ]  # fmt: skip
    first, second = (read_recording(*tmp_path.glob(f"*seed{seed}*")) for seed in (3, 4))
    assert first.whole and first.tracks["/event"].fields["what"][-1] == "stopped"
    assert second.whole


def test_it_is_held_only_when_all_that_was_walked_is_told(tmp_path: Path) -> None:
    """Another pace does not let it go; a hold that was taken back does not come true late."""
    desk, reader = Desktop(), Reader()

    async def run() -> None:
        wing = WalkWing(desk, tmp_path)

        async def go_on(time: float) -> None:
            async with asyncio.timeout(PATIENCE):
                while wing.said().time < time:
                    await asyncio.sleep(0.02)

        try:
            await wing.start()
            await ask(wing, reader.page, '{"type":"walk_watch","n":1,"on":true}')
            await ask(wing, reader.page, START.replace('"distance":0.1', '"distance":50'))
            await until(wing, "walking")
            await go_on(0.5)
            await ask(wing, reader.page, '{"type":"walk_pause","n":2,"paused":true}')
            await ask(wing, reader.page, '{"type":"walk_pace","n":3,"pace":2.0}')
            await until(wing, "paused")
            reader.read()
            assert reader.runs()[-1].time == wing.said().time > 0.0
            for paused in ("true", "false"):
                text = f'{{"type":"walk_pause","n":4,"paused":{paused}}}'
                await ask(wing, reader.page, text)
            await go_on(wing.said().time + 0.2)
            assert wing.said().state == "walking"
            await ask(wing, reader.page, '{"type":"walk_end","n":6}')
            await until(wing, "ended")
        finally:
            await wing.close()

    asyncio.run(run())


def test_a_film_strip_is_drawn_in_mid_walk(walked: Any) -> None:
    _, _, _, late, _ = walked
    ready = next(text for text in late.texts if text["type"] == "film")
    assert ready["title"].endswith(".png") and len(ready["id"]) == 16


def test_history_of_a_long_walk_takes_no_more_room_and_loses_no_spike() -> None:
    history = History(2, width=0.01, most=100)
    rng = np.random.default_rng(5)
    rows = rng.normal(size=(5000, 2))
    rows[3210, 1] = 50.0
    time = 0.005 * np.arange(5000)
    for part in range(0, 5000, 7):
        history.add(time[part : part + 7], rows[part : part + 7])
    assert history.count <= 100
    low, high = history.since(0)
    bins = (time / history.width + 1e-6).astype(int)
    for n in range(history.count):
        assert np.allclose(low[n], rows[bins == n].min(axis=0), atol=1e-6)
        assert np.allclose(high[n], rows[bins == n].max(axis=0), atol=1e-6)
    assert high[:, 1].max() == 50.0


def test_forces_are_turned_into_the_body() -> None:
    """Referee: scipy's rotations."""
    rng = np.random.default_rng(2)
    for _ in range(20):
        turn = Rotation.random(random_state=int(rng.integers(1 << 30)))
        x, y, z, w = turn.as_quat()
        body = np.array([0.1, 0.2, 0.3, w, x, y, z])
        vectors = rng.normal(size=(6, 3))
        assert np.allclose(in_body(body, vectors), turn.inv().apply(vectors))
        assert np.allclose(in_world(body, vectors), turn.apply(vectors))


def test_a_leaning_body_without_truth_stands_as_gravity_says() -> None:
    """Referee: scipy's rotations."""
    rng = np.random.default_rng(4)
    for _ in range(20):
        yaw, roll, pitch = rng.uniform(-1.0, 1.0, 3)
        lean = Rotation.from_euler("xy", [roll, pitch])
        up = lean.inv().apply([0.0, 0.0, 1.0])
        body = flat_body(np.array([1.0, 2.0, yaw]), 0.1, up)
        x, y, z = body[4:]
        turn = Rotation.from_quat([x, y, z, body[3]])
        assert np.allclose(turn.apply(up), [0.0, 0.0, 1.0])
    level = flat_body(np.array([0.0, 0.0, 0.7]), 0.1, np.array([0.0, 0.0, 1.0]))
    assert level[3:] == pytest.approx([np.cos(0.35), 0.0, 0.0, np.sin(0.35)])


@pytest.mark.parametrize(
    ("field", "value", "word"),
    [
        ("ground", "swamp", "ground"),
        ("ground", "/etc/passwd", "ground"),
        ("gait", "gallop", "gait"),
        ("speed", 0.0, "speed"),
        ("speed", float("nan"), "speed"),
        ("distance", 1e6, "distance"),
        ("height", -1.0, "height"),
        ("seed", -1, "seed"),
        ("pace", 1e9, "pace"),
    ],
)
def test_what_makes_no_walk_is_refused(field: str, value: Any, word: str) -> None:
    robot = load(ROBOTS / "rook")
    with pytest.raises(RequestError, match=word):
        outset_of(robot, WalkStart(n=1, **{field: value}), Path(), "now")


def test_only_recordings_of_the_folder_can_be_opened(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "out.mcap").write_bytes(b"")

    async def run() -> None:
        wing = WalkWing(Desktop(), tmp_path / "in")
        page = Page(lambda: None)
        try:
            for name in ("../out.mcap", str(tmp_path / "out.mcap"), ""):
                with pytest.raises(RequestError, match="recording"):
                    message = heard(f'{{"type":"walk_open","n":1,"name":"{name}"}}')
                    await wing.hearers[type(message)](page, message)
        finally:
            await wing.close()

    asyncio.run(run())


def test_ten_minutes_take_no_more_than_their_bounds() -> None:
    """120 000 steps at 200 Hz, feet that change ten times a second: an hour of a real walk."""
    layout = layout_of(("L1", "L2", "R1", "R2"), 12)
    about = About(
        layout=layout, robot="long", joints=(), hips=(), weight=None, wanted_margin=None,
        lowest_voltage=None, highest_winding=None, truth=True, terrain=None,
    )  # fmt: skip
    story = Story(about=about)
    step = np.arange(120_000)
    down = (step[:, None] // 20 + np.arange(4)) % 2 == 0
    rows = np.sin(0.001 * step[:, None] + np.arange(len(layout.names)))
    nothing = np.zeros(0)
    for first in range(0, len(step), 500):
        part = slice(first, first + 500)
        poses = tuple(
            Pose(
                time=float(0.005 * n), q=nothing, body=nothing, force=nothing, felt=nothing,
                touch=nothing, contact=nothing, current=nothing, winding=nothing,
                voltage=nothing, margin=0.0,
            )
            for n in step[part][::8]
        )  # fmt: skip
        story.add(
            Batch(
                time=0.005 * step[part], rows=rows[part], touch=down[part], contact=down[part],
                events=(Happening(time=0.0, what="stumble", leg="", text=""),) * 10, poses=poses,
            )
        )  # fmt: skip
    assert story.history.count <= MOST and story.history.width == pytest.approx(0.16)
    assert len(story.poses) <= KEPT and len(story.edges) <= EDGES and len(story.events) <= EVENTS
    assert story.switches == story.forgotten + len(story.edges) > EDGES
    assert story.told == 2400 and len(story.events_since(2390)) == 10
    low, high = story.history.since(0)
    assert low.min() >= -1.0 - 1e-6 and high.max() <= 1.0 + 1e-6
    at = story.poses.at(300.0)
    assert at is not None and at.time == pytest.approx(300.0, abs=0.1)


def test_moments_take_their_memory_with_the_first_one() -> None:
    """Referee: the interpreter's own count of what is allocated."""
    poses = Poses(period=0.04, most=2000)
    rng = np.random.default_rng(3)

    def pose(n: int) -> Pose:
        rows = {name: rng.normal(size=20) for name in ("q", "current", "winding", "voltage")}
        feet = {name: rng.normal(size=6) for name in ("felt", "touch", "contact")}
        return Pose(
            time=0.04 * n, body=rng.normal(size=7), force=rng.normal(size=(6, 3)), margin=0.1 * n,
            **rows, **feet,
        )  # fmt: skip

    tracemalloc.start()
    poses.add(pose(0))
    first = tracemalloc.get_traced_memory()[0]
    added = [pose(n) for n in range(1, 6000)]
    before = tracemalloc.get_traced_memory()[0]
    for each in added:
        poses.add(each)
    grown = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert grown < 0.02 * first
    assert 1000 <= len(poses) <= 2000
    near = poses.at(0.04 * 4000)
    assert near is not None and near.time == pytest.approx(160.0, abs=0.09)
    kept = added[round(near.time / 0.04) - 1]
    np.testing.assert_allclose(near.force, kept.force, rtol=1e-6)
    assert near.margin == pytest.approx(kept.margin, rel=1e-6)
