"""The supervisor alone: states, requests, faults. The fault campaign runs it on robots."""

from __future__ import annotations

from typing import Any

import pytest

from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Stage
from legwright.rig.faults import RULES, Fault, Recovery, Stop
from legwright.rig.request import Request, Word
from legwright.rig.supervisor import Mode, Signs, Verdict, Watch, supervise

WALK = Command(kind=Kind.WALK, velocity=(0.05, 0.0))


def ask(word: Word, **more: Any) -> Request:
    return Request(word=word, sender="test", number=1, **more)


def step(watch: Watch, now: float, *requests: Request, **more: Any) -> tuple[Watch, Verdict]:
    more.setdefault("stage", Stage.UP)
    return supervise(watch, Signs(now=now, requests=requests, **more))


def walking() -> Watch:
    watch, _ = step(Watch(), 0.0, ask(Word.POWER), stage=Stage.ASLEEP)
    watch, _ = step(watch, 0.1, ask(Word.MOVE, command=WALK, expires=100.0))
    assert watch.mode is Mode.WALKING
    return watch


def test_power_then_stand_then_walk_then_release():
    watch, verdict = step(Watch(), 0.0, ask(Word.MOVE, command=WALK))
    assert watch.mode is Mode.LIMP and not verdict.answers[0].ok and not verdict.power
    watch, verdict = step(watch, 0.1, ask(Word.POWER), stage=Stage.ASLEEP)
    assert (watch.mode, verdict.power, verdict.command) == (Mode.HOLDING, True, None)
    watch, verdict = step(watch, 0.2, ask(Word.MOVE, command=Command(kind=Kind.STAND)))
    assert watch.mode is Mode.STANDING
    watch, verdict = step(watch, 0.3, ask(Word.MOVE, command=WALK))
    assert watch.mode is Mode.WALKING and verdict.command is WALK
    watch, verdict = step(watch, 0.4, ask(Word.RELEASE))
    assert watch.mode is Mode.SITTING_DOWN and verdict.power
    watch, verdict = step(watch, 0.5, stage=Stage.DOWN)
    assert watch.mode is Mode.LIMP and not verdict.power


@pytest.mark.parametrize("fault", [f for f in Fault if f is not Fault.STOPPED])
def test_each_fault_has_the_reaction_of_its_rule(fault: Fault):
    rule = RULES[fault]
    watch, verdict = step(walking(), 1.0, present={fault: "cause"})
    if rule.after > 0.0:
        assert watch.mode is Mode.WALKING, "declared before its time"
        watch, verdict = step(watch, 1.0 + rule.after, present={fault: "cause"})
    said = [notice.word for notice in verdict.notices]
    assert fault.value in said
    kind = verdict.command.kind if verdict.command else None
    expected: dict[Stop, tuple[bool, Kind | None]] = {
        Stop.AT_ONCE: (False, None),
        Stop.SIT: (True, Kind.SIT),
        Stop.STAND: (True, Kind.STAND),
        Stop.TELL: (True, Kind.WALK),
    }
    assert (verdict.power, kind) == expected[rule.stop]


@pytest.mark.parametrize("fault", [f for f in Fault if RULES[f].stop is Stop.SIT])
def test_sitting_down_ends_without_power_and_recovers_as_stated(fault: Fault):
    rule = RULES[fault]
    present = {} if fault is Fault.STOPPED else {fault: "cause"}
    watch = walking()
    requests = [ask(Word.STOP)] if fault is Fault.STOPPED else []
    watch, _ = step(watch, 1.0, *requests, present=present)
    watch, _ = step(watch, 1.0 + rule.after, present=present)
    watch, verdict = step(watch, 9.0, present=present, stage=Stage.DOWN)
    assert watch.mode is Mode.FAULT and not verdict.power
    watch, verdict = step(watch, 9.1, ask(Word.POWER), present=present)
    assert not verdict.answers[0].ok
    if present:
        watch, verdict = step(watch, 9.2, ask(Word.ACKNOWLEDGE), present=present)
        assert not verdict.answers[0].ok, "the cause is still there"
    watch, verdict = step(watch, 9.3, ask(Word.ACKNOWLEDGE))
    assert verdict.answers[0].ok is (rule.recovery is not Recovery.SERVICE)


def test_a_stop_wins_over_a_walk_of_the_same_cycle():
    watch, verdict = step(walking(), 1.0, ask(Word.MOVE, command=WALK), ask(Word.STOP))
    assert watch.mode is Mode.SITTING_DOWN
    assert verdict.command is not None and verdict.command.kind is Kind.SIT


@pytest.mark.parametrize("stop", [Stop.AT_ONCE, Stop.SIT, Stop.STAND])
def test_stop_categories(stop: Stop):
    watch, verdict = step(walking(), 1.0, ask(Word.STOP, stop=stop))
    assert verdict.power is (stop is not Stop.AT_ONCE)
    watch, verdict = step(watch, 1.1, ask(Word.MOVE, command=WALK, expires=9.0))
    assert not verdict.answers[0].ok, "moves without acknowledgement"


def test_a_stronger_stop_follows_a_weaker_one():
    watch, _ = step(walking(), 1.0, ask(Word.STOP, stop=Stop.STAND))
    watch, verdict = step(watch, 1.1, ask(Word.STOP, stop=Stop.AT_ONCE))
    assert watch.mode is Mode.FAULT and not verdict.power


def test_an_unrenewed_walk_comes_to_a_stand_and_may_go_on():
    watch, _ = step(walking(), 1.0, ask(Word.MOVE, command=WALK, expires=1.25))
    watch, verdict = step(watch, 1.2)
    assert watch.mode is Mode.WALKING
    watch, verdict = step(watch, 1.3)
    assert watch.mode is Mode.STANDING
    assert Fault.COMMAND_STALE.value in [notice.word for notice in verdict.notices]
    watch, verdict = step(watch, 1.4, ask(Word.MOVE, command=WALK, expires=1.65))
    assert verdict.answers[0].ok and watch.mode is Mode.WALKING


def test_a_late_command_is_refused():
    _, verdict = step(walking(), 5.0, ask(Word.MOVE, command=WALK, expires=4.9))
    assert not verdict.answers[0].ok and "expiry" in verdict.answers[0].text


def test_power_needs_the_start_checks():
    watch, verdict = step(Watch(), 0.0, ask(Word.POWER), unfit="the zeros are not known.")
    assert watch.mode is Mode.LIMP and verdict.answers[0].text == "the zeros are not known."
