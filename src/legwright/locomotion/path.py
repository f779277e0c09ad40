"""Trajectories: legs led by hand while the others stand, checked before they run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from legwright.errors import RequestError
from legwright.locomotion.abilities import Abilities
from legwright.mechanics.balance import static_margin
from legwright.mechanics.dynamics import inverse_dynamics, packed
from legwright.mechanics.pose import gravity_on, ground_under
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

LONGEST = 30.0
"""Of a trajectory [s]."""
LARGEST = 12_000
"""Numbers in one: rows times joints."""
FEWEST = 3
"""Legs that must stand."""
CLEAR, SUNK = 0.005, 0.003
"""A led foot may be this far in the ground [m], and drags below that height over it."""
ASSUMED_MARGIN = 0.08
"""Required stability margin where the sheet states none, in leg lengths: common practice, no
published source."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Path:
    """Joint positions of some legs, cycle by cycle, from where they stood."""

    columns: tuple[int, ...]
    """Which joints, in the order of `Robot.joint_names`."""
    q: Floats
    """(T, n) [rad]; the first row is where they stood."""


def lead_joints(
    robot: Robot, able: Abilities, start: Floats, legs: Mapping[str, ArrayLike],
    times: Sequence[float], *, rate: float,
) -> Path:  # fmt: skip
    """A path through joint positions.

    Args:
        robot: The robot; it stands.
        able: Its abilities.
        start: Present joint positions, (J,) [rad].
        legs: Leg -> its joint positions at the times, (K, n) [rad].
        times: From now, rising, more than 0, (K,) [s].
        rate: Bus cycles per second [Hz].

    Returns:
        The path: a cubic spline through all points that begins and ends at rest.

    Raises:
        RequestError: saying which limit it breaks, where and when.
    """
    clock = _times(times, rate)
    columns = _columns(robot, legs)
    points = np.hstack([_table(legs, leg, len(clock) - 1) for leg in _order(robot, legs)])
    if points.shape[1] != len(columns):
        raise RequestError("points", points.shape[1], f"{len(columns)} joints wide")
    knots = np.vstack([start[columns][None], points])
    q = CubicSpline(clock, knots, bc_type="clamped")(_grid(clock, rate))
    return _checked(robot, able, start, columns, np.asarray(q), list(legs), rate)


def lead_feet(
    robot: Robot, able: Abilities, start: Floats, legs: Mapping[str, ArrayLike],
    times: Sequence[float], *, rate: float,
) -> Path:  # fmt: skip
    """A path through foot positions in the body frame; all else as `lead_joints`.

    Args:
        robot: The robot; it stands.
        able: Its abilities.
        start: Present joint positions, (J,) [rad].
        legs: Leg -> positions of its foot at the times, body frame, (K, 3) [m].
        times: From now, rising, more than 0, (K,) [s].
        rate: Bus cycles per second [Hz].

    Raises:
        RequestError: saying which limit it breaks, where and when.
    """
    clock = _times(times, rate)
    grid = _grid(clock, rate)
    parts = []
    for leg in _order(robot, legs):
        chain, own = robot.legs[leg], robot.columns[leg]
        table = _table(legs, leg, len(clock) - 1)
        if table.shape[1] != 3:
            raise RequestError("points", table.shape[1], "three wide: x, y, z [m]")
        points = np.vstack([chain.foot(start[own]), table])
        feet = CubicSpline(clock, points, bc_type="clamped")(grid)
        found = chain.reach(feet, np.broadcast_to(start[own], (len(feet), chain.n)))
        if not np.all(found.ok):
            row = int(np.argmin(found.ok))
            x, y, z = feet[row]
            text = f"within reach; {leg} misses it by {1e3 * found.error[row]:.0f} mm"
            raise RequestError(
                "points", f"({x:.3f}, {y:.3f}, {z:.3f}) m at {grid[row]:.2f} s", text
            )
        parts.append(np.vstack([start[own], found.q[1:]]))
    return _checked(robot, able, start, _columns(robot, legs), np.hstack(parts), list(legs), rate)


def _times(times: Sequence[float], rate: float) -> Floats:
    clock = np.concatenate([[0.0], np.asarray(times, dtype=np.float64).ravel()])
    if len(clock) < 2 or not np.isfinite(clock).all() or (np.diff(clock) < 1.0 / rate).any():
        raise RequestError("times", list(times), f"rising, {1e3 / rate:.0f} ms apart at least")
    if clock[-1] > LONGEST:
        raise RequestError("times", float(clock[-1]), f"at most {LONGEST:g} s")
    return clock


def _grid(clock: Floats, rate: float) -> Floats:
    return np.append(np.arange(int(clock[-1] * rate)) / rate, clock[-1])


def _order(robot: Robot, legs: Mapping[str, ArrayLike]) -> list[str]:
    unknown = [leg for leg in legs if leg not in robot.legs]
    if unknown or not legs:
        named = unknown[0] if unknown else "nothing"
        raise RequestError("legs", named, f"some of {', '.join(robot.legs)}")
    return [leg for leg in robot.legs if leg in legs]


def _columns(robot: Robot, legs: Mapping[str, ArrayLike]) -> list[int]:
    every = np.arange(len(robot.joint_names))
    return [int(c) for leg in _order(robot, legs) for c in every[robot.columns[leg]]]


def _table(legs: Mapping[str, ArrayLike], leg: str, rows: int) -> Floats:
    try:
        table = np.asarray(legs[leg], dtype=np.float64)
    except (TypeError, ValueError):
        raise RequestError("points", leg, "numbers, a row for each time") from None
    if table.ndim != 2 or len(table) != rows or not np.isfinite(table).all():
        raise RequestError("points", f"{leg}, {table.shape}", f"{rows} rows of finite numbers")
    return table


def _checked(
    robot: Robot, able: Abilities, start: Floats, columns: list[int], q: Floats, led: list[str],
    rate: float,
) -> Path:  # fmt: skip
    """The path, if no limit is broken on it."""
    if q.size > LARGEST:
        raise RequestError("times", f"{q.size} numbers", f"short enough for {LARGEST} numbers")
    names = [robot.joint_names[column] for column in columns]
    fixed = able.fixed
    speed, surge = np.diff(q, axis=0) * rate, np.diff(q, n=2, axis=0) * rate**2
    _within("position", names, q, fixed.lower[columns], fixed.upper[columns], rate, "rad")
    _within("speed", names, speed, -fixed.speed[columns], fixed.speed[columns], rate, "rad/s")
    _within(
        "acceleration", names, surge, -fixed.surge[columns], fixed.surge[columns], rate, "rad/s²"
    )
    whole = np.repeat(np.asarray(start)[None], len(q), axis=0)
    whole[:, columns] = q
    _stands(robot, able, whole, led, rate)
    return Path(columns=tuple(columns), q=read_only(q))


def _within(
    what: str, names: list[str], values: Floats, low: Floats, high: Floats, rate: float, unit: str
) -> None:
    out = (values < low - 1e-9) | (values > high + 1e-9)
    if out.any():
        row, column = np.argwhere(out)[0]
        raise RequestError(
            f"{what} of {names[column]} at {row / rate:.2f} s",
            round(float(values[row, column]), 3),
            f"between {low[column]:.3f} and {high[column]:.3f} {unit}",
        )


def _stands(robot: Robot, able: Abilities, q: Floats, led: list[str], rate: float) -> None:
    """Refuse what the standing legs could not hold, and feet that dig or drag."""
    stance = np.array([leg not in led for leg in robot.legs])
    if stance.sum() < FEWEST:
        raise RequestError("legs", ", ".join(led), f"few enough to leave {FEWEST} standing")
    rest, nothing = np.zeros_like(q), np.zeros((len(q), 6))
    found = inverse_dynamics(
        packed(robot), q, rest, rest, twist=nothing, acceleration=nothing, gravity=gravity_on()
    )
    axes, over = ground_under(found.feet[0], stance)
    least = robot.sheet.requirements.stability_margin
    least = ASSUMED_MARGIN * able.leg_length if least is None else float(least)
    margin = static_margin(found.feet, found.com, contact=stance, gravity=-axes[2])
    row = int(margin.argmin())
    if margin[row] < least:
        raise RequestError(
            f"stability margin at {row / rate:.2f} s", f"{1e3 * margin[row]:.0f} mm",
            f"{1e3 * least:.0f} mm at least on the legs that are not led",
        )  # fmt: skip
    height = found.feet @ axes[2] + over[2]
    for index in np.flatnonzero(~stance):
        name, heights = list(robot.legs)[index], height[:, index]
        deep = int(heights.argmin())
        if heights[deep] < min(-SUNK, heights[0] - SUNK):
            raise RequestError(
                f"height of {name} at {deep / rate:.2f} s", f"{1e3 * heights[deep]:.0f} mm",
                "over the ground on which the other feet stand",
            )  # fmt: skip
        along = np.linalg.norm(np.diff(found.feet[:, index] @ axes[:2].T, axis=0), axis=1)
        low = heights < heights[0] + CLEAR
        dragged = float(along[low[1:] & low[:-1]].sum())
        if dragged > 2 * CLEAR:
            raise RequestError(
                f"way of {name} on the ground", f"{1e3 * dragged:.0f} mm",
                f"lifted {1e3 * CLEAR:.0f} mm before it goes aside",
            )  # fmt: skip
