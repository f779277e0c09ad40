"""The fault campaign: a few of its runs every day, all of it in the study."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError
from legwright.rig.ailing import Ailing
from legwright.rig.faults import RULES, Fault
from legwright.rig.simulated import Simulated
from legwright.rig.supervisor import Mode
from legwright.study.fault_campaign import Scene, campaign, cases, table

ROOK = Path(__file__).parents[2] / "robots" / "rook"
FEW = [
    (Fault.STOPPED, Mode.WALKING),
    (Fault.COMMAND_STALE, Mode.WALKING),
    (Fault.JOINT_SILENT, Mode.WALKING),
    (Fault.CRITICAL_VOLTAGE, Mode.STANDING),
    (Fault.FALLEN, Mode.SINGLE_LEG),
    (Fault.DRIVE_FAULT, Mode.HOLDING),
]


@pytest.fixture(scope="module")
def rook():
    return lw.load(ROOK)


def test_every_fault_is_in_the_table_and_in_the_campaign():
    assert set(RULES) == set(Fault) == {fault for fault, _ in cases()}
    assert len(cases()) * 6 >= 500, "runs of the study"


def test_a_few_runs_go_by_the_table(rook):
    runs = campaign(rook, runs=1, seed=3, only=FEW)
    assert [(run.fault.value, *run.wrong) for run in runs if run.wrong] == []
    text = table(runs, "rook")
    assert "6 runs on rook" in text and "Against the table" not in text


def test_the_campaign_sees_a_rule_that_is_broken(rook, monkeypatch):
    from legwright.rig import supervisor

    deaf = dict(RULES)
    slow = RULES[Fault.CRITICAL_VOLTAGE]
    deaf[Fault.CRITICAL_VOLTAGE] = type(slow)(
        stop=slow.stop, after=3.0, within=slow.within, recovery=slow.recovery,
        cause=slow.cause, cure=slow.cure,
    )  # fmt: skip
    monkeypatch.setattr(supervisor, "RULES", deaf)
    run = Scene(rook).run(Fault.CRITICAL_VOLTAGE, Mode.STANDING, 1)
    assert any("reaction took" in text for text in run.wrong)


def test_an_ailing_rig_shows_what_it_was_given(rook):
    ailing = Ailing(Simulated(rook, seed=1), buses=tuple(int(j >= 9) for j in range(18)))
    ailing.inflict(Fault.BUS_OFF, "right_rear_tibia")
    sensed = ailing.sense()
    np.testing.assert_array_equal(np.isnan(sensed.q), np.arange(18) >= 9)
    assert ailing.drives().buses == (True, False)
    ailing.heal()
    ailing.inflict(Fault.DRIVE_FAULT, "left_front_femur")
    assert np.flatnonzero(ailing.drives().fault).tolist() == [1]
    with pytest.raises(RequestError, match="a joint"):
        ailing.inflict(Fault.HOT, "left_front_femr")
    with pytest.raises(RequestError, match="a rig can have"):
        ailing.inflict(Fault.STOPPED)


@pytest.mark.long
def test_the_whole_campaign(rook):
    runs = campaign(rook, runs=6, seed=0)
    assert len(runs) >= 500
    assert [run for run in runs if run.wrong] == []
