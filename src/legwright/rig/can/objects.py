"""Objects of a drive that the rig reads or writes.

Sources: CiA 301 4.2.0 (1000h to 1FFFh), CiA 402-2 / IEC 61800-7-201 (6000h to 9FFFh). Types
and units of 6072h to 607Dh and 60C2h from memory.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Object:
    """One entry of the object dictionary."""

    index: int
    sub: int = 0
    size: int
    """Bytes."""
    signed: bool = False
    name: str

    @property
    def mapping(self) -> int:
        """As an entry of a PDO mapping: index, sub-index, bits."""
        return self.index << 16 | self.sub << 8 | 8 * self.size


def _unsigned(index: int, sub: int, size: int, name: str) -> Object:
    return Object(index=index, sub=sub, size=size, name=name)


DEVICE_TYPE = _unsigned(0x1000, 0, 4, "device type")
ERROR_REGISTER = _unsigned(0x1001, 0, 1, "error register")
CONSUMER_HEARTBEAT = _unsigned(0x1016, 1, 4, "consumer heartbeat time")
PRODUCER_HEARTBEAT = _unsigned(0x1017, 0, 2, "producer heartbeat time")
VENDOR = _unsigned(0x1018, 1, 4, "vendor id")
PRODUCT = _unsigned(0x1018, 2, 4, "product code")
REVISION = _unsigned(0x1018, 3, 4, "revision number")
SERIAL = _unsigned(0x1018, 4, 4, "serial number")
ERROR_BEHAVIOUR = _unsigned(0x1029, 1, 1, "behaviour on a communication error")

ABORT_OPTION = Object(index=0x6007, size=2, signed=True, name="abort connection option")
ERROR_CODE = _unsigned(0x603F, 0, 2, "error code")
CONTROLWORD = _unsigned(0x6040, 0, 2, "controlword")
STATUSWORD = _unsigned(0x6041, 0, 2, "statusword")
QUICK_STOP_OPTION = Object(index=0x605A, size=2, signed=True, name="quick stop option")
FAULT_OPTION = Object(index=0x605E, size=2, signed=True, name="fault reaction option")
MODE = Object(index=0x6060, size=1, signed=True, name="mode of operation")
MODE_SHOWN = Object(index=0x6061, size=1, signed=True, name="mode of operation display")
POSITION = Object(index=0x6064, size=4, signed=True, name="actual position")
FOLLOWING_WINDOW = _unsigned(0x6065, 0, 4, "following error window")
FOLLOWING_TIME = _unsigned(0x6066, 0, 2, "following error time out")
RATED_CURRENT = _unsigned(0x6075, 0, 4, "rated current")
CURRENT = Object(index=0x6078, size=2, signed=True, name="actual current")
SUPPLY = _unsigned(0x6079, 0, 4, "supply voltage")
TARGET = Object(index=0x607A, size=4, signed=True, name="target position")
LOWEST = Object(index=0x607D, sub=1, size=4, signed=True, name="lowest position")
HIGHEST = Object(index=0x607D, sub=2, size=4, signed=True, name="highest position")
FEED = _unsigned(0x6092, 1, 4, "counts per turns of the shaft")
FEED_TURNS = _unsigned(0x6092, 2, 4, "turns of the shaft")
PERIOD = _unsigned(0x60C2, 1, 1, "interpolation period")
PERIOD_POWER = Object(index=0x60C2, sub=2, size=1, signed=True, name="its power of ten")

WINDING = Object(index=0x2000, sub=1, size=2, signed=True, name="winding temperature")
"""Of the simulated drives; every maker has its own object, which the sheet names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pdo:
    """Where a PDO is set up."""

    settings: int
    """Index of its communication parameters."""
    mapping: int
    """Index of its mapping."""
    base: int
    """Identifier without node."""

    @property
    def identifier(self) -> Object:
        """Its COB-ID; bit 31 switches it off."""
        return _unsigned(self.settings, 1, 4, "PDO identifier")

    @property
    def transmission(self) -> Object:
        """1: with every SYNC; 255: at once, or by the event timer."""
        return _unsigned(self.settings, 2, 1, "PDO transmission type")

    @property
    def timer(self) -> Object:
        """Event timer [ms]."""
        return _unsigned(self.settings, 5, 2, "PDO event timer")

    @property
    def count(self) -> Object:
        """Number of mapped objects; 0 while they are changed."""
        return _unsigned(self.mapping, 0, 1, "number of mapped objects")

    def entry(self, number: int) -> Object:
        """The mapped object of a number, from 1."""
        return _unsigned(self.mapping, number, 4, f"mapped object {number}")


RPDO1 = Pdo(settings=0x1400, mapping=0x1600, base=0x200)
RPDO2 = Pdo(settings=0x1401, mapping=0x1601, base=0x300)
TPDO1 = Pdo(settings=0x1800, mapping=0x1A00, base=0x180)
TPDO2 = Pdo(settings=0x1801, mapping=0x1A01, base=0x280)
OFF = 0x8000_0000
"""Bit of a PDO's identifier that switches it off."""
