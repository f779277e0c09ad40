"""From sticks and buttons to what the robot is asked: dead zone, response, deadman."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from legwright.locomotion.command import Command, Kind
from legwright.locomotion.gait import Gait, gait
from legwright.rig.request import Request, Word
from legwright.robot.robot import Robot
from legwright.robot.sheet_hand import Pad

RENEWED = 0.25
"""A motion command of the pad holds for this long [s]."""
ASSUMED_SPEED, ASSUMED_TURN = 0.05, 0.2
"""At full deflection where the sheet asks for no speed [m/s, rad/s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Where sticks and buttons are."""

    axes: Mapping[str, float] = field(default_factory=dict)
    """Name -> -1 to 1."""
    buttons: frozenset[str] = frozenset()
    """Those that are held."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """What the pad has chosen so far."""

    gait: int = 0
    """Place in the list of gaits."""
    held: frozenset[str] = frozenset()
    """Buttons of the last reading, so that a press counts once."""
    walking: bool = False


def shaped(value: float, pad: Pad) -> float:
    """A stick's deflection with dead zone and response.

    The dead zone is cut out and the rest stretched over the whole range; the response is
    (1 - e) v + e v³ (common practice, no published source).

    Args:
        value: -1 to 1; more counts as 1, and what is no number as 0.
        pad: The sheet's numbers.
    """
    size = min(abs(value), 1.0) if value == value else 0.0
    size = max(0.0, (size - pad.dead_zone) / (1.0 - pad.dead_zone))
    size = (1.0 - pad.expo) * size + pad.expo * size**3
    return size if value > 0.0 else -size


def gaits_of(robot: Robot) -> tuple[Gait, ...]:
    """The gaits that the pad leafs through: those that the sheet asks for."""
    names = robot.sheet.requirements.gaits
    own = robot.sheet.gait
    found = []
    for name in names:
        if name in own:
            phases: dict[str | int, float] = {leg: phase for leg, phase in own[name].phases.items()}
            found.append(Gait(duty=own[name].duty, phases=phases, name=name))
        else:
            found.append(gait(name, len(robot.legs)))
    return tuple(found)


def asked(
    robot: Robot, gaits: tuple[Gait, ...], hand: Hand, reading: Reading, now: float
) -> tuple[Hand, list[Request]]:
    """What a reading asks of the robot.

    Args:
        robot: The robot, whose sheet holds the mapping.
        gaits: What to leaf through, see `gaits_of`.
        hand: What was chosen before.
        reading: Sticks and buttons now.
        now: Steady time [s].

    Returns:
        What is chosen now, and the requests.
    """
    pad = robot.sheet.pad
    pressed = reading.buttons - hand.held
    found: list[Request] = []
    if pad.stop in pressed:
        found.append(Request(word=Word.STOP, sender="pad"))
    if pad.power in pressed:
        found.append(Request(word=Word.POWER, sender="pad"))
    for button, kind in ((pad.stand, Kind.STAND), (pad.sit, Kind.SIT)):
        if button in pressed:
            found.append(Request(word=Word.MOVE, sender="pad", command=Command(kind=kind)))
    choice = (hand.gait + (pad.next_gait in pressed)) % len(gaits)
    alive = pad.deadman in reading.buttons
    twist = _twist(robot, reading) if alive else (0.0, 0.0, 0.0)
    walking = alive and any(twist)
    if walking:
        command = Command(kind=Kind.WALK, velocity=twist[:2], turn=twist[2], gait=gaits[choice])
        found.append(Request(word=Word.MOVE, sender="pad", command=command, expires=now + RENEWED))
    elif hand.walking:
        found.append(Request(word=Word.MOVE, sender="pad", command=Command(kind=Kind.STAND)))
    return Hand(gait=choice, held=reading.buttons, walking=walking), found


def _twist(robot: Robot, reading: Reading) -> tuple[float, float, float]:
    """Forward, left [m/s], turn to the left [rad/s]."""
    pad, wanted = robot.sheet.pad, robot.sheet.requirements
    forward = -shaped(reading.axes.get(pad.forward, 0.0), pad)  # pushed away is negative
    if pad.forward_reversed:
        forward = -forward
    left = -shaped(reading.axes.get(pad.sideways, 0.0), pad)
    turn = -shaped(reading.axes.get(pad.turn, 0.0), pad)
    full = (
        pad.speed_forward or wanted.speed_forward or ASSUMED_SPEED,
        pad.speed_sideways or wanted.speed_sideways or ASSUMED_SPEED,
        pad.turn_rate or wanted.turn_rate or ASSUMED_TURN,
    )
    return forward * full[0], left * full[1], turn * full[2]
