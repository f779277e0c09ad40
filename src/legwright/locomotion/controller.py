"""The controller: from what is asked and sensed to what every joint is to do, step by step."""

from __future__ import annotations

from enum import Enum
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.kernel import on_disk
from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose
from legwright.locomotion._boxed import boxed
from legwright.locomotion._state import Goal, blank
from legwright.locomotion._step import FEEL, FLAGGED, LEVEL, SLID, SPUN, TRUST, TURN, Whole, step
from legwright.locomotion.abilities import abilities
from legwright.locomotion.command import SINGLE, Command, Kind
from legwright.locomotion.contact import UPRIGHT, Contact
from legwright.locomotion.gait import Gait
from legwright.locomotion.gait import gait as gait_named
from legwright.locomotion.glide import Glide, ready_pose, tucked_pose
from legwright.locomotion.orders import Orders
from legwright.locomotion.planted import plant, stands
from legwright.locomotion.signals import Event, Sensed, Targets
from legwright.locomotion.silence import Silence, heard
from legwright.locomotion.sitting import Sinking
from legwright.locomotion.slips import Slips
from legwright.locomotion.stance import Footing, footing
from legwright.mechanics.loading import PointMass
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SLOWEST_RATE = 20.0
"""Below this the controller cannot feel its way [Hz]."""
LONGEST_STEP = 0.25
"""A longer pause counts as this long [s]."""
STILL = np.array([1e-3, 1e-3, 1e-3, 1e-2, 1e-2, 1e-2])
"""A body slower than this rests [m/s, rad/s]: keeping level after a noisy sensor is no motion."""
TIPPED, FALLEN = 0.7, 0.4
"""Cosine of the tilt beyond which a robot does not get up; and beyond which it has fallen."""
ENDS = ("held", "placed", "probed", "unstable")
"""Events with which an order for one leg ends."""
REFUGE = Command(kind=Kind.SIT)
"""What is done, whatever is asked, once a joint is lost."""


class Stage(Enum):
    """What the controller is about; the drawing is in docs/rooms/locomotion-control.md."""

    ASLEEP = "asleep"
    """Nothing is known yet."""
    GATHERING = "gathering"
    """Legs glide to where the feet can push."""
    UP = "up"
    """On its feet: standing, walking, one leg busy."""
    SITTING = "sitting"
    """Lowering the body."""
    DOWN = "down"
    """The body lies on the ground."""


class Controller:
    """Moves one robot. `step` reads no clock, touches no device and keeps no log."""

    def __init__(
        self,
        robot: Robot,
        *,
        rate: float,
        feel: bool = False,
        payload: PointMass | None = None,
        gait: Gait | None = None,
        stand: Footing | None = None,
    ) -> None:
        """Measure the robot and get ready.

        Args:
            robot: The robot, with four legs at least.
            rate: Steps per second [Hz].
            feel: Whether feet feel the ground through servo current; else they trust that it
                is flat.
            payload: What it carries.
            gait: Gait of commands that name none; ripple when None.
            stand: Where it stands; found when None.

        Raises:
            RequestError: For a rate that is too low, or a robot that cannot walk.
        """
        if not (isfinite(rate) and rate >= SLOWEST_RATE):
            raise RequestError("rate", rate, f"finite and at least {SLOWEST_RATE:g} Hz")
        self.robot, self.rate, self.feel = robot, float(rate), feel
        self.able = abilities(robot, stand or footing(robot), payload=payload)
        self.stage = Stage.ASLEEP
        legs, joints = len(robot.legs), len(robot.joint_names)
        self._state = blank(legs, joints)
        self._goal = Goal(np.zeros(3), np.zeros(6), np.zeros(legs), np.zeros(at.GOALS))
        self.felt = Contact(robot, self.able)
        self.slips = Slips(robot)
        self._boxes = boxed(self.able.fixed), boxed(self._state), boxed(self._goal)
        self._whole = boxed(
            Whole(
                *self._boxes,
                feeling=self.felt.box,
                grip=self.slips.box,
                touch=self.felt.touch,
                length=np.array([self.able.leg_length]),
                kept=np.empty_like(self._state.whole),
                kept_mode=np.empty_like(self._state.mode),
            )
        )
        self._up, self._spin, self._shape = UPRIGHT.copy(), np.zeros(3), (joints,)
        default = gait or gait_named("ripple", legs)
        self._orders = Orders(robot, self.able, default, feel=feel)
        self._names = tuple(robot.legs)
        self._glides: list[Glide] = []
        self._silence = Silence(joints)
        self._last: Command | None = None
        self._ended: Command | None = None
        self._said, self._sinking = "", Sinking()

    @property
    def contact(self) -> NDArray[np.bool_]:
        """Which feet the controller stands on, (L,); also one that is in doubt."""
        mode = self._state.mode
        return np.asarray((mode == at.STAND) | (mode == at.LAND) | (mode == at.DOUBT))

    @property
    def settled(self) -> bool:
        """Whether all feet stand, the body rests over them and no step is to come."""
        state = self._state
        speed = abs(state.posture_v)
        still = abs(state.twist).max() < 1e-4 and (speed < STILL).all()
        done = self._last is not None and still and not self._orders.busy
        return bool(done and (state.mode == at.STAND).all())

    def restart(self) -> None:
        """Forget where it was: the next step looks at the pose it is found in."""
        self.stage = Stage.ASLEEP
        self._glides.clear()
        self._silence = Silence(len(self._state.q))
        self._last, self._ended, self._said = None, None, ""
        self._sinking = Sinking()
        self._state.whole[:] = 0.0
        self._state.mode[:] = at.STAND
        self._state.flags[:] = 0
        for values in self._goal:
            values[:] = 0.0
        self._orders.clear()
        self.felt.forget()
        self.slips.forget()

    @property
    def margin(self) -> float:
        """Static stability margin of the last step [m]."""
        return float(self._state.clock[at.LEAST])

    @property
    def place(self) -> Floats:
        """Odometry: x, y [m] and yaw [rad] since the controller came up, (3,)."""
        return self._state.place.copy()

    @property
    def body(self) -> tuple[Floats, Floats]:
        """Pose of the body frame in the odometry ground frame: R (3, 3), position (3,) [m]."""
        R, b = np.empty((3, 3)), np.empty(3)
        body_pose(self._state, R, b)
        return R, b

    def step(
        self, sensed: Sensed, command: Command, dt: float
    ) -> tuple[Targets, tuple[Event, ...]]:
        """One control step.

        Args:
            sensed: What the joints report now; nan where one does not answer.
            command: What is asked.
            dt: Time since the last step [s]; more than `LONGEST_STEP` counts as that.

        Returns:
            Joint targets until the next step, nan for joints to be left alone; and events.

        Raises:
            RequestError: For a time step that is not finite and positive, sensed arrays of
                the wrong shape, or a command that does not fit the robot; nothing has moved.
        """
        if not (isfinite(dt) and dt > 0.0):
            raise RequestError("dt", dt, "finite and more than 0 [s]")
        if not (sensed.q.shape == sensed.qd.shape == sensed.current.shape == self._shape):
            self._refuse(sensed)
        events: list[Event] = []
        if dt > 3.0 / self.rate:
            events.append(Event(what="late", text=f"A step of {dt * 1e3:.0f} ms came late."))
            dt = min(dt, LONGEST_STEP)
        sensed, whole = heard(sensed)
        if self.stage is not Stage.ASLEEP:
            self._listen(sensed, whole, dt, events)
        if self._silence.lost:
            self._end_for_loss(command, events)
            command = REFUGE
        if self.stage is Stage.ASLEEP and not self._wake(sensed, command, events):
            return Targets(q=sensed.q.copy(), qd=np.zeros_like(sensed.q)), tuple(events)
        if self.stage is Stage.GATHERING:
            return self._gather(dt, events)
        if command is not self._last:
            self._heed(command, events)
        self._proceed(dt, events)
        steps = max(1, round(dt * self.rate))
        start = self._state.q.copy() if steps > 1 else None
        self._move(sensed, dt, steps, events)
        if events and any(event.what in ENDS and event.leg == command.leg for event in events):
            self._ended = command
        qd = self._state.qd.copy() if start is None else (self._state.q - start) / dt
        return Targets(q=self._state.q.copy(), qd=qd), tuple(events)

    def _refuse(self, sensed: Sensed) -> None:
        """Say which of the readings has the wrong shape."""
        for name in ("q", "qd", "current"):
            found = getattr(sensed, name).shape
            if found != self._shape:
                raise RequestError(f"sensed.{name}", found, f"of shape {self._shape}")

    def _move(self, sensed: Sensed, dt: float, steps: int, events: list[Event]) -> None:
        """Learn from the readings; a joint that does not answer is taken as it was asked."""
        what = self._heeded(sensed) if self.feel else 0
        sensed = self._silence.bridged(sensed, self._state.q)
        up = self._up if sensed.up is None else sensed.up
        spin = self._spin if sensed.spin is None else sensed.spin
        for _ in range(steps):
            told = step(self._whole, sensed.q, sensed.current, up, spin, what, dt, dt / steps)
            if told & SLID:
                self._tell_slips(events)
            if told & FLAGGED:
                self._tell(events)
            what = 0  # once is enough

    def _heeded(self, sensed: Sensed) -> int:
        """What is to be done with readings that are felt: bits of the kernel's `what`."""
        what = FEEL
        if sensed.up is not None:
            if sensed.spin is not None:
                what |= SPUN
            if self.stage is Stage.UP and sensed.up[2] > 0.5:
                if not (self._last is not None and self._last.kind is Kind.HOLD and self.settled):
                    what |= LEVEL  # who holds still does not follow its noise
                if sensed.spin is not None:
                    what |= TURN
        elif self.stage is Stage.UP and self._goal.n[at.WALKING] > 0.0:
            what |= TRUST
        return what

    def _tell_slips(self, events: list[Event]) -> None:
        """Feet that begin to slide."""
        for leg in self.slips.news:
            name = self._names[leg]
            events.append(Event(what="slipped", text=f"{name} slides on the ground.", leg=name))

    def _end_for_loss(self, command: Command, events: list[Event]) -> None:
        """End an order for one leg that is given, or under way, once a joint is lost."""
        if command.kind in SINGLE and command is not self._ended:
            self._ended = command
            text = f"{command.leg} takes no orders: a joint is lost and the robot sits down."
            events.append(Event(what="unstable", text=text, leg=command.leg, limit="joint lost"))

    def _listen(self, sensed: Sensed, whole: bool, dt: float, events: list[Event]) -> None:
        """Notice joints that are lost, and a fall; ``whole`` where all joints answer."""
        for column in self._silence.count(sensed.q, whole, dt):
            name = self.robot.joint_names[column]
            leg = next(
                n for n, span in self.robot.columns.items() if span.start <= column < span.stop
            )
            text = f"{name} does not answer: the robot sits down."
            events.append(Event(what="joint lost", text=text, leg=leg))
            self._orders.lose(self._names.index(leg), self._state)
        if sensed.up is not None and sensed.up[2] < FALLEN:
            self.stage, self._last = Stage.ASLEEP, None
            tilt = np.degrees(np.arccos(max(sensed.up[2], -1.0)))
            text = f"The robot has fallen: it is tilted by {tilt:.0f}°. Set it upright."
            events.append(Event(what="fallen", text=text))

    def _say(self, what: str, text: str, events: list[Event]) -> None:
        """Tell why the robot does not get up, once."""
        if text != self._said:
            self._said = text
            events.append(Event(what=what, text=text))

    def _wake(self, sensed: Sensed, command: Command, events: list[Event]) -> bool:
        """Look at the pose it is found in; True when it may move."""
        if not np.isfinite(sensed.q).all():
            missing = [n for n, q in zip(self.robot.joint_names, sensed.q, strict=True) if q != q]
            self._say("waiting", f"Waiting for {', '.join(missing[:3])} to answer.", events)
            return False
        if sensed.up is not None and sensed.up[2] < TIPPED:
            tilt = np.degrees(np.arccos(np.clip(sensed.up[2], -1.0, 1.0)))
            text = f"Lies tilted by {tilt:.0f}°: set the robot upright before it gets up."
            self._say("tipped", text, events)
            return False
        q = np.clip(sensed.q, self.able.fixed.lower, self.able.fixed.upper)
        found = stands(self.robot, self.able, q, sensed.up)
        if found is not None:
            plant(self._state, self.able, q, found)
            self.slips.forget()
            self._orders.tidy(self._state)
            self.stage = Stage.UP
            return True
        if command.kind in (Kind.SIT, Kind.HOLD):
            return False
        tucked = tucked_pose(self.robot, self.able, q)
        ready, _ = ready_pose(self.robot, self.able)
        self._state.q[:] = q
        fixed = self.able.fixed
        self._glides = [Glide.between(q, tucked, fixed), Glide.between(tucked, ready, fixed)]
        self.stage = Stage.GATHERING
        events.append(Event(what="gathering", text="The legs gather to stand up."))
        return True

    def _gather(self, dt: float, events: list[Event]) -> tuple[Targets, tuple[Event, ...]]:
        """Follow the glides; when they end, stand on the feet."""
        glide = self._glides[0]
        q, qd = glide.after(dt)
        self._state.q[:], self._state.qd[:] = q, qd
        if glide.over:
            self._glides.pop(0)
            if not self._glides:
                _, height = ready_pose(self.robot, self.able)
                plant(self._state, self.able, q, height)
                self.slips.forget()
                self.stage = Stage.UP
                self._last = None
        return Targets(q=q.copy(), qd=qd.copy()), tuple(events)

    def _heed(self, command: Command, events: list[Event]) -> None:
        """Turn a new command into a goal."""
        self._orders.check(command)
        self._last = command
        self._orders.give(command, self._goal, self._state, events)
        probing = command.kind is Kind.PROBE
        if probing and not self.feel:
            text = "Feet that do not feel cannot probe: the foot is only placed."
            events.append(Event(what="limited", text=text, leg=command.leg, limit="feel"))
        if command.kind is Kind.SIT:
            self.stage = Stage.SITTING if self.stage is Stage.UP else self.stage
            self._sinking = Sinking()
        elif self.stage in (Stage.SITTING, Stage.DOWN):
            self.stage = Stage.UP

    def _proceed(self, dt: float, events: list[Event]) -> None:
        """What depends on how far things are: sit when all feet stand, step in turn."""
        push = self.felt.feeling.push
        self._orders.go_on(self._goal, self._state, push, dt, events)
        if self.stage is Stage.SITTING and self._orders.lowering:
            height = float(self._state.posture[2] - self._state.relief[0])
            if self._sinking.over(height, height - float(self._goal.posture[2]), dt):
                self.stage = Stage.DOWN
                text = self._sinking.told(height - self.able.belly)
                events.append(Event(what="down", text=text))

    def _tell(self, events: list[Event]) -> None:
        """Events of the last tick, leg by leg."""
        for leg in np.flatnonzero(self._state.flags):
            flags, name = int(self._state.flags[leg]), self._names[leg]
            for bit, (what, text) in TOLD.items():
                if flags & bit:
                    events.append(Event(what=what, text=text.format(leg=name), leg=name))


def compiled() -> bool:
    """Whether the control kernel lies compiled on disk; else the first step takes a minute or two.

    A cache older than its sources counts as none.
    """
    return on_disk(step)


TOLD = {
    at.LIFTED: ("lifted", "{leg} lifts its foot."),
    at.TOUCHED: ("touched", "{leg} touches the ground."),
    at.STUMBLED: ("stumbled", "{leg} meets something and lifts over it."),
    at.UNBORNE: ("unborne", "{leg} carries nothing and feels its way down again."),
    at.SEARCHED: ("searching", "{leg} finds no ground and looks beside."),
    at.NO_GROUND: ("no ground", "{leg} finds no ground within reach and waits as low as it can."),
}
"""What a flag says: the word for programs and the sentence for people."""
