"""`legwright walk` and `legwright replay`: exit codes, table, files, JSON, bad input, Ctrl-C."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
from mcap.writer import Writer

from legwright.rig.replay import read_recording
from legwright.study import walking
from legwright.views import walk_page

SHORT = ("--gait", "tripod", "--speed", "0.05", "--distance", "0.06", "--rate", "100")
PROMISED = {
    "seed", "mode", "finished", "fell", "distance", "path_error", "speed", "hit_rate",
    "false_per_100_steps", "delay_median", "delay_p95", "force_at_detection", "min_margin",
    "energy_per_metre", "hottest", "lowest_voltage",
}  # fmt: skip
TWO_LEGS = """<robot name="heronling"><link name="trunk"><inertial><mass value="1"/>
<inertia ixx="0.01" iyy="0.01" izz="0.01" ixy="0" ixz="0" iyz="0"/></inertial></link>
{legs}</robot>"""


def refused(done, *words):
    assert done.code == 2 and done.out == "", done.out
    lines = done.err.splitlines()
    assert len(lines) == 1 and lines[0].startswith("legwright: "), done.err
    for word in words:
        assert word in lines[0], done.err


def test_a_walk_leaves_everything_and_replay_tells_the_same(command, robots, tmp_path, monkeypatch):
    monkeypatch.setattr(walk_page, "animation", _no_animation)
    out, data = tmp_path / "out", tmp_path / "walk.json"
    done = command(
        "walk", robots / "wren", "--ground", "steps", *SHORT, "--out", out, "--json", data
    )
    assert done.code == 0, done.err
    assert "finished 1 of 1 felt" in done.out and "blind" in done.out
    assert "No animation" in done.out  # a walk never fails for want of a picture
    assert {p.name for p in out.iterdir()} == {"walk.mcap", "walk.html", "strip.png"}
    told = json.loads(data.read_text("utf-8"))
    assert set(told) == {"robot", "gait", "ground", "trials"}
    assert (told["robot"], told["gait"], told["ground"]) == ("wren", "tripod", "steps")
    assert [row["mode"] for row in told["trials"]] == ["felt", "blind"]
    assert all(set(row) >= PROMISED for row in told["trials"])

    again = tmp_path / "again.json"
    done = command("replay", out / "walk.mcap", "--json", again)
    assert done.code == 0, done.err
    back = json.loads(again.read_text("utf-8"))
    assert back["whole"] and back["lost_bytes"] == 0
    walked, replayed = told["trials"][0], back["trials"][0]
    assert list(walked) == list(replayed)
    slack = max(1e-5, 2e-6 / walked["distance"])  # recorded to a micrometre, told over the way
    for key, value in walked.items():
        wanted = pytest.approx(value, rel=1e-4, abs=slack) if isinstance(value, float) else value
        assert replayed[key] == wanted, key


def _no_animation(run, folder):
    raise ImportError("no encoder")


def test_seeds_start_where_asked(command, robots, tmp_path):
    data = tmp_path / "walk.json"
    done = command(
        "walk", robots / "wren", *SHORT, "--trials", 2, "--seed", 5, "--no-blind", "--json", data
    )
    assert done.code == 0, done.err
    assert [row["seed"] for row in json.loads(data.read_text("utf-8"))["trials"]] == [5, 6]
    assert "worst" in done.out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--ground", "stepps"), "'steps'"),
        (("--ground", "README.md"), "height map"),
        (("--ground", "nowhere.csv"), "existing file"),
        (("--height", "-1"), "height"),
        (("--height", "nan"), "height"),
        (("--speed", "0"), "speed"),
        (("--speed", "inf"), "speed"),
        (("--distance", "-2"), "distance"),
        (("--distance", "1e9"), "distance"),
        (("--rate", "0"), "rate"),
        (("--rate", "333"), "whole number of milliseconds"),
        (("--trials", "0"), "trials"),
        (("--trials", "1000000"), "trials"),
        (("--seed", "-1"), "seed"),
        (("--gait", "tripodd"), "tripod"),
        (("--out", "README.md"), "cannot be written"),
        (("--record", "robots"), "it is a folder"),
        (("--json", "robots"), "it is a folder"),
    ],
)
def test_nonsense_is_refused_before_anything_moves(command, robots, words, told):
    refused(command("walk", robots / "rook", *words), told)


def test_broken_height_maps_are_refused(command, robots, tmp_path):
    np.save(tmp_path / "hole.npy", np.array([[0.0, np.nan], [0.0, 0.0]]))
    (tmp_path / "words.csv").write_text("a,b\nc,d\n", encoding="utf-8")
    (tmp_path / "ragged.csv").write_text("0,0\n0\n", encoding="utf-8")
    (tmp_path / "short.pgm").write_bytes(b"P5 100 100 255\n\x00\x01")
    for name in ("hole.npy", "words.csv", "ragged.csv", "short.pgm"):
        refused(command("walk", robots / "rook", "--ground", tmp_path / name), name)


def test_a_robot_with_two_legs_does_not_walk(command, tmp_path):
    legs = "".join(
        f'<link name="{s}{n}"><inertial><mass value="0.1"/><inertia ixx="1e-4" iyy="1e-4" '
        f'izz="1e-4" ixy="0" ixz="0" iyz="0"/></inertial></link><joint name="j{s}{n}" '
        f'type="revolute"><parent link="{"trunk" if n == 1 else s + str(n - 1)}"/>'
        f'<child link="{s}{n}"/><origin xyz="0 {y} -0.1"/><axis xyz="{axis}"/>'
        f'<limit lower="-1" upper="1" effort="5" velocity="5"/></joint>'
        for s, y in (("l", 0.1), ("r", -0.1))
        for n, axis in ((1, "1 0 0"), (2, "0 1 0"), (3, "0 1 0"))
    )
    (tmp_path / "two.urdf").write_text(TWO_LEGS.format(legs=legs), encoding="utf-8")
    refused(command("walk", tmp_path / "two.urdf"), "legs")


def test_what_is_no_recording_is_refused(command, tmp_path, walked):
    (tmp_path / "text.mcap").write_text("hello", encoding="ascii")
    with (tmp_path / "foreign.mcap").open("wb") as stream:
        writer = Writer(stream)
        writer.start()
        schema = writer.register_schema("pose", "jsonschema", b"{}")
        channel = writer.register_channel("/pose", "json", schema)
        writer.add_message(channel, 1, b'{"x": 1}', 1)
        writer.finish()
    refused(command("replay", tmp_path / "missing.mcap"), "existing MCAP file")
    refused(command("replay", tmp_path), "existing MCAP file")
    refused(command("replay", tmp_path / "text.mcap"), "an MCAP file")
    refused(command("replay", tmp_path / "foreign.mcap"), "a walk of this program recorded")
    refused(command("replay", walked[1], "--out", "README.md"), "cannot be written")


def test_a_torn_recording_is_replayed_and_says_what_it_lacks(command, tmp_path, walked):
    data = walked[1].read_bytes()
    (tmp_path / "torn.mcap").write_bytes(data[: int(0.7 * len(data))])
    done = command("replay", tmp_path / "torn.mcap", "--json", tmp_path / "torn.json")
    assert done.code == 0, done.err
    assert "cut off" in done.out and "finished 0 of 1 felt" in done.out
    told = json.loads((tmp_path / "torn.json").read_text("utf-8"))
    assert not told["whole"] and told["lost_bytes"] > 0 and told["trials"][0]["stopped"]
    (tmp_path / "stub.mcap").write_bytes(data[: int(0.15 * len(data))])
    done = command("replay", tmp_path / "stub.mcap")
    assert done.code in (0, 2) and "Traceback" not in done.err


def test_interrupted_trials_tell_what_was_walked(command, robots, monkeypatch, tmp_path):
    """One core: Ctrl-C in the second walk, which ends with its row marked as stopped."""
    real, calls = walking.walk_once, []

    def one(*args, **options):
        calls.append(options)
        row = real(*args, **options)
        return row | {"stopped": True, "finished": False} if len(calls) == 2 else row

    monkeypatch.setattr(walking, "walk_once", one)
    monkeypatch.setattr(walking, "cpu_count", lambda: 1)
    data = tmp_path / "walk.json"
    done = command("walk", robots / "wren", *SHORT, "--trials", 4, "--no-blind", "--json", data)
    assert done.code == 130
    assert "Stopped: 2 of 4 walks" in done.out and "stopped after" in done.out
    assert len(json.loads(data.read_text("utf-8"))["trials"]) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_ctrl_c_leaves_a_readable_recording(robots, tmp_path):
    file = tmp_path / "walk.mcap"
    words = [sys.executable, "-c", "from legwright.cli.main import run; run()", "walk",
             str(robots / "wren"), "--gait", "tripod", "--speed", "0.01", "--distance", "20",
             "--no-blind", "--record", str(file)]  # fmt: skip
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as job:
        for _ in range(1600):  # compiling comes first on a new machine
            time.sleep(0.25)
            if file.exists() and file.stat().st_size > 900_000:
                break
        job.send_signal(signal.SIGINT)
        out, err = job.communicate(timeout=60)
    assert job.returncode == 130, err
    assert "Traceback" not in err and "stopped after" in out
    recording = read_recording(file)
    assert recording.whole
    assert recording.tracks["/event"].fields["what"][-1] == "stopped"


@pytest.mark.skipif(not hasattr(os, "kill"), reason="signals")
def test_a_killed_walk_leaves_all_but_half_a_second(robots, tmp_path):
    file = tmp_path / "walk.mcap"
    words = [sys.executable, "-c", "from legwright.cli.main import run; run()", "walk",
             str(robots / "wren"), "--gait", "tripod", "--speed", "0.01", "--distance", "20",
             "--no-blind", "--record", str(file)]  # fmt: skip
    with subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as job:
        for _ in range(1600):  # compiling comes first on a new machine
            time.sleep(0.25)
            if file.exists() and file.stat().st_size > 900_000:
                break
        job.kill()
    recording = read_recording(file)
    assert not recording.whole
    times = recording.tracks["/truth"].time
    assert times[-1] > 2.0 and np.allclose(np.diff(times), 0.005)
