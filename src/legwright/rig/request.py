"""What the running robot is asked, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from math import inf

from legwright.locomotion.command import Command
from legwright.rig.faults import Stop


class Word(Enum):
    """What a request is about."""

    POWER = "power"
    """Switch drive power on: from limp to holding."""
    RELEASE = "release"
    """Switch drive power off; a robot on its feet sits down first."""
    MOVE = "move"
    """Do what `Request.command` says."""
    STOP = "stop"
    """Stop in the category of `Request.stop`; it always wins."""
    ACKNOWLEDGE = "acknowledge"
    """The faults have been seen and their causes are gone."""
    ALIVE = "alive"
    """The driver is there; a motion under way goes on until `Request.expires`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One request; whoever passes it on has checked that the sender may ask it."""

    word: Word
    sender: str = ""
    """Who asks, for the record."""
    number: int = 0
    """Given back in the answer."""
    command: Command | None = None
    expires: float = inf
    """Steady time after which a command must not be obeyed any more [s]."""
    stop: Stop = Stop.SIT


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Whether a request was taken up."""

    number: int
    ok: bool
    text: str = ""
    """Where it was not: why, and what to do, in one sentence."""
