"""What a page is told first, and what it is told of the edits."""

from __future__ import annotations

from legwright.errors import LegwrightError
from legwright.locomotion.stance import footing
from legwright.rig.ground_choice import NAMES as GROUNDS
from legwright.robot.robot import Robot
from legwright.robot.sheet_text import SheetText
from legwright.study.asked import asked_of
from legwright.views.desk.asked import VERSION
from legwright.views.desk.said import Edits, Named, Welcome
from legwright.views.desk.session import Session
from legwright.views.desk.shown import case_names
from legwright.views.symbols import short_names

ON_DISK = "on disk"


def welcome_of(
    session: Session, *, case: str, compared: str, recordings: tuple[str, ...]
) -> Welcome:
    """What a page is told first.

    Args:
        session: The robot.
        case: The case that is shown.
        compared: The variant that lies under it; empty for none.
        recordings: Names of walks that can be opened.
    """
    robot, sheet = session.robot, session.robot.sheet
    legs = tuple(robot.legs)
    hips = [(float(x), float(y)) for x, y, _ in robot.hips]
    folder = session.disk.file.resolve().parent.name
    return Welcome(
        version=VERSION,
        robot=robot.name,
        folder=folder,
        file=session.disk.file.name,
        fixed=fixed_of(session.disk),
        about=sheet.about,
        owner=sheet.owner,
        identification=sheet.identification,
        variant=session.written or folder,
        revision=sheet.revision,
        rev=session.rev,
        legs={name: leg.joint_names for name, leg in robot.legs.items()},
        short=dict(zip(legs, short_names(legs, hips), strict=True)),
        joints=robot.joint_names,
        servos={name: servo.id if servo else "" for name, servo in robot.servos.items()},
        cases=case_names(robot),
        case=case,
        gaits=_gaits(robot),
        grounds=tuple(GROUNDS),
        recordings=recordings,
        variants=variants_of(session, compared),
        compared=compared,
        notes=robot.notes,
    )


def fixed_of(text: SheetText) -> str:
    """What cannot be edited on the desk, why, and how to get further; empty for nothing.

    Args:
        text: The sheet's content, or what stands for it where there is none.
    """
    name = text.file.name
    if text.file.suffix.lower() != ".toml":
        return (
            f"Without a sheet, only how {name} stands and what is asked of it can be edited here: "
            f"`legwright adopt {name}` writes a sheet for the rest; a shape that is changed in the "
            "file is read again."
        )
    if "urdf" in text.table:
        return (
            f"The shape is the file {text.table['urdf']}, so its dimensions cannot be edited "
            "here: change the file, and the desk reads it again, or state [dimensions] in its "
            "place in the sheet."
        )
    return ""


def variants_of(session: Session, compared: str) -> tuple[str, ...]:
    """Variants that can be laid under the robot; and the one there now, folder or not."""
    found = session.variants()
    return found if not compared or compared in found else (*found, compared)


def edits_of(session: Session, *, compared: str) -> Edits:
    """What a page is told of the edits.

    Args:
        session: The robot.
        compared: The variant that lies under it; empty for none.
    """
    return Edits(
        rev=session.rev,
        list=session.changes,
        undo=session.undo_words,
        redo=session.redo_words,
        kept=session.written,
        read=session.read,
        unread=session.unread,
        under=compared or (ON_DISK if session.edits else ""),
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
