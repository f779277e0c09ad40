"""Cap screws, nuts and washers, and the length of screw that works."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from math import pi
from types import MappingProxyType

from legwright.errors import RequestError, did_you_mean

STEEL = 7850.0
"""Density of the screws [kg/m³]; textbook value."""
SHOWING = 2.0
"""Pitches by which a screw shows beyond its nut at least; common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """One size of cap screw with its nut and washer, largest measures."""

    name: str
    diameter: float
    """[m]"""
    pitch: float
    """Coarse [m]."""
    head: float
    """Diameter of the head [m]."""
    head_height: float
    """[m]"""
    shortest: float
    """[m]"""
    longest: float
    """Of the usual ones [m]."""
    nut: float
    """Height of the nut [m]."""
    nut_width: float
    """Across flats [m]."""
    washer: float
    """Thickness of the washer [m]."""
    washer_width: float
    """Outer diameter of the washer [m]."""
    socket: float
    """Width of the key across flats [m]."""
    socket_depth: float
    """Least depth of the socket [m]."""


_ROWS_MM = {
    "M1.6": (0.35, 3.14, 1.6, 2.5, 16.0, 1.3, 3.2, 0.35, 4.0, 1.5, 0.7),
    "M2": (0.4, 3.98, 2.0, 3.0, 20.0, 1.6, 4.0, 0.35, 5.0, 1.5, 1.0),
    "M2.5": (0.45, 4.68, 2.5, 4.0, 25.0, 2.0, 5.0, 0.55, 6.0, 2.0, 1.1),
    "M3": (0.5, 5.68, 3.0, 5.0, 30.0, 2.4, 5.5, 0.55, 7.0, 2.5, 1.3),
    "M4": (0.7, 7.22, 4.0, 6.0, 40.0, 3.2, 7.0, 0.9, 9.0, 3.0, 2.0),
    "M5": (0.8, 8.72, 5.0, 8.0, 50.0, 4.7, 8.0, 1.1, 10.0, 4.0, 2.5),
    "M6": (1.0, 10.22, 6.0, 8.0, 60.0, 5.2, 10.0, 1.8, 12.0, 5.0, 3.0),
    "M8": (1.25, 13.27, 8.0, 10.0, 80.0, 6.8, 13.0, 1.8, 16.0, 6.0, 4.0),
}
"""Pitch, head diameter and height, shortest and longest; nut height and width; washer thickness
and diameter; key and depth of the socket. ISO 4762, ISO 4032, ISO 7089, as tabled in the data of
bd_warehouse 0.4.0."""
LENGTHS = tuple(
    mm / 1000.0
    for mm in (2.5, 3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80)
)
"""Lengths of cap screws [m]; ISO 4762, as tabled there."""
THREADS = MappingProxyType(
    {
        name: Thread(
            name=name,
            diameter=float(name[1:]) / 1e3,
            **dict(
                zip(
                    ("pitch", "head", "head_height", "shortest", "longest", "nut", "nut_width",
                     "washer", "washer_width", "socket", "socket_depth"),
                    (mm / 1e3 for mm in row),
                    strict=True,
                )
            ),
        )
        for name, row in _ROWS_MM.items()
    }
)  # fmt: skip


class Into(Enum):
    """What a screw's thread goes into."""

    NUT = "nut"
    STEEL = "steel"
    ALUMINIUM = "aluminium"
    INSERT = "insert"
    PLASTIC = "plastic"


LEAST_ENGAGED = MappingProxyType(
    {Into.STEEL: 1.0, Into.ALUMINIUM: 1.5, Into.INSERT: 1.0, Into.PLASTIC: 2.0}
)
"""Least thread engaged, in diameters; common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A screw for one stack."""

    thread: Thread
    length: float | None
    """[m]; None where no standard length works."""
    engaged: float
    """Thread in the counterpart [m]; of the best length where none works."""
    why: str
    """The stack, summed; or what is wrong and what would cure it."""


def thread_of(name: str) -> Thread:
    """The size that a sheet names.

    Raises:
        RequestError: for a thread that the table does not hold.
    """
    if name not in THREADS:
        raise RequestError("screw", name, f"one of {', '.join(THREADS)}. "
                           + did_you_mean(name, tuple(THREADS)))  # fmt: skip
    return THREADS[name]


def screw_for(thread: str, grip: float, into: Into, *, depth: float | None = None) -> Choice:
    """The shortest standard screw that holds a stack.

    Args:
        thread: Size, ``M2.5``.
        grip: All that is clamped between head and counterpart, nut and washer left out [m].
        into: What the thread goes into.
        depth: How deep it may go into a tapped counterpart; without limit when None [m].

    Returns:
        The choice.

    Raises:
        RequestError: for a thread that the table does not hold, or a grip below zero.
    """
    size = thread_of(thread)
    if not 0.0 <= grip < 1.0:
        raise RequestError("grip", grip, "between 0 and 1 m")
    usual = [length for length in LENGTHS if size.shortest <= length <= size.longest]
    if into is Into.NUT:
        least = grip + size.washer + size.nut + SHOWING * size.pitch
        most = float("inf")
        stack = (f"{_mm(grip)} clamped + {_mm(size.washer)} washer + {_mm(size.nut)} nut "
                 f"+ {SHOWING:g} pitches of {_mm(size.pitch)}")  # fmt: skip
    else:
        need = LEAST_ENGAGED[into] * size.diameter
        least = grip + need
        most = float("inf") if depth is None else grip + depth
        stack = f"{_mm(grip)} clamped + {_mm(need)} thread in {into.value}"
        if depth is not None:
            stack += f", which is {_mm(depth)} deep"
    fitting = [length for length in usual if least - 1e-9 <= length <= most + 1e-9]
    if fitting:
        engaged = size.nut if into is Into.NUT else fitting[0] - grip
        why = f"{stack}: at least {_mm(least)}."
        return Choice(thread=size, length=fitting[0], engaged=engaged, why=why)
    nearest = max((length for length in usual if length <= most + 1e-9), default=0.0)
    return Choice(
        thread=size,
        length=None,
        engaged=max(nearest - grip, 0.0),
        why=_none(size, least, most, stack),
    )


def screw_mass(thread: Thread, length: float) -> float:
    """Mass of a cap screw of steel: head with its socket, and a shank of mean thread width [kg]."""
    head = pi / 4.0 * thread.head**2 * thread.head_height
    socket = 0.8660254 * thread.socket**2 * thread.socket_depth
    shank = pi / 4.0 * (thread.diameter - 0.6 * thread.pitch) ** 2 * length
    return STEEL * (head - socket + shank)


def nut_mass(thread: Thread) -> float:
    """Mass of a nut of steel: a hexagon with its hole [kg]."""
    area = 0.8660254 * thread.nut_width**2 - pi / 4.0 * thread.diameter**2
    return STEEL * area * thread.nut


def washer_mass(thread: Thread) -> float:
    """Mass of a washer of steel [kg]."""
    area = pi / 4.0 * (thread.washer_width**2 - (1.06 * thread.diameter) ** 2)
    return STEEL * area * thread.washer


def _none(size: Thread, least: float, most: float, stack: str) -> str:
    if least > size.longest:
        cure = f"the longest usual {size.name} is {_mm(size.longest)}: use a spacer or a stud"
    elif most < least:
        cure = "the thread is not deep enough: tap deeper, or clamp less"
    else:
        cure = f"no standard length lies up to {_mm(most)}: add a washer, or tap deeper"
    return f"{stack}: at least {_mm(least)}; {cure}."


def _mm(length: float) -> str:
    return f"{length * 1e3:.3g} mm"
