"""`legwright bringup` and `legwright logs` as somebody types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

import legwright as lw
from legwright.cli.main import app
from legwright.errors import LegwrightError
from legwright.rig.bringup.outcome import calibration_from
from legwright.rig.bringup.procedure import STEPS
from legwright.rig.bringup.progress import FILE, Progress, Record, write_progress
from legwright.rig.calibration import read_calibration
from legwright.rig.recorder import Recorder
from legwright.views.certificate import certificate_sheets, verdict

ROOK = Path(__file__).parents[2] / "robots" / "rook"


def invoke(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(app, list(words))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.output


def test_bring_up_goes_on_where_it_stopped(tmp_path: Path):
    for step in ("stand", "nodes"):
        code, said = invoke("bringup", str(ROOK), "--only", step, "--out", str(tmp_path))
        assert code == 0 and "in order" in said
    kept = json.loads((tmp_path / FILE).read_text())
    assert [record["step"] for record in kept["records"]] == ["stand", "nodes"]
    assert f"2 of {len(STEPS)} steps done" in said
    page = (tmp_path / "certificate.html").read_text()
    assert "Find nodes" in page and "not done" in page


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--only", "zeros"), "zero"),
        (("--from", "grond"), "ground"),
        (("--zeros", "guess"), "stops"),
        (("--rig", "cna:x"), "sim"),
    ],
)
def test_nonsense_gets_one_sentence(words, expected, tmp_path: Path):
    with pytest.raises(LegwrightError, match=expected):
        invoke("bringup", str(ROOK), "--out", str(tmp_path), *words)


def test_bring_up_finds_the_nodes_over_canopen(tmp_path: Path):
    words = ("--rig", "can:virtual", "--only", "nodes", "--out", str(tmp_path))
    code, said = invoke("bringup", str(ROOK.parent / "rook-can"), *words)
    assert code == 0 and "in order" in said


def test_a_calibration_is_written_once_zeros_are_known(tmp_path: Path):
    rook = lw.load(ROOK)
    names = rook.joint_names
    progress = Progress(robot="rook")
    for step, values in (
        ("match", {"node": {name: 11 + j for j, name in enumerate(names)}}),
        ("direction", {"direction": dict.fromkeys(names, -1)}),
        ("zero", {"zero": dict.fromkeys(names, 0.25)}),
        ("identify", {"friction": dict.fromkeys(names, 0.2), "threshold": {names[0]: 0.1}}),
    ):
        assert calibration_from(rook, progress) is None or step == "identify"
        record = Record(
            step=step, ok=True, when="2031-01-01T10:00:00+00:00", version="0.1.0",
            summary="done", values=values,
        )  # fmt: skip
        progress = progress.with_record(record)
    write_progress(tmp_path / FILE, progress)
    invoke("bringup", str(ROOK), "--only", "stand", "--out", str(tmp_path))
    found = read_calibration(tmp_path / "calibration.toml", rook)
    assert found == calibration_from(rook, progress)
    assert found.joints[names[3]].node == 14 and found.joints[names[3]].direction == -1
    assert found.joints[names[0]].threshold == 0.1 and found.joints[names[1]].threshold is None


def test_a_certificate_says_what_is_missing_and_what_is_wrong():
    rook = lw.load(ROOK)
    record = Record(
        step="match", ok=False, when="2026-01-01T10:00:00+00:00", version="0.1.0",
        summary="17 joints have their nodes.", wrong=("No node turns left_rear_femur.",),
        values={"node": {"left_front_coxa": 12}},
    )  # fmt: skip
    progress = Progress(robot="rook").with_record(record)
    assert verdict(progress) == "1 of 1 steps with faults"
    steps, joints = certificate_sheets(rook, progress)
    assert "No node turns" in steps.drawing.svg
    assert "left_rear_tibia" in joints.drawing.svg


def test_logs_are_listed_repaired_cut_and_exported(tmp_path: Path):
    rook = lw.load(ROOK)
    path = tmp_path / "run.mcap"
    with Recorder(path, rook, rate=100.0) as recorder:
        for k in range(100):
            recorder.put("/targets", 0.01 * k, {"q": [0.0] * 18, "qd": [0.1 * k] * 18})
    torn = tmp_path / "torn.mcap"
    torn.write_bytes(path.read_bytes()[:-400])
    code, said = invoke("logs", "list", str(tmp_path))
    assert code == 0 and "2 recordings" in said and "cut off" in said
    code, said = invoke("logs", "repair", str(torn), "--out", str(tmp_path / "whole.mcap"))
    assert code == 0 and "messages saved" in said
    code, said = invoke(
        "logs", "cut", str(path), "--from", "0.2", "--to", "0.4", "--out", str(tmp_path / "c.mcap")
    )
    assert code == 0 and "22 messages" in said
    code, said = invoke("logs", "export", str(path), "--out", str(tmp_path / "csv"))
    assert code == 0 and (tmp_path / "csv" / "targets.csv").exists()
    with pytest.raises(LegwrightError, match="existing MCAP file"):
        invoke("logs", "export", str(tmp_path / "no.mcap"), "--out", str(tmp_path))
