"""A kinematic twin: joints that do what they are told, and what that means for the feet."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from legwright.locomotion.command import Command
from legwright.locomotion.controller import Controller, Stage
from legwright.locomotion.signals import Event, Sensed
from legwright.mechanics.balance import static_margin
from legwright.mechanics.loads import standing
from legwright.robot.robot import Robot


@dataclass
class Twin:
    """Follows every target at once and keeps the worst of what must not happen."""

    robot: Robot
    rate: float = 100.0
    feel: bool = False
    worst_speed: float = 0.0
    """Joint speed over its limit."""
    worst_surge: float = 0.0
    """Joint acceleration over its limit."""
    worst_slip: float = 0.0
    """Movement of a standing foot in the one ground frame that holds all of them [m]."""
    least_margin: float = np.inf
    events: list[Event] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.controller = Controller(self.robot, rate=self.rate, feel=self.feel)
        fixed = self.controller.able.fixed
        self.q = np.clip(np.zeros(len(self.robot.joint_names)), fixed.lower, fixed.upper)
        self.qd = np.zeros_like(self.q)
        self.anchors = np.full((len(self.robot.legs), 3), np.nan)
        self.margin_every = 7
        self._count = 0

    def sensed(self) -> Sensed:
        none = np.zeros_like(self.q)
        return Sensed(q=self.q.copy(), qd=self.qd.copy(), current=none, voltage=11.0)

    def feet(self) -> np.ndarray:
        """Feet in the body frame by the robot's own kinematics, (L, 3)."""
        legs = self.robot.legs.items()
        return np.array([leg.foot(self.q[self.robot.columns[name]]) for name, leg in legs])

    def run(self, command: Command, seconds: float, *, judge: bool = True) -> None:
        dt = 1.0 / self.rate
        for _ in range(max(1, round(seconds * self.rate))):
            before, was = self.controller.contact, self.controller.stage
            targets, events = self.controller.step(self.sensed(), command, dt)
            self.events += events
            assert np.isfinite(targets.q).all() and np.isfinite(targets.qd).all()
            qd = (targets.q - self.q) / dt
            if judge:
                self._judge_joints(qd, dt)
            self.q, self.qd = targets.q.copy(), qd
            if judge and was is Stage.UP and self.controller.stage is Stage.UP:
                self._judge_feet(before & self.controller.contact)

    def _judge_joints(self, qd: np.ndarray, dt: float) -> None:
        fixed = self.controller.able.fixed
        assert (self.q >= fixed.lower - 1e-9).all() and (self.q <= fixed.upper + 1e-9).all()
        self.worst_speed = max(self.worst_speed, float((np.abs(qd) / fixed.speed).max()))
        surge = np.abs(qd - self.qd) / dt / fixed.surge
        self.worst_surge = max(self.worst_surge, float(surge.max()))

    def _judge_feet(self, stood: np.ndarray) -> None:
        R, b = self.controller.body
        feet = self.feet()
        places = feet @ R.T + b
        fresh = stood & np.isnan(self.anchors[:, 0])
        self.anchors[fresh] = places[fresh]
        self.anchors[~stood] = np.nan
        gaps = np.linalg.norm(places - self.anchors, axis=1)
        if stood.any():
            self.worst_slip = max(self.worst_slip, float(np.nanmax(gaps[stood])))
        self._count += 1
        if self._count % self.margin_every == 0:
            contact = self.controller.contact
            com = standing(self.robot, self.q).com[0]
            margin = float(static_margin(feet, com, contact=contact, gravity=-R[2]))
            self.least_margin = min(self.least_margin, margin)
