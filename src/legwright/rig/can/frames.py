"""CAN frames in bulk: packed and unpacked as tables, one row per frame.

A row has the layout of the Linux ``struct can_frame``, so that a table is what a raw socket
sends. What the cycle carries:

========  ==========  =====================================================================
message   identifier  payload
========  ==========  =====================================================================
NMT       000         command, node (0: all)
SYNC      080         none
EMCY      080 + node  error code, error register 1001h, five bytes of the maker
TPDO1     180 + node  statusword 6041h, position 6064h, current 6078h; answers every SYNC
RPDO1     200 + node  controlword 6040h, target position 607Ah; acts with the next SYNC
TPDO2     280 + node  supply voltage 6079h, error code 603Fh, winding temperature; 10 times a second
RPDO2     300 + node  controlword 6040h; acts at once
SDO       580, 600    single objects, see `sdo`
HEARTBEAT 700 + node  NMT state
========  ==========  =====================================================================

Sources: CiA 301 4.2.0, predefined connection set; CiA 402-2 (objects).
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

Frames = np.ndarray[tuple[int, ...], np.dtype[np.void]]
Whole = NDArray[np.int64]

FRAME = np.dtype([("id", "<u4"), ("size", "u1"), ("gap", "u1", (3,)), ("data", "u1", (8,))])
"""One frame: 16 bytes; ``id`` carries the flags of ``struct can_frame`` in its top bits."""
_COMMAND = np.dtype([("control", "<u2"), ("target", "<i4"), ("rest", "<u2")])
_ANSWER = np.dtype([("status", "<u2"), ("position", "<i4"), ("current", "<i2")])
_SLOW = np.dtype([("voltage", "<u4"), ("error", "<u2"), ("winding", "<i2")])
_EMERGENCY = np.dtype([("error", "<u2"), ("register", "u1"), ("maker", "u1", (5,))])

ERROR_FLAG, BUS_OFF_FLAG = 0x2000_0000, 0x40
"""An error frame, and its bit for an adapter that left the bus; Linux, can/error.h."""
IDENTIFIER, NODE, FUNCTION = 0x7FF, 0x7F, 0x780


class Kind(IntEnum):
    """Functions of the predefined connection set: identifier without node."""

    NMT = 0x000
    SYNC = 0x080
    EMERGENCY = 0x080
    TPDO1 = 0x180
    RPDO1 = 0x200
    TPDO2 = 0x280
    RPDO2 = 0x300
    SDO_ANSWER = 0x580
    SDO_REQUEST = 0x600
    HEARTBEAT = 0x700


class Nmt(IntEnum):
    """Network management: commands of frame 000, and states of the heartbeat."""

    START = 1
    STOP = 2
    PRE_OPERATIONAL = 128
    RESET = 129
    BOOT = 0x00
    STOPPED_STATE = 0x04
    OPERATIONAL_STATE = 0x05
    PRE_OPERATIONAL_STATE = 0x7F


def table(identifiers: ArrayLike, size: int, payload: NDArray[np.uint8] | None = None) -> Frames:
    """Frames of one size.

    Args:
        identifiers: (N,).
        size: Bytes of each payload.
        payload: (N, 8), bytes beyond `size` are not sent; zeros when None.

    Returns:
        (N,) of dtype `FRAME`.
    """
    where = np.atleast_1d(identifiers)
    frames = np.zeros(len(where), dtype=FRAME)
    frames["id"], frames["size"] = where, size
    if payload is not None:
        frames["data"] = payload
    return frames


def sync() -> Frames:
    """The SYNC frame."""
    return table(Kind.SYNC, 0)


def nmt(command: Nmt, node: int = 0) -> Frames:
    """A network management command; node 0 speaks to all."""
    frame = table(Kind.NMT, 2)
    frame["data"][0, :2] = command, node
    return frame


def heartbeats(nodes: ArrayLike, states: ArrayLike) -> Frames:
    """Heartbeat frames, (N,)."""
    frames = table(Kind.HEARTBEAT + np.atleast_1d(nodes), 1)
    frames["data"][:, 0] = states
    return frames


def commands(nodes: Whole, words: ArrayLike, targets: ArrayLike) -> Frames:
    """RPDO1 frames.

    Args:
        nodes: (N,).
        words: Controlwords, (N,).
        targets: Target positions, (N,) [counts].
    """
    rows = np.zeros(len(nodes), dtype=_COMMAND)
    rows["control"], rows["target"] = words, targets
    return table(Kind.RPDO1 + nodes, 6, _bytes(rows))


def words_at_once(nodes: Whole, words: ArrayLike) -> Frames:
    """RPDO2 frames: controlwords that act without SYNC, (N,)."""
    rows = np.zeros(len(nodes), dtype=_COMMAND)
    rows["control"] = words
    return table(Kind.RPDO2 + nodes, 2, _bytes(rows))


def answers(nodes: Whole, status: ArrayLike, position: ArrayLike, current: ArrayLike) -> Frames:
    """TPDO1 frames.

    Args:
        nodes: (N,).
        status: Statuswords, (N,).
        position: (N,) [counts].
        current: (N,) [per mille of the rated current].
    """
    rows = np.zeros(len(nodes), dtype=_ANSWER)
    rows["status"], rows["position"], rows["current"] = status, position, current
    return table(Kind.TPDO1 + nodes, 8, _bytes(rows))


def slow_answers(
    nodes: Whole, voltage: ArrayLike, error: ArrayLike, winding: ArrayLike, size: int = 8
) -> Frames:
    """TPDO2 frames.

    Args:
        nodes: (N,).
        voltage: (N,) [mV].
        error: Error codes, (N,).
        winding: (N,) [0.1 °C].
        size: 6 where drives do not tell their winding temperature.
    """
    rows = np.zeros(len(nodes), dtype=_SLOW)
    rows["voltage"], rows["error"], rows["winding"] = voltage, error, winding
    return table(Kind.TPDO2 + nodes, size, _bytes(rows))


def emergencies(nodes: ArrayLike, errors: ArrayLike, registers: ArrayLike) -> Frames:
    """EMCY frames, (N,)."""
    where = np.atleast_1d(np.asarray(nodes))
    rows = np.zeros(len(where), dtype=_EMERGENCY)
    rows["error"], rows["register"] = errors, registers
    return table(Kind.EMERGENCY + where, 8, _bytes(rows))


def of_kind(frames: Frames, kind: Kind, size: int) -> tuple[Whole, Frames]:
    """Frames of one kind that are as long as it must be.

    Args:
        frames: What was read, (N,).
        kind: Wanted function; SYNC itself is no emergency.
        size: Least number of payload bytes.

    Returns:
        Node of each found frame, and these frames, in order.
    """
    identifiers = frames["id"]
    found = ((identifiers & ~np.uint32(NODE)) == kind) & (frames["size"] >= size)
    if kind is Kind.SYNC:
        found &= (identifiers & NODE) != 0
    chosen = frames[found]
    return (chosen["id"] & NODE).astype(np.int64), chosen


def read_commands(frames: Frames) -> Frames:
    """RPDO1 or RPDO2 payloads: ``control``, ``target``."""
    return _payload(frames, _COMMAND)


def read_answers(frames: Frames) -> Frames:
    """TPDO1 payloads: ``status``, ``position``, ``current``."""
    return _payload(frames, _ANSWER)


def read_slow_answers(frames: Frames) -> Frames:
    """TPDO2 payloads: ``voltage``, ``error``, ``winding``."""
    return _payload(frames, _SLOW)


def read_emergencies(frames: Frames) -> Frames:
    """EMCY payloads: ``error``, ``register``, ``maker``."""
    return _payload(frames, _EMERGENCY)


def _bytes(rows: Frames) -> NDArray[np.uint8]:
    return rows.view(np.uint8).reshape(len(rows), 8)


def _payload(frames: Frames, kind: np.dtype[np.void]) -> Frames:
    return np.ascontiguousarray(frames["data"]).reshape(-1).view(kind)
