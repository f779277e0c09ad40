"""The command `legwright bringup`: a person at the bench, step by step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import typer
from rich.console import Console

import legwright
from legwright.cli.checking import write_text
from legwright.cli.exits import Exit
from legwright.errors import RequestError, did_you_mean
from legwright.rig.bringup.bench import Bench, Witness
from legwright.rig.bringup.hidden import AllSeeing, HiddenBench, Secrets
from legwright.rig.bringup.outcome import calibration_from
from legwright.rig.bringup.procedure import STEPS, Step, Work, run_step
from legwright.rig.bringup.progress import FILE, Progress, read_progress
from legwright.rig.calibration import FILE as CALIBRATION
from legwright.rig.calibration import write_calibration
from legwright.rig.can.virtual_bench import VirtualBench
from legwright.rig.choice import bench_on
from legwright.robot.robot import Robot

ZEROS = ("stops", "jig", "hand")


class Person:
    """Asks whoever sits at the terminal."""

    def __init__(self, console: Console) -> None:
        """Ask through a console."""
        self._console = console

    def agree(self, caution: str) -> bool:
        """Read the caution out and wait for a yes."""
        self._console.print(f"  Caution: {caution}", soft_wrap=True)
        return typer.confirm("  Ready?", default=False)

    def watch(self) -> None:
        """The robot is about to move."""

    def which(self, node: int, joints: tuple[str, ...]) -> str | None:
        """Ask which joint wagged."""
        for number, joint in enumerate(joints, start=1):
            self._console.print(f"  {number:3d}  {joint}")
        choice = typer.prompt(f"  Node {node} wagged. Which joint was it? 0 for none", type=int)
        return joints[choice - 1] if 1 <= choice <= len(joints) else None

    def grew(self, joint: str, question: str) -> bool | None:
        """Ask which way it turned."""
        said = typer.prompt(f"  {question} y, n, or ? when not seen", default="?")
        return {"y": True, "n": False}.get(said.strip().lower()[:1])

    def set_to(self, joint: str, angle: float) -> bool:
        """Let the person set a joint."""
        return typer.confirm(f"  Set {joint} to {angle:.1f} rad, jig or hand. Done?", default=True)


def run_bringup(
    path: Path,
    *,
    rig: str,
    seed: int,
    begin: str | None,
    only: str | None,
    zeros: str,
    folder: Path | None,
) -> int:
    """Go through the steps that are left.

    Args:
        path: Robot folder or sheet.
        rig: ``sim`` or ``can:virtual`` for a simulated bench with secrets, or like
            ``can:socketcan:can0,can1``.
        seed: Of the simulated bench.
        begin: Key of the step to begin with again; the first that is left when None.
        only: Key of the only step to do.
        zeros: How zeros are found.
        folder: Where record, calibration and certificate go; the robot's folder when None.

    Returns:
        Exit code.
    """
    for name, key in (("--from", begin), ("--only", only)):
        _known(name, key)
    if zeros not in ZEROS:
        raise RequestError("--zeros", zeros, f"stops, jig or hand. {did_you_mean(zeros, ZEROS)}")
    robot = legwright.load(path)
    console = Console(highlight=False)
    out = folder or robot.source.parent
    bench, witness, ground = _opened(robot, rig, seed, console)
    record = out / FILE
    progress = read_progress(record, robot.name)
    work = Work(
        robot=robot, bench=bench, witness=witness, progress=progress, zeros_by=zeros,
        on_ground=ground, tell=lambda text: console.print(f"  {text}", style="dim"),
    )  # fmt: skip
    if bench.real:
        console.print("The tool advises, it does not certify; local rules come first.")
    try:
        ok = _go(console, work, record, _left(progress, begin, only))
    finally:
        bench.close()
    progress = read_progress(record, robot.name)
    _written(console, robot, progress, out)
    return int(Exit.PASS if ok else Exit.FAIL)


def _known(name: str, key: str | None) -> None:
    keys = [step.key for step in STEPS]
    if key is not None and key not in keys:
        raise RequestError(name, key, f"one of {', '.join(keys)}. {did_you_mean(key, keys)}")


def _opened(
    robot: Robot, rig: str, seed: int, console: Console
) -> tuple[Bench, Witness, Callable[[], Bench] | None]:
    """The bench, who watches it, and how the robot gets to the ground."""
    if rig not in ("sim", "can:virtual"):
        return bench_on(rig, robot), Person(console), None
    kind = HiddenBench if rig == "sim" else VirtualBench
    secrets = Secrets.drawn(robot, seed)
    bench = kind(robot, secrets, seed=seed)
    console.print(
        f"Simulated bench, seed {seed}: nodes swapped, drives flipped, zeros anywhere.", style="dim"
    )
    return (
        bench,
        AllSeeing(bench, secrets),
        lambda: kind(robot, secrets, seed=seed, height=None),
    )


def _left(progress: Progress, begin: str | None, only: str | None) -> list[Step]:
    keys = [step.key for step in STEPS]
    if only is not None:
        return [STEPS[keys.index(only)]]
    if begin is not None:
        return list(STEPS[keys.index(begin) :])
    return [step for step in STEPS if not progress.done(step.key)]


def _go(console: Console, work: Work, record: Path, steps: list[Step]) -> bool:
    """Do the steps until one is not in order."""
    for step in steps:
        number = STEPS.index(step) + 1
        console.print(f"{number} of {len(STEPS)}  {step.title}", style="bold")
        progress, done = run_step(step, work, record)
        work = replace(work, progress=progress)
        console.print(f"  {'in order' if done.ok else 'fault'}: {done.summary}", soft_wrap=True)
        for text in done.wrong:
            console.print(f"  {text}", soft_wrap=True)
        if not done.ok:
            console.print(f"Put it right, then run again: it goes on with {step.key}.")
            return False
    return True


def _written(console: Console, robot: Robot, progress: Progress, out: Path) -> None:
    from legwright.views.certificate import certificate, verdict

    page = out / "certificate.html"
    found = calibration_from(robot, progress)
    if found is not None:
        write_calibration(out / CALIBRATION, found)
        console.print(f"Written: {out / CALIBRATION}", soft_wrap=True)
    write_text(page, certificate(robot, progress, issued=date.today()).rstrip("\n"))
    console.print(f"Bring-up: {verdict(progress)}. Written: {page}", soft_wrap=True)
