"""From commands to goals: what is possible, in which order, and what slows it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from legwright.errors import RequestError, did_you_mean
from legwright.locomotion import _state as at
from legwright.locomotion._state import Goal, State
from legwright.locomotion._terrain import FOLLOW
from legwright.locomotion.abilities import Abilities, reachable
from legwright.locomotion.command import SINGLE, Command, Kind
from legwright.locomotion.descent import approach, fall_speed
from legwright.locomotion.foothold import nearest_foothold, nearest_height
from legwright.locomotion.gait import Gait
from legwright.locomotion.onset import best_phase, neutral_places
from legwright.locomotion.pace import USED, Pace, foot_speed, pace_of
from legwright.locomotion.signals import Event
from legwright.locomotion.single_steps import SingleSteps, Step, at_rest, local
from legwright.locomotion.sitting import lowest_height
from legwright.locomotion.walk import Pose
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

ASSUMED_MARGIN = 0.08
"""Required stability margin where the sheet states none, in leg lengths: common practice, no
published source."""
STILL = 1e-4
"""Feet slower than this do not walk [m/s]."""
ASTRAY = 0.006
"""A foot farther than this from its neutral place is set right before standing [m]."""
PROBE_FORCE = 5.0
"""Push of a probe where neither command nor sheet states one [N]."""
PROBE_APPROACH = 0.02
"""Height over the expected ground from which a probing foot feels its way down [m]."""
NOTICED = 0.05
"""Time from a contact until it is felt, usually [s]."""
PRESS = 0.05
"""How far a standing foot is pressed down or eased at most to carry its share, in leg lengths."""
DEEPEST = 0.40
"""How far under the expected ground a foot feels its way, in leg lengths."""
BACKWARD = 0.35
"""A twist this much backward against sideways runs the gait in reverse."""


class Orders:
    """Keeps what is to be done, and turns it into goals for the kernels."""

    def __init__(self, robot: Robot, able: Abilities, gait: Gait, *, feel: bool) -> None:
        """Start with nothing to do."""
        self.robot, self.able, self.default, self.feel = robot, able, gait, feel
        self.names = tuple(robot.legs)
        self.fastest = foot_speed(robot, able)
        self.fall_speed, self.approach = fall_speed(robot, able), approach(able)
        stated = robot.sheet.requirements.stability_margin
        self.margin = ASSUMED_MARGIN * able.leg_length if stated is None else float(stated)
        self.lowering = False
        self.steps = SingleSteps(robot, able, self.margin, feel)
        self._sit = self._stay = False
        self._walked: Gait | None = None
        self._asked: tuple[object, ...] = ()
        self._rest: Floats = np.zeros(6)

    @property
    def busy(self) -> bool:
        """Whether steps of single feet are under way or to come."""
        return self.steps.busy

    def clear(self) -> None:
        """Nothing is to be done."""
        self.steps.clear()
        self.steps.lost = frozenset()
        self._sit = self._stay = self.lowering = False
        self._asked, self._walked = (), None
        self._rest = np.zeros(6)

    def tidy(self, state: State) -> None:
        """Plan to set every foot right that hangs in the air or stands astray."""
        gaps = np.hypot(*(state.foot - neutral_places(self.able, state))[:, :2].T)
        bad = (state.mode == at.HELD) | (gaps > ASTRAY)
        self.steps.home(
            sorted(np.flatnonzero(bad), key=lambda leg: (state.mode[leg] != at.HELD, -gaps[leg]))
        )

    def lose(self, leg: int, state: State) -> None:
        """Reckon no longer with a leg: it carries nothing and takes no orders.

        Args:
            leg: Whose joint does not answer.
            state: Its mode is written.
        """
        self.steps.lost |= {leg}
        now = self.steps.now
        if now is not None and now.leg == leg:
            self.steps.clear()
        elif now is not None:  # the order for it ends here
            self.steps.now = replace(now, asked=False)
        state.mode[leg] = at.HELD
        state.foot_v[leg] = state.foot_a[leg] = 0.0

    def check(self, command: Command) -> None:
        """Refuse a command that this robot cannot understand, before anything is changed.

        Raises:
            RequestError: For a leg that the robot does not have, or a gait that does not fit.
        """
        if command.kind in SINGLE and command.leg not in self.names:
            known = f"a leg of this robot. {did_you_mean(command.leg, self.names)}"
            raise RequestError("leg", command.leg, known)
        if command.kind is Kind.WALK and command.gait is not None:
            command.gait.phases_of(self.names)

    def give(self, command: Command, goal: Goal, state: State, events: list[Event]) -> None:
        """Take a new command.

        Args:
            command: What is asked.
            goal: Written.
            state: Read; its clock is set where a gait begins.
            events: Limits that bind are added.
        """
        self._basics(goal)
        if command.kind is Kind.HOLD:
            goal.n[at.PRESS] = 0.0  # sharing the load would move joints
        self._sit = command.kind is Kind.SIT
        self._stay = command.kind in (*SINGLE, Kind.HOLD)
        self.lowering = False
        self.steps.relent(goal, state)
        self._posture(command, goal, state, events)
        twist = np.array([*command.velocity, command.turn])
        moving = command.kind is Kind.WALK and self._top_speed(twist) > STILL
        if moving:
            self._walk(command, twist, goal, state, events)
        else:
            goal.n[at.WALKING] = 0.0
            goal.twist[:] = 0.0
            self._walked = None
        if command.kind in SINGLE:
            self._single(command, goal, state, events)
        elif command.kind is not Kind.HOLD:
            self.steps.home(np.flatnonzero(state.mode == at.HELD))

    def go_on(self, goal: Goal, state: State, push: Floats, dt: float, events: list[Event]) -> None:
        """Start what waits, once what is under way is done.

        Args:
            goal: Written.
            state: Read.
            push: Felt upward force on each foot, (L,) [N].
            dt: Since the last call [s].
            events: What begins, ends or cannot be is added.
        """
        walks = goal.n[at.WALKING] > 0.0
        goal.n[at.SOFTLY] = float(walks and self.feel and not self.steps.lost)
        if self.steps.busy:
            self.steps.go_on(goal, state, push, dt, events)
        elif not self._stay and self.steps.shifted and _grounded(state):
            self.steps.ease(goal)
        if not self._sit or self.lowering or self.steps.busy or not _grounded(state):
            return
        if float(np.abs(state.twist).max()) < 1e-3 and (at_rest(state) or not self.steps.lost):
            self.lowering = True
            goal.posture[:] = (
                0.0,
                0.0,
                lowest_height(self.robot, self.able, state, self.steps.lost),
                0.0,
                0.0,
                0.0,
            )
            self.steps.shift[:] = 0.0
            goal.n[at.MARGIN] = self.margin if self.steps.lost else 0.0

    def _basics(self, goal: Goal) -> None:
        n = goal.n
        n[at.LIFT], n[at.MARGIN], n[at.FELT] = self.able.lift, self.margin, float(self.feel)
        n[at.FALL_SPEED], n[at.APPROACH] = self.fall_speed, self.approach if self.feel else 0.0
        n[at.DEEPEST], n[at.CALM] = DEEPEST * self.able.leg_length, 0.05
        n[at.RAISE] = self.able.lift
        n[at.PRESS] = PRESS * self.able.leg_length if self.feel else 0.0
        n[at.LOWEST], n[at.WEIGHT] = self.able.step_height, self.able.weight
        n[at.QUICK] = USED * self.fastest
        if self.steps.now is None:
            n[at.STEP], n[at.OP] = -1.0, at.OP_HOME
        if n[at.CYCLE] <= 0.0:
            n[at.CYCLE], n[at.DUTY], n[at.SWING_TIME] = 1.2, self.default.duty, 0.5

    def _posture(self, command: Command, goal: Goal, state: State, events: list[Event]) -> None:
        """The nearest posture to the asked one that all feet allow."""
        pose = command.pose or Pose()
        height = command.height
        if height is None or command.kind is Kind.LIFT:
            height = self.able.footing.height
        if command.kind in SINGLE and height < self.able.step_height:
            low, height = height, self.able.step_height
            text = f"Steps need a body height of {height:.3f} m; {low:.3f} m are too low for them."
            events.append(Event(what="limited", text=text, leg=command.leg, limit="reach"))
        asked = (command.kind is Kind.SIT, height, pose)
        if asked != self._asked:
            self._asked = asked
            z = height + pose.z
            wanted = np.array([pose.x, pose.y, z, pose.roll, pose.pitch, pose.yaw])
            home = np.array([0.0, 0.0, self.able.footing.height, 0.0, 0.0, 0.0])
            shares = np.linspace(0.0, 1.0, 17)
            ok = reachable(self.robot, self.able, home + shares[:, None] * (wanted - home))
            share = shares[int(np.argmin(np.append(ok[1:], False)))]
            self._rest = home + share * (wanted - home)
            if share < 1.0:
                text = f"The legs reach {share:.0%} of the asked height and pose."
                events.append(Event(what="limited", text=text, limit="reach", share=float(share)))
        goal.posture[:] = self._rest
        goal.posture[:2] += self.steps.shift
        if command.kind is Kind.HOLD:  # as it is now, the ground's share taken off again
            goal.posture[:] = state.posture
            goal.posture[:2] -= state.sway
            goal.posture[2] -= state.relief[0]
            goal.posture[3] -= FOLLOW * np.arctan(state.relief[2])
            goal.posture[4] += FOLLOW * np.arctan(state.relief[1])

    def _top_speed(self, twist: Floats) -> float:
        x, y = self.able.fixed.neutral[:, 0], self.able.fixed.neutral[:, 1]
        return float(np.hypot(twist[0] - twist[2] * y, twist[1] + twist[2] * x).max())

    def _walk(
        self, command: Command, twist: Floats, goal: Goal, state: State, events: list[Event]
    ) -> None:
        gait = command.gait or self.default
        if twist[0] < -BACKWARD * abs(twist[1]) and twist[0] < -1e-3:
            gait = gait.reversed()
        fall = NOTICED + self.approach / self.fall_speed if self.feel else 0.0
        cycle = self.robot.sheet.stance.cycle
        pace = pace_of(self.able, gait, twist, fastest=self.fastest, fall=fall, cycle=cycle)
        if pace.limit:
            text = f"Slowed to {pace.share:.0%} of the asked speed by {pace.limit}."
            events.append(Event(what="slowed", text=text, limit=pace.limit, share=pace.share))
        if not np.array_equal(pace.twist, goal.twist):
            state.track[:] = state.place
        self._set_pace(gait, pace, goal)
        if gait != self._walked:
            state.clock[at.PHASE] = best_phase(self.able, goal, state)
            state.done[:] = 0.0
            self._walked = gait

    def _set_pace(self, gait: Gait, pace: Pace, goal: Goal) -> None:
        goal.phases[:] = gait.phases_of(self.names)
        goal.twist[:] = pace.twist
        goal.n[at.WALKING], goal.n[at.DUTY] = 1.0, gait.duty
        goal.n[at.CYCLE], goal.n[at.SWING_TIME] = pace.cycle, pace.swing

    def _single(self, command: Command, goal: Goal, state: State, events: list[Event]) -> None:
        """Queue the steps that a command for one leg means."""
        leg = self.names.index(command.leg)
        if leg in self.steps.lost:
            return
        self.steps.waiting = []
        self.steps.home(int(h) for h in np.flatnonzero(state.mode == at.HELD) if h != leg)
        if command.kind is Kind.LIFT:
            asked = command.height or 1.5 * self.able.lift
            height = nearest_height(
                self.robot, self.able, goal.posture, local(state, state.foot), leg, asked
            )
            self._limited(command, height < asked - 1e-3, f"lifts {height * 1e3:.0f} mm", events)
            goal.n[at.LIFT] = height
            if state.mode[leg] != at.HELD:
                self.steps.waiting.append(Step(leg=leg, op=at.OP_HOLD, asked=True))
            return
        feet = local(state, state.foot)
        place = command.target or (float(feet[leg, 0]), float(feet[leg, 1]))
        x, y = nearest_foothold(self.robot, self.able, goal.posture, feet, leg, place)
        off = float(np.hypot(x - place[0], y - place[1]))
        self._limited(command, off > 1e-3, f"goes {off * 1e3:.0f} mm beside the target", events)
        push = 0.0
        if command.kind is Kind.PROBE and self.feel:
            push = command.force or self.robot.sheet.requirements.probe_push or PROBE_FORCE
            goal.n[at.APPROACH] = PROBE_APPROACH
        self.steps.waiting.append(
            Step(leg=leg, op=at.OP_PLACE, x=x, y=y, push=float(push), asked=True)
        )

    def _limited(self, command: Command, really: bool, how: str, events: list[Event]) -> None:
        if really:
            text = f"{command.leg} {how}: it reaches no farther."
            events.append(Event(what="limited", text=text, leg=command.leg, limit="reach"))


def _grounded(state: State) -> bool:
    return bool(((state.mode == at.STAND) | (state.mode == at.HELD)).all())
