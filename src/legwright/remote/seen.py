"""What a client sees of the robot: one moment, and series of moments, as arrays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.errors import LinkError
from legwright.remote.said import Card, Ended, State
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class JointsSeen:
    """Joints of one leg, base to foot."""

    names: tuple[str, ...]
    q: Floats
    """Positions, (n,) [rad]; nan where a joint does not answer."""
    qd: Floats
    """(n,) [rad/s]"""
    current: Floats
    """(n,) [A]"""
    winding: Floats
    """Temperatures, (n,) [K]; nan where the drive does not tell."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Seen:
    """The robot at one moment."""

    time: float
    """Robot time [s]."""
    mode: str
    """limp, holding, standing, walking, single-leg, sitting down, fault."""
    faults: tuple[str, ...]
    voltage: float
    """[V]"""
    margin: float
    """Static stability margin [m]; nan while nothing stands."""
    place: Floats
    """Odometry: x, y [m], yaw [rad], (3,)."""
    joints: Mapping[str, JointsSeen]
    """By leg."""
    feet: Mapping[str, Floats]
    """By leg: the foot in the body frame, (3,) [m]."""
    contact: Mapping[str, bool]
    """By leg: whether the robot stands on it."""
    force: Mapping[str, float]
    """By leg: felt force of the ground [N]; nan where nothing feels it."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Series:
    """States in time; what was not asked for is empty."""

    t: Floats
    """Robot time, (T,) [s]."""
    mode: tuple[str, ...]
    q: Floats
    """(T, J) [rad]"""
    qd: Floats
    """(T, J) [rad/s]"""
    current: Floats
    """(T, J) [A]"""
    targets: Floats
    """(T, J) [rad]"""
    winding: Floats
    """(T, J) [K]"""
    voltage: Floats
    """(T,) [V]"""
    margin: Floats
    """(T,) [m]"""
    place: Floats
    """(T, 3): x, y [m], yaw [rad]."""
    force: Floats
    """(T, L) [N]"""
    feet: Floats
    """(T, L, 3), body frame [m]."""
    contact: NDArray[np.bool_]
    """(T, L)"""
    joints: tuple[str, ...]
    """Names along J."""
    legs: tuple[str, ...]
    """Names along L."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Touch:
    """Where a foot touched, and how hard."""

    leg: str
    point: Floats
    """In the body frame, (3,) [m]."""
    force: float
    """Of a probe the push that it ended with, of a placed foot what was felt in the 0.1 s after it
    touched [N]; nan where feet do not feel."""
    time: float
    """Robot time [s]."""


def seen(state: State, card: Card) -> Seen:
    """A `state` with all fields, as a client sees it."""
    legs = tuple(card.legs)
    rows = {name: _row(getattr(state, name)) for name in ("q", "qd", "current", "winding")}
    column = {name: i for i, name in enumerate(card.joints)}
    joints = {}
    for leg, names in card.legs.items():
        of = [column[name] for name in names]
        joints[leg] = JointsSeen(names=names, **{name: row[of] for name, row in rows.items()})
    force = _row(state.force)
    return Seen(
        time=state.time,
        mode=state.mode or "",
        faults=state.faults or (),
        voltage=_number(state.voltage),
        margin=_number(state.margin),
        place=_row(state.place),
        joints=MappingProxyType(joints),
        feet=MappingProxyType({n: _row(p) for n, p in zip(legs, state.feet or (), strict=True)}),
        contact=MappingProxyType(dict(zip(legs, state.contact or (), strict=True))),
        force=MappingProxyType({n: float(f) for n, f in zip(legs, force, strict=True)}),
    )


def series(states: Sequence[State], card: Card) -> Series:
    """States as arrays."""

    def of(name: str) -> Floats:
        values = [getattr(state, name) for state in states]
        if any(value is None and name not in ("voltage", "margin") for value in values):
            return np.empty((len(states), 0))
        return _row(values)

    contact = [state.contact or () for state in states]
    return Series(
        t=np.array([state.time for state in states]),
        mode=tuple(state.mode or "" for state in states),
        **{
            name: of(name)
            for name in (
                "q", "qd", "current", "targets", "winding", "voltage", "margin", "place", "force",
                "feet",
            )
        },
        contact=np.array(contact, dtype=np.bool_),
        joints=card.joints,
        legs=tuple(card.legs),
    )  # fmt: skip


def touch(ended: Ended, leg: str) -> Touch:
    """Where a placed or probing foot touched."""
    if ended.foot is None:
        raise LinkError("refused", f"{leg} did not say where it touched.")
    return Touch(leg=leg, point=_row(ended.foot), force=_number(ended.force), time=ended.time)


def _row(values: Any) -> Floats:
    found: Floats = np.array(values if values is not None else (), dtype=np.float64)
    found.setflags(write=False)
    return found


def _number(value: float | None) -> float:
    return float("nan") if value is None else value
