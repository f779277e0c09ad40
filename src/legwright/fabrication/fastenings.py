"""Where screws go, what they clamp, and which length works."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from legwright.fabrication.screws import Choice, Into, screw_for
from legwright.robot.robot import Robot
from legwright.robot.servo import Servo


@dataclass(frozen=True, slots=True, kw_only=True)
class Fastening:
    """Alike screws in alike places."""

    where: str
    """``case of 6 dunnock servos on the plate``"""
    count: int
    """Screws in all."""
    into: Into
    grip: float | None
    """Clamped between head and counterpart [m]; None where the sheet does not say."""
    choice: Choice | None
    """None where the stack is not known."""
    stack: str = ""
    """What is clamped, in words."""
    missing: str = ""
    """The key to fill in; empty where all is known."""


def fastenings_of(robot: Robot) -> tuple[Fastening, ...]:
    """All screws that the description implies.

    Args:
        robot: The robot.

    Returns:
        Servo cases, horns, spacers between the plates, angle brackets.

    Raises:
        RequestError: for a thread that the table does not hold.
    """
    return (*_servos(robot), *_spacers(robot), *_angles(robot))


def _servos(robot: Robot) -> Iterator[Fastening]:
    """Cases on what carries them and horns in what they turn, alike ones together."""
    firsts = {leg.joint_names[0] for leg in robot.legs.values()}
    groups: dict[tuple[str, bool], list[str]] = {}
    kinds: dict[str, Servo] = {}
    for joint, servo in robot.servos.items():
        if servo is None:
            continue
        kinds[servo.id] = servo
        on_body = joint in firsts or robot.tree.joints[joint].parent == robot.body
        groups.setdefault((servo.id, on_body), []).append(joint)
    for (kind, on_body), joints in groups.items():
        servo, many = kinds[kind], len(joints)
        name = f"{many} {kind} servo{'s' if many > 1 else ''}"
        if servo.mount is None:
            yield _unknown(f"{name}", Into.NUT, f"servo.{kind}.mount is not stated.")
            continue
        leg = joints[0] in robot.joint_names
        carrier = _plate(robot) if on_body else _cheek(robot, leg=leg)
        yield _case(name, servo, many, carrier)
        yield _horn(name, servo, many, _cheek(robot, leg=leg))


Sheet = tuple[str, float | None, str]
"""What a screw goes through: in words, its thickness [m], and the key that states it."""


def _plate(robot: Robot) -> Sheet:
    made, plates = robot.sheet.making.plates, robot.sheet.dimensions
    stated = made.thickness if made is not None else None
    if stated is None and plates is not None:
        stated = plates.plates.thickness
    return ("plate", stated, "making.plates.thickness")


def _cheek(robot: Robot, *, leg: bool) -> Sheet:
    """A leg's cheek; elsewhere a bracket that is taken to be as thick."""
    shape = robot.sheet.dimensions
    word = "cheek" if leg else "bracket (as thick as a cheek, assumed)"
    thickness = None if shape is None else shape.segments.thickness
    return (word, thickness, "dimensions.segments.thickness")


def _case(name: str, servo: Servo, many: int, carrier: Sheet) -> Fastening:
    mount = servo.mount
    word, thickness, key = carrier
    where = f"case of {name} on the {word}"
    if mount is None or thickness is None or mount.lug is None:
        lacks = key if thickness is None else f"servo.{servo.id}.mount.lug"
        return _unknown(where, Into.NUT, f"{lacks} is not stated.")
    grip = thickness + mount.lug
    return Fastening(
        where=where,
        count=many * len(mount.holes),
        into=Into.NUT,
        grip=grip,
        choice=screw_for(mount.screw, grip, Into.NUT),
        stack=f"{word} {_mm(thickness)} + lug {_mm(mount.lug)}",
    )


def _horn(name: str, servo: Servo, many: int, driven: Sheet) -> Fastening:
    mount = servo.mount
    word, thickness, key = driven
    where = f"horn of {name} in the {word}"
    if mount is None or thickness is None:
        return _unknown(where, Into.ALUMINIUM, f"{key} is not stated.")
    into = Into(mount.horn_in)
    return Fastening(
        where=where,
        count=many * mount.horn_holes,
        into=into,
        grip=thickness,
        choice=screw_for(mount.horn_screw, thickness, into, depth=mount.horn_depth),
        stack=f"{word} {_mm(thickness)}",
    )


def _spacers(robot: Robot) -> Iterator[Fastening]:
    """Spacers between the plates, a screw at each end."""
    made = robot.sheet.making.plates
    if made is None or not made.standoffs:
        return
    word, thickness, key = _plate(robot)
    shape = robot.sheet.dimensions
    gap = made.gap if made.gap is not None else (shape.plates.gap if shape is not None else None)
    where = f"{len(made.standoffs)} spacers between the plates"
    if thickness is None:
        yield _unknown(where, Into.ALUMINIUM, f"{key} is not stated.")
        return
    yield Fastening(
        where=where,
        count=2 * len(made.standoffs),
        into=Into.ALUMINIUM,
        grip=thickness,
        choice=screw_for(
            made.standoff_screw, thickness, Into.ALUMINIUM, depth=None if gap is None else gap / 2
        ),
        stack=f"{word} {_mm(thickness)}",
    )


def _angles(robot: Robot) -> Iterator[Fastening]:
    """Angle brackets on their plate, and the servos that they carry."""
    word, thickness, key = _plate(robot)
    for name, made in robot.sheet.making.angle.items():
        many = len(made.places)
        where = f"{many} angle-{name} on the {made.on} plate"
        bracket = f"bracket {_mm(made.thickness)}"
        if thickness is None:
            yield _unknown(where, Into.NUT, f"{key} is not stated.")
        else:
            grip = thickness + made.thickness
            yield Fastening(
                where=where, count=many * len(made.base_holes), into=Into.NUT, grip=grip,
                choice=screw_for(made.base_screw, grip, Into.NUT),
                stack=f"{word} {_mm(thickness)} + {bracket}",
            )  # fmt: skip
        mount = robot.sheet.servo[made.holds].mount if made.holds else None
        if mount is None:
            continue
        where = f"case of {made.holds} servo in {many} angle-{name}"
        if mount.lug is None:
            yield _unknown(where, Into.NUT, f"servo.{made.holds}.mount.lug is not stated.")
            continue
        grip = made.thickness + mount.lug
        yield Fastening(
            where=where, count=many * len(mount.holes), into=Into.NUT, grip=grip,
            choice=screw_for(mount.screw, grip, Into.NUT),
            stack=f"{bracket} + lug {_mm(mount.lug)}",
        )  # fmt: skip


def _unknown(where: str, into: Into, missing: str) -> Fastening:
    return Fastening(
        where=where, count=0, into=into, grip=None, choice=None,
        missing=f"the screws are not known, {missing}",
    )  # fmt: skip


def _mm(length: float) -> str:
    return f"{length * 1e3:.3g} mm"
