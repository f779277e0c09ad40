"""The certificate of a bring-up: what was measured, when, with which version."""

from __future__ import annotations

from datetime import date
from math import degrees, isfinite
from typing import Any

from legwright.rig.bringup.procedure import STEPS
from legwright.rig.bringup.progress import Progress
from legwright.robot.robot import Robot
from legwright.views.frame import TitleBlock
from legwright.views.list_sheets import Column, Table, table_sheets
from legwright.views.sheet_files import sheets_html
from legwright.views.wide_sheet import WideSheet


def certificate_sheets(robot: Robot, progress: Progress) -> tuple[WideSheet, ...]:
    """Steps with their results, and one row of measures per joint.

    Args:
        robot: The robot.
        progress: What was done.
    """
    return (*table_sheets(_steps(progress)), *table_sheets(_joints(robot, progress)))


def certificate(robot: Robot, progress: Progress, *, issued: date | None = None) -> str:
    """The certificate as one HTML page that needs nothing else.

    Args:
        robot: The robot.
        progress: What was done.
        issued: Date of issue.
    """
    sheet = robot.sheet
    block = TitleBlock(
        title=robot.name,
        owner=sheet.owner,
        identification=sheet.identification,
        revision=sheet.revision,
        issued="" if issued is None else issued.isoformat(),
        made_from=("bring-up record",),
        reference="bring-up",
        document="Certificate",
    )
    heading = f"{robot.name}: bring-up, {verdict(progress)}"
    return sheets_html(certificate_sheets(robot, progress), block, heading=heading)


def verdict(progress: Progress) -> str:
    """What the whole says, in a few words."""
    done = [progress.records[step.key] for step in STEPS if step.key in progress.records]
    wrong = [record for record in done if not record.ok]
    if wrong:
        return f"{len(wrong)} of {len(done)} steps with faults"
    if len(done) < len(STEPS):
        return f"{len(done)} of {len(STEPS)} steps done"
    return f"all {len(STEPS)} steps in order"


def _steps(progress: Progress) -> Table:
    rows = []
    for number, step in enumerate(STEPS, start=1):
        record = progress.records.get(step.key)
        if record is None:
            rows.append((str(number), step.title, "not done", "", "", ""))
            continue
        said = " ".join((record.summary, *record.wrong))
        result = "in order" if record.ok else "fault"
        when = record.when.replace("T", " ")[:16]
        rows.append((str(number), step.title, result, when, record.version, said))
    return Table(
        name="bring-up",
        heading="Bring-up",
        more=verdict(progress) + "; advice, no certification by a third party",
        columns=(
            Column(name="no.", width=10.0),
            Column(name="step", width=42.0),
            Column(name="result", width=20.0),
            Column(name="when", width=32.0),
            Column(name="version", width=18.0),
            Column(name="what came of it", width=130.0),
        ),
        rows=tuple(rows),
    )


def _joints(robot: Robot, progress: Progress) -> Table:
    def of(step: str, name: str, joint: str) -> Any:
        record = progress.records.get(step)
        return None if record is None else record.values.get(name, {}).get(joint)

    def angle(value: Any, digits: int = 2) -> str:
        return _number(None if value is None else degrees(value), digits)

    rows = []
    for joint in robot.joint_names:
        way = of("direction", "direction", joint)
        rows.append(
            (
                joint,
                str(of("match", "node", joint) or "–"),
                "–" if way is None else ("with" if way > 0 else "against"),
                angle(of("zero", "zero", joint)),
                _number(of("zero", "rounded_deg", joint), 1),
                angle(of("zero", "travel", joint), 1),
                _number(of("identify", "friction", joint), 3),
                f"{_number(of('identify', 'gravity', joint), 3)} / "
                f"{_number(of('identify', 'expected', joint), 3)}",
                f"{_number(of('harness', 'measured', joint), 2)} / "
                f"{_number(of('harness', 'predicted', joint), 2)}",
                angle(of("ground", "following", joint) or of("air", "following", joint), 1),
            )
        )
    return Table(
        name="joints",
        heading="Joints as measured",
        more="zero: joint position where the drive says 0",
        columns=(
            Column(name="joint", width=38.0),
            Column(name="node", width=14.0, right=True),
            Column(name="drive turns", width=20.0),
            Column(name="zero, deg", width=18.0, right=True),
            Column(name="rounded, deg", width=21.0, right=True),
            Column(name="travel, deg", width=21.0, right=True),
            Column(name="friction, N·m", width=23.0, right=True),
            Column(name="gravity found / expected, N·m", width=40.0, right=True),
            Column(name="voltage lost / expected, V", width=36.0, right=True),
            Column(name="behind, deg", width=19.0, right=True),
        ),
        rows=tuple(rows),
    )


def _number(value: Any, digits: int) -> str:
    if value is None or not isfinite(float(value)):
        return "–"
    return f"{float(value):.{digits}f}".replace("-", "−")
