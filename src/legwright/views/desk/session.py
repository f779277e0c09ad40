"""The robot on the desk and what has been done to it. No sockets, no threads, no clock."""

from __future__ import annotations

from pathlib import Path

import legwright
from legwright.errors import LegwrightError, RequestError
from legwright.locomotion.stance import footing
from legwright.rig.ground_choice import NAMES as GROUNDS
from legwright.robot.robot import Robot
from legwright.study.asked import asked_of
from legwright.views.desk.asked import VERSION
from legwright.views.desk.said import Field, Named, Welcome
from legwright.views.desk.shown import case_names
from legwright.views.symbols import short_names


class Session:
    """One robot, edited in memory."""

    def __init__(self, path: Path) -> None:
        """Open a robot.

        Raises:
            RobotError: where its files make none.
        """
        self.path = path
        self.robot: Robot = legwright.load(path)
        self.rev = 1

    def edit(self, key: str, value: str) -> None:
        """Change one key of the sheet, in memory.

        Raises:
            RequestError: always, until edits are in.
        """
        raise RequestError(key, value, "as on disk: this desk cannot edit yet")


def welcome_of(
    session: Session, *, case: str, fields: tuple[Field, ...], recordings: tuple[str, ...]
) -> Welcome:
    """What a page is told first.

    Args:
        session: The robot.
        case: The case that is shown.
        fields: What can be edited.
        recordings: Names of walks that can be opened.
    """
    robot, sheet = session.robot, session.robot.sheet
    legs = tuple(robot.legs)
    hips = [(float(x), float(y)) for x, y, _ in robot.hips]
    return Welcome(
        version=VERSION,
        robot=robot.name,
        folder=robot.source.parent.name,
        about=sheet.about,
        owner=sheet.owner,
        identification=sheet.identification,
        variant=robot.source.parent.name,
        revision=sheet.revision,
        rev=session.rev,
        legs={name: leg.joint_names for name, leg in robot.legs.items()},
        short=dict(zip(legs, short_names(legs, hips), strict=True)),
        joints=robot.joint_names,
        servos={name: servo.id if servo else "" for name, servo in robot.servos.items()},
        fields=fields,
        cases=case_names(robot),
        case=case,
        gaits=_gaits(robot),
        grounds=tuple(GROUNDS),
        recordings=recordings,
        variants=(),
        compared="",
        notes=robot.notes,
    )


def _gaits(robot: Robot) -> tuple[Named, ...]:
    try:
        asked = asked_of(robot, footing(robot))
    except LegwrightError:
        return ()
    legs = tuple(robot.legs)
    return tuple(
        Named(
            name=gait.name,
            duty=gait.duty,
            phases=dict(zip(legs, gait.phases_of(legs).tolist(), strict=True)),
        )
        for gait in asked.gaits
    )
