"""Steady walks and what foretells them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError
from legwright.robot.robot import Robot
from legwright.study.followed import at_share, followed
from legwright.study.foretold import (
    READINGS,
    SAMPLES,
    Foretold,
    alike,
    foretell,
    planned_walk,
    restless,
)
from legwright.study.steady import Steady, steady
from legwright.study.steady_rows import (
    compare,
    likeness_table,
    power_table,
    steady_walks,
    summary_table,
    way_table,
)

ROBOTS = Path(__file__).parents[2] / "robots"


@pytest.fixture(scope="module")
def done(rook: Robot) -> Steady:
    return steady(rook, lw.gait("tripod", legs=6), speed=0.1, felt=False, cycles=2)


def test_odometry_agrees_with_the_world(done: Steady) -> None:
    """Target: 5 % on flat ground."""
    assert done.reckoned[0] == pytest.approx(done.walked[0], rel=0.05)
    assert done.walked[0] == pytest.approx(0.1, rel=0.05)
    assert abs(done.walked[1]) < 0.01


def test_feet_carry_the_weight_on_average(rook: Robot, done: Steady) -> None:
    """Law: over whole cycles the ground's mean upward force is the weight."""
    mean = done.force[:, :, 2].sum(axis=1).mean()
    assert mean == pytest.approx(9.81 * rook.mass, rel=0.01)


def test_power_is_accounted_for(done: Steady) -> None:
    """Law: servos take their idle draw, the windings' heat and the shafts' work, and no less."""
    assert done.servo_power.mean() > done.copper + done.shaft
    assert done.power > done.servo_power.mean()


def test_battery_draw_is_foretold(rook: Robot, done: Steady) -> None:
    """Target: 10 %."""
    told = foretell(rook, done)
    for reading in READINGS:
        assert told.power[reading] == pytest.approx(done.power, rel=0.10)
    strained, plain = (abs(told.power[r] - done.power) for r in ("strained plan", "plan"))
    assert strained < plain
    walk = planned_walk(done)
    assert walk.cycle == pytest.approx(done.cycle)
    assert walk.velocity[0] == done.reckoned[0]


def test_plans_are_compared_in_phase(done: Steady) -> None:
    """A made-up torque that the walk repeats exactly, phase by phase, differs by nothing."""
    share = np.arange(SAMPLES) / SAMPLES
    planned = np.sin(2.0 * np.pi * share)[:, None] * np.ones(18)
    spots = np.concatenate([np.arange(n) / n for n in np.diff(done.starts)])
    shown = np.sin(2.0 * np.pi * (spots + done.gait.duty + done.phase))[:, None] * np.ones(18)
    lift = done.gait.duty + done.phase
    same = alike(planned, shown, done, lift)
    assert same.apart.max() < 1e-3
    assert same.ratio == pytest.approx(1.0, abs=1e-3)
    opposite = alike(planned, -shown, done, lift)
    assert opposite.apart == pytest.approx(2.0 * opposite.simulated, rel=1e-3)
    assert restless(shown, done).max() < 1e-3
    second = np.repeat([1.0, -1.0], np.diff(done.starts))[:, None] * np.ones(18)
    assert restless(second, done) == pytest.approx(2.0, rel=0.05)


def test_no_cycles_is_no_request(rook: Robot) -> None:
    with pytest.raises(RequestError, match="cycles"):
        steady(rook, lw.gait("tripod", legs=6), speed=0.1, felt=False, cycles=0)


def test_rows_follow_the_sheets() -> None:
    walks = list(steady_walks(ROBOTS))
    assert ("rook", "wave", "turning") in walks
    assert len(walks) == len(set(walks))


def test_tables_say_what_was_compared(done: Steady, rook: Robot) -> None:
    from legwright.study import steady_rows

    told = foretell(rook, done)
    answer = {"way": "forward", **steady_rows._walk(done), **steady_rows._told(told, done)}
    line = [{"name": "rook, tripod", "mode": "blind", "answer": answer}]
    off = 100.0 * (told.power["plan"] / done.power - 1.0)
    assert f"{off:+.1f} %" in power_table(line)
    assert "100.0 mm/s" in way_table(line)
    within = int((np.abs(told.torque["plan"].ratio - 1.0) <= 0.15).sum())
    assert f"| plan | {_means(told)} | {within} of 18" in likeness_table(line, "torque")
    exact = replace(told.torque["plan"], planned=told.torque["plan"].simulated)
    answer |= steady_rows._told(replace(told, torque={**told.torque, "plan": exact}), done)
    answer["robot"] = "rook"
    assert "| plan | 1.00 (1.00–1.00) |" in likeness_table(line, "torque")
    assert "| rook | blind | plan | 1.00 | 1.00 | 1.00 | 100 % |" in summary_table(line)


def _means(told: Foretold) -> str:
    parts = told.torque["plan"].ratio.reshape(6, 3).T
    return " | ".join(f"{c.mean():.2f} ({c.min():.2f}–{c.max():.2f})" for c in parts)


STRAINED = ("strained plan", "strained targets")


@pytest.mark.parametrize("reading", STRAINED)
def test_strain_foretells_what_least_forces_do_not(rook: Robot, done: Steady, reading: str) -> None:
    """Referee: the physics world. Heat nearer than least forces come; torques sample by sample
    at least 30 % nearer."""
    told = foretell(rook, done)
    miss, plain = told.copper[reading] - done.copper, told.copper["plan"] - done.copper
    assert abs(miss) < 0.7 * abs(plain)
    assert told.torque[reading].apart.mean() < 0.7 * told.torque["plan"].apart.mean()


@pytest.mark.parametrize("reading", STRAINED)
def test_strain_foretells_the_heat(rook: Robot, done: Steady, reading: str) -> None:
    """Referee: the physics world; within 25 %."""
    assert foretell(rook, done).copper[reading] == pytest.approx(done.copper, rel=0.25)


def test_targets_as_a_motion(rook: Robot, done: Steady) -> None:
    """Blind on flat ground a controller's targets are the plan, shifted to the lift-off."""
    from legwright.locomotion.plan import plan

    asked = followed(rook, done, SAMPLES)
    motion = plan(rook, planned_walk(done), samples=SAMPLES)
    share = (np.arange(SAMPLES) / SAMPLES + done.gait.duty + done.phase) % 1.0
    there = at_share(motion.q, share)
    stands = asked.contact & at_share(motion.contact.astype(float), share).astype(bool)
    for index, span in enumerate(rook.columns.values()):
        both = stands[:, index]
        assert np.abs(asked.q[both, span] - there[both, span]).max() < 0.03
    assert np.allclose(asked.body[:, 2], motion.body[0, 2], atol=2e-3)


@pytest.mark.long
@pytest.mark.parametrize("mode", ["felt", "blind"])
@pytest.mark.parametrize("walk", list(steady_walks(ROBOTS)), ids=" ".join)
def test_way_of_every_walk(walk: tuple[str, str, str], mode: str) -> None:
    """Target: odometry and turning within 5 %; see docs/studies.md."""
    got = compare(ROBOTS, *walk, mode)
    turning = int(walk[2] == "turning")
    off = got["reckoned"][turning] / got["walked"][turning] - 1.0
    assert abs(off) < 0.05
