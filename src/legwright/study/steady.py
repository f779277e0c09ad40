"""Steady walking on flat ground in the physics world: whole cycles, after the start is over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.gait import Gait
from legwright.locomotion.stance import footing
from legwright.mechanics.pose import quaternion
from legwright.rig import grounds
from legwright.rig.truth import Truth
from legwright.rig.world import World
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SETTLE = 1.5
"""Standing before the walk begins [s]."""
WARM = 3
"""Cycles walked before those that count."""
LONGEST = 180.0
"""A walk that has not made its cycles by then is given up [s]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Steady:
    """Whole cycles, T control steps in all, from one lift-off of the first leg to another."""

    gait: Gait
    asked: tuple[float, float]
    """Forward [m/s], turning to the left [rad/s]."""
    rate: float
    """[Hz]"""
    starts: tuple[int, ...]
    """Step at which each cycle begins, and the end."""
    q: Floats
    """(T, J): of the links [rad]."""
    target: Floats
    """(T, J): what the servos were told [rad]."""
    pose: Floats
    """(T, 7): body frame over the controller's ground: x, y, z [m], quaternion w, x, y, z."""
    stands: NDArray[np.bool_]
    """(T, L): which feet the controller counts as standing."""
    torque: Floats
    """(T, J): that arrives at the links [N·m]."""
    current: Floats
    """(T, J): in the windings [A]."""
    force: Floats
    """(T, L, 3): of the ground on each foot, world axes [N]."""
    winding: Floats
    """(J,): temperature at the end [K]."""
    servo_power: Floats
    """(T,): into all servos [W]."""
    power: float
    """From the source, average [W]."""
    copper: float
    """Of that, heat in windings [W]."""
    shaft: float
    """And power that the motors give, braking counted negative [W]."""
    walked: tuple[float, float]
    """What the body really did: speed [m/s], turning [rad/s]."""
    reckoned: tuple[float, float]
    """The same as the controller believes."""

    phase: float
    """Of the first leg in the gait."""

    @property
    def cycle(self) -> float:
        """Mean duration of a cycle [s]."""
        return (self.starts[-1] - self.starts[0]) / self.rate / (len(self.starts) - 1)


class _Row(NamedTuple):
    """One control step of the run."""

    truth: Truth
    place: Floats
    told: Floats
    """What the servos followed meanwhile."""
    pose: Floats
    stands: NDArray[np.bool_]


def steady(
    robot: Robot, gait: Gait, *, speed: float = 0.0, turn: float = 0.0, felt: bool,
    rate: float = 200.0, seed: int = 1, cycles: int = 3,
) -> Steady:  # fmt: skip
    """Walk on flat ground until some cycles are alike, and keep them.

    Servos are as their file says: no scatter, no drift.

    Args:
        robot: The robot.
        gait: The gait.
        speed: Asked, forward [m/s].
        turn: Asked, to the left [rad/s].
        felt: Whether the feet feel the ground.
        rate: Control steps per second [Hz].
        seed: Of the noise.
        cycles: How many to keep.

    Returns:
        The cycles.

    Raises:
        RequestError: if the robot does not make its cycles in time.
    """
    if cycles < 1:
        raise RequestError("cycles", cycles, "1 or more")
    world = World(robot, grounds.flat(length=12.0), seed=seed, rate=rate)
    controller = Controller(robot, rate=rate, feel=felt, gait=gait)
    walk = Command(kind=Kind.WALK, velocity=(speed, 0.0), turn=turn, gait=gait)
    stand, stood = Command(kind=Kind.STAND), True
    rows: list[_Row] = []
    lifts: list[int] = []
    told = footing(robot).q
    while len(lifts) <= WARM + cycles:
        if world.time > LONGEST:
            raise RequestError("steady walk", f"{len(lifts)} cycles", f"{WARM + cycles} cycles")
        sensed = world.sense()
        targets, _ = controller.step(sensed, walk if world.time >= SETTLE else stand, 1.0 / rate)
        world.apply(targets)
        world.advance()  # still with the targets before
        stands = controller.contact
        if stood and not stands[0]:
            lifts.append(len(rows))
        stood = bool(stands[0])
        rows.append(_Row(world.truth(), controller.place, told, _pose(controller), stands))
        told = targets.q
    return _kept(robot, gait, (speed, turn), rate, rows, lifts[WARM:])


def _kept(
    robot: Robot, gait: Gait, asked: tuple[float, float], rate: float,
    rows: list[_Row], lifts: list[int],
) -> Steady:  # fmt: skip
    from legwright.mechanics.drive import drives_of
    from legwright.mechanics.heat import winding_heat

    first, last = lifts[0], lifts[-1]
    kept = [row.truth for row in rows[first:last]]
    end, seconds = rows[last].truth, (last - first) / rate
    drives = drives_of(robot)
    current, winding = _of(kept, "current"), _of(kept, "winding")
    places = np.array([row.place for row in rows[first : last + 1]])
    bodies = np.array([row.truth.body for row in rows[first : last + 1]])
    headings = np.unwrap(2.0 * np.arctan2(bodies[:, 6], bodies[:, 3]))
    return Steady(
        gait=gait,
        asked=asked,
        phase=float(gait.phases_of(tuple(robot.legs))[0]),
        rate=rate,
        starts=tuple(lift - first for lift in lifts),
        q=_of(kept, "q"),
        target=_of(rows[first:last], "told"),
        pose=_of(rows[first:last], "pose"),
        stands=_of(rows[first:last], "stands"),
        torque=_of(kept, "torque"),
        current=current,
        force=_of(kept, "force"),
        winding=end.winding.copy(),
        servo_power=(_of(kept, "supply") * _of(kept, "voltage")).sum(axis=1),
        power=(end.energy - kept[0].energy) / seconds,
        copper=float(winding_heat(current, drives.resistance, winding).sum(axis=1).mean()),
        shaft=float((drives.emf_constant * current * _of(kept, "qd")).sum(axis=1).mean()),
        walked=(_length(bodies) / seconds, float(headings[-1] - headings[0]) / seconds),
        reckoned=(
            _length(places) / seconds,
            float(np.unwrap(places[:, 2])[-1] - places[0, 2]) / seconds,
        ),
    )


def _length(places: NDArray[np.float64]) -> float:
    """From the first place to the last [m]."""
    return float(np.hypot(*(places[-1, :2] - places[0, :2])))


def _pose(controller: Controller) -> Floats:
    R, at = controller.body
    return np.concatenate([at, quaternion(R)])


def _of(kept: Sequence[object], name: str) -> Any:
    return np.array([getattr(row, name) for row in kept])
