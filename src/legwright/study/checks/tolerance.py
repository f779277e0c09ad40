"""Are the feet where they are meant to be once the robot is built?"""

from __future__ import annotations

from collections.abc import Iterator
from math import degrees

from legwright.mechanics.tolerance_stack import FootError
from legwright.robot.robot import Robot
from legwright.study.bench import Bench
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge
from legwright.study.stride_tolerances import StrideTolerances, stride_tolerances
from legwright.study.tolerances import ToleranceStudy, tolerances_of

AREA = "tolerance"
FEW_CAUSES = 3


def check_tolerance(bench: Bench) -> Iterator[Finding]:
    """Foot error of the least exact leg, and the tilt of a body on all its feet."""
    yield from judged_tolerances(bench.robot, tolerances_of(bench.robot, bench.footing))


def check_strides(bench: Bench) -> Iterator[Finding]:
    """Feet and body of robots as built, in the least exact pose of the walks."""
    yield from judged_strides(bench.robot, stride_tolerances(bench.robot, bench.cases))


def judged_tolerances(robot: Robot, found: ToleranceStudy) -> Iterator[Finding]:
    """The findings on what tolerances do.

    Args:
        robot: The robot.
        found: Its tolerances, stacked up.
    """
    stated = robot.sheet.making.tolerance
    worst = found.worst_leg
    error = found.feet.get(worst)
    asked = stated.foot_error
    why = ""
    if error is not None:
        causes = _causes(error)
        why = (
            f"{worst}: 99.7 % of legs built come this near at the stance; at worst "
            f"{error.worst * 1e3:.1f} mm. Most comes from {causes}."
        )
    yield judge(
        AREA,
        "foot position, as built",
        None if error is None else error.built * 1e3,
        None if asked is None else asked * 1e3,
        "mm",
        sense=Sense.AT_MOST,
        parts=(worst,) if worst else (),
        why=why or _lacks(found),
        source="making.tolerance.foot_error; ISO 2768-1, play and zeros of the servos",
        cure=_cure(found),
        missing=_missing(found, asked, "making.tolerance.foot_error"),
    )
    stand = found.stand
    tilt = stated.body_tilt
    yield judge(
        AREA,
        "body tilt, as built",
        None if stand is None else degrees(stand.tilt),
        None if tilt is None else degrees(tilt),
        "°",
        sense=Sense.AT_MOST,
        parts=tuple(robot.legs),
        why=_lacks(found)
        if stand is None
        else f"On flat hard ground; the body's height is off by up to {stand.height * 1e3:.1f} mm, "
        f"a foot hangs up to {stand.gap * 1e3:.1f} mm above the ground.",
        source="making.tolerance.body_tilt; a rigid body stands on three feet",
        cure="Measure where the feet are and set zeros anew, or narrow the tolerances.",
        missing=_missing(found, tilt, "making.tolerance.body_tilt"),
    )


def judged_strides(robot: Robot, found: StrideTolerances | None) -> Iterator[Finding]:
    """The findings on what tolerances do while it walks.

    Args:
        robot: The robot.
        found: Its least exact moments; None yields nothing: the stance says what is missing.
    """
    if found is None:
        return
    stated = robot.sheet.making.tolerance
    asked, tilt = stated.foot_error, stated.body_tilt
    causes = ", ".join(
        f"{name} {100 * part:.0f} %" for name, part in found.foot.shares[:FEW_CAUSES]
    )
    yield judge(
        AREA,
        "foot position, walking",
        found.foot.built * 1e3,
        None if asked is None else asked * 1e3,
        "mm",
        sense=Sense.AT_MOST,
        parts=(found.leg,),
        why=f"{found.leg}, {'on the ground' if found.stands else 'in the air'}, "
        f"{found.foot_at.words}: 99.7 % of legs built; at worst {found.foot.worst * 1e3:.1f} mm. "
        f"Most comes from {causes}.",
        source=f"making.tolerance.foot_error; the least exact of {found.poses} poses",
        cure="Narrow the tolerances, or walk with shorter strides and less lift.",
        missing="Fill in making.tolerance.foot_error.",
    )
    if found.tilt is None or found.tilt_at is None:
        return
    yield judge(
        AREA,
        "body tilt, walking",
        degrees(found.tilt),
        None if tilt is None else degrees(tilt),
        "°",
        sense=Sense.AT_MOST,
        parts=tuple(robot.legs),
        why=f"{found.tilt_at.words.capitalize()}, on the feet that stand then."
        + (
            f" The body's height is off by up to {found.height * 1e3:.1f} mm, "
            f"{found.height_at.words}."
            if found.height is not None and found.height_at is not None
            else ""
        ),
        source=f"making.tolerance.body_tilt; the least exact of {found.poses} poses",
        cure="Measure where the feet are and set zeros anew, or narrow the tolerances.",
        missing="Fill in making.tolerance.body_tilt.",
    )


def _causes(error: FootError) -> str:
    return ", ".join(f"{name} {100 * part:.0f} %" for name, part in error.shares[:FEW_CAUSES])


def _lacks(found: ToleranceStudy) -> str:
    if found.missing:
        return f"Not stated: {', '.join(found.missing)}."
    return " ".join(found.notes)


def _missing(found: ToleranceStudy, limit: float | None, key: str) -> str:
    keys = [*found.missing, *([key] if limit is None else [])]
    return f"Fill in {', '.join(keys)}." if keys else ""


def _cure(found: ToleranceStudy) -> str:
    error = found.feet.get(found.worst_leg)
    if error is None or not error.shares:
        return ""
    name, share = error.shares[0]
    kept = (1.0 - 0.75 * share) ** 0.5
    return f"Halve the limits of {name}: about {error.built * kept * 1e3:.1f} mm remain."
