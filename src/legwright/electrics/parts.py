"""The parts of a circuit: what each is called on a drawing, what it conducts and bears.

Designations follow the letter codes of IEC 81346-2: -G battery, -F fuse, -S switch, -W cable,
-X connector, -A hub, -T regulator, -M servo, -P status lights (they present information), -E
every other load (what it takes ends as heat).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from legwright.electrics.board import Track
from legwright.electrics.contacts import Contact
from legwright.electrics.copper import Wire, resistance_ratio
from legwright.electrics.insulation import Insulation


class Kind(Enum):
    """What a part is; the value is its letter, IEC 81346-2."""

    BATTERY = "G"
    FUSE = "F"
    SWITCH = "S"
    CABLE = "W"
    CONNECTOR = "X"
    HUB = "A"
    REGULATOR = "T"
    SERVO = "M"
    LIGHTS = "P"
    LOAD = "E"


class Origin(Enum):
    """Where a length comes from."""

    SHEET = "sheet"
    ROUTE = "route"
    STRAIGHT = "straight line, assumed"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Item:
    """A part between two nodes: it conducts, or, as a regulator, converts.

    Fields that do not belong to its kind are None.
    """

    designation: str
    """``-W3``"""
    kind: Kind
    name: str
    """In words, unique: ``left-front lead``."""
    start: str
    """Node on the battery's side."""
    end: str
    """Node on the far side."""
    place: str
    """Key of the sheet that states it."""
    resistance: float = 0.0
    """There and back at 20 °C [Ω]; 0 for regulators."""
    rating: float | None = None
    """Current by the sheet [A]: of a fuse, a switch, one contact, or the hub's port."""
    branch: str = ""
    """Branch of the hub that it belongs to; empty ahead of the hub."""
    wire: Wire | None = None
    cover: Insulation | None = None
    """Of the wire."""
    conductor: str = ""
    """Name in `harness.conductor`."""
    length: float | None = None
    """Of a cable, one way [m]."""
    origin: Origin | None = None
    """Where the length comes from."""
    between: tuple[str, str] = ("", "")
    """Points that a cable joins, battery's side first: joints, loads, ``hub``, ``switch``."""
    contact: Contact | None = None
    """Of a connector; None where the sheet states no rating."""
    connector: str = ""
    """Name in `harness.connector`."""
    contacts: int = 0
    """Of a connector, data and spare ones included."""
    cable: str = ""
    """Designation of the cable that a connector terminates."""
    track: Track | None = None
    """Of the hub, one way; the return is the same again."""
    track_length: float | None = None
    """[m]"""
    fuse_kind: str = ""
    voltage: float | None = None
    """At a regulator's output [V]."""
    efficiency: float | None = None
    """Of a regulator."""

    @property
    def copper(self) -> bool:
        """Whether its resistance is that of copper, and rises as copper's does."""
        return self.wire is not None or self.track is not None

    def resistance_at(self, temperature: float) -> float:
        """There and back at a conductor temperature [Ω]; IEC 60028 for copper.

        Args:
            temperature: Of its copper [K].
        """
        return self.resistance * (float(resistance_ratio(temperature)) if self.copper else 1.0)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Consumer:
    """What takes power at a node."""

    designation: str
    """``-M4``"""
    kind: Kind
    """SERVO, LIGHTS or LOAD."""
    name: str
    """Joint, load, or ``lights``."""
    node: str
    place: str
    """Key of the sheet that states it."""
    branch: str = ""
    """Branch of the hub that feeds it; empty where it is fed otherwise."""
    power: float = 0.0
    """Average of a load, at its own input [W]; 0 for servos."""
    peak_power: float = 0.0
    """Of a load [W]; the average where the sheet states none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """One port of the hub."""

    number: int
    branch: str
    """Name of its branch; empty where it is spare."""
    first: str = ""
    """Name of the first cable; empty where it is spare."""
    consumers: tuple[str, ...] = ()
    """Names, in the order of the chain."""
