"""The recorder that is always on: bounded, whole after a kill, and what may be done with files."""

from __future__ import annotations

import csv
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.logbook import FILE_TIME, FREE, HANDED_OVER, Logbook
from legwright.rig.logs import cut, entries, export, repair, table
from legwright.rig.port import Drives
from legwright.rig.replay import read_recording
from legwright.rig.runtime import Report
from legwright.rig.supervisor import Mode, Notice

ROOK = Path(__file__).parents[2] / "robots" / "rook"


@pytest.fixture(scope="module")
def rook():
    return lw.load(ROOK)


def report(k: int, **more: Any) -> Report:
    J, L = 18, 6
    rng = np.random.default_rng(k)
    return Report(
        time=100.0 + 0.01 * k,
        mode=Mode.WALKING,
        sensed=Sensed(
            q=rng.normal(size=J), qd=rng.normal(size=J), current=np.full(J, 0.1), voltage=11.0,
            up=np.array([0.0, 0.0, 1.0]), spin=np.array([0.0, 0.0, 0.01 * k]),
        ),
        drives=Drives(
            powered=np.ones(J, dtype=bool), fault=np.zeros(J, np.int64), winding=np.full(J, 300.0)
        ),
        targets=Targets(q=np.full(J, np.nan), qd=np.zeros(J)),
        faults=(),
        contact=np.ones(L, dtype=bool),
        force=np.full(L, 5.0),
        margin=0.03,
        place=np.zeros(3),
        **more,
    )  # fmt: skip


def test_everything_told_is_in_the_file(rook, tmp_path: Path):
    book = Logbook(tmp_path, rook, rate=100.0)
    for k in range(300):
        notices = (Notice(word="tilt", text="It leans."),) if k == 50 else ()
        book.report(report(k, notices=notices))
    book.notice(101.0, "signed in", "Somebody watches.")
    book.close()
    (only,) = entries(tmp_path)
    assert only.whole and only.robot == "rook" and only.seconds == pytest.approx(2.99)
    assert only.began is not None and abs(only.began - time.time()) < 600.0
    run = read_recording(only.path)
    np.testing.assert_allclose(run.tracks["/sensed"].fields["q"][7], report(7).sensed.q, atol=1e-6)
    np.testing.assert_allclose(run.tracks["/sensed"].fields["spin"][7], (0.0, 0.0, 0.07), atol=1e-6)
    assert run.tracks["/notice"].fields["word"] == ["tilt", "signed in"]
    assert 0.5 in np.round(run.tracks["/notice"].time, 6)


def test_files_and_folder_are_bounded(rook, tmp_path: Path):
    book = Logbook(tmp_path, rook, rate=100.0, file_size=60_000, folder_size=200_000)
    sizes = []
    for k in range(3000):
        book.report(report(k))
        if k % 100 == 0:
            sizes.append(sum(path.stat().st_size for path in tmp_path.iterdir()))
    book.close()
    assert max(sizes) < 1.4 * 200_000
    kept = entries(tmp_path)
    assert 2 <= len(kept) <= 4
    assert all(entry.whole for entry in kept), "the newest are kept, each one whole"


def test_a_file_ends_after_its_time(rook, tmp_path: Path):
    book = Logbook(tmp_path, rook, rate=100.0)
    for k in range(0, 40_000, 100):
        book.report(report(k))
    book.close()
    kept = entries(tmp_path)
    assert len(kept) == 3 and all(entry.whole for entry in kept)
    assert max(entry.seconds for entry in kept) < FILE_TIME + 2.0


def test_a_full_disk_is_told_and_recording_goes_on_when_there_is_room(rook, tmp_path: Path):
    room = [FREE - 1]
    book = Logbook(tmp_path, rook, rate=100.0, free=lambda folder: room[0])
    for k in range(10):
        book.report(report(k))
    assert book.full and not list(tmp_path.iterdir())
    room[0] = 2 * FREE
    for k in range(300, 320):
        book.report(report(k))
    assert not book.full
    book.close()
    assert len(entries(tmp_path)) == 1


def test_a_disk_that_fails_in_mid_file_never_raises(rook, tmp_path: Path):
    book = Logbook(tmp_path, rook, rate=100.0)
    book.report(report(0))
    recorder = book._recorder
    assert recorder is not None
    recorder._file._raw.close()  # every further write fails
    recorder._file.write = _fails  # type: ignore[method-assign]
    for k in range(1, 60):
        book.report(report(k))
    assert book.full


def _fails(data: bytes) -> int:
    raise OSError(28, "No space left on device")


KILLED = """
import sys, time
sys.path.insert(0, {here!r})
import legwright as lw
from dataclasses import replace
from test_logbook import report
from legwright.rig.logbook import Logbook
rook = lw.load({rook!r})
book = Logbook({folder!r}, rook, rate=100.0)
start, k = time.monotonic(), 0
print("ready", flush=True)
while True:
    now = time.monotonic()
    book.report(replace(report(k), time=now))
    k += 1
    print(now, flush=True)
    time.sleep(0.01)
"""


def test_a_killed_recorder_loses_less_than_a_fifth_of_a_second(rook, tmp_path: Path):
    code = KILLED.format(here=str(Path(__file__).parent), rook=str(ROOK), folder=str(tmp_path))
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline().strip() == "ready"
        times = [float(child.stdout.readline()) for _ in range(150)]
        child.kill()
        times += [float(line) for line in child.stdout if line.endswith("\n")]
    (only,) = entries(tmp_path)
    assert not only.whole
    lost = (times[-1] - times[0]) - only.seconds
    assert lost < 0.2, f"{lost:.3f} s"
    whole = tmp_path / "whole.mcap"
    saved, _ = repair(only.path, whole)
    run = read_recording(whole)
    assert run.whole and saved > 300
    assert run.ends == pytest.approx(only.seconds)
    assert HANDED_OVER < 0.2


def test_cutting_keeps_what_lies_between(rook, tmp_path: Path):
    book = Logbook(tmp_path, rook, rate=100.0)
    for k in range(300):
        book.report(report(k))
    book.close()
    path = next(iter(tmp_path.iterdir()))
    target = tmp_path / "part.mcap"
    cut(path, target, 1.0, 1.5)
    run = read_recording(target)
    times = run.tracks["/sensed"].time
    assert times[0] == pytest.approx(1.0, abs=0.011) and times[-1] == pytest.approx(1.5, abs=0.011)
    with pytest.raises(RequestError, match="later end"):
        cut(path, target, 2.0, 1.0)
    with pytest.raises(RequestError, match="before the end"):
        cut(path, target, 50.0, 60.0)
    with pytest.raises(RequestError, match="another file"):
        cut(path, path, 0.0, 1.0)


@pytest.mark.parametrize("form", ["csv", "numpy", "parquet"])
def test_exports_hold_the_same_numbers(rook, tmp_path: Path, form: str):
    book = Logbook(tmp_path / "logs", rook, rate=100.0)
    for k in range(40):
        book.report(report(k))
    book.close()
    run = read_recording(next((tmp_path / "logs").iterdir()))
    names, numbers = table(run, "/sensed")
    assert names[:2] == ["time", "q left_front_coxa"]
    made = {path.stem: path for path in export(run, tmp_path / "out", form)}
    path = made["sensed"]
    if form == "csv":
        rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
        assert rows[0] == names
        read = np.array([[float(x) if x else np.nan for x in row] for row in rows[1:]])
    elif form == "numpy":
        read = np.load(path)["numbers"]
    else:
        pq = pytest.importorskip("pyarrow.parquet")
        got = pq.read_table(path)
        assert got.column_names == names
        read = np.stack([got[name].to_numpy() for name in names], axis=1)
    np.testing.assert_allclose(read, numbers, rtol=1e-8)
    assert made["events"].exists()
    with pytest.raises(RequestError, match="csv, numpy or parquet"):
        export(run, tmp_path / "out", "cvs")


def test_foreign_files_are_listed_with_their_problem(tmp_path: Path):
    (tmp_path / "a.mcap").write_bytes(b"nothing")
    (only,) = entries(tmp_path)
    assert only.problem and only.robot == ""
    with pytest.raises(RequestError, match="existing folder"):
        entries(tmp_path / "none")


def test_reports_of_other_times_make_other_files(rook, tmp_path: Path):
    book = Logbook(tmp_path, rook, rate=100.0, wall=lambda: 1.7e9)
    for _ in range(3):
        book.report(replace(report(0)))
        book.close()
    assert len(entries(tmp_path)) == 3
