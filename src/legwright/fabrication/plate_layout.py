"""The two body plates that a robot's layout asks for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from legwright.fabrication.angle_places import plate_holes
from legwright.fabrication.clearance_holes import clearance_hole
from legwright.fabrication.contour import Point, Rounded, left_wise, rectangle
from legwright.fabrication.limits import hole
from legwright.fabrication.openings import Opening, Purpose
from legwright.fabrication.plate import Plate
from legwright.fabrication.seats import Seat, Seats, seats_of
from legwright.robot.robot import Robot
from legwright.robot.same_numbers import Alike
from legwright.robot.sheet_making import Making, Mount, PlateKeys

MARGIN = 1.25
"""Material around what a lug holds, over the least that is allowed."""
NOTCH = 0.004
"""Notches of the outline narrower than this are closed [m]."""
CORNER = 0.3
"""Clearance that lets a square corner into a round one, over its radius: 1 − 1/√2, rounded up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plates:
    """The body plates, or what is missing for them."""

    plates: tuple[Plate, ...]
    missing: tuple[str, ...] = ()
    """Keys of the sheet to fill in."""
    notes: tuple[str, ...] = ()
    trouble: str = ""
    """Why there can be none, though all is stated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sizes:
    length: float
    width: float
    thickness: float
    gap: float
    density: float


def plates_of(robot: Robot) -> Plates:
    """Upper and lower plate of a robot.

    The upper one holds the servos of the hips, horns down, and of a mast, horn up; the lower
    one the bearings opposite the horns. Both have one outline: the core with a lug around
    each servo, or the hull of both.

    Args:
        robot: The robot.

    Returns:
        Two plates; none where the sheet does not say enough, or they cannot be.
    """
    making = robot.sheet.making
    if making.plates is None:
        return Plates(plates=(), missing=("making.plates",))
    sizes, missing = _sizes(robot, making.plates)
    found = seats_of(robot)
    missing = (*missing, *found.missing)
    if sizes is None or missing:
        return Plates(plates=(), missing=tuple(dict.fromkeys(missing)), notes=found.notes)
    return _laid_out(Alike(making, making.plates, sizes, found))


@lru_cache(maxsize=4)
def _laid_out(by: Alike) -> Plates:
    """The same of what they are made from; remembered, since few edits of a leg change that."""
    making: Making
    keys: PlateKeys
    sizes: _Sizes
    found: Seats
    making, keys, sizes, found = by.args
    outline, trouble = _outline(making, sizes, found.seats)
    if outline is None:
        return Plates(plates=(), notes=found.notes, trouble=trouble)
    shared = (*_standoffs(making, keys), *_slots("passage", Purpose.PASSAGE, keys.passages, keys))
    upper = [opening for seat in found.seats for opening in servo_openings(seat, making)]
    lower = [opening for seat in found.seats for opening in _bearing(seat)]
    upper += [*shared, *_slots("window", Purpose.WINDOW, keys.upper_windows, keys)]
    lower += [*shared, *_slots("window", Purpose.WINDOW, keys.lower_windows, keys)]
    upper += plate_holes(making, "upper")
    lower += plate_holes(making, "lower")
    away = (sizes.gap + sizes.thickness) / 2.0
    plates = tuple(
        Plate(
            name=name,
            outline=outline,
            openings=tuple(openings),
            thickness=sizes.thickness,
            density=sizes.density,
            material=keys.material,
            height=height,
        )
        for name, openings, height in (("upper-plate", upper, away), ("lower-plate", lower, -away))
    )
    return Plates(plates=plates, notes=found.notes)


def _sizes(robot: Robot, keys: PlateKeys) -> tuple[_Sizes | None, tuple[str, ...]]:
    shape = robot.sheet.dimensions
    found: dict[str, float] = {}
    missing = []
    for name in ("length", "width", "thickness", "gap", "density"):
        value = getattr(keys, name)
        if value is None and shape is not None:
            value = getattr(shape.plates, name)
        if value is None:
            missing.append(f"making.plates.{name}")
        else:
            found[name] = float(value)
    return (None if missing else _Sizes(**found)), tuple(missing)


def _outline(making: Making, sizes: _Sizes, seats: tuple[Seat, ...]) -> tuple[Rounded | None, str]:
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    keys = making.plates or PlateKeys()
    core = rectangle((0.0, 0.0), sizes.length, sizes.width)
    lugs = [_lug(seat, making, sizes.thickness) for seat in seats]
    whole = unary_union([Polygon(core.corners), *(Polygon(lug) for lug in lugs)])
    if keys.outline == "hull":
        whole = whole.convex_hull
    if whole.geom_type != "Polygon":
        return None, (
            "the lugs of some hips do not reach the core: make the plates longer or wider, or "
            'write making.plates.outline = "hull"'
        )
    sharp = {"join_style": "mitre", "mitre_limit": 20.0}
    closed = whole.buffer(NOTCH / 2.0, **sharp).buffer(-NOTCH / 2.0, **sharp)
    plain = Polygon(closed.exterior).simplify(2e-5)
    corners = left_wise([(float(x), float(y)) for x, y in list(plain.exterior.coords)[:-1]])
    return Rounded(corners=corners, radii=(keys.corner,) * len(corners)), ""


def _lug(seat: Seat, making: Making, thickness: float) -> list[Point]:
    """A rectangle around what a seat holds, from outside the axis to the body's far end."""
    xs, ys = [], []
    for opening in servo_openings(seat, making, local=True):
        half = (opening.diameter or 0.0) / 2.0
        corners = opening.outline.corners if opening.outline is not None else [opening.centre]
        xs += [x + side * half for x, _ in corners for side in (-1.0, 1.0)]
        ys += [y + side * half for _, y in corners for side in (-1.0, 1.0)]
    margin = MARGIN * making.least_edge * thickness
    mount = seat.servo.mount
    if mount is not None and mount.bearing is not None:
        xs += [-mount.bearing / 2.0]
    left, right = min(xs) - margin, max(xs) + margin
    half = max(abs(y) for y in ys) + margin
    return [
        seat.place(x, y) for x, y in ((left, -half), (right, -half), (right, half), (left, half))
    ]


def servo_openings(seat: Seat, making: Making, *, local: bool = False) -> tuple[Opening, ...]:
    """Cut-out and screw holes of one servo.

    Args:
        seat: Where it sits.
        making: Series of the holes.
        local: In the servo's own frame instead of the body's.

    Returns:
        Openings.
    """
    mount, size = seat.servo.mount, seat.servo.size
    if mount is None or size is None:
        return ()
    where = (lambda x, y: (x, y)) if local else seat.place
    screw = clearance_hole(mount.screw, making.screw_fit)
    body = rectangle(
        where(mount.shaft, 0.0),
        size[0] + 2.0 * mount.clearance,
        size[1] + 2.0 * mount.clearance,
        radius=mount.clearance / CORNER,
        turned=0.0 if local else seat.inward,
    )
    cut = Opening(
        name=f"servo {seat.name}", purpose=Purpose.SERVO, centre=where(mount.shaft, 0.0),
        outline=body, takes=f"servo {seat.servo.id}",
    )  # fmt: skip
    holes = (
        Opening(
            name=f"screw {number} of {seat.name}", purpose=Purpose.SCREW, centre=where(x, y),
            diameter=screw.diameter, upper=screw.upper, fit=screw.grade, takes=mount.screw,
        )
        for number, (x, y) in enumerate(mount.holes, start=1)
    )  # fmt: skip
    return (cut, *holes)


def _bearing(seat: Seat) -> tuple[Opening, ...]:
    mount: Mount | None = seat.servo.mount
    if mount is None or mount.bearing is None or not seat.horn_down:
        return ()
    seat_limits = hole(mount.bearing, 7)
    return (
        Opening(
            name=f"bearing {seat.name}", purpose=Purpose.FIT, centre=seat.at,
            diameter=mount.bearing, upper=seat_limits.upper, fit=seat_limits.name, takes="bearing",
        ),
    )  # fmt: skip


def _standoffs(making: Making, keys: PlateKeys) -> tuple[Opening, ...]:
    if not keys.standoffs:
        return ()
    screw = clearance_hole(keys.standoff_screw, making.screw_fit)
    return tuple(
        Opening(
            name=f"spacer {number}", purpose=Purpose.SCREW, centre=place, diameter=screw.diameter,
            upper=screw.upper, fit=screw.grade, takes=keys.standoff_screw,
        )
        for number, place in enumerate(keys.standoffs, start=1)
    )  # fmt: skip


def _slots(
    name: str,
    purpose: Purpose,
    stated: tuple[tuple[float, float, float, float], ...],
    keys: PlateKeys,
) -> tuple[Opening, ...]:
    return tuple(
        Opening(
            name=f"{name} {number}",
            purpose=purpose,
            centre=(x, y),
            outline=rectangle(
                (x, y),
                length,
                width,
                radius=min(length, width) / 2.0 if purpose is Purpose.PASSAGE else keys.corner,
            ),
        )
        for number, (x, y, length, width) in enumerate(stated, start=1)
    )
