"""What one walk is worth: the same numbers from a walk just made and from its recording."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats
from legwright.study.mishaps import LOADED, SLIP, slips_felt
from legwright.study.touchdowns import Touchdowns, score

TIPPED = np.radians(40.0)
"""A body tilted farther has fallen [rad]."""
BELLY = 0.5
"""Force on what is no foot that counts as contact [N]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class WalkLog:
    """One walk as arrays, a row for each control step from the moment it was asked to walk."""

    force: Floats
    """(T, L): true upward force of the ground on each foot [N]."""
    stance: NDArray[np.bool_]
    """(T, L): whether the controller counted the foot as standing."""
    slipped: NDArray[np.bool_]
    """(T, L): whether it said in this step that the foot slides."""
    feet: Floats
    """(T, L, 2): centres of the feet in the world [m]."""
    body: Floats
    """(T, 7): body frame in the world: x, y, z [m], quaternion w, x, y, z."""
    margin: Floats
    """(T,): stability margin as the controller reckons [m]."""
    place: Floats
    """(T, 3): where the controller believes to be: x, y [m], heading [rad]."""
    peak: Floats
    """(T,): largest force on any foot within the step [N]."""
    others: Floats
    """(T,): force on all that is no foot [N]."""
    winding: Floats
    """(T,): the hottest winding [K]."""
    voltage: Floats
    """(T,): the lowest voltage at a servo [V]."""
    energy: Floats
    """(T,): drawn from the source since the start [J]."""
    slowed: tuple[str, float] | None = None
    """What kept it from walking as fast as asked, and the share granted; None where nothing did."""

    def __len__(self) -> int:
        """Control steps."""
        return len(self.body)


def tilt(body: Floats) -> Floats:
    """Angle of the body's z axis against the vertical.

    Args:
        body: (..., 7): x, y, z, quaternion w, x, y, z.

    Returns:
        (...,) [rad].
    """
    sine = np.minimum(1.0, np.hypot(body[..., 4], body[..., 5]))
    return np.asarray(2.0 * np.arcsin(sine), dtype=np.float64)


def row_of(
    log: WalkLog, *, rate: float, weight: float, distance: float, speed: float, seed: int | None,
    felt: bool, notes: Sequence[str] = (), stopped: bool = False,
) -> dict[str, Any]:  # fmt: skip
    """The row of one walk.

    Args:
        log: What happened; at least one step.
        rate: Control steps per second [Hz].
        weight: Of robot and payload [N].
        distance: Asked [m].
        speed: Asked [m/s].
        seed: Of the walk; None on hardware.
        felt: Whether the feet felt the ground.
        notes: What was assumed.
        stopped: Whether somebody stopped it before its end.

    Returns:
        The trial's row, SI units; see docs/json.md.
    """
    start, end = log.body[0], log.body[-1]
    gone = float(end[0] - start[0])
    metres = max(gone, 1e-3)
    leaning = tilt(log.body)
    told = log.place[-1, :2] - log.place[0, :2]
    row: dict[str, Any] = {
        "seed": seed,
        "mode": "felt" if felt else "blind",
        "finished": gone >= distance,
        "fell": bool(leaning[-1] > TIPPED),
        "distance": gone,
        "path_error": float(abs(end[1] - start[1])),
        "speed": gone * rate / len(log),
        **_felt(score(log.force, log.stance, rate=rate, weight=weight), felt),
        "min_margin": float(log.margin.min()),
        "energy_per_metre": float((log.energy[-1] - log.energy[0]) / metres) or None,
        "hottest": float(log.winding.max()),
        "lowest_voltage": float(log.voltage.min()),
        "asked_speed": speed,
        "slowed": _slowed(log),
        "odometry_error": float((np.hypot(*told) - gone) / metres),
        "slips_per_metre": slips(log.feet, log.force, log.stance, weight) / metres,
        **_slid(log, rate, weight, felt),
        "peak_force": float(log.peak.max()) / weight,
        "worst_tilt": float(leaning.max()),
        "unsupported": float(((log.force > LOADED * weight).sum(axis=1) < 3).mean()),
        "belly_contact": float((log.others > BELLY).mean()),
        "steps": int((log.stance[1:] & ~log.stance[:-1]).sum()),
        "notes": list(notes),
    }
    return row | {"stopped": True} if stopped else row


def _slowed(log: WalkLog) -> dict[str, str | float] | None:
    """Null for a walk that may go as fast as asked."""
    if log.slowed is None:
        return None
    limit, share = log.slowed
    return {"limit": limit, "share": round(share, 4)}


def _felt(marks: Touchdowns, felt: bool) -> dict[str, float | None]:
    """Contact scores; null for a blind walk, whose feet are declared by the clock."""
    names = (
        "hit_rate", "false_per_100_steps", "delay_median", "delay_p95", "force_at_detection",
        "force_at_detection_p95",
    )  # fmt: skip
    if not felt or not len(marks.delays):
        return dict.fromkeys(names)
    values = (
        marks.hit_rate,
        marks.false_per_100_steps,
        *np.percentile(marks.delays, (50, 95)),
        *np.percentile(marks.forces, (50, 95)),
    )
    return {name: float(value) for name, value in zip(names, values, strict=True)}


def _slid(log: WalkLog, rate: float, weight: float, felt: bool) -> dict[str, float | None]:
    """What was said of slips, against the truth; null for a blind walk, which says nothing."""
    if not felt:
        return dict.fromkeys(("slips_told", "slips_missed", "false_slips_per_100"))
    found = slips_felt(log.feet, log.force, log.stance, log.slipped, rate=rate, weight=weight)
    false = float(100.0 * found.false / max(found.among, 1))
    return {
        "slips_told": found.told, "slips_missed": found.missed, "false_slips_per_100": false,
    }  # fmt: skip


def slips(feet: Floats, force: Floats, stance: NDArray[np.bool_], weight: float) -> int:
    """Stances in which the loaded foot moved over the ground by more than `SLIP`.

    Args:
        feet: (T, L, 2) [m].
        force: (T, L) [N].
        stance: (T, L).
        weight: Of the robot [N].

    Returns:
        How many.
    """
    count = 0
    for leg in range(force.shape[1]):
        firm = stance[:, leg] & (force[:, leg] > 2.0 * LOADED * weight)
        moved = np.zeros(len(firm))
        moved[1:] = np.linalg.norm(np.diff(feet[:, leg], axis=0), axis=1)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], stance[:, leg], [False]])))
        for start, stop in zip(edges[::2], edges[1::2], strict=True):
            count += moved[start:stop][firm[start:stop]].sum() > SLIP
    return int(count)
