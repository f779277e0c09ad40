"""The verdict as pages see it: order, numbers, what was before, and what is still of before."""

from __future__ import annotations

import pickle
from collections import deque
from pathlib import Path
from typing import Any

import pytest

import legwright as lw
from legwright.mechanics.opening import edited
from legwright.study.check import study
from legwright.study.evidence import Study
from legwright.study.judge import overall
from legwright.views.desk import worker
from legwright.views.desk.verdicts import against, filled, verdict_of, verdict_without_study
from legwright.views.desk.worker import QUICK, Job, Judged, judged
from legwright.views.ranking import stamp_of

AREAS = ("reach", "balance", "ground")


@pytest.fixture
def found(small: Path) -> Study:
    return study(lw.load(small), only=AREAS)


def test_a_verdict_says_what_the_study_says_worst_first(found: Study) -> None:
    verdict = verdict_of(found, keys={"requirements.stability_margin"})
    assert verdict.overall == overall(found.findings).value
    assert verdict.stamp == stamp_of(found.findings).words
    assert sum(verdict.counts.values()) == len(found.findings) == len(verdict.findings)
    order = ["fail", "warn", "unknown", "pass"]
    places = [order.index(one.verdict) for one in verdict.findings]
    assert places == sorted(places)
    numbers = [one.number for one in verdict.findings if one.verdict != "pass"]
    assert numbers == list(range(1, len(numbers) + 1))
    assert len({one.id for one in verdict.findings}) == len(verdict.findings)
    listed = [id for area in verdict.areas for id in area.findings]
    assert sorted(listed) == sorted(one.id for one in verdict.findings)
    margin = next(one for one in verdict.findings if "stability margin" in one.name)
    assert margin.key == "requirements.stability_margin"
    assert margin.case in found.cases
    assert margin.phase is not None
    case = found.cases[margin.case]
    row = round(margin.phase * len(case.motion.t)) % len(case.motion.t)
    assert case.loads.margin[row] * 1e3 == pytest.approx(margin.value, abs=0.3)


def test_before_stands_beside_after(small: Path, found: Study) -> None:
    before = verdict_of(found)
    wide = edited(small, {"requirements.stability_margin": "200 mm"})
    after = against(verdict_of(study(wide, only=AREAS)), before, rev=7, took=0.2)
    assert (after.rev, after.was_stamp) == (7, before.stamp)
    assert after.stamp == "NOT FIT TO WALK"
    failing = [one for one in after.findings if one.verdict == "fail"]
    assert failing
    assert all(one.was_verdict in ("pass", "warn") for one in failing)
    same = against(before, before, rev=1, took=0.0)
    assert all(one.was == "" for one in same.findings)


def test_what_is_not_new_yet_is_marked(small: Path, found: Study) -> None:
    before = verdict_of(found)
    parts: list[Study] = []
    whole = study(
        edited(small, {"requirements.stability_margin": "200 mm"}), only=AREAS, partly=parts.append
    )
    assert [len(part.findings) for part in parts] == sorted(len(part.findings) for part in parts)
    assert parts[-1].findings == whole.findings
    first = filled(verdict_of(parts[0], whole=False), before)
    assert not first.whole
    fresh = {f"{one.area}: {one.name}" for one in parts[0].findings}
    assert {one.id for one in first.findings if not one.stale} == fresh
    assert {one.id for one in first.findings} == {one.id for one in before.findings} | fresh
    assert filled(verdict_of(parts[0], whole=False), None).findings


def test_a_robot_that_cannot_stand_is_not_fit_and_says_why(small: Path) -> None:
    robot = edited(small, {"stance.body_height": "400 mm"})
    job = Job(id=1, file=small, robot=robot)
    verdict = judged(job, lambda *_: None)
    assert verdict.stamp == "NOT FIT TO WALK"
    assert verdict.whole
    assert "reaches the ground" in verdict.findings[0].why
    assert verdict_without_study("x").findings[0].cure


def test_a_verdict_comes_over_the_line_as_it_was_sent(found: Study) -> None:
    sent = Judged(id=3, verdict=verdict_of(found))
    assert pickle.loads(pickle.dumps(sent)) == sent


class Line:
    """The desk's end of the line, and nobody there."""

    def __init__(self) -> None:
        self.sent: list[Any] = []

    def poll(self) -> bool:
        return False

    def send(self, said: Any) -> None:
        self.sent.append(said)


@pytest.mark.parametrize(("took", "parts"), [(0.5 * QUICK, 0), (2.0 * QUICK, 1), (None, 1)])
def test_only_a_verdict_that_takes_a_while_is_told_in_parts(
    small: Path, found: Study, monkeypatch: pytest.MonkeyPatch, took: float | None, parts: int
) -> None:
    def study(*_: Any, partly: Any, **__: Any) -> Study:
        if partly is not None:
            partly(found)
        return found

    monkeypatch.setattr("legwright.study.check.study", study)
    monkeypatch.setattr(worker, "_took", deque([] if took is None else [took, 0.1 * QUICK]))
    monkeypatch.setattr(worker, "_studied", {})
    line: Any = Line()
    assert worker._judged(Job(id=1, file=small, robot=lw.load(small)), line).whole
    assert len(line.sent) == parts
