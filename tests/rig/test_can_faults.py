"""Trouble on the bus while the robot walks over it: nobody falls, and the right word is told."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import legwright as lw
from legwright.locomotion.command import Command, Kind
from legwright.rig.can.drive_faults import Ail, Ailments
from legwright.rig.can.virtual import VirtualCan
from legwright.rig.request import Request, Word
from legwright.rig.runtime import Runtime
from legwright.rig.supervisor import Mode

RATE = 100.0
JOINT = "left_middle_femur"
STAND = Command(kind=Kind.STAND)
WALK = Command(kind=Kind.WALK, velocity=(0.05, 0.0))
LEAN = 12.0
"""Two legs that hold on a cut bus, while four sit down, tilt the body [deg]."""

Trouble = Callable[[Ailments], None]


def on(ail: Ail, amount: float = 0.0) -> Trouble:
    return lambda ailments: ailments.inflict(JOINT, ail, amount)


def bus(number: int, **what: float | bool) -> Trouble:
    return lambda ailments: ailments.trouble(number, **what)


def low(ailments: Ailments) -> None:
    for number in range(3):
        ailments.trouble(number, low=4.5)


CASES: dict[str, tuple[Trouble, set[str], Mode]] = {
    "emergency": (on(Ail.EMERGENCY, 0x3210), {"drive fault"}, Mode.FAULT),
    "dead": (on(Ail.DEAD), {"joint silent"}, Mode.FAULT),
    "mute": (on(Ail.MUTE), {"joint silent"}, Mode.FAULT),
    "frozen": (on(Ail.FROZEN), {"following error"}, Mode.FAULT),
    "blocked": (on(Ail.BLOCKED), {"following error"}, Mode.FAULT),
    "hot": (on(Ail.HOT, 85.0), {"winding hot"}, Mode.FAULT),
    "low voltage": (low, {"voltage critical"}, Mode.FAULT),
    "cut": (bus(1, cut=True), {"bus off", "joint silent"}, Mode.FAULT),
    "babble": (bus(2, babble=True), {"bus off", "joint silent"}, Mode.FAULT),
    "loss": (bus(0, loss=0.02), set(), Mode.WALKING),
    "late": (bus(0, late=0.007), set(), Mode.WALKING),
}
EVERYDAY = ("emergency", "cut")


@pytest.mark.parametrize(
    "name",
    [pytest.param(n, marks=() if n in EVERYDAY else pytest.mark.long) for n in CASES],
)
def test_trouble_on_the_bus_makes_nobody_fall(name: str):
    trouble, faults, mode = CASES[name]
    rig = VirtualCan(lw.load("robots/rook-can"), rate=RATE)
    runtime, now, seen, worst = Runtime(rig), 0.0, set(), 0.0

    def go(seconds: float, *requests: Request) -> Mode:
        nonlocal now, worst
        for _ in range(round(seconds * RATE)):
            report = runtime.cycle(now, requests)
            rig.advance()
            seen.update(fault.value for fault in report.faults)
            requests, now = (), now + 1.0 / RATE
            w, x, y, z = rig.world.truth().body[3:]
            lean = 2.0 * np.arctan2(np.hypot(x, y), np.hypot(w, z))
            worst = max(worst, float(np.degrees(lean)))
        return report.mode

    go(0.1)
    go(0.1, Request(word=Word.POWER))
    go(2.5, Request(word=Word.MOVE, command=STAND))
    assert go(1.5, Request(word=Word.MOVE, command=WALK)) is Mode.WALKING
    assert not seen
    trouble(rig.bench.ailments)
    for _ in range(20):
        ended = go(1.0)
        if ended is Mode.FAULT or (mode is Mode.WALKING and now > 9.0):
            break
    assert faults <= seen and (faults or not seen)
    assert ended is mode
    assert worst < LEAN
    rig.close()
