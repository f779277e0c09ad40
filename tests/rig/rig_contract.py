"""What every rig must keep to; `test_rigs.py` holds each rig against it.

A plug-in's tests can do the same: give `Given` and call every function of `CONTRACT`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from legwright.errors import RigError
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.port import Rig

PATIENCE = 2.0
"""Within this time drives come on, and joints settle [s]."""
STILL = np.radians(1.5)
"""A joint that holds or lies moves less [rad]."""
STEP = 0.12
"""A target so far away counts as reached when half the way is gone [rad]."""


@dataclass(frozen=True, kw_only=True)
class Given:
    """A rig to be tested, freshly opened, and what can be done to it."""

    rig: Rig
    silence: Callable[[str], None] | None = None
    """Makes a joint's drive fail; None where that cannot be done."""
    moves: bool = True
    """False for a rig that can only be read."""


def pass_time(rig: Rig, seconds: float) -> Sensed:
    """Run so long; the last readings."""
    sensed = rig.sense()
    for _ in range(round(seconds * rig.rate)):
        rig.drives()
        rig.advance()
        sensed = rig.sense()
    return sensed


def switch_on(rig: Rig) -> Sensed:
    """Power on, and wait until all joints hold."""
    rig.power(True)
    for _ in range(round(PATIENCE * rig.rate)):
        sensed = rig.sense()
        if rig.drives().powered.all():
            return sensed
        rig.advance()
    raise AssertionError(f"not powered after {PATIENCE} s")


def to(rig: Rig, q: np.ndarray) -> Targets:
    return Targets(q=q, qd=np.zeros(len(rig.robot.joint_names)))


def away(rig: Rig, sensed: Sensed, joint: int = 1) -> np.ndarray:
    """Targets that keep all joints but one."""
    q = np.full(len(rig.robot.joint_names), np.nan)
    q[joint] = sensed.q[joint] + STEP
    return q


def readings_have_the_shape_of_the_robot(given: Given) -> None:
    rig = given.rig
    J = len(rig.robot.joint_names)
    sensed, drives = rig.sense(), rig.drives()
    assert sensed.q.shape == sensed.qd.shape == sensed.current.shape == (J,)
    assert np.isfinite(sensed.q).all() and np.isfinite(sensed.current).all()
    assert sensed.up is None or abs(np.linalg.norm(sensed.up) - 1.0) < 1e-3
    assert sensed.spin is None or (sensed.spin.shape == (3,) and np.isfinite(sensed.spin).all())
    assert drives.powered.shape == drives.fault.shape == drives.winding.shape == (J,)
    assert drives.powered.dtype == np.bool_ and drives.fault.dtype == np.int64
    assert len(rig.buses) == J and max(rig.buses) < len(drives.buses)
    assert all(drives.buses) and rig.rate > 0.0 and isinstance(rig.real, bool)
    assert isinstance(rig.calibrated, bool) and all(isinstance(note, str) for note in rig.notes)


def limp_joints_ignore_targets(given: Given) -> None:
    rig = given.rig
    before = pass_time(rig, 0.3)
    assert not rig.drives().powered.any()
    rig.apply(to(rig, away(rig, before)))
    after = pass_time(rig, 0.5)
    if given.moves:
        assert np.abs(after.q - before.q).max() < STILL
    assert not rig.drives().powered.any()


def power_holds_where_joints_are_found(given: Given) -> None:
    rig = given.rig
    found = pass_time(rig, 0.3)
    switch_on(rig)
    held = pass_time(rig, 0.6)
    assert np.abs(held.q - found.q).max() < STILL
    assert rig.drives().powered.all()


def targets_are_reached_and_nan_keeps_the_last_one(given: Given) -> None:
    rig = given.rig
    pass_time(rig, 0.3)
    start = switch_on(rig)
    rig.apply(to(rig, away(rig, start)))
    there = pass_time(rig, 0.8)
    assert there.q[1] - start.q[1] > 0.5 * STEP
    rig.apply(to(rig, np.full(len(start.q), np.nan)))
    kept = pass_time(rig, 0.5)
    assert np.abs(kept.q - there.q).max() < STILL
    others = np.arange(len(start.q)) != 1
    assert np.abs(kept.q - start.q)[others].max() < 2.0 * STILL


def wrong_targets_are_refused(given: Given) -> None:
    rig = given.rig
    switch_on(rig)
    with pytest.raises(ValueError, match="must be"):
        rig.apply(Targets(q=np.zeros(3), qd=np.zeros(3)))
    endless = np.full(len(rig.robot.joint_names), np.inf)
    with pytest.raises(ValueError, match="must be"):
        rig.apply(to(rig, endless))


def power_off_makes_limp_at_once_and_may_be_repeated(given: Given) -> None:
    rig = given.rig
    rig.power(False)
    if given.moves:
        switch_on(rig)
    for _ in range(3):
        rig.power(False)
        assert not rig.drives().powered.any()
    before = pass_time(rig, 0.5)
    rig.apply(to(rig, away(rig, before)))
    after = pass_time(rig, 0.5)
    if given.moves:
        assert np.abs(after.q - before.q).max() < 2.0 * STILL
        switch_on(rig)


def a_silent_joint_reads_nan_and_no_other_does(given: Given) -> None:
    if given.silence is None:
        pytest.skip("this rig has no joint that could be made to fail")
    rig = given.rig
    switch_on(rig)
    name = rig.robot.joint_names[4]
    given.silence(name)
    for _ in range(2):
        rig.advance()
        rig.sense()
    rig.advance()
    sensed = rig.sense()
    assert list(np.flatnonzero(np.isnan(sensed.q))) == [4]
    assert list(np.flatnonzero(np.isnan(sensed.current))) == [4]
    assert not rig.drives().powered[4]
    assert np.delete(rig.drives().powered, 4).all()


def a_closed_rig_is_off_and_refuses(given: Given) -> None:
    rig = given.rig
    if given.moves:
        switch_on(rig)
    rig.close()
    rig.close()
    rig.power(False)
    still = to(rig, np.zeros(len(rig.robot.joint_names)))
    for call in (
        rig.sense, rig.drives, rig.advance, lambda: rig.apply(still), lambda: rig.power(True),
    ):  # fmt: skip
        with pytest.raises(RigError):
            call()


READS = (
    readings_have_the_shape_of_the_robot,
    limp_joints_ignore_targets,
    power_off_makes_limp_at_once_and_may_be_repeated,
    a_silent_joint_reads_nan_and_no_other_does,
    a_closed_rig_is_off_and_refuses,
)
"""What a rig that can only be read keeps to as well."""

CONTRACT = (
    *READS,
    power_holds_where_joints_are_found,
    targets_are_reached_and_nan_keeps_the_last_one,
    wrong_targets_are_refused,
)
