"""Recordings: what goes in comes out, also for standard tools and from a torn file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from mcap.reader import make_reader

import legwright as lw
from legwright.locomotion.signals import Event, Targets
from legwright.rig import grounds
from legwright.rig.channels import CHANNELS
from legwright.rig.recorder import Recorder
from legwright.rig.replay import read_recording
from legwright.rig.world import World
from legwright.robot.robot import Robot

PROBED = Event(
    what="probed", text="It pushes.", leg="left-rear", limit="reach", force=3.5,
    position=(0.1, -0.2, -0.125), place=(0.3, -0.2, 0.0),
)  # fmt: skip


def _record(path: Path, robot: Robot, cycles: int) -> list[np.ndarray]:
    world = World(robot, grounds.flat(), seed=3)
    bodies = []
    with Recorder(path, robot, rate=world.rate, seed=3, ground="level", notes=world.notes) as out:
        for _ in range(cycles):
            sensed = world.sense()
            targets = Targets(q=sensed.q, qd=np.zeros_like(sensed.q))
            world.apply(targets)
            out.sensed(world.time, sensed)
            out.targets(world.time, targets)
            world.advance()
            truth = world.truth()
            bodies.append(truth.body)
            out.truth(truth)
        out.put("/felt", world.time, {"contact": np.array([True] * 6), "force": [np.nan] * 6})
        out.event(world.time, Event(what="touchdown", text="It stands.", leg="left-front"))
        out.event(world.time, PROBED)
    return bodies


def test_a_run_comes_back_as_it_was(tmp_path: Path, rook: Robot) -> None:
    bodies = _record(tmp_path / "a.mcap", rook, 20)
    back = read_recording(tmp_path / "a.mcap")
    assert back.whole and back.about["joints"] == list(rook.joint_names)
    assert np.allclose(back.tracks["/truth"].fields["body"], bodies, atol=1e-6)
    assert back.tracks["/sensed"].fields["q"].shape == (20, 18)
    assert np.allclose(np.diff(back.tracks["/truth"].time), 0.005)
    assert back.tracks["/felt"].fields["contact"].all()
    assert np.isnan(back.tracks["/felt"].fields["force"]).all()
    told = back.tracks["/event"].fields
    assert told["text"] == ["It stands.", PROBED.text]
    assert told["limit"] == ["", "reach"]
    assert np.array_equal(told["force"], [np.nan, 3.5], equal_nan=True)
    assert told["share"].tolist() == [1.0, 1.0]
    assert told["position"] == [[], [0.1, -0.2, -0.125]]
    assert told["place"] == [[], [0.3, -0.2, 0.0]]


def test_the_public_reader_reads_it_and_finds_every_field_described(
    tmp_path: Path, rook: Robot
) -> None:
    """Referee: the reader of the mcap package."""
    _record(tmp_path / "a.mcap", rook, 3)
    with (tmp_path / "a.mcap").open("rb") as stream:
        seen = set()
        for schema, channel, message in make_reader(stream, validate_crcs=True).iter_messages():
            described = json.loads(schema.data)["properties"]
            values = json.loads(message.data)
            assert set(values) <= set(described)
            assert channel.message_encoding == "json" and schema.encoding == "jsonschema"
            seen.add(channel.topic)
    assert seen == {"/about", "/sensed", "/targets", "/truth", "/felt", "/event"} <= set(CHANNELS)


def test_a_torn_file_gives_all_but_its_last_chunk(tmp_path: Path, rook: Robot) -> None:
    _record(tmp_path / "a.mcap", rook, 120)
    data = (tmp_path / "a.mcap").read_bytes()
    (tmp_path / "torn.mcap").write_bytes(data[: int(0.8 * len(data))])
    torn = read_recording(tmp_path / "torn.mcap")
    assert not torn.whole and 30 < len(torn.tracks["/truth"].time) < 120


def test_damaged_files_are_read_in_part_or_refused(tmp_path: Path, rook: Robot) -> None:
    """Sixty seeded damages: bytes changed, cut out, or the file cut off; never a traceback."""
    _record(tmp_path / "a.mcap", rook, 30)
    whole = (tmp_path / "a.mcap").read_bytes()
    rng = np.random.default_rng(5)
    for case in range(60):
        data = bytearray(whole)
        at = int(rng.integers(0, len(data)))
        if case % 3 == 0:
            data[at : at + 4] = rng.integers(0, 256, 4, dtype=np.uint8).tobytes()
        elif case % 3 == 1:
            del data[at : at + int(rng.integers(1, 400))]
        else:
            del data[at:]
        (tmp_path / "b.mcap").write_bytes(data)
        try:
            assert read_recording(tmp_path / "b.mcap").about["robot"]
        except lw.RequestError as error:
            assert "recording" in str(error)


def test_what_is_no_recording_is_refused(tmp_path: Path, rook: Robot) -> None:
    (tmp_path / "text.mcap").write_text("hello", encoding="ascii")
    (tmp_path / "empty.mcap").write_bytes(b"")
    for name in ("text.mcap", "empty.mcap", "missing.mcap"):
        with pytest.raises(lw.RequestError, match="recording"):
            read_recording(tmp_path / name)
    with pytest.raises(lw.RequestError, match="written"):
        Recorder(tmp_path / "no" / "such.mcap", rook, rate=200.0)
    with (
        Recorder(tmp_path / "b.mcap", rook, rate=200.0) as out,
        pytest.raises(lw.RequestError, match="channel"),
    ):
        out.put("/weather", 0.0, {})


def test_every_channel_is_documented() -> None:
    text = Path("docs/recording.md").read_text(encoding="utf-8")
    for topic, fields in CHANNELS.items():
        assert f"`{topic}`" in text
        for name in fields:
            assert f"`{name}`" in text, (topic, name)
