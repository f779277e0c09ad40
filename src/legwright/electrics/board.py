"""The hub's copper: tracks and vias, how warm and how long they are."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from legwright.electrics.copper import DENSITY, RESISTIVITY, resistance_ratio
from legwright.errors import RequestError
from legwright.robot.tree import Floats

MIL = 25.4e-6
"""[m]"""

OUNCE = 28.349523125e-3 / 0.3048**2 / DENSITY
"""Thickness of one ounce per square foot at copper's density, 34.3 µm [m]."""

IPC_OUNCE = 1.378 * MIL
"""The same as the IPC-2221 calculators take it, 35.0 µm [m]."""

OUTER, INNER = 0.048, 0.024
"""IPC-2221's k for tracks on the surface and inside."""


def _positive(**values: float) -> None:
    for what, value in values.items():
        if not (isfinite(value) and value > 0.0):
            raise RequestError(what, value, "finite and above 0")


def ipc_width(current: float, rise: float, thickness: float, *, inner: bool = False) -> float:
    """Track width for a current and a temperature rise [m].

    Args:
        current: [A]
        rise: Above the board around [K].
        thickness: Of the copper [m].
        inner: Within the board instead of on its surface.

    Source: IPC-2221 section 6.2, fit I = k ΔT^0.44 A^0.725 with A in square mils. An old fit
    to boards without copper planes; IPC-2152 supersedes it.
    """
    _positive(current=current, rise=rise, thickness=thickness)
    k = INNER if inner else OUTER
    area = float((current / (k * rise**0.44)) ** (1.0 / 0.725)) * MIL * MIL
    return area / thickness


def ipc_current(area: float, rise: float, *, inner: bool = False) -> float:
    """Current that warms a copper cross-section by a rise [A]; IPC-2221 section 6.2.

    Args:
        area: Of the copper [m²].
        rise: [K]
        inner: Within the board.
    """
    _positive(area=area, rise=rise)
    k = INNER if inner else OUTER
    return float(k * rise**0.44 * (area / (MIL * MIL)) ** 0.725)


def ipc_rise(current: float, area: float, *, inner: bool = False) -> float:
    """Temperature rise of a copper cross-section under a current [K]; IPC-2221."""
    if current == 0.0:
        return 0.0
    _positive(current=abs(current), area=area)
    return float((abs(current) / ipc_current(area, 1.0, inner=inner)) ** (1.0 / 0.44))


def sheet_resistance(thickness: float, temperature: float = 293.15) -> float:
    """Resistance of a square of foil, whatever its size [Ω]; ρ / t, IEC 60028."""
    _positive(thickness=thickness)
    return RESISTIVITY * float(resistance_ratio(temperature)) / thickness


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """A straight conductor of foil, the same on one or more layers."""

    width: float
    """[m]"""
    thickness: float
    """Of the copper of one layer [m]."""
    layers: int = 1

    def __post_init__(self) -> None:
        _positive(width=self.width, thickness=self.thickness)
        if self.layers < 1:
            raise RequestError("layers", self.layers, "1 or more")

    @property
    def area(self) -> float:
        """Of the copper of all layers [m²]."""
        return self.width * self.thickness * self.layers


def track_resistance(
    track: Track, length: ArrayLike, temperature: ArrayLike = 293.15, *, rho: float = RESISTIVITY
) -> Floats:
    """Resistance of a track, one way [Ω].

    Args:
        track: The track.
        length: [m]
        temperature: Of the copper [K].
        rho: Resistivity at 20 °C [Ω·m].
    """
    return np.asarray(rho * np.asarray(length) / track.area * resistance_ratio(temperature))


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """What spreads and loses a track's heat."""

    thickness: float = 1.6e-3
    """[m]"""
    conductivity: float = 0.8
    """In the plane of glass and resin [W/(m·K)] (common practice)."""
    plane: float = 0.0
    """Thickness of copper planes beside the track that spread its heat, all together [m]."""
    loss: float = 10.0
    """Per face, natural convection and radiation together [W/(m²·K)] (common practice)."""
    margin: float = inf
    """From the track to the board's edge, each side [m]."""

    def __post_init__(self) -> None:
        _positive(thickness=self.thickness, conductivity=self.conductivity, loss=self.loss)
        if self.plane < 0.0 or self.margin < 0.0:
            raise RequestError("plane, margin", (self.plane, self.margin), "at least 0")


COPPER_CONDUCTIVITY = 390.0
"""Thermal [W/(m·K)]."""


def board_conductance(track: Track, board: Board) -> float:
    """Heat that a metre of track loses per kelvin [W/(m·K)].

    The strip under the track loses heat through both faces; the board to either side acts as
    a fin.

    Source: straight fin with an insulated tip, √(2 h k b) tanh(m L), textbook.
    """
    spread = board.conductivity * board.thickness + COPPER_CONDUCTIVITY * board.plane
    decay = sqrt(2.0 * board.loss / spread)
    reach = 1.0 if board.margin == inf else float(np.tanh(decay * board.margin))
    return 2.0 * board.loss * track.width + 2.0 * spread * decay * reach


def track_rise(
    track: Track, current: ArrayLike, board: Board, ambient: float, *, rho: float = RESISTIVITY
) -> Floats:
    """Temperature rise of a long track by heat balance [K].

    Args:
        track: The track.
        current: RMS [A].
        board: What it lies on.
        ambient: [K]
        rho: Resistivity at 20 °C [Ω·m].

    Returns:
        Rise above ambient; inf where it runs away.

    Source: I² R'(T) = G' (T - Ta), with R' linear in T (IEC 60028): a closed form.
    """
    square = np.asarray(current, dtype=np.float64) ** 2 * rho / track.area
    cold = square * float(resistance_ratio(ambient))
    slope = square * float(resistance_ratio(294.15) - resistance_ratio(293.15))
    room = board_conductance(track, board) - slope
    with np.errstate(divide="ignore"):
        return np.where(room > 0.0, cold / np.where(room > 0.0, room, 1.0), np.inf)


def via_area(hole: float, plating: float) -> float:
    """Copper cross-section of a plated hole [m²]: π (d + t) t.

    Args:
        hole: Finished diameter, plating inside [m].
        plating: Its thickness [m].
    """
    _positive(hole=hole, plating=plating)
    return pi * (hole + plating) * plating


def drilled_via_area(drill: float, plating: float) -> float:
    """The same from the drill's diameter [m²]: π (d - t) t."""
    if not drill > 2.0 * plating:
        raise RequestError("drill", drill, "wider than twice the plating")
    return via_area(drill - 2.0 * plating, plating)


def via_resistance(
    hole: float, plating: float, length: float, *, count: int = 1, rho: float = RESISTIVITY
) -> float:
    """Resistance of vias side by side at 20 °C [Ω].

    Args:
        hole: Finished diameter [m].
        plating: [m]
        length: Board thickness [m].
        count: Vias.
        rho: Resistivity at 20 °C [Ω·m].
    """
    if count < 1:
        raise RequestError("vias", count, "1 or more")
    return rho * length / (via_area(hole, plating) * count)


def vias_needed(current: float, rise: float, hole: float, plating: float) -> int:
    """Vias side by side that carry a current; IPC-2221's fit for the barrel, as outer copper."""
    each = ipc_current(via_area(hole, plating), rise)
    return max(1, int(np.ceil(current / each - 1e-9)))


BOARD_HIGHEST = 403.15
"""Highest temperature of a board of glass and resin, 130 °C [K]; common practice, no published
source."""


def track_warmth(track: Track, current: float, ambient: float) -> float:
    """Rise of a track, the larger of `track_rise` and `ipc_rise` [K].

    Args:
        track: On one or two outer layers; with more layers all count as inner ones.
        current: RMS [A].
        ambient: [K]
    """
    each, section = current / track.layers, track.width * track.thickness
    return max(
        float(track_rise(track, current, Board(), ambient)),
        ipc_rise(each, section, inner=track.layers > 2),
    )
