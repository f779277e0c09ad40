"""Arrays on the wire: a JSON header, then little-endian float32 numbers.

A block is one binary frame: the header's length (uint32, little-endian), the header (JSON,
padded with spaces so that the numbers start at a multiple of 4), the arrays one after another
as the header's `arrays` names them. A number that is not known is NaN.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import Literal

import msgspec
import numpy as np
from msgspec import Struct
from numpy.typing import ArrayLike


class Array(Struct, frozen=True, kw_only=True):
    """One array of a block."""

    name: str
    shape: tuple[int, ...]


class Block(Struct, frozen=True, kw_only=True, tag_field="type"):
    """A header; `arrays` is filled in when it is packed."""

    rev: int
    arrays: tuple[Array, ...] = ()


class Limits(Struct, frozen=True, kw_only=True):
    """What the numbers of a cycle are held against; lists run along the J axis."""

    margin: float | None
    """Required stability margin [m]."""
    friction: float
    torque_reserve: float
    lower: tuple[float | None, ...]
    """[rad]"""
    upper: tuple[float | None, ...]
    speed: tuple[float | None, ...]
    """No-load speed at the least voltage [rad/s]."""
    continuous: tuple[float | None, ...]
    """Torque that may be held for ever [N·m]."""
    winding: tuple[float | None, ...]
    """Highest winding temperature [K]."""
    voltage: tuple[float | None, ...]
    """Lowest voltage that the servo works at [V]."""
    ambient: float
    """[K]"""


class Cycle(Block, frozen=True, kw_only=True, tag="cycle"):
    """One cycle of the shown walk; T samples, L legs, J joints, N points of a line.

    t (T) [s] · q (T,J) [rad] · body (T,7): body frame in the ground frame, x, y, z [m],
    quaternion w, x, y, z · feet (T,L,3): foot points in the body frame [m] · contact (T,L) 0/1 ·
    torque (T,J) [N·m] · available (T,J): torque that the servo can give at that instant ·
    speed (T,J) [rad/s] · current (T,J): into the servo [A] · force (T,L,3): ground on foot, body
    axes [N] · margin (T) [m] · com (T,3): body frame [m] · voltage (T,J): at the servo [V] ·
    heat (T,J): copper loss [W] · winding (J): where the temperature settles [K] · minutes (J):
    from cold to the highest winding temperature, inf: never · rms (J): torque [N·m] · support
    (T,L): legs at the corners of the support polygon, counter-clockwise from above, then −1 ·
    line_speed (J,N), line_torque (J,N): torque-speed line at the least voltage of the cycle.
    """

    who: Literal["now", "before"]
    """The edited robot, or what lies under it; see `Edits.under`."""
    case: str
    """Name of the case; empty for a walk of the user's own."""
    gait: str
    duty: float
    phases: tuple[float, ...]
    """Of the legs in order."""
    cycle: float
    """[s]"""
    velocity: tuple[float, float]
    turn: float
    slope: float
    uphill: float
    height: float
    """Body frame over the foot points [m]."""
    legs: tuple[str, ...]
    joints: tuple[str, ...]
    limits: Limits
    ok: bool
    """Whether every foot reaches its path."""
    fed: bool
    """Whether voltage and current are those of the circuit, not of a battery at its cut-off."""
    worst: float
    """Phase at which a joint comes nearest to what its servo can give; −1 where not known."""
    note: str
    """What is in the way of this walk, or was assumed."""


class Reach(Block, frozen=True, kw_only=True, tag="reach"):
    """Outlines of what legs reach in their own vertical plane.

    One array (N, 2) per leg, named after it: distance from the hip axis outward, height in the
    body frame [m].
    """

    who: Literal["now", "before"]
    inside: dict[str, float]
    """Leg -> share of the reachable region that lies inside the joint limits."""
    hips: dict[str, tuple[float, float, float]]
    """Leg -> hip axis in the body frame [m]."""
    outward: dict[str, tuple[float, float]]
    """Leg -> unit direction of its plane, body x, y."""


class Near(Struct, frozen=True, kw_only=True):
    """Two links that come near each other over the shown cycle."""

    links: tuple[str, str]
    distance: float
    """Least over the cycle [m]; negative where they overlap, by the depth."""
    phase: float
    """Where that is, share of the cycle."""


class Nearness(Block, frozen=True, kw_only=True, tag="nearness"):
    """Where links come nearest to each other over the shown cycle.

    points (P,2,3): the nearest point on each of a pair's links, in that link's frame [m].
    """

    case: str
    """Name of the case; empty for a walk of the user's own."""
    pairs: tuple[Near, ...]
    """Nearest first; P of them."""
    wanted: float | None
    """Distance that the sheet asks for [m]."""


class Pulled(Block, frozen=True, kw_only=True, tag="pulled"):
    """Answers `pull`: the whole pose.

    q (J) [rad] · body (7): body frame in the ground frame · feet (L,3): body frame [m] ·
    margin (1) [m] · com (3): body frame [m] · error (L): by how far each foot misses its place [m].
    """

    n: int
    ok: bool
    """Whether everything is where it was pulled, inside the limits."""
    stopped: tuple[str, ...]
    """Joints at their limits."""
    text: str
    """What is in the way, in words."""


class Wire(Struct, frozen=True, kw_only=True):
    """One item of the circuit, battery's side first."""

    part: str
    """Designation, as drawings name it: ``-W3``."""
    kind: str
    name: str
    size: str
    """Of a wire: ``20 AWG``."""
    conductor: str
    """Its name in the sheet's harness."""
    key: str
    """Of the sheet, where its gauge can be changed; empty otherwise."""
    branch: str
    """Of the hub; empty ahead of it."""
    length: float | None
    """One way [m]."""
    rating: float | None
    """[A]"""
    highest: float | None
    """Highest temperature of the insulation [K]."""
    temperature: float | None
    """Where it settles in this case [K]."""
    rms: float | None
    """[A]"""
    peak: float | None
    """[A]"""
    lost: float | None
    """Largest voltage lost, there and back [V]."""


class Consumer(Struct, frozen=True, kw_only=True):
    """What takes power."""

    part: str
    name: str
    kind: str
    lowest: float | None
    """Lowest voltage at it in this case [V]."""
    least: float | None
    """Lowest that it works at [V]."""


class CircuitBlock(Block, frozen=True, kw_only=True, tag="circuit"):
    """The circuit over one cycle; E items, C consumers.

    current (T,E) [A] · drop (T,E) [V], there and back · voltage (T,C): at each consumer [V] ·
    terminal (T): at the battery's terminals [V] · battery (T): its current [A].
    """

    who: Literal["now", "before"]
    case: str
    wires: tuple[Wire, ...]
    consumers: tuple[Consumer, ...]
    battery: str
    """Its designation."""
    charge: float
    """State of charge of the battery, 0 to 1."""
    power: float | None
    """Average from the battery [W]."""
    brown_out: bool


class Moment(Block, frozen=True, kw_only=True, tag="moment"):
    """One moment of the walk.

    q (J) [rad] · body (7): in the ground frame, x, y, z [m], quaternion w, x, y, z · force (L,3):
    true, body axes [N] · felt (L): upward [N] · touch (L): truly on the ground, 0/1 · contact (L):
    felt to be, 0/1 · current (J) [A] · winding (J) [K] · voltage (J): at the servos [V] ·
    margin (1) [m].
    """

    time: float
    live: bool
    """Whether it is now; otherwise it answers `walk_at`."""


class Run(Block, frozen=True, kw_only=True, tag="run"):
    """Curves of the walk in bins of equal width, and when feet came down and lifted.

    low, high (n,C): least and greatest of each bin · edges (m,4): leg, 0 true or 1 felt, time
    [s], 1 down or 0 up.
    """

    start: bool
    """Whether all before is to be forgotten."""
    at: int
    """Index of the first bin here; the bin itself may have been sent before."""
    width: float
    """Of a bin [s]; the first begins at 0."""
    time: float
    """Newest [s]."""


class Land(Block, frozen=True, kw_only=True, tag="land"):
    """The ground of the walk as a grid: heights (R,C) at start + spacing · (row, column) [m]."""

    spacing: float
    """[m]"""
    origin: tuple[float, float]
    """x, y of the first height [m]."""


AnyBlock = Cycle | Reach | Nearness | Pulled | CircuitBlock | Moment | Run | Land
"""All blocks."""

_ENCODER = msgspec.json.Encoder()


def packed(header: Block, arrays: Mapping[str, ArrayLike]) -> bytes:
    """A block as one binary frame.

    Args:
        header: What it is about.
        arrays: Name -> numbers, any shape.

    Returns:
        The frame.
    """
    rows = {name: np.ascontiguousarray(values, dtype="<f4") for name, values in arrays.items()}
    named = tuple(Array(name=name, shape=row.shape) for name, row in rows.items())
    text = _ENCODER.encode(msgspec.structs.replace(header, arrays=named))
    text += b" " * (-len(text) % 4)
    return b"".join([struct.pack("<I", len(text)), text, *(row.tobytes() for row in rows.values())])


def unpacked(frame: bytes) -> tuple[AnyBlock, dict[str, np.ndarray]]:
    """A block's header and arrays, for tests and other programs.

    Args:
        frame: As `packed` makes it.

    Raises:
        msgspec.DecodeError: where the header makes no sense.
        ValueError: where the frame is too short.
    """
    (length,) = struct.unpack_from("<I", frame)
    header: AnyBlock = msgspec.json.decode(frame[4 : 4 + length], type=AnyBlock)
    arrays, at = {}, 4 + length
    for one in header.arrays:
        count = int(np.prod(one.shape, dtype=np.int64))
        arrays[one.name] = np.frombuffer(frame, "<f4", count, at).reshape(one.shape)
        at += 4 * count
    return header, arrays
