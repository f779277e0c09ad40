"""What the desk tells of walks in the physics world and of their recordings."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from legwright.views.desk.telling import Said


class Walking(Said, frozen=True, kw_only=True, tag="walk"):
    """What the physics walk is about; a few times a second while it is walked."""

    state: Literal["none", "starting", "walking", "paused", "ended", "recording"]
    time: float
    """Newest [s]."""
    ground: str
    seed: int | None
    gait: str
    speed: float | None
    """Asked, forward [m/s]."""
    distance: float | None
    """Asked [m]."""
    mode: str
    """Felt or blind."""
    pace: float
    """Asked world seconds per second; 0: as fast as it goes."""
    factor: float
    """World seconds per second, as it really goes."""
    way: float
    """Forward since it was told to walk [m]."""
    name: str
    """Of the recording."""
    robot: str
    """The one that walks or was recorded."""
    text: str
    """How it ended, or what is in the way."""


class WalkAbout(Said, frozen=True, kw_only=True, tag="walk_about"):
    """What curves and feet of the walk are; comes before them."""

    legs: tuple[str, ...]
    """Short names."""
    hips: tuple[tuple[float, float], ...]
    """Forward, to the left [m]."""
    columns: tuple[str, ...]
    """The C axis of `run`: a quantity and whose it is: ``force/L1`` [N], ``current/femur`` [A],
    ``voltage/servo`` [V], ``winding/tibia`` [°C], ``margin`` [mm], ``tilt`` [°], ``way/true`` [m].
    """
    weight: float | None
    """[N]"""
    wanted_margin: float | None
    """[mm]"""
    lowest_voltage: float | None
    """[V]"""
    highest_winding: float | None
    """[°C]"""
    truth: bool
    """Whether it is known what was really so."""
    drawn: bool
    """Whether its moments fit the robot that is drawn."""
    notes: tuple[str, ...]


class Recordings(Said, frozen=True, kw_only=True, tag="recordings"):
    """Walks that can be opened, the newest first."""

    list: tuple[str, ...]
    folder: str
    """Where they are kept; empty where they go with the desk."""


class Happening(Struct, frozen=True, kw_only=True):
    """Something that happened while walking."""

    time: float
    what: str
    leg: str
    text: str


class WalkEvents(Said, frozen=True, kw_only=True, tag="walk_events"):
    """What happened since the last message of this kind."""

    start: bool
    """Whether all before is to be forgotten."""
    list: tuple[Happening, ...]


class FilmReady(Said, frozen=True, kw_only=True, tag="film"):
    """A film strip at ``/film/ID.png``."""

    n: int
    id: str
    title: str
