"""Steps of single feet, one after the other: lift, place, probe, set right.

Before a foot lifts, the body shifts and other feet step aside where that is needed to keep
the required margin without it; only where no such way is found it stays down.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose, turning
from legwright.locomotion._state import Goal, State
from legwright.locomotion._terrain import FOLLOW
from legwright.locomotion.abilities import Abilities
from legwright.locomotion.arrange import Brace, Spared, Stood, allowed_push, arrange, brace
from legwright.locomotion.probing import Probing
from legwright.locomotion.signals import Event
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

PATIENCE = 2.5
"""A foot that is still down so long after its body shift should be done is given up [s]."""
SHIFTING = 0.03
"""Speed at which a shift surely goes on [m/s]."""
MOST_TIMES = 2
"""So often others step aside for one step."""
AT_REST = np.array([2e-3, 2e-3, 2e-3, 0.03, 0.03, 0.03])
"""A body slower than this is at rest [m/s, rad/s]: levelling after a noisy inertial sensor turns
it by up to 0.02 rad/s all the time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One foot's errand."""

    leg: int
    op: float = at.OP_HOME
    x: float = 0.0
    """Where it goes, over the body's place, heading axes [m]."""
    y: float = 0.0
    push: float = 0.0
    """To probe with [N]; 0 for no probing."""
    asked: bool = False
    """Whether it was asked for by name, so that its end is told."""
    shift: tuple[float, float] | None = None
    """Body shift for it, where that is known already [m]."""
    cleared: int = 0
    """How often others have stepped aside for it."""


@dataclass(slots=True, eq=False)
class SingleSteps:
    """The queue of single steps, and the one under way."""

    robot: Robot
    able: Abilities
    margin: float
    """Required stability margin [m]."""
    feel: bool
    waiting: list[Step] = field(default_factory=list)
    now: Step | None = None
    shift: Floats = field(default_factory=lambda: np.zeros(2))
    """Of the body, heading axes [m]."""
    probing: Probing | None = None
    lost: frozenset[int] = frozenset()
    """Legs that no longer take orders."""
    _time: float = 0.0
    _patience: float = PATIENCE

    @property
    def busy(self) -> bool:
        """Whether a step is under way or waits."""
        return self.now is not None or bool(self.waiting)

    @property
    def shifted(self) -> bool:
        """Whether the body is shifted."""
        return bool(self.shift[0] != 0.0 or self.shift[1] != 0.0)

    def clear(self) -> None:
        """Forget all of them."""
        self.waiting, self.now, self.probing = [], None, None
        self.shift = np.zeros(2)

    def home(self, legs: Iterable[int]) -> None:
        """Set feet on their neutral places, in this order, after what waits already."""
        known = {step.leg for step in self.waiting}
        legs = [int(leg) for leg in legs]
        self.waiting += [Step(leg=h) for h in legs if h not in known and h not in self.lost]

    def relent(self, goal: Goal, state: State) -> None:
        """Another command came: end a push, give up a foot not yet lifted, and what was asked."""
        self.waiting = [step for step in self.waiting if step.op == at.OP_HOME]
        if self.now is None:
            goal.n[at.PROBING] = 0.0
        if self.now is None:
            return
        goal.n[at.ENOUGH] = 1.0
        if state.mode[self.now.leg] == at.STAND and state.done[self.now.leg] == 0.0:
            self._end(goal)

    def ease(self, goal: Goal) -> None:
        """Take the body back from its shift.

        Args:
            goal: Written.
        """
        goal.posture[:2] -= self.shift
        self.shift = np.zeros(2)

    def go_on(self, goal: Goal, state: State, push: Floats, dt: float, events: list[Event]) -> None:
        """Watch the step under way, or begin the next one once all is still.

        Args:
            goal: Written.
            state: Read, but for the mark that a leg has swung.
            push: Felt upward force on each foot, (L,) [N].
            dt: Since the last call [s].
            events: What begins, ends or cannot be is added.
        """
        if self.now is not None:
            self._watch(self.now, goal, state, push, dt, events)
        if self.now is not None or not self.waiting:
            return
        hangs = state.mode[self.waiting[0].leg] == at.HELD  # setting down needs no rest
        if at_rest(state) or (hangs and grounded(state)):
            self._begin(goal, state, events)

    def _begin(self, goal: Goal, state: State, events: list[Event]) -> None:
        step = self.waiting.pop(0)
        if step.leg in self.lost:
            return
        granted = self._prepared(step, goal, state, events)
        if granted is None or self.now is not None:
            return
        step, shift = granted
        self._start(step, shift, goal, state)

    def _start(self, step: Step, shift: Floats, goal: Goal, state: State) -> None:
        n = goal.n
        n[at.STEP], n[at.OP], n[at.AX], n[at.AY] = step.leg, step.op, step.x, step.y
        n[at.PROBING], n[at.ENOUGH] = float(step.push > 0.0), 0.0
        self.probing = Probing(step.push) if step.push > 0.0 else None
        self._patience = PATIENCE + float(np.hypot(*(shift - self.shift))) / SHIFTING
        goal.posture[:2] += shift - self.shift
        self.shift, self.now, self._time = shift, step, 0.0
        state.done[step.leg] = 0.0

    def _prepared(
        self, step: Step, goal: Goal, state: State, events: list[Event]
    ) -> tuple[Step, Floats] | None:
        """The step as it can be done with the shift for it, or None; helpers are queued first."""
        stood, name = self.stood(goal, state), tuple(self.robot.legs)[step.leg]
        spared = Spared(step.leg, step.push, (step.x, step.y))
        if step.shift is not None:
            return step, np.array(step.shift)
        if state.mode[step.leg] == at.HELD:
            return self._pushed(step, stood, spared, name, events)
        found = brace(self.robot, self.able, stood, spared, self.margin)
        if not found.ok and step.asked and step.cleared < MOST_TIMES:
            plan = arrange(self.robot, self.able, stood, spared, self.margin)
            if not plan.brace.ok and step.push > 0.0:
                less = arrange(self.robot, self.able, stood, spared._replace(push=0.0), self.margin)
                plan = less if less.brace.ok else plan
            if plan.brace.ok and plan.moves:
                self._make_way(step, plan.moves, name, events)
                return None
            found = plan.brace
            if found.ok and step.push > 0.0:
                return self._pushed(step, stood, spared, name, events)
        if not found.ok:
            events.append(_refused(name, found, self.margin))
            return None
        return step, found.shift

    def _make_way(
        self, step: Step, moves: Iterable[tuple[int, float, float, Floats]], name: str,
        events: list[Event],
    ) -> None:  # fmt: skip
        """Queue the helping steps before the one that needs them."""
        names = tuple(self.robot.legs)
        helpers = [
            Step(leg=leg, op=at.OP_PLACE, x=x, y=y, shift=(float(shift[0]), float(shift[1])))
            for leg, x, y, shift in moves
        ]
        self.waiting = [*helpers, replace(step, cleared=step.cleared + 1), *self.waiting]
        who = ", ".join(dict.fromkeys(names[helper.leg] for helper in helpers))
        text = f"{who} step aside so that {name} can lift."
        events.append(Event(what="arranging", text=text, leg=name))

    def _pushed(
        self, step: Step, stood: Stood, spared: Spared, name: str, events: list[Event]
    ) -> tuple[Step, Floats]:
        """A probing step with the push that the other feet bear."""
        found = brace(self.robot, self.able, stood, spared, self.margin)
        if step.push <= 0.0 or found.ok:
            return step, found.shift if step.push > 0.0 else self.shift
        push, found = allowed_push(self.robot, self.able, stood, spared, self.margin)
        text = (
            f"{name} probes with {push:.1f} N instead of {step.push:.1f} N: more would tip the "
            "robot off its other feet."
        )
        share = push / step.push
        events.append(Event(what="limited", text=text, leg=name, limit="margin", share=share))
        return replace(step, push=max(push, 1e-3)), found.shift

    def stood(self, goal: Goal, state: State) -> Stood:
        """How the robot stands, without the shift of single steps."""
        posture = goal.posture.copy()
        posture[:2] -= self.shift
        posture[3] += FOLLOW * np.arctan(state.relief[2])
        posture[4] -= FOLLOW * np.arctan(state.relief[1])
        R = np.empty((3, 3))
        turning(*posture[3:], R)
        carrying = np.flatnonzero((state.mode == at.STAND) | (state.mode == at.LAND))
        return Stood(
            feet=local(state, state.foot),
            posture=posture,
            com=posture[:2] + (R @ state.com)[:2],
            carrying=tuple(int(leg) for leg in carrying),
        )

    def _watch(
        self, step: Step, goal: Goal, state: State, push: Floats, dt: float, events: list[Event]
    ) -> None:
        """Whether the step under way is done, or cannot be."""
        mode, down = state.mode[step.leg], state.done[step.leg] > 0.0
        self._time += dt
        if self.probing is not None and mode == at.PUSH:
            slower = self.probing.enough(float(push[step.leg]), dt)
            goal.n[at.ENOUGH] = slower if goal.n[at.ENOUGH] < 1.0 else 1.0
        held = mode == at.HELD and step.op == at.OP_HOLD
        hangs = mode == at.HELD and down and step.push > 0.0
        stood = mode == at.STAND and down
        given_up = mode == at.STAND and not down and self._time > self._patience
        if not (held or hangs or stood or given_up):
            return
        self._end(goal)
        goal.n[at.PROBING] = float(stood and step.push > 0.0)  # the push is held
        if given_up:
            name = tuple(self.robot.legs)[step.leg]
            events.append(_refused(name, Brace(self.shift, state.clock[at.LEAST], False), None))
        elif step.asked:
            events.append(self._done(step, state, held=held, hangs=hangs))

    def _end(self, goal: Goal) -> None:
        goal.n[at.STEP], goal.n[at.OP], goal.n[at.PROBING] = -1.0, at.OP_HOME, 0.0
        self.now = None

    def _done(self, step: Step, state: State, *, held: bool, hangs: bool) -> Event:
        """What a caller of a single step wants to know in the end."""
        name, foot = tuple(self.robot.legs)[step.leg], state.foot[step.leg]
        R, b = np.empty((3, 3)), np.empty(3)
        body_pose(state, R, b)
        event = Event(
            what="held",
            text=f"{name} is in the air.",
            leg=name,
            position=_triple((foot - b) @ R),
            place=_triple(foot),
        )
        if held:
            return event
        if self.probing is None:
            return replace(event, what="placed", text=f"{name} stands where it was placed.")
        force, self.probing = self.probing.felt, None
        if hangs:
            text = f"{name} finds nothing to probe within reach and stays in the air."
            return replace(event, what="probed", text=text, limit="ground", force=0.0)
        limit = "" if force >= 0.9 * step.push else "reach"
        text = f"{name} pushes with {force:.1f} N."
        return replace(event, what="probed", text=text, force=force, limit=limit)


def grounded(state: State) -> bool:
    """Whether all feet stand or are held."""
    return bool(((state.mode == at.STAND) | (state.mode == at.HELD)).all())


def at_rest(state: State) -> bool:
    """Whether all feet stand or are held, and the body does not move."""
    return bool(
        grounded(state)
        and np.abs(state.twist).max() < AT_REST[0]
        and (np.abs(state.posture_v) < AT_REST).all()
    )


def local(state: State, points: Floats) -> Floats:
    """Points of the ground frame, (..., 3), seen from the body's place: heading axes."""
    c, s = np.cos(state.place[2]), np.sin(state.place[2])
    gap = points - np.array([state.place[0], state.place[1], state.relief[0]])
    ahead, aside = c * gap[..., 0] + s * gap[..., 1], c * gap[..., 1] - s * gap[..., 0]
    return np.stack([ahead, aside, gap[..., 2]], axis=-1)


def _triple(p: Floats) -> tuple[float, float, float]:
    return float(p[0]), float(p[1]), float(p[2])


def _refused(name: str, found: Brace, need: float | None) -> Event:
    best = f"{max(found.margin, 0.0) * 1e3:.0f} mm"
    text = f"{name} stays down: the body does not come to where the others would carry it."
    if need is not None:
        text = (
            f"{name} stays down: without it the stability margin would be {best} at best, "
            f"{need * 1e3:.0f} mm are required, however the others stand."
        )
    return Event(what="unstable", text=text, leg=name, limit="margin")
