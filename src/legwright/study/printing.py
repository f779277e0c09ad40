"""The print list: which parts are printed, of what, how long, lying how."""

from __future__ import annotations

from dataclasses import dataclass

from legwright.fabrication.mechanical_bill import Line, Source
from legwright.study.shells import Shells, StudiedShell


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintJob:
    """One printed part."""

    name: str
    file: str
    """STL in the book; empty where the robot brings its own mesh."""
    process: str
    material: str
    mass: float | None
    """As printed, supports left out [kg]."""
    support: float | None
    """Material in supports [kg]."""
    time: float | None
    """Estimate [s]."""
    size: tuple[float, float, float] | None
    """Box of the part as it lies, width, depth, height [m]."""
    fits: bool | None
    """Whether it fits the printer; None where its volume is not stated."""
    pieces: int
    """In how many pieces it has to be printed."""
    missing: str = ""
    """Why it cannot be told."""


def print_jobs(robot_name: str, shells: Shells) -> tuple[PrintJob, ...]:
    """The print list of a robot.

    Args:
        robot_name: For file names.
        shells: What was found of its shells.

    Returns:
        One job per shell.
    """
    jobs = [_job(robot_name, one) for one in shells.studied]
    jobs += [
        PrintJob(name=name, file="", process="", material="", mass=None, support=None, time=None,
                 size=None, fits=None, pieces=1, missing=str(error))
        for name, error in shells.unusable.items()
    ]  # fmt: skip
    return tuple(jobs)


def _job(robot_name: str, one: StudiedShell) -> PrintJob:
    part, process = one.part, one.shell.process
    sheet = one.shell.entry
    fit = part.fit
    size = None if fit is None else (float(fit.size[0]), float(fit.size[1]), float(fit.size[2]))
    return PrintJob(
        name=one.shell.name,
        file="" if one.shell.path is not None else f"{robot_name}-{one.shell.name}.stl",
        process=sheet.process or "",
        material="" if process is None else process.material,
        mass=None if part.mass is None else part.mass.material,
        support=part.support_mass,
        time=part.time,
        size=size,
        fits=None if fit is None else fit.room >= 0.0,
        pieces=len(part.cuts) + 1,
        missing="" if process is not None else f"shell.{one.shell.name}.process is not stated.",
    )


def print_lines(jobs: tuple[PrintJob, ...]) -> tuple[Line, ...]:
    """The printed parts as lines of the bill."""
    return tuple(
        Line(
            source=Source.PRINTED,
            part=f"shell {job.name}",
            detail=", ".join(word for word in (job.material, job.process) if word),
            quantity=1,
            mass=job.mass,
            key=f"shell.{job.name}",
            where=(f"shell {job.name}",),
        )
        for job in jobs
    )
