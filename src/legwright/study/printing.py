"""The print list: which parts are printed, of what, how long, lying how."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from legwright.fabrication.foot_part import FootPart
from legwright.fabrication.mechanical_bill import Line, Source
from legwright.fabrication.parts import Parts
from legwright.fabrication.shell_study import PartStudy, study_part
from legwright.robot.sheet import Process
from legwright.study.shells import Shells, StudiedShell

PARTS, PRINTS = "parts", "prints"
"""Folders of the build book."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintJob:
    """One printed part."""

    name: str
    file: str
    """STL, from the book's folder; empty where the robot brings its own mesh."""
    process: str
    material: str
    mass: float | None
    """Of one as printed, supports left out [kg]."""
    support: float | None
    """Material in supports of one [kg]."""
    time: float | None
    """Estimate for one alone on the bed [s]."""
    size: tuple[float, float, float] | None
    """Box of the part as it lies, width, depth, height [m]."""
    fits: bool | None
    """Whether it fits the printer; None where its volume is not stated."""
    pieces: int
    """In how many pieces it has to be printed."""
    count: int = 1
    """Of one robot."""
    key: str = ""
    """What a price is stated under."""
    missing: str = ""
    """Why it cannot be told."""


def print_jobs(parts: Parts, shells: Shells) -> tuple[PrintJob, ...]:
    """The print list of a robot.

    Args:
        parts: Its made parts, with the foot.
        shells: What was found of its shells.

    Returns:
        One job per shell, then the pad of the replaceable foot.
    """
    jobs = [_shell_job(parts.robot.name, one) for one in shells.studied]
    jobs += [
        PrintJob(name=f"shell {name}", file="", process="", material="", mass=None, support=None,
                 time=None, size=None, fits=None, pieces=1, key=f"shell.{name}", missing=str(error))
        for name, error in shells.unusable.items()
    ]  # fmt: skip
    if parts.foot.part is not None:
        jobs.append(_foot_job(parts, parts.foot.part))
    return tuple(jobs)


def foot_study(parts: Parts) -> PartStudy | None:
    """What is found of the foot's pad as a printed part; None where it is not printed.

    Args:
        parts: The robot's made parts.
    """
    foot, sheet = parts.foot.part, parts.robot.sheet
    if foot is None or sheet.foot.process is None:
        return None
    return _studied(foot, sheet.process[sheet.foot.process])


@lru_cache(maxsize=8)
def _studied(foot: FootPart, process: Process) -> PartStudy:
    return study_part(foot.meshes[foot.pad_name], process)


def _shell_job(robot_name: str, one: StudiedShell) -> PrintJob:
    name, process = one.shell.name, one.shell.process
    return _job(
        one.part,
        process,
        name=f"shell {name}",
        file="" if one.shell.path is not None else f"{PRINTS}/{robot_name}-{name}.stl",
        key=f"shell.{name}",
        called=one.shell.entry.process or "",
        missing="" if process is not None else f"shell.{name}.process is not stated.",
    )


def _foot_job(parts: Parts, foot: FootPart) -> PrintJob:
    sheet, part = parts.robot.sheet, foot_study(parts)
    name, file = foot.pad_name, f"{PARTS}/{foot.pad_name}.stl"
    if part is None or sheet.foot.process is None:
        return PrintJob(
            name=name, file=file, process="", material=foot.material, mass=None, support=None,
            time=None, size=None, fits=None, pieces=1, count=foot.count, key=f"part.{name}",
            missing="foot.process is not stated: cast it, or name how it is printed.",
        )  # fmt: skip
    return _job(
        part, sheet.process[sheet.foot.process], name=name, file=file, key=f"part.{name}",
        called=sheet.foot.process, count=foot.count,
    )  # fmt: skip


def _job(
    part: PartStudy,
    process: Process | None,
    *,
    name: str,
    file: str,
    key: str,
    called: str,
    count: int = 1,
    missing: str = "",
) -> PrintJob:
    fit = part.fit
    size = None if fit is None else (float(fit.size[0]), float(fit.size[1]), float(fit.size[2]))
    return PrintJob(
        name=name,
        file=file,
        process=called,
        material="" if process is None else process.material,
        mass=None if part.mass is None else part.mass.material,
        support=part.support_mass,
        time=part.time,
        size=size,
        fits=None if fit is None else fit.room >= 0.0,
        pieces=len(part.cuts) + 1,
        count=count,
        key=key,
        missing=missing,
    )


def print_lines(jobs: tuple[PrintJob, ...]) -> tuple[Line, ...]:
    """The printed parts as lines of the bill; a pad that nobody prints is no line of its own."""
    return tuple(
        Line(
            source=Source.PRINTED,
            part=job.name,
            detail=", ".join(word for word in (job.material, job.process) if word),
            quantity=job.count,
            mass=None if job.mass is None else job.mass * job.count,
            key=job.key,
            where=(job.name,),
        )
        for job in jobs
        if job.process or job.key.startswith("shell.")
    )


def boss_lines(parts: Parts) -> tuple[Line, ...]:
    """The metal bosses that printed pads are pushed on, as lines of the bill."""
    foot = parts.foot.part
    if foot is None or not foot.split or parts.robot.sheet.foot.process is None:
        return ()
    across, long = 2e3 * foot.boss, 1e3 * (foot.top - foot.floor)
    return (
        Line(
            source=Source.MADE,
            part="foot-boss",
            detail=f"{parts.robot.sheet.foot.screw_in}, turned, {across:.4g} mm across, "
            f"{long:.4g} mm long, {foot.screw}",
            quantity=foot.count,
            mass=foot.boss_mass * foot.count,
            key="part.foot-boss",
            where=("foot-boss",),
        ),
    )
