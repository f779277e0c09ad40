"""What the lights show: colours and flash rates after IEC 60073, never above 3 Hz.

Colours mean what that standard lets them mean: red danger, yellow out of the ordinary, green in
order, blue somebody must act, white nothing in particular. Every state also differs in rhythm
or place, so that no meaning hangs on colour alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.rig.supervisor import Mode
from legwright.robot.tree import Floats

SLOW, NORMAL = 0.6, 2.0
"""Flash rates [Hz]; IEC 60073 has 0.4 to 0.8 and 1.4 to 2.8."""
FASTEST = 3.0
"""No light flashes faster [Hz]; WCAG 2.2, success criterion 2.3.1."""
DIM = 0.12
"""Of a lamp that is on but says little."""
STRAINED = 0.75
"""Share of its limit from which a joint counts as strained."""

WHITE, GREEN, YELLOW, RED, BLUE, DARK = (
    np.array([1.00, 1.00, 1.00]),
    np.array([0.00, 0.36, 0.26]),
    np.array([1.00, 0.55, 0.00]),
    np.array([0.70, 0.00, 0.00]),
    np.array([0.00, 0.02, 1.00]),
    np.zeros(3),
)
"""Linear light. Chosen by a search for the largest least difference over all pairs and
deficiencies: 25 by CIEDE2000; `tests/rig/test_lights.py` holds it."""

MEANINGS: Mapping[str, Floats] = MappingProxyType(
    {"white": WHITE, "green": GREEN, "yellow": YELLOW, "red": RED, "blue": BLUE}
)


class Pattern(Enum):
    """What the lights tell."""

    STATE = "state"
    """The robot's state, on all lights."""
    GAIT = "gait"
    """Which feet stand: each light shows the leg nearest to it."""
    LOAD = "load"
    """How strained each leg's joints are."""
    VALUE = "value"
    """A reading, as a bar along the strip."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Scene:
    """What there is to show."""

    mode: Mode
    warning: bool = False
    """Something is out of the ordinary."""
    act: bool = False
    """Somebody must act: acknowledge, change the battery."""
    contact: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    """(L,): feet that stand."""
    strain: Floats = field(default_factory=lambda: np.zeros(0))
    """(L,): hardest use of a joint of each leg, as a share of its limit."""
    value: float = 0.0
    """A reading as a share of its range."""


def places(count: int, legs: int) -> NDArray[np.int64]:
    """The leg that each light of a ring is nearest to, (N,).

    The strip runs from the nose to the left around the robot; legs are ordered left-front to
    left-rear, then right-front to right-rear.

    Args:
        count: Lights, N.
        legs: Legs.
    """
    around = (np.arange(count) + 0.5) / count
    half = legs // 2
    left = np.floor(around * 2.0 * half).astype(np.int64)
    right = half + np.floor((1.0 - around) * 2.0 * half).astype(np.int64)
    return np.where(around < 0.5, np.minimum(left, half - 1), np.minimum(right, legs - 1))


def shown(scene: Scene, pattern: Pattern, time: float, count: int) -> Floats:
    """Colours of all lights.

    Faults and warnings are shown over every pattern.

    Args:
        scene: What there is to show.
        pattern: What the lights tell.
        time: Steady time [s].
        count: Lights, N.

    Returns:
        Linear light, 0 to 1, (N, 3).

    Raises:
        RequestError: for less than one light.
    """
    if count < 1:
        raise RequestError("lights", count, "1 or more")
    if scene.mode is Mode.FAULT:
        return _fault(scene, time, count)
    if pattern is Pattern.STATE or not len(scene.contact):
        lights = np.tile(_state(scene.mode, time), (count, 1))
    elif pattern is Pattern.GAIT:
        lights = _legs(np.where(scene.contact, 1.0, DIM), count)[:, None] * _plain(scene.mode)
    elif pattern is Pattern.LOAD:
        lights = _load(_legs(scene.strain, count))
    else:
        lit = (np.arange(count) + 0.5) / count <= np.clip(scene.value, 0.0, 1.0)
        lights = np.where(lit[:, None], WHITE, DIM * WHITE)
    if scene.warning and _on(time, NORMAL):
        lights[::2] = YELLOW  # every other light, so that the pattern is seen beside it
    if scene.act and _on(time + 0.5 / SLOW, SLOW):
        lights[: max(1, count // 6)] = BLUE
    return lights


def _state(mode: Mode, time: float) -> Floats:
    if mode is Mode.LIMP:
        return DIM * WHITE
    if mode is Mode.HOLDING:
        return WHITE
    if mode is Mode.SITTING_DOWN:
        return YELLOW if _on(time, SLOW) else DIM * YELLOW
    if mode is Mode.STANDING:
        return GREEN
    if mode is Mode.SINGLE_LEG:
        return GREEN if _on(time, NORMAL) else DIM * GREEN
    return GREEN if _on(time, SLOW) else DIM * GREEN


def _plain(mode: Mode) -> Floats:
    if mode in (Mode.LIMP, Mode.HOLDING):
        return WHITE
    return YELLOW if mode is Mode.SITTING_DOWN else GREEN


def _fault(scene: Scene, time: float, count: int) -> Floats:
    lights = np.tile(RED if _on(time, NORMAL) else DARK, (count, 1))
    if scene.act and not _on(time, NORMAL):
        lights[: max(1, count // 6)] = BLUE
    return lights


def _legs(values: Floats, count: int) -> Floats:
    return np.asarray(values, dtype=np.float64)[places(count, len(values))]


def _load(strain: Floats) -> Floats:
    """Dim white at rest, white at `STRAINED`, then yellow."""
    level = np.clip(strain / STRAINED, DIM, 1.0)[:, None]
    return np.where((strain > STRAINED)[:, None], YELLOW, level * WHITE)


def _on(time: float, rate: float) -> bool:
    return (time * rate) % 1.0 < 0.5


class Calmer:
    """Lets no light flash faster than `FASTEST`, whatever changes beneath it."""

    def __init__(self, count: int) -> None:
        """All dark."""
        self._shown = np.zeros((count, 3))
        self._changed = np.full(count, -np.inf)

    def calm(self, lights: Floats, time: float) -> Floats:
        """The lights, with changes held back that come too soon after the last ones.

        Args:
            lights: Wanted, (N, 3).
            time: Steady time [s].
        """
        moved = np.abs(lights - self._shown).max(axis=1) > 0.05
        ready = time - self._changed >= 0.5 / FASTEST
        go = moved & ready
        self._shown[go] = lights[go]
        self._changed[go] = time
        return self._shown.copy()
