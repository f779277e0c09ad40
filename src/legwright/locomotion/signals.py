"""What goes into and comes out of one control step, simulated or real."""

from __future__ import annotations

from dataclasses import dataclass

from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sensed:
    """What the joints and the inertial sensor report; the J axis as `Robot.joint_names`."""

    q: Floats
    """(J,): joint positions [rad]; nan where a joint does not answer."""
    qd: Floats
    """(J,): joint velocities [rad/s]."""
    current: Floats
    """(J,): winding current, signed with the torque that it makes along the joint axis [A]."""
    voltage: float
    """Supply voltage [V]."""
    up: Floats | None = None
    """(3,): direction against gravity in the body frame, from an inertial sensor; else None."""
    spin: Floats | None = None
    """(3,): angular velocity of the body, body frame, from an inertial sensor; else None [rad/s].
    A small constant error is expected and learnt while the robot stands still."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Targets:
    """What the joints are to do until the next step."""

    q: Floats
    """(J,): joint positions [rad]."""
    qd: Floats
    """(J,): their velocities, a feed-forward for drives that take one [rad/s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something worth telling: a touchdown, a limit that slows the walk, a lost joint."""

    what: str
    """A word of the documented list, for programs."""
    text: str
    """One sentence for people."""
    leg: str = ""
    """The leg that it is about, or empty."""
    limit: str = ""
    """What kept it from being all that was asked: ``stride``, ``joint speed``, ``reach``,
    ``margin``, ``ground``, ``feel``; empty where nothing did."""
    share: float = 1.0
    """Granted over asked, where something was slowed or limited."""
    position: tuple[float, float, float] | None = None
    """Foot point in the body frame [m], for `held`, `placed` and `probed`."""
    place: tuple[float, float, float] | None = None
    """The same point in the odometry ground frame [m]."""
    force: float | None = None
    """Upward push of the ground on the foot, for `probed` [N]."""
