"""What may deviate in one leg, and by how much: lengths, axis directions, play, zeros."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from math import sqrt

import numpy as np

from legwright.mechanics import general_tolerances
from legwright.robot.chain import Chain
from legwright.robot.servo import Servo
from legwright.robot.sheet_making import Tolerances
from legwright.robot.tree import Floats, read_only

SPREAD = 3.0
"""A length is taken as normal with its limit at so many standard deviations: common practice
of statistical tolerancing; a process that is worse or off centre gives more."""


_ALONG = tuple(read_only(axis) for axis in np.eye(3))


class Kind(Enum):
    """How a deviation moves what lies behind it."""

    SHIFT = "shift"
    """Moves a joint, or the foot, in the frame of the joint before it."""
    SLIP = "slip"
    """Moves what a joint carries, in the joint's own frame."""
    TURN = "turn"
    """Turns what a joint carries, in the joint's own frame."""


class Shape(Enum):
    """How a deviation spreads between its limits."""

    NORMAL = "normal"
    UNIFORM = "uniform"
    """Play and steps: every place between the stops is as likely."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Deviation:
    """One independent deviation."""

    name: str
    """``femur length``; deviations of one name are counted as one cause."""
    kind: Kind
    joint: int
    """Index of the moving joint that it belongs to; m for the foot."""
    direction: Floats
    """(3,): unit vector, see `Kind` for its frame."""
    limit: float
    """± [m or rad]."""
    shape: Shape
    why: str
    """Where the limit comes from."""

    @property
    def sigma(self) -> float:
        """Standard deviation [m or rad]."""
        return self.limit / (SPREAD if self.shape is Shape.NORMAL else sqrt(3.0))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sources:
    """All deviations of a leg, and what is not known."""

    deviations: tuple[Deviation, ...]
    missing: tuple[str, ...]
    """Keys of the sheet that would have to be filled in."""
    notes: tuple[str, ...] = ()
    """What was assumed."""


def labels_of(chain: Chain) -> tuple[str, ...]:
    """What tells the leg's moving joints apart: ``coxa``, ``femur``, ``tibia``.

    Args:
        chain: The leg.

    Returns:
        One name for each moving joint; whole joint names where nothing is left.
    """
    names = chain.moving_names
    if len(names) < 2:
        return names
    head = _alike(names)
    tail = _alike([name[::-1] for name in names])
    short = [name[head : len(name) - tail].strip("_-. ") for name in names]
    return tuple(short) if all(short) and len(set(short)) == len(short) else names


def _alike(names: Sequence[str]) -> int:
    """How many letters all names begin with."""
    return next(
        (at for at, letters in enumerate(zip(*names, strict=False)) if len(set(letters)) > 1),
        min(map(len, names)),
    )


def sources_of(chain: Chain, tolerances: Tolerances, servos: Mapping[str, Servo | None]) -> Sources:
    """The deviations of one leg.

    Each coordinate of a joint in the frame before it is a length of its own; one that is zero
    is a centre line. Axis directions deviate about the two directions square to the axis;
    about the axis itself the zero is set, so that only its step remains.

    Args:
        chain: The leg.
        tolerances: The sheet's.
        servos: Driven joint name -> its servo.

    Returns:
        The deviations, and keys that are missing.
    """
    names = labels_of(chain)
    found: list[Deviation] = []
    missing: list[str] = []
    notes: list[str] = []
    ends = [*chain.placements[:, :3, 3], chain.foot]
    segments = ("hip", *names)
    for joint, (segment, end) in enumerate(zip(segments, ends, strict=True)):
        found += _lengths(segment, joint, end, tolerances, missing)
    for joint, (moving, label) in enumerate(zip(chain.moving_names, names, strict=True)):
        if chain.prismatic[joint]:
            notes.append(f"Joint '{moving}' slides: its play and zero are left out.")
            continue
        servo = servos.get(moving)
        axis = _unit(tuple(chain.axes[joint].tolist()))
        found += _direction(label, joint, axis, tolerances, servo, missing, notes)
        found += _play(label, joint, axis, servo)
        found += _zero(label, joint, axis, servo, missing)
    return Sources(
        deviations=tuple(found),
        missing=tuple(dict.fromkeys(missing)),
        notes=tuple(dict.fromkeys(notes)),
    )


def _lengths(
    segment: str, joint: int, end: Floats, tolerances: Tolerances, missing: list[str]
) -> list[Deviation]:
    found = []
    for axis in range(3):
        stated = tolerances.lengths.get(segment)
        why = f"making.tolerance.lengths.{segment}"
        if stated is None:
            if tolerances.general is None:
                missing.append("making.tolerance.general")
                continue
            nominal = abs(float(end[axis]))
            stated = general_tolerances.length_deviation(nominal, tolerances.general)
            why = f"ISO 2768-1 {tolerances.general}, {nominal * 1e3:.3g} mm"
        if stated is None:
            missing.append(f"making.tolerance.lengths.{segment}")
            continue
        found.append(
            Deviation(
                name=f"{segment} length" if segment != "hip" else "hip place",
                kind=Kind.SHIFT,
                joint=joint,
                direction=_ALONG[axis],
                limit=float(stated),
                shape=Shape.NORMAL,
                why=why,
            )
        )
    return found


def _direction(
    label: str,
    joint: int,
    axis: Floats,
    tolerances: Tolerances,
    servo: Servo | None,
    missing: list[str],
    notes: list[str],
) -> list[Deviation]:
    limit, why = tolerances.angle, "making.tolerance.angle"
    if limit is None:
        if tolerances.general is None:
            missing.append("making.tolerance.general")
            return []
        size = None if servo is None else servo.size
        if size is None:
            notes.append("Servo sizes are not stated: axes taken as seated on less than 10 mm.")
        seat = 0.0 if size is None else size[2]
        limit = general_tolerances.angle_deviation(seat, tolerances.general)
        why = f"ISO 2768-1 {tolerances.general}, seat of {seat * 1e3:.3g} mm"
    return [
        _turn(f"{label} axis direction", joint, side, limit, Shape.NORMAL, why)
        for side in _across(axis)
    ]


def _play(label: str, joint: int, axis: Floats, servo: Servo | None) -> list[Deviation]:
    if servo is None:
        return []
    mount = servo.mount
    found = []
    if servo.backlash:
        why = f"servo.{servo.id}.backlash"
        found.append(
            _turn(f"{label} backlash", joint, axis, servo.backlash / 2.0, Shape.UNIFORM, why)
        )
    if mount is not None and mount.horn_play:
        why = f"servo.{servo.id}.mount.horn_play"
        found.append(
            _turn(f"{label} horn play", joint, axis, mount.horn_play / 2.0, Shape.UNIFORM, why)
        )
    if mount is not None and mount.bearing_play:
        half, why = mount.bearing_play / 2.0, f"servo.{servo.id}.mount.bearing_play"
        for side in _across(axis):
            found.append(
                Deviation(
                    name=f"{label} bearing play",
                    kind=Kind.SLIP,
                    joint=joint,
                    direction=side,
                    limit=half,
                    shape=Shape.UNIFORM,
                    why=why,
                )
            )
            if servo.size is not None:
                tilt = half / servo.size[2]
                found.append(_turn(f"{label} bearing play", joint, side, tilt, Shape.UNIFORM, why))
    return found


def _zero(
    label: str, joint: int, axis: Floats, servo: Servo | None, missing: list[str]
) -> list[Deviation]:
    if servo is None or servo.id in {"", "urdf"}:
        missing.append("fit")
        return []
    step = servo.mount.zero_step if servo.mount is not None else None
    why = f"servo.{servo.id}.mount.zero_step"
    if step is None:
        step, why = servo.encoder_step, f"servo.{servo.id}.encoder_step"
    if step is None:
        missing.append(f"servo.{servo.id}.mount.zero_step")
        return []
    return [_turn(f"{label} zero", joint, axis, step / 2.0, Shape.UNIFORM, why)] if step else []


def _turn(
    name: str, joint: int, direction: Floats, limit: float, shape: Shape, why: str
) -> Deviation:
    return Deviation(
        name=name,
        kind=Kind.TURN,
        joint=joint,
        direction=direction,
        limit=float(limit),
        shape=shape,
        why=why,
    )


@lru_cache(maxsize=64)
def _unit(axis: tuple[float, ...]) -> Floats:
    """A direction as a unit vector, not writable."""
    return read_only(np.array(axis) / np.linalg.norm(axis))


def _across(axis: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors square to an axis and to each other, not writable."""
    return _square_to(*axis.tolist())


@lru_cache(maxsize=64)
def _square_to(x: float, y: float, z: float) -> tuple[Floats, Floats]:
    least = min((abs(x), 0), (abs(y), 1), (abs(z), 2))[1]
    first = np.array([(0.0, z, -y), (-z, 0.0, x), (y, -x, 0.0)][least])  # axis × that direction
    first /= sqrt(float(first @ first))
    a, b, c = first.tolist()
    return read_only(first), read_only([y * c - z * b, z * a - x * c, x * b - y * a])


def named(deviations: Sequence[Deviation]) -> tuple[str, ...]:
    """The causes, each once, in order."""
    return tuple(dict.fromkeys(each.name for each in deviations))
