"""Which verdicts pages are told of, and when: once each, and never one that says nothing new."""

from __future__ import annotations

from pathlib import Path

import pytest

from legwright.mechanics.opening import load
from legwright.views.desk.ledger import Ledger, Subject
from legwright.views.desk.said import Said, Verdict
from legwright.views.desk.verdicts import verdict_without_study
from legwright.views.desk.worker import Job, Judged

ROOK = Path(__file__).parents[2] / "robots" / "rook"

DISK, EDITED = frozenset[str](), frozenset({"dimensions.femur"})


def subject(name: frozenset[str]) -> Subject:
    return Subject(name=name, file=ROOK, robot=load(ROOK))


class Desk:
    """A ledger whose process is us."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.told: list[Verdict] = []
        self.ledger = Ledger(self.say, lambda: 0.0)
        self.jobs: list[Job] = []
        monkeypatch.setattr(self.ledger._judging, "judge", self.jobs.append)

    def say(self, key: str, message: Said, *, keep: bool = True) -> None:
        assert isinstance(message, Verdict)
        self.told.append(message)

    def turn(self, now: frozenset[str], before: frozenset[str] | None, rev: int) -> None:
        under = None if before is None else subject(before)
        self.ledger.turn(subject(now), under, rev=rev, since=0.0, keys=frozenset())

    def judged(self, why: str) -> None:
        verdict = verdict_without_study(why)
        self.ledger._told(Judged(id=self.jobs[-1].id, verdict=verdict))


def test_a_verdict_on_what_was_put_back_is_kept_and_not_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    desk = Desk(monkeypatch)
    desk.turn(DISK, None, rev=1)
    desk.judged("as on disk")
    desk.turn(EDITED, DISK, rev=2)
    desk.turn(DISK, None, rev=3)  # known, so told at once
    assert [each.rev for each in desk.told] == [1, 3]
    desk.judged("edited")  # comes when nobody asks for it any more
    assert len(desk.told) == 2
    desk.turn(EDITED, DISK, rev=4)
    assert [each.rev for each in desk.told] == [1, 3, 4]
    assert "edited" in desk.told[-1].findings[0].why
    assert len(desk.jobs) == 2


def test_a_verdict_on_what_lies_under_the_robot_is_told_beside_its_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    desk = Desk(monkeypatch)
    desk.turn(EDITED, DISK, rev=1)
    desk.judged("edited")
    assert desk.told[-1].was_stamp == ""
    desk.judged("as on disk")
    assert [each.rev for each in desk.told] == [1, 1]
    assert desk.told[-1].was_stamp == desk.told[-1].stamp
    assert "edited" in desk.told[-1].findings[0].why
