"""All that is known of one walk, while it is walked or from its recording; of bounded size."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats
from legwright.views.desk.said import Happening
from legwright.views.desk.walk_history import History
from legwright.views.desk.walk_poses import Pose, Poses
from legwright.views.desk.walk_rows import Layout, switched

EVENTS, EDGES = 1000, 40_000
"""Events and changes of feet that are kept; older ones are dropped."""
TRUE, FELT = 0, 1
"""What a change of a foot is about: the ground's force, or what the controller feels."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Terrain:
    """The ground as a grid."""

    heights: Floats
    """(R, C): at start + spacing · (row, column) [m]."""
    spacing: float
    """[m]"""
    start: tuple[float, float]
    """x, y of heights[0, 0] [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Batch:
    """What some control steps brought."""

    time: Floats
    """(T,) [s]"""
    rows: Floats
    """(T, C), see `rows_of`."""
    touch: NDArray[np.bool_] | None
    """(T, L): truly on the ground; None where nobody knows."""
    contact: NDArray[np.bool_]
    """(T, L): felt to be."""
    events: tuple[Happening, ...] = ()
    poses: tuple[Pose, ...] = ()
    """Some of the moments, the last one among them."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class About:
    """What a walk is about, as long as it lasts."""

    layout: Layout
    robot: str
    joints: tuple[str, ...]
    """The J axis of poses."""
    hips: tuple[tuple[float, float], ...]
    """Forward, to the left [m]."""
    weight: float | None
    """[N]"""
    wanted_margin: float | None
    """[m]"""
    lowest_voltage: float | None
    """Under which the first servo resets [V]."""
    highest_winding: float | None
    """Of the servo that allows least [K]."""
    truth: bool
    """Whether it is known what was really so."""
    terrain: Terrain | None
    notes: tuple[str, ...] = ()


@dataclass(slots=True, eq=False)
class Story:
    """One walk. `add` in the order of time."""

    about: About
    history: History = field(init=False)
    poses: Poses = field(default_factory=Poses)
    events: deque[Happening] = field(default_factory=lambda: deque(maxlen=EVENTS))
    told: int = 0
    """Events so far, dropped ones included."""
    edges: list[tuple[int, int, float, bool]] = field(default_factory=list)
    """Leg, `TRUE` or `FELT`, when, whether it came down."""
    forgotten: int = 0
    """Edges that were dropped."""
    time: float = 0.0
    """Newest [s]."""
    latest: Pose | None = None
    way: float = 0.0
    """Forward since it was told to walk, true or else believed [m]."""
    _down: dict[int, NDArray[np.bool_]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """No row yet."""
        self.history = History(len(self.about.layout.names))

    def add(self, batch: Batch) -> None:
        """Take in some steps."""
        if len(batch.time) == 0:
            return
        self.history.add(batch.time, batch.rows)
        for kind, on in ((TRUE, batch.touch), (FELT, batch.contact)):
            if on is not None:
                self._switch(kind, batch.time, on)
        self.events.extend(batch.events)
        self.told += len(batch.events)
        for pose in batch.poses:
            self.poses.add(pose)
        if batch.poses:
            self.latest = batch.poses[-1]
        self.time = float(batch.time[-1])
        names = self.about.layout.names
        for name in ("way/true", "way/believed"):
            way = float(batch.rows[-1, names.index(name)])
            if np.isfinite(way):
                self.way = way
                break

    def events_since(self, told: int) -> tuple[Happening, ...]:
        """Events after the first so many."""
        missing = min(self.told - told, len(self.events))
        return tuple(self.events)[len(self.events) - missing :]

    def edges_since(self, count: int) -> Floats:
        """Changes of feet after the first so many, dropped ones included: (N, 4)."""
        rows = self.edges[max(count - self.forgotten, 0) :]
        return np.array(rows, dtype=np.float64).reshape(-1, 4)

    @property
    def switches(self) -> int:
        """Changes of feet so far, dropped ones included."""
        return self.forgotten + len(self.edges)

    def _switch(self, kind: int, time: Floats, on: NDArray[np.bool_]) -> None:
        before = self._down.get(kind, np.zeros(on.shape[1], dtype=np.bool_))
        self._down[kind] = on[-1].copy()
        for row, leg in switched(on, before).tolist():
            self.edges.append((leg, kind, float(time[row]), bool(on[row, leg])))
        if len(self.edges) > EDGES:
            del self.edges[: EDGES // 2]
            self.forgotten += EDGES // 2


def told_of(events: Sequence[Happening], routine: Sequence[str]) -> tuple[Happening, ...]:
    """Events without those of every step."""
    return tuple(event for event in events if event.what not in routine)
