"""What readings of a leg in the air say: friction of its joints, scatter of what it feels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.locomotion._contact import BLIND, GAP, GRAVITY, LISTEN, WINDOW
from legwright.locomotion.abilities import Abilities
from legwright.mechanics._recursion import recursion
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """T control steps of a robot with one leg in the air."""

    q: Floats
    """(T, J): measured joint positions [rad]."""
    current: Floats
    """(T, J) [A]"""
    up: Floats
    """(T, 3): direction against gravity, body frame."""
    asked: Floats
    """(T, J): positions that the servos were following [rad]."""
    qd: Floats
    """(T, J): and the speeds [rad/s]."""
    rate: float
    """Steps per second [Hz]."""

    def part(self, first: int, stop: int) -> Readings:
        """Steps first to stop."""
        cut = slice(first, stop)
        return Readings(
            q=self.q[cut], current=self.current[cut], up=self.up[cut], asked=self.asked[cut],
            qd=self.qd[cut], rate=self.rate,
        )  # fmt: skip


def residual(able: Abilities, gain: Floats, readings: Readings) -> tuple[Floats, Floats]:
    """Torque that weight and rotor do not explain, and vertical levers of the feet.

    Args:
        able: The robot's abilities.
        gain: Torque per current, (J,) [N·m/A].
        readings: T steps.

    Returns:
        (T, J) [N·m], and (T, J) [m].
    """
    T, J = readings.q.shape
    none, pull = np.zeros((T, J)), np.zeros((T, 6))
    pull[:, :3] = GRAVITY * readings.up
    packed = able.fixed.packed
    torque, _, _, jacobian, _ = recursion(packed, readings.q, none, none, np.zeros((T, 6)), pull)
    qdd = np.gradient(readings.qd, axis=0) * readings.rate
    own = gain * readings.current - packed.rotor * qdd - torque
    return own, np.einsum("tk,tkj->tj", readings.up, jacobian)


def friction_of(able: Abilities, gain: Floats, readings: Readings, joint: int) -> float:
    """Friction of a joint that was turned there and back at one speed.

    Args:
        able: The robot's abilities.
        gain: Torque per current, (J,) [N·m/A].
        readings: Of the sweep.
        joint: Column.

    Returns:
        Half the difference of the mean torques both ways [N·m]; common practice.
    """
    own = residual(able, gain, readings)[0][:, joint]
    qd = readings.qd[:, joint]
    fast = np.abs(qd) > 0.9 * np.abs(qd).max()
    settled = np.convolve(fast, np.ones(round(0.12 * readings.rate)), "full")[: len(fast)]
    steady = fast & (settled >= 0.95 * round(0.12 * readings.rate))
    return float(max(0.5 * (own[steady & (qd > 0)].mean() - own[steady & (qd < 0)].mean()), 0.0))


def noise_of(
    able: Abilities, gain: Floats, descents: list[Readings], span: slice
) -> tuple[float, float, float]:
    """Scatter of felt force and following error in descents, each against its running zero.

    Both are those of the joint with the longest vertical lever.

    Args:
        able: The robot's abilities.
        gain: Torque per current, (J,) [N·m/A].
        descents: Straight down at the speed of a foot that feels its way.
        span: The leg's columns.

    Returns:
        Standard deviations [N], [m], and their correlation.
    """
    rows = []
    for one in descents:
        own, arms = residual(able, gain, one)
        best = span.start + int(np.abs(arms[0, span]).argmax())
        force = -own[:, best] / arms[:, best]
        error = arms[:, best] * (one.q - one.asked)[:, best]
        rows.append(_deviations(np.column_stack([force, error]), one.rate))
    both = np.concatenate(rows)
    spread = both.std(axis=0)
    tie = float(np.mean((both - both.mean(axis=0)).prod(axis=1)) / max(spread.prod(), 1e-12))
    return float(spread[0]), float(spread[1]), float(np.clip(tie, -0.5, 0.9))


def _deviations(values: Floats, rate: float) -> Floats:
    """From the running zero that the contact observer would take, (N, 2)."""
    blind, listen = round(BLIND * rate), round(LISTEN * rate)
    gap, window = round(GAP * rate), round(WINDOW * rate)
    out = []
    for t in range(listen, len(values)):
        stop = max(t - gap, listen)
        out.append(values[t] - values[max(stop - window, blind) : stop].mean(axis=0))
    return np.array(out).reshape(-1, 2)
