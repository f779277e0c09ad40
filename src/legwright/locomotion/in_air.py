"""Calibration in the air: each leg in turn is lifted, swept and lowered; it takes a minute.

The robot stands; `InAir.command` asks the controller for one lifted leg after the other, and
`InAir.step` moves that leg about the place where the controller holds it: each joint there and
back, then straight down as a foot does that feels its way, several times.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from legwright.locomotion._limb import follow
from legwright.locomotion.abilities import Abilities
from legwright.locomotion.air import AirCalibration, assumed
from legwright.locomotion.air_noise import Readings, friction_of, noise_of
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.descent import fall_speed
from legwright.locomotion.signals import Event, Sensed, Targets
from legwright.mechanics.drive import drives_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SWING = 0.10
"""Half of the way that each joint is swept [rad]."""
SPEED = 0.35
"""Joint speed of the sweep, about that of a descending foot's joints [rad/s]."""
DESCENTS = 3
DEPTH = 0.7
"""Of the lift's height that a descent goes down."""
REST = 0.2
"""Pause between motions [s]."""


class InAir:
    """The routine: each control step, `command`, the controller's step, then `step`."""

    def __init__(self, robot: Robot, able: Abilities, *, rate: float) -> None:
        """Begin with the first leg.

        Args:
            robot: The robot.
            able: Its abilities.
            rate: Control steps per second [Hz].
        """
        self._robot, self._able, self._rate = robot, able, rate
        self._names = tuple(robot.legs)
        self._leg, self._lowering = 0, False
        self._path: Floats = np.zeros((0, 0))
        self._marks: list[tuple[int, int, int]] = []
        self._rows: list[tuple[Floats, ...]] = []
        self._sent = [np.array(able.fixed.rest)] * 2
        self._sent_qd = [np.zeros_like(able.fixed.rest)] * 2
        self._friction = np.array(assumed(robot, able).friction)
        self._noise: list[tuple[float, float, float]] = []

    @property
    def done(self) -> bool:
        """Whether every leg had its turn."""
        return self._leg >= len(self._names)

    @property
    def command(self) -> Command:
        """What the controller is to do now."""
        if self.done or self._lowering:
            return Command(kind=Kind.STAND)
        return Command(kind=Kind.LIFT, leg=self._names[self._leg])

    def step(self, sensed: Sensed, targets: Targets, events: Iterable[Event]) -> Targets:
        """Take in one step and move the lifted leg.

        Args:
            sensed: Readings of this step.
            targets: What the controller wants.
            events: What it told in this step.

        Returns:
            Targets to be sent in place of the controller's.
        """
        name = "" if self.done else self._names[self._leg]
        for event in events:
            if event.leg == name and event.what == "held" and not self._lowering:
                self._plan(targets.q)
            if event.leg == name and event.what == "touched" and self._lowering:
                self._leg, self._lowering = self._leg + 1, False
        if len(self._path):
            targets = self._move(sensed, targets)
        self._sent = [targets.q.copy(), self._sent[0]]
        self._sent_qd = [targets.qd.copy(), self._sent_qd[0]]
        return targets

    def found(self) -> AirCalibration:
        """What was found; of legs that had no turn yet, what is assumed."""
        guess = assumed(self._robot, self._able)
        rows = np.array([guess.force_noise, guess.error_noise, guess.correlation])
        for leg, numbers in enumerate(self._noise):
            rows[:, leg] = numbers
        return AirCalibration(
            friction=self._friction, force_noise=rows[0], error_noise=rows[1], correlation=rows[2]
        )

    def _move(self, sensed: Sensed, targets: Targets) -> Targets:
        """One step of the lifted leg's motion."""
        up = sensed.up if sensed.up is not None else np.array([0.0, 0.0, 1.0])
        self._rows.append((sensed.q, sensed.current, up, self._sent[1], self._sent_qd[1]))
        span = self._robot.columns[self._names[self._leg]]
        tick = len(self._rows) - 1
        q, qd = targets.q.copy(), targets.qd.copy()
        q[span] = self._path[tick]
        qd[span] = (self._path[tick] - self._path[max(tick - 1, 0)]) * self._rate
        if tick == len(self._path) - 1:
            self._evaluate(span)
        return Targets(q=q, qd=qd)

    def _evaluate(self, span: slice) -> None:
        """Friction and scatter of the leg that has been moved; then it is set down."""
        columns = [np.array(column) for column in zip(*self._rows, strict=True)]
        q, current, up, asked, qd = columns
        drive = drives_of(self._robot).torque_constant
        gain = np.where(np.isfinite(drive), drive, 1.0)
        rows = Readings(q=q, current=current, up=up, asked=asked, qd=qd, rate=self._rate)
        descents = []
        for joint, first, stop in self._marks:
            part = rows.part(first, min(stop, len(q)))
            if joint >= 0:
                column = span.start + joint
                self._friction[column] = friction_of(self._able, gain, part, column)
            else:
                descents.append(part)
        self._noise.append(noise_of(self._able, gain, descents, span))
        self._path, self._rows, self._lowering = np.zeros((0, 0)), [], True

    def _plan(self, held: Floats) -> None:
        """Lay out the leg's path, and mark which part of it says what."""
        fixed, span = self._able.fixed, self._robot.columns[self._names[self._leg]]
        home = held[span].copy()
        path: list[Floats] = []
        rest = [home] * round(REST * self._rate)
        self._marks = []
        for joint in range(len(home)):
            first = len(path)
            for offset in _there_and_back(self._rate):
                q = home.copy()
                q[joint] += offset
                path.append(np.clip(q, fixed.lower[span], fixed.upper[span]))
            self._marks.append((joint, first, len(path)))
            path += rest
        down = self._descent(held, span)
        for _ in range(DESCENTS):
            self._marks.append((-1, len(path) + 2, len(path) + len(down)))
            path += [*down, *down[::-1], *rest]
        self._path = np.array(path)

    def _descent(self, held: Floats, span: slice) -> list[Floats]:
        """Straight down, as a foot does that feels its way."""
        fixed, q, out = self._able.fixed, held.copy(), []
        foot = np.asarray(self._robot.legs[self._names[self._leg]].foot(held[span]))
        speed = fall_speed(self._robot, self._able)
        for depth in np.arange(0.0, DEPTH * self._able.lift, speed / self._rate):
            target = foot - np.array([0.0, 0.0, depth])
            follow(fixed.packed, self._leg, target, q, fixed.lower, fixed.upper, fixed.rest)
            out.append(q[span].copy())
        return out


def _there_and_back(rate: float) -> Floats:
    """Offsets of a joint: up, down through zero, and home, at one speed (N,) [rad]."""
    step = SPEED / rate
    rise = np.arange(0.0, SWING, step)
    return np.concatenate([rise, np.arange(SWING, -SWING, -step), -rise[::-1]])
