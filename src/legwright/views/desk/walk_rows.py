"""The curves of a walk: which there are, and their values from what was sensed, felt and so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats

CELSIUS = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Names of legs and kinds of joints; the order of a row's values hangs on them."""

    legs: tuple[str, ...]
    """Short names: L1, R3."""
    kinds: tuple[tuple[str, tuple[int, ...]], ...]
    """Kind of joint with its columns along the J axis: coxa, femur, tibia of all legs."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of a row's values, a quantity and whose it is: ``force/L1``."""
        kinds = [name for name, _ in self.kinds]
        return (
            *(f"force/{leg}" for leg in self.legs),
            *(f"felt/{leg}" for leg in self.legs),
            *(f"current/{kind}" for kind in kinds),
            "voltage/supply",
            "voltage/servo",
            *(f"winding/{kind}" for kind in kinds),
            "margin",
            "tilt",
            "way/true",
            "way/believed",
        )


def layout_of(legs: Sequence[str], joints: int) -> Layout:
    """The layout of a robot.

    Args:
        legs: Short names of its legs, in order.
        joints: Length of the J axis; joints of a leg follow each other, base to foot.
    """
    if not legs or joints % len(legs):
        return Layout(legs=tuple(legs), kinds=(("joints", tuple(range(joints))),))
    each = joints // len(legs)
    words = (
        ("coxa", "femur", "tibia") if each == 3 else tuple(f"joint {n + 1}" for n in range(each))
    )
    return Layout(
        legs=tuple(legs),
        kinds=tuple((word, tuple(range(n, joints, each))) for n, word in enumerate(words)),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Readings:
    """What rows are made of; T rows. None where it is not known."""

    force: Floats | None
    """(T, L): true, upward [N]."""
    felt: Floats
    """(T, L): as felt [N]."""
    current: Floats | None
    """(T, J): as read [A]."""
    supply: Floats | None
    """(T,): voltage as read [V]."""
    servo: Floats | None
    """(T, J): true voltage at the servos [V]."""
    winding: Floats | None
    """(T, J) [K]"""
    margin: Floats
    """(T,): as the controller reckons [m]."""
    tilt: Floats | None
    """(T,) [rad]"""
    way: Floats | None
    """(T,): true way forward since the start [m]."""
    believed: Floats | None
    """(T,): the same as the controller believes [m]."""


def rows_of(layout: Layout, of: Readings) -> Floats:
    """Rows of a walk's curves.

    Of currents and temperatures the highest of each kind of joint, of the servos' voltages the
    lowest of all; temperature in °C, tilt in degrees, margin in mm, all else SI.

    Args:
        layout: Legs and kinds.
        of: What they are made of.

    Returns:
        (T, C), as `Layout.names`; nan where something is not known.
    """
    count = len(of.margin)
    unknown = np.full(count, np.nan)
    unknown_legs = np.full((count, len(layout.legs)), np.nan)

    def worst(values: Floats | None) -> list[Floats]:
        if values is None:
            return [unknown for _ in layout.kinds]
        return [values[:, list(columns)].max(axis=1) for _, columns in layout.kinds]

    def known(values: Floats | None) -> Floats:
        return unknown if values is None else values

    columns = [
        *(unknown_legs if of.force is None else of.force).T,
        *of.felt.T,
        *worst(None if of.current is None else np.abs(of.current)),
        known(of.supply),
        unknown if of.servo is None else of.servo.min(axis=1),
        *worst(None if of.winding is None else of.winding - CELSIUS),
        1e3 * of.margin,
        unknown if of.tilt is None else np.degrees(of.tilt),
        known(of.way),
        known(of.believed),
    ]
    return np.stack(columns, axis=1)


def leaning(up: Floats) -> Floats:
    """Tilt from the direction against gravity.

    Args:
        up: In body axes, (T, 3).

    Returns:
        (T,) [rad]
    """
    size = np.linalg.norm(up, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.arccos(np.clip(up[:, 2] / size, -1.0, 1.0)))


def switched(on: NDArray[np.bool_], before: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Where feet lift or touch.

    Args:
        on: (T, L).
        before: (L,): as it was before the first row.

    Returns:
        (N, 2): row and leg of each change.
    """
    changes = on != np.concatenate([before[None], on[:-1]])
    return np.argwhere(changes)
