"""`legwright wiring`: exit codes, table, files, JSON, choosing."""

from __future__ import annotations

import csv
import json
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree

FILES = {
    "wiring.html", "schematic.svg", "harness.svg",
    "wires.csv", "cuts.csv", "pins.csv", "bom.csv", "tests.csv",
}  # fmt: skip


def test_rook_passes_and_everything_is_written(command, robots, tmp_path):
    out, data = tmp_path / "rook", tmp_path / "rook.json"
    done = command("wiring", robots / "rook", "--out", out, "--json", data)
    assert done.code == 0, done.err
    assert "Hottest conductor" in done.out and "Main fuse" in done.out and "lowest V" in done.out
    assert {path.name for path in out.iterdir()} == FILES
    for name in ("schematic.svg", "harness.svg"):
        assert ElementTree.parse(out / name).getroot().tag.endswith("svg")
    wires = list(csv.DictReader(StringIO((out / "wires.csv").read_text("utf-8"), newline="")))
    told = json.loads(data.read_text("utf-8"))
    assert {w["cable"] for w in wires} == {
        item["designation"] for item in told["items"] if item["kind"] == "cable"
    }
    assert told["verdict"] == "pass" and told["choice"] is None and told["cautions"]
    servos = [c for c in told["consumers"] if c["designation"].startswith("-M")]
    assert len(servos) == 20
    assert all(c["lowest_voltage"] > c["least_allowed"] for c in servos)


def test_choosing_says_what_drives_each_part(command, robots, tmp_path):
    data = tmp_path / "chosen.json"
    done = command("wiring", robots / "rook", "--choose", "--json", data)
    assert done.code == 0, done.err
    choice = json.loads(data.read_text("utf-8"))["choice"]
    assert choice["mass"] <= choice["mass_before"] and choice["parts"]
    assert all(part["driver"] for part in choice["parts"])


def test_a_fuse_larger_than_its_wire_fails(command, robots, tmp_path):
    sheet = tmp_path / "robot.toml"
    sheet.write_text(
        f'schema = 1\nextends = "{robots / "rook" / "robot.toml"}"\nname = "odd"\n'
        '[hub.branch.left-front]\nfuse = "80 A"\n'
    )
    done = command("wiring", tmp_path)
    assert done.code == 1 and "FAIL" in done.out


def test_without_a_battery_one_message_and_exit_2(command, tmp_path):
    assert command("new", "plain", "--in", tmp_path).code == 0
    sheet = tmp_path / "plain" / "robot.toml"
    text = sheet.read_text().split("[battery]")[0]
    sheet.write_text(text)
    done = command("wiring", tmp_path / "plain")
    assert done.code == 2
    assert "battery" in done.err and "Traceback" not in done.err


def test_a_folder_that_cannot_be_written_is_told(command, robots, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    done = command("wiring", robots / "wren", "--out", blocked / "deeper")
    assert done.code == 2 and "cannot be written" in done.err


def test_a_bare_urdf_is_told_how_it_gets_a_sheet(command):
    bare = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))[0]
    for name in ("wiring", "shells"):
        done = command(name, bare)
        assert done.code == 2 and done.err.count("\n") == 1, done.err
        assert f"legwright adopt {bare}" in done.err and "missing" in done.err
