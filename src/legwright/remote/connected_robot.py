"""A robot to be driven from Python, call by call.

Made from async_robot.py by `python docs/make_blocking.py`: change that file, not this one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import inf
from types import TracebackType
from typing import Literal

from numpy.typing import ArrayLike

from legwright.remote import said
from legwright.remote.async_robot import AsyncLeg, AsyncRobot, Pose
from legwright.remote.seen import Seen, Series, Touch
from legwright.remote.thread_loop import ThreadLoop


class ConnectedRobot:
    """One session with a robot: `with lw.connect(…) as robot`.

    While it lives, it renews the motion under way twenty times a second; when it dies, the robot
    stands still within 0.25 s. On leaving, a moving robot comes to a stand and the driver's
    place is given up; a robot that nobody drives sits down and switches off after 30 s.
    """

    def __init__(self, inner: AsyncRobot, loop: ThreadLoop) -> None:
        self._inner, self._loop = inner, loop

    def __enter__(self) -> ConnectedRobot:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        self.close()

    @property
    def name(self) -> str:
        """Of the robot."""
        return self._inner.name

    @property
    def legs(self) -> tuple[str, ...]:
        """Names of its legs."""
        return self._inner.legs

    @property
    def joints(self) -> tuple[str, ...]:
        """Names of its joints, in the order of all arrays."""
        return self._inner.joints

    @property
    def gaits(self) -> tuple[str, ...]:
        """Names of its gaits."""
        return self._inner.gaits

    @property
    def state(self) -> Seen:
        """The robot now, at most 50 ms old."""
        return self._inner.state

    @property
    def role(self) -> str:
        """What this session may do: watch, drive or maintain."""
        return self._inner.role

    @property
    def driver(self) -> str:
        """Name of who drives; empty when nobody does."""
        return self._inner.driver

    @property
    def drives(self) -> bool:
        """Whether this session drives."""
        return self._inner.drives

    @property
    def session(self) -> str:
        """Of this connection, as `hand_over` wants it."""
        return self._inner.session

    def power(self) -> None:
        """Switch drive power on; joints hold where they are."""
        self._loop.run(self._inner.power())

    def release(self) -> None:
        """Switch drive power off; a robot on its feet sits down first. Ends when it is limp."""
        self._loop.run(self._inner.release())

    def stop(self, category: Literal[0, 1, 2] = 1) -> None:
        """Stop at once; whoever is signed in may.

        Args:
            category: After IEC 60204-1. 0: power off now; 1: sit down, then power off; 2: stand
                still, power stays on.
        """
        self._loop.run(self._inner.stop(category))

    def acknowledge(self) -> None:
        """Say that faults have been seen; those whose cause is gone are cleared."""
        self._loop.run(self._inner.acknowledge())

    def stand(self, *, height: float | None = None, pose: Pose | None = None) -> None:
        """Get up if need be, and stand; ends when nothing moves any more.

        Args:
            height: Of the body frame over the ground; the robot's own when None [m].
            pose: Body over its place: x, y, z [m], roll, pitch, yaw [rad].
        """
        self._loop.run(self._inner.stand(height=height, pose=pose))

    def walk(
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
        self._loop.run(
            self._inner.walk(
                forward=forward,
                left=left,
                turn=turn,
                gait=gait,
                seconds=seconds,
                height=height,
                pose=pose,
            )
        )

    def sit(self) -> None:
        """Lower the body to the ground; power stays on."""
        self._loop.run(self._inner.sit())

    def hold(self) -> None:
        """Freeze as soon as the feet in the air have landed."""
        self._loop.run(self._inner.hold())

    def lead(
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
        self._loop.run(self._inner.lead(legs, times, space=space))

    def leg(self, name: str) -> ConnectedLeg:
        """One leg, to be lifted, placed, or to probe.

        Args:
            name: Of the leg.

        Raises:
            RequestError: for a leg that the robot does not have.
        """
        return ConnectedLeg(self._inner.leg(name), self._loop)

    def watch(
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
        return self._loop.run(self._inner.watch(rate=rate, seconds=seconds, fields=fields))

    def events(self, *, seconds: float = inf) -> Iterator[said.Event]:
        """What happens: first all that has not been read yet, then what comes.

        Args:
            seconds: Ends after so much of the robot's time [s].
        """
        return self._loop.iterate(self._inner.events(seconds=seconds))

    def take(self, *, force: bool = False) -> None:
        """Take the driver's place.

        Args:
            force: From whoever has it; only the role maintain may.
        """
        self._loop.run(self._inner.take(force=force))

    def give(self) -> None:
        """Give up the driver's place."""
        self._loop.run(self._inner.give())

    def hand_over(self, session: str) -> None:
        """Hand the driver's place to another session.

        Args:
            session: As its `session` says.
        """
        self._loop.run(self._inner.hand_over(session))

    def close(self) -> None:
        """Come to a stand if the robot moves, give up the driver's place, and leave."""
        try:
            self._loop.run(self._inner.close())
        finally:
            self._loop.end()


class ConnectedLeg:
    """One leg of a standing robot; the others keep standing."""

    def __init__(self, inner: AsyncLeg, loop: ThreadLoop) -> None:
        self._inner, self._loop = inner, loop

    def lift(self, *, height: float | None = None) -> None:
        """Lift the foot, and keep it in the air until another motion is asked for.

        Args:
            height: Of the foot over the ground [m].
        """
        self._loop.run(self._inner.lift(height=height))

    def place(self, target: tuple[float, float] | None = None) -> Touch:
        """Set the foot down.

        Args:
            target: Forward, to the left of the body's place [m]; straight down when None.

        Returns:
            Where it touched and how hard.
        """
        return self._loop.run(self._inner.place(target))

    def probe(self, *, push: float = 5.0, target: tuple[float, float] | None = None) -> Touch:
        """Lower the foot until the ground pushes back.

        Args:
            push: Force up to which it presses on [N]; less where the legs or the ground end
                before, as the answer's `force` then tells.
            target: Forward, to the left of the body's place [m]; straight down when None.

        Returns:
            Where it touched and how hard.
        """
        return self._loop.run(self._inner.probe(push=push, target=target))

    def lead(
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
        self._loop.run(self._inner.lead(points, times, space=space))
