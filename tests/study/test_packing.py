"""The build book: sums by hand, counts against the robot, checksums, a copy that loads."""

from __future__ import annotations

import csv
import hashlib
import json
from pathlib import Path

import pytest

import legwright as lw
from legwright.errors import RobotError
from legwright.study.packing import Pack, pack_of
from legwright.views.pack_files import write_pack

ROBOTS = Path(__file__).parents[2] / "robots"


@pytest.fixture(scope="module")
def rook() -> Pack:
    return pack_of(lw.load(ROBOTS / "rook"))


@pytest.fixture(scope="module")
def book(rook: Pack, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("book") / "rook"
    write_pack(rook, folder)
    return folder


def test_screws_are_counted_as_the_mounts_say(rook: Pack) -> None:
    """Case screws: four on each of 18 leg servos, two on each of two mast servos; horns alike."""
    robot = rook.robot
    mounts = [servo.mount for servo in robot.servos.values() if servo and servo.mount]
    holes = sum(len(mount.holes) for mount in mounts)
    horns = sum(mount.horn_holes for mount in mounts)
    assert holes == 18 * 4 + 2 * 2
    cases = sum(one.count for one in rook.fastenings if one.where.startswith("case"))
    turned = sum(one.count for one in rook.fastenings if one.where.startswith("horn"))
    assert (cases, turned) == (holes, horns)
    screws = sum(p.line.quantity for p in rook.bill if p.line.part == "cap screw")
    assert screws == sum(one.count for one in rook.fastenings)


def test_the_bill_weighs_what_its_lines_weigh(rook: Pack) -> None:
    """The sum, and that it is near the mass of the description, which counts cargo besides."""
    total = sum(priced.line.mass or 0.0 for priced in rook.bill)
    assert rook.listed_mass == pytest.approx(total)
    assert rook.listed_mass == pytest.approx(rook.robot.mass, rel=0.1)


def test_prices_are_summed(tmp_path: Path) -> None:
    """Two stated prices: 18 servos at 24.50 and a battery at 40."""
    (tmp_path / "robot.toml").write_text(
        f'extends = "{(ROBOTS / "rook" / "robot.toml").as_posix()}"\n'
        '[cost]\ncurrency = "EUR"\n[cost.each]\n"servo.dunnock" = 24.5\nbattery = 40.0\n'
    )
    pack = pack_of(lw.load(tmp_path))
    cost, unpriced = pack.cost
    assert cost == pytest.approx(18 * 24.5 + 40.0)
    assert unpriced == len(pack.bill) - 2


def test_checksums_hold(book: Path) -> None:
    """Every file of the folder is listed, with its SHA-256."""
    rows = dict(
        reversed(line.split("  ", 1)) for line in (book / "SHA256SUMS").read_text().splitlines()
    )
    files = {
        str(file.relative_to(book))
        for file in book.rglob("*")
        if file.is_file() and file.name != "SHA256SUMS"
    }
    assert set(rows) == files
    for name, digest in rows.items():
        assert hashlib.sha256((book / name).read_bytes()).hexdigest() == digest


def test_the_robot_in_the_book_is_the_robot(book: Path, rook: Pack) -> None:
    """The copied folder stands alone and says the same."""
    copy = lw.load(book / "robot")
    assert copy.sheet == rook.robot.sheet
    assert copy.mass == pytest.approx(rook.robot.mass, abs=1e-12)


def test_a_variant_is_copied_whole(tmp_path: Path) -> None:
    """What `extends` brings in is written out."""
    robot = lw.load(ROBOTS / "rook-can")
    pack = pack_of(robot)
    write_pack(pack, tmp_path / "book")
    copy = lw.load(tmp_path / "book" / "robot")
    assert "extends" not in (tmp_path / "book" / "robot" / "robot.toml").read_text()
    assert copy.mass == pytest.approx(robot.mass, abs=1e-12)


def test_lists_say_what_the_data_say(book: Path) -> None:
    """CSV and JSON agree; the page needs nothing from elsewhere and holds every step."""
    data = json.loads((book / "build-book.json").read_text())
    rows = list(csv.DictReader((book / "bom.csv").read_text("utf-8").splitlines()))
    assert [row["part"] for row in rows] == [line["part"] for line in data["bill"]]
    assert {"cost_each", "cost", "supplier"} <= set(rows[0])
    page = (book / "build-book.html").read_text()
    assert "http" not in page.replace("http://www.w3.org", "")
    for step in data["assembly"]:
        assert step["words"].split(",")[0][:20] in page


def test_a_folder_with_something_else_is_left_alone(rook: Pack, tmp_path: Path) -> None:
    """One sentence, nothing written."""
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(RobotError, match="no build book"):
        write_pack(rook, tmp_path)
    assert [file.name for file in tmp_path.iterdir()] == ["letter.txt"]


def test_labels_do_not_collide(rook: Pack) -> None:
    """No two texts of a sheet of the book overlap."""
    from legwright.views.pack_files import CONTENTS
    from legwright.views.pack_sheets import pack_sheets

    for sheet in pack_sheets(rook, CONTENTS):
        labels = [label for label in sheet.drawing.labels if label.text]
        for number, one in enumerate(labels):
            for other in labels[number + 1 :]:
                assert not one.meets(other, gap=-0.3), (sheet.name, one.text, other.text)


def test_a_bare_urdf_gets_what_can_be_known(tmp_path: Path) -> None:
    """No lists of wiring, links as pieces, and it says so."""
    pack = pack_of(lw.load(sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))[0]))
    assert pack.wiring is None
    assert any("electrical" in note for note in pack.notes)
    write_pack(pack, tmp_path / "book")
    assert (tmp_path / "book" / "build-book.html").is_file()


def test_the_printed_foot_is_in_the_lists(rook: Pack, book: Path) -> None:
    """Referees: the pad's closed form, the machine's figures by hand, aluminium's density."""
    part = rook.making.parts.foot.part
    assert part is not None
    job = next(job for job in rook.prints if job.name == "foot-pad")
    process = rook.robot.sheet.process["resin"]
    assert (job.count, job.process, job.fits) == (len(rook.robot.legs), "resin", True)
    assert job.mass == pytest.approx(part.pad_volume * 1100.0, rel=2e-3)
    assert job.support is not None and job.size is not None
    laid = (job.mass + job.support) / process.density
    layers = job.size[2] / process.layer
    assert job.time == pytest.approx(laid / process.flow + layers * process.layer_time)
    assert (book / job.file).is_file()
    lines = {priced.line.part: priced.line for priced in rook.bill}
    assert lines["foot-pad"].quantity == lines["foot-boss"].quantity == 6
    assert lines["foot-pad"].mass == pytest.approx(6 * job.mass)
    assert lines["foot-boss"].mass == pytest.approx(6 * part.boss_volume * 2700.0)
    assert not any(priced.line.part == "foot" for priced in rook.bill)
    rows = list(csv.DictReader((book / "prints.csv").read_text("utf-8").splitlines()))
    assert [row["count"] for row in rows if row["part"] == "foot-pad"] == ["6"]


def test_a_cast_foot_is_named_and_stays_one_line(tmp_path: Path) -> None:
    """Without a process the pad is listed with what is missing, and the bill has the foot whole."""
    pack = pack_of(lw.load(ROBOTS / "wren"))
    job = next(job for job in pack.prints if job.name == "foot-pad")
    assert job.mass is None and "foot.process" in job.missing
    feet = [priced.line for priced in pack.bill if priced.line.part == "foot"]
    assert [line.quantity for line in feet] == [6]
    assert not any(priced.line.part.startswith("foot-") for priced in pack.bill)


def test_a_process_that_is_not_described_is_named(tmp_path: Path) -> None:
    """File, key, value, cure."""
    (tmp_path / "robot.toml").write_text(
        f'extends = "{(ROBOTS / "rook" / "robot.toml").as_posix()}"\n[foot]\nprocess = "resn"\n'
    )
    with pytest.raises(RobotError, match=r'foot\.process.*"resn".*\'resin\''):
        lw.load(tmp_path)
