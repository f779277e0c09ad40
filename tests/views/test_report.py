"""The report stands alone, says the verdict first, and cannot be broken by a name."""

from __future__ import annotations

import re
from datetime import date
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest
import scene

from legwright.study.finding import Finding, Verdict
from legwright.views.frame import zone_of
from legwright.views.ranking import stamp_of
from legwright.views.report import report_html, write_report

VOID = {"meta", "col", "br", "wbr", "link", "img"}


class Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.tags, self.addresses, self.faults = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.addresses += [v for k, v in attrs if k in {"href", "src", "xlink:href", "action"}]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)


@pytest.fixture(scope="module")
def cache(tmp_path_factory):
    return tmp_path_factory.mktemp("fonts")


@pytest.fixture(scope="module")
def page(cache):
    return report_html(
        scene.study(),
        issued=date(2026, 3, 14),
        made_from=("siskin.urdf 8f3a·21c9",),
        font_cache=cache,
    )


def read(page):
    reader = Reader()
    reader.feed(page)
    return reader


def test_tags_are_balanced(page):
    reader = read(page)
    assert not reader.faults and not reader.open


def test_needs_nothing_from_outside(page):
    reader = read(page)
    assert not {"script", "link", "img", "iframe", "object"} & set(reader.tags)
    assert all(address.startswith("#") for address in reader.addresses)
    assert re.findall(r"https?:|//[a-z]|@import", re.sub(r"base64,[^)]*", "", page)) == []
    assert all(u.startswith("data:font/woff2") for u in re.findall(r"url\(([^)]*)\)", page))


def test_verdict_comes_first_then_the_numbers(page):
    words = re.sub(r"<style>.*?</style>|<[^>]*>", " ", page, flags=re.S)
    assert words.index("NOT FIT") < words.index("Femur peak torque") < words.index("Envelope")
    for said in (
        "2026-03-14",
        "8f3a·21c9",
        "SI-CHK-0003",
        "not signed",
        "does not certify",
        "Low Orchard Walkers",
        "local codes",
    ):
        assert said in words


def test_every_finding_is_in_it(page):
    for finding in scene.study().findings:
        assert finding.name in page


def test_the_second_report_finds_its_fonts_ready(page, cache):
    assert len(list(cache.glob("*.woff2"))) == 6
    again = report_html(
        scene.study(),
        issued=date(2026, 3, 14),
        made_from=("siskin.urdf 8f3a·21c9",),
        font_cache=cache,
    )
    assert again == page


def test_a_cache_that_cannot_be_written_is_no_fault(tmp_path, page):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    from legwright.views.fonts import font_face_rules

    assert font_face_rules("abc", cache=blocked).count("@font-face") == 6


def test_a_bare_robot_gets_a_report_too(cache):
    page = report_html(scene.bare_study(), font_cache=cache)
    assert "NOT PROVEN" in page and "No walk was planned" in page
    assert not read(page).faults


HOSTILE = "<script>alert('x')</script> & \"q\""


def test_names_are_escaped(cache):
    body = scene.robot()
    named = SimpleNamespace(
        **{
            k: getattr(body, k)
            for k in (
                "source",
                "tree",
                "body",
                "legs",
                "trunk",
                "held",
                "servos",
                "sheet",
                "mass",
                "joint_names",
                "columns",
                "hips",
            )
        },
        name=HOSTILE,
        notes=(HOSTILE,),
    )
    bad = Finding(
        area=HOSTILE,
        name=HOSTILE,
        verdict=Verdict.FAIL,
        value=2.0,
        limit=1.0,
        unit=HOSTILE,
        why=HOSTILE,
        source=HOSTILE,
        cure=HOSTILE,
    )
    study = SimpleNamespace(
        robot=named,
        findings=(bad,),
        footing=None,
        cases={},
        reach=(),
        circuit=None,
        supplies={},
        envelope=(
            SimpleNamespace(
                name=HOSTILE,
                gait=HOSTILE,
                value=1.0,
                unit=HOSTILE,
                stopped_by=HOSTILE,
                parts=(),
                required=None,
            ),
        ),
    )
    page = report_html(study, made_from=(HOSTILE,), font_cache=cache)
    reader = read(page)
    assert "script" not in reader.tags and not reader.faults


def test_written_where_asked(tmp_path, cache, monkeypatch):
    monkeypatch.setattr("legwright.views.fonts._user_cache", lambda: cache)
    path = write_report(scene.study(), tmp_path / "new" / "folder")
    assert path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(
    ("verdicts", "words"),
    [
        ("pass pass", "FIT TO WALK"),
        ("pass warn", "FIT WITH CARE"),
        ("pass warn unknown", "NOT PROVEN"),
        ("unknown fail", "NOT FIT TO WALK"),
        ("", "NOT PROVEN"),
    ],
)
def test_stamp(verdicts, words):
    made = [Finding(area="a", name="n", verdict=Verdict(v)) for v in verdicts.split()]
    assert stamp_of(made).words == words


def test_zones_count_from_the_middle():
    assert zone_of(106.0, 149.0) == "D3" and zone_of(104.0, 148.0) == "C2"
    assert zone_of(21.0, 11.0) == "A1" and zone_of(199.0, 286.0) == "F4"
