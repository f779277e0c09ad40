"""A robot to be driven from Python, asynchronously; `robot.py` is made from this file.

`python docs/make_blocking.py` writes the blocking one; a test shows that it is current.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping, Sequence
from math import inf
from types import TracebackType
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import LinkError, RequestError, did_you_mean
from legwright.remote import asked, said
from legwright.remote.link import Link
from legwright.remote.seen import Seen, Series, Touch, seen, series, touch

LIMP, FAULT = "limp", "fault"
MOVING = ("walking", "single-leg")
CALM = 2.0
"""`ttl` of all that need not be renewed [s]."""
Pose = tuple[float, float, float, float, float, float]


class AsyncRobot:
    """One session with a robot: `async with lw.connect_async(…) as robot`.

    While it lives, it renews the motion under way twenty times a second; when it dies, the robot
    stands still within 0.25 s. On leaving, a moving robot comes to a stand and the driver's
    place is given up; a robot that nobody drives sits down and switches off after 30 s.
    """

    def __init__(self, link: Link) -> None:
        self._link = link

    async def __aenter__(self) -> AsyncRobot:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        await self.close()

    # What is there ------------------------------------------------------------------------

    @property
    def name(self) -> str:
        """Of the robot."""
        return self._link.welcome.robot.name

    @property
    def legs(self) -> tuple[str, ...]:
        """Names of its legs."""
        return tuple(self._link.welcome.robot.legs)

    @property
    def joints(self) -> tuple[str, ...]:
        """Names of its joints, in the order of all arrays."""
        return self._link.welcome.robot.joints

    @property
    def gaits(self) -> tuple[str, ...]:
        """Names of its gaits."""
        return self._link.welcome.robot.gaits

    @property
    def state(self) -> Seen:
        """The robot now, at most 50 ms old."""
        state = self._link.state
        if state is None:
            raise LinkError("lost", "Nothing has been heard from the robot yet.")
        return seen(state, self._link.welcome.robot)

    @property
    def role(self) -> str:
        """What this session may do: watch, drive or maintain."""
        return self._link.role

    @property
    def driver(self) -> str:
        """Name of who drives; empty when nobody does."""
        return self._link.driver.name

    @property
    def drives(self) -> bool:
        """Whether this session drives."""
        return self._link.drives

    @property
    def session(self) -> str:
        """Of this connection, as `hand_over` wants it."""
        return self._link.welcome.session

    # Power --------------------------------------------------------------------------------

    async def power(self) -> None:
        """Switch drive power on; joints hold where they are."""
        await self._link.ask(asked.Power(n=0, heard=0.0, ttl=CALM))

    async def release(self) -> None:
        """Switch drive power off; a robot on its feet sits down first. Ends when it is limp."""
        await self._link.ask(asked.Release(n=0, heard=0.0, ttl=CALM))
        while self.state.mode not in (LIMP, FAULT):
            await self._link.moved()

    async def stop(self, category: Literal[0, 1, 2] = 1) -> None:
        """Stop at once; whoever is signed in may.

        Args:
            category: After IEC 60204-1. 0: power off now; 1: sit down, then power off; 2: stand
                still, power stays on.
        """
        await self._link.stop(category)

    async def acknowledge(self) -> None:
        """Say that faults have been seen; those whose cause is gone are cleared."""
        await self._link.ask(asked.Acknowledge(n=0, heard=0.0, ttl=CALM))

    # Motion -------------------------------------------------------------------------------

    async def stand(self, *, height: float | None = None, pose: Pose | None = None) -> None:
        """Get up if need be, and stand; ends when nothing moves any more.

        Args:
            height: Of the body frame over the ground; the robot's own when None [m].
            pose: Body over its place: x, y, z [m], roll, pitch, yaw [rad].
        """
        await self._ready()
        message = asked.Stand(n=0, heard=0.0, ttl=CALM, height=height, pose=pose)
        await self._link.carry_out(message)

    async def walk(
        self,
        *,
        forward: float = 0.0,
        left: float = 0.0,
        turn: float = 0.0,
        gait: str = "",
        seconds: float | None = None,
        height: float | None = None,
        pose: Pose | None = None,
    ) -> None:
        """Walk; ends when the robot stands again.

        Args:
            forward: [m/s].
            left: [m/s].
            turn: To the left [rad/s].
            gait: One of `gaits`; the robot's default when empty.
            seconds: For how long. When None the call returns as the walk begins, and the robot
                goes on until another motion is asked for, or this program ends.
            height: Of the body frame over the ground; the robot's own when None [m].
            pose: Body over its place: x, y, z [m], roll, pitch, yaw [rad].
        """
        await self._ready()
        message = asked.Walk(
            n=0, heard=0.0, forward=forward, left=left, turn=turn, gait=gait, seconds=seconds,
            height=height, pose=pose,
        )  # fmt: skip
        if seconds is None:
            await self._link.begin(message)
        else:
            await self._link.carry_out(message)

    async def sit(self) -> None:
        """Lower the body to the ground; power stays on."""
        await self._ready()
        await self._link.carry_out(asked.Sit(n=0, heard=0.0, ttl=CALM))

    async def hold(self) -> None:
        """Freeze as soon as the feet in the air have landed."""
        await self._ready()
        await self._link.carry_out(asked.Hold(n=0, heard=0.0, ttl=CALM))

    async def lead(
        self,
        legs: Mapping[str, ArrayLike],
        times: Sequence[float],
        *,
        space: Literal["joints", "feet"] = "feet",
    ) -> None:
        """Lead some legs along a smooth path while the others stand; ends at its last point.

        The robot must stand. The whole path is checked first against joint limits, speeds,
        accelerations, the ground, and the stability margin on the legs that are not led. The legs
        stay at the last point until another motion is asked for, and go back the way they came.

        Args:
            legs: Leg -> a row for each time, (K, 3) feet in the body frame [m], or (K, n) joint
                positions, base to foot [rad].
            times: When each row is reached, from now, (K,) [s].
            space: What the rows are.
        """
        rows = {name: tuple(map(tuple, np.asarray(r, float).tolist())) for name, r in legs.items()}
        message = asked.Trajectory(
            n=0, heard=0.0, legs=rows, times=tuple(float(t) for t in times), space=space
        )
        await self._link.carry_out(message)

    def leg(self, name: str) -> AsyncLeg:
        """One leg, to be lifted, placed, or to probe.

        Args:
            name: Of the leg.

        Raises:
            RequestError: for a leg that the robot does not have.
        """
        if name not in self.legs:
            near = did_you_mean(name, self.legs)
            raise RequestError("leg", name, f"a leg of {self.name}. {near}")
        return AsyncLeg(self, name)

    # Watching -----------------------------------------------------------------------------

    async def watch(
        self,
        *,
        rate: float = 100.0,
        seconds: float = 1.0,
        fields: tuple[str, ...] = ("mode", "q", "qd", "current", "voltage"),
    ) -> Series:
        """Record states into arrays, whatever else is going on.

        Args:
            rate: States per second, at most the bus rate [Hz].
            seconds: For how long, by the robot's clock [s].
            fields: Names of the arrays of `Series` to fill.
        """
        found = await self._link.stream(rate=rate, seconds=seconds, fields=fields)
        return series(found, self._link.welcome.robot)

    async def events(self, *, seconds: float = inf) -> AsyncIterator[said.Event]:
        """What happens: first all that has not been read yet, then what comes.

        Args:
            seconds: Ends after so much of the robot's time [s].
        """
        async for event in self._link.events(seconds):
            yield event

    # The driver's place -------------------------------------------------------------------

    async def take(self, *, force: bool = False) -> None:
        """Take the driver's place.

        Args:
            force: From whoever has it; only the role maintain may.
        """
        await self._link.ask(asked.Take(n=0, force=force))

    async def give(self) -> None:
        """Give up the driver's place."""
        await self._link.ask(asked.Give(n=0))

    async def hand_over(self, session: str) -> None:
        """Hand the driver's place to another session.

        Args:
            session: As its `session` says.
        """
        await self._link.ask(asked.HandOver(n=0, to=session))

    async def close(self) -> None:
        """Come to a stand if the robot moves, give up the driver's place, and leave."""
        try:
            if self._link.lost is None and self._link.drives:
                if self.state.mode in MOVING:
                    await self.stand()
                await self.give()
        except LinkError:
            pass  # it is lost or stopped already: its deadman has seen to it
        finally:
            await self._link.close()

    async def _ready(self) -> None:
        """See that there is power, before a motion."""
        mode = self.state.mode
        if mode == LIMP and self._link.drives:
            await self.power()


class AsyncLeg:
    """One leg of a standing robot; the others keep standing."""

    def __init__(self, robot: AsyncRobot, name: str) -> None:
        self._robot, self._name = robot, name

    async def lift(self, *, height: float | None = None) -> None:
        """Lift the foot, and keep it in the air until another motion is asked for.

        Args:
            height: Of the foot over the ground [m].
        """
        message = asked.Lift(n=0, heard=0.0, leg=self._name, height=height)
        await self._carry_out(message)

    async def place(self, target: tuple[float, float] | None = None) -> Touch:
        """Set the foot down.

        Args:
            target: Forward, to the left of the body's place [m]; straight down when None.

        Returns:
            Where it touched and how hard.
        """
        message = asked.Place(n=0, heard=0.0, leg=self._name, target=target)
        return touch(await self._carry_out(message), self._name)

    async def probe(self, *, push: float = 5.0, target: tuple[float, float] | None = None) -> Touch:
        """Lower the foot until the ground pushes back.

        Args:
            push: Force up to which it presses on [N]; less where the legs or the ground end
                before, as the answer's `force` then tells.
            target: Forward, to the left of the body's place [m]; straight down when None.

        Returns:
            Where it touched and how hard.
        """
        message = asked.Probe(n=0, heard=0.0, leg=self._name, push=push, target=target)
        return touch(await self._carry_out(message), self._name)

    async def lead(
        self,
        points: ArrayLike,
        times: Sequence[float],
        *,
        space: Literal["joints", "feet"] = "feet",
    ) -> None:
        """Lead this leg along a smooth path; as `lead` of the robot.

        Args:
            points: (K, 3) places of the foot in the body frame [m], or (K, n) joint positions
                [rad].
            times: When each is reached, from now, (K,) [s].
            space: What the points are.
        """
        await self._robot.lead({self._name: points}, times, space=space)

    async def _carry_out(self, message: asked.Timed) -> said.Ended:
        robot = self._robot
        if robot.state.mode in (LIMP, "holding"):
            await robot.stand()
        return await robot._link.carry_out(message)
