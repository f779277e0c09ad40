"""A trip: what is to be walked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.errors import RequestError
from legwright.locomotion.gait import Gait


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """What is to be walked."""

    gait: Gait
    ground: str
    speed: float
    """Asked, forward [m/s]."""
    share: float = 0.25
    """Height of the ground over leg length."""
    distance: float = 3.0
    """[m]"""
    rate: float = 200.0
    """Control steps per second [Hz]."""
    friction: float | None = None
    current_noise: float | None = None
    """[A]; the sheet's when None."""
    calibrated: bool = False
    """Whether the feet are calibrated in the air first; then friction drifts."""

    def __post_init__(self) -> None:
        """Refuse what is no trip."""
        for name in ("speed", "distance", "share"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0.0):
                raise RequestError(name, value, "finite and more than 0")
