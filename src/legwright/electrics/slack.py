"""How long each cable must be, and how long it may be."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from math import asin, atan2, ceil, floor, inf, isfinite, pi, sqrt

from legwright.electrics.extremes import Extremes, extremes
from legwright.electrics.route import Cable, routes_of
from legwright.errors import RequestError
from legwright.robot.robot import Robot
from legwright.robot.sheet_electrics import Harness

WIDEST_ARC = 2.331122370414423
"""Half the angle of the arc that stands farthest off its chord for its length, tan(x/2) = x
[rad]."""
QUARTER_TURN = pi / 2.0 - 1.0
"""Length that a quarter bend takes beyond the way it gains, in bend radii."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The lengths that one stretch of cable may have between its fixings."""

    shortest: float
    """Never pulls and never bends too tightly [m]."""
    longest: float
    """Never bulges or bends too far [m]; inf where nothing bounds it."""
    loop: bool = False
    """Whether it needs a full service loop, because the fixings come close together."""
    extremes: Extremes | None = None

    @property
    def fits(self) -> bool:
        """Whether any length will do."""
        return self.shortest <= self.longest


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLength:
    """One cable's length from strip to strip."""

    name: str
    stretches: tuple[Room, ...]
    shortest: float
    """The shortest that never pulls, terminations included [m]."""
    longest: float
    """The longest that never snags, terminations included [m]; inf where no bulge is stated."""
    length: float | None
    """To be cut: makeable, with the sheet's slack as far as it fits [m]; None: see `trouble`."""
    trouble: str | None = None
    """Why no length fits, as one sentence."""


def arch_bulge(length: float, chord: float) -> float:
    """How far a cable bent to a circular arc stands off its chord [m].

    Args:
        length: Of the cable between the fixings [m], at least `chord`.
        chord: Distance of the fixings [m], not negative.

    Raises:
        RequestError: if the cable is shorter than its chord.

    Source: geometry, L = r θ, c = 2 r sin(θ/2), h = r (1 - cos(θ/2)); solved by halving.
    """
    _check_chord(chord)
    if not length >= chord:
        raise RequestError("length", length, f"at least the chord, {chord:g} m")
    low, high = 0.0, 0.5 * length
    for _ in range(200):
        middle = 0.5 * (low + high)
        if arch_length(middle, chord) < length:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def arch_length(bulge: float, chord: float) -> float:
    """Length of the circular arc with a chord and a bulge [m].

    Args:
        bulge: How far the arc stands off the chord [m], not negative.
        chord: [m], not negative.

    Source: geometry; r = (c²/4 + h²)/(2 h), θ = 4 atan(2 h/c).
    """
    _check_chord(chord)
    if not (isfinite(bulge) and bulge >= 0.0):
        raise RequestError("bulge", bulge, "finite and not negative")
    if bulge <= 1e-9 * chord or bulge == 0.0:
        return chord
    radius = (0.25 * chord * chord + bulge * bulge) / (2.0 * bulge)
    return radius * 4.0 * atan2(2.0 * bulge, chord)


def widest_reach(length: float, chord: float) -> float:
    """Farthest that any point of a cable can come off its chord, however it lies [m].

    Source: geometry; half the small axis of the ellipse with the fixings as foci.
    """
    _check_chord(chord)
    if not length >= chord:
        raise RequestError("length", length, f"at least the chord, {chord:g} m")
    return 0.5 * sqrt(length * length - chord * chord)


def rooms_between(
    nearest: float, farthest: float, *, radius: float = 0.0, bulge: float | None = None
) -> tuple[Room, ...]:
    """Lengths that suit two fixings that come as near and as far as stated.

    The slack cable lies as a circular arc over the chord c. Arcs of radius R over a chord
    shorter than 2 R have the length 2 R asin(c/2R), or 2 R (π - asin(c/2R)) as a loop; every
    length between them bends more tightly. So a length must stay below the first or above the
    second at all chords from `nearest` to `farthest`; both are decided at `nearest`. An arc of
    given length stands farthest off its chord where the chord is 2 h/x with tan(x/2) = x, or at
    the end of the range that is next to it. A quarter bend of radius R at either fixing comes
    on top, since a cable seldom leaves a fixing in line with its chord.

    Args:
        nearest: Least distance of the fixings [m].
        farthest: Greatest distance [m].
        radius: Least bend radius [m]; 0 where it is not judged.
        bulge: How far the cable may stand off its chord [m]; None where nothing is in its way.

    Returns:
        One span of lengths or two, shorter first: without and with a loop. Where none fits,
        the last with its bounds crossed.

    Raises:
        RequestError: if the distances or the radius make no sense.
    """
    _check_chord(nearest)
    if not (isfinite(farthest) and farthest >= nearest):
        raise RequestError("farthest", farthest, f"finite and at least nearest, {nearest:g} m")
    if not (isfinite(radius) and radius >= 0.0):
        raise RequestError("radius", radius, "finite and not negative")
    ends = 2.0 * QUARTER_TURN * radius
    cap = inf
    if bulge is not None:
        cap = arch_length(bulge, min(max(2.0 * bulge / WIDEST_ARC, nearest), farthest))
    rooms = tuple(
        Room(shortest=low + ends, longest=min(high, cap) + ends, loop=loop)
        for low, high, loop in _windows(nearest, farthest, radius)
    )
    return tuple(room for room in rooms if room.fits) or rooms[-1:]


def _windows(nearest: float, farthest: float, radius: float) -> list[tuple[float, float, bool]]:
    """Spans of lengths that bend nowhere too tightly, and whether they make a loop."""
    if nearest >= 2.0 * radius:
        return [(farthest, inf, False)]
    lean = 2.0 * radius * asin(nearest / (2.0 * radius))
    loop = (max(farthest, 2.0 * pi * radius - lean), inf, True)
    return [(farthest, lean, False), loop] if farthest <= lean else [loop]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Allowed:
    """What a harness allows its cables."""

    bulge: float | None
    termination: float
    step: float
    slack: float


def cut_length(cable: Cable, harness: Harness) -> CutLength:
    """The length to cut one cable to.

    Args:
        cable: Its route.
        harness: Allowances and the makeable step.

    Returns:
        The length with its bounds; `length` is None where the shortest that never pulls
        exceeds the longest that never snags, or no makeable length lies between.
    """
    allowed = _Allowed(
        bulge=harness.bulge, termination=harness.termination, step=harness.step,
        slack=harness.slack,
    )  # fmt: skip
    return _cut_length(cable, allowed)


@lru_cache(maxsize=256)
def _cut_length(cable: Cable, harness: _Allowed) -> CutLength:
    """Most cables outlast an edit; see `routes_of`."""
    choices = [_rooms(cable, index, harness.bulge) for index in range(len(cable.stretches))]
    ways = sorted(product(*choices), key=lambda way: sum(room.shortest for room in way))
    tried = [_cut(cable, way, harness) for way in ways]
    return next((each for each in tried if each.length is not None), tried[0])


@lru_cache(maxsize=4)
def cuts_of(robot: Robot) -> tuple[tuple[Cable, CutLength], ...]:
    """Every cable that hangs on a robot's hub, and the length to cut it to.

    Raises:
        RobotError: as `routes_of`.
    """
    harness = robot.sheet.harness or Harness()
    return tuple((cable, cut_length(cable, harness)) for cable in routes_of(robot).cables)


def _cut(cable: Cable, rooms: tuple[Room, ...], harness: _Allowed) -> CutLength:
    ends = 2.0 * harness.termination
    shortest = sum(room.shortest for room in rooms) + ends
    longest = sum(room.longest for room in rooms) + ends
    trouble = _trouble(cable, rooms)
    length = None
    if trouble is None:
        length = makeable(shortest, longest, step=harness.step, slack=harness.slack)
        if length is None:
            trouble = (
                f"No multiple of {harness.step * 1e3:g} mm lies between {shortest * 1e3:.1f} mm, "
                f"the shortest that never pulls, and {longest * 1e3:.1f} mm, the longest that "
                "never snags."
            )
    return CutLength(
        name=cable.name,
        stretches=rooms,
        shortest=shortest,
        longest=longest,
        length=length,
        trouble=trouble,
    )


def makeable(shortest: float, longest: float, *, step: float, slack: float = 0.0) -> float | None:
    """A multiple of a step between two lengths [m], with slack as far as it fits.

    Args:
        shortest: [m]
        longest: [m]; may be inf.
        step: [m]
        slack: Share wished on top of the shortest.

    Returns:
        The length; None if no multiple lies between.
    """
    if not (isfinite(step) and step > 0.0):
        raise RequestError("step", step, "finite and above 0")
    wished = ceil(shortest * (1.0 + slack) / step - 1e-9)
    most = inf if longest == inf else floor(longest / step + 1e-9)
    least = ceil(shortest / step - 1e-9)
    count = min(wished, most)
    return None if count < least else round(step * count, 9)


def _rooms(cable: Cable, index: int, bulge: float | None) -> tuple[Room, ...]:
    stretch = cable.stretches[index]
    radius = cable.radius if stretch.moves else cable.fixed_radius
    found = extremes(stretch)
    rooms = rooms_between(found.nearest, found.farthest, radius=radius or 0.0, bulge=bulge)
    return tuple(replace(room, extremes=found) for room in rooms)


def _trouble(cable: Cable, rooms: tuple[Room, ...]) -> str | None:
    for stretch, room in zip(cable.stretches, rooms, strict=True):
        if stretch.endless:
            return f"Joint '{stretch.endless[0]}' turns without end and winds the cable up."
        if not room.fits:
            across = " and ".join(f"'{name}'" for name in stretch.joints)
            where = f"across joint {across}" if across else "between two fixings that lie still"
            return (
                f"The stretch {where} needs {room.shortest * 1e3:.1f} mm so as never to pull or "
                f"kink, but snags from {room.longest * 1e3:.1f} mm on."
            )
    return None


def _check_chord(chord: float) -> None:
    if not (isfinite(chord) and chord >= 0.0):
        raise RequestError("chord", chord, "finite and not negative")
