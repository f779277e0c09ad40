"""Shells in the terminal: one row each, the lines to paste, what fails."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from legwright.robot.robot import Robot
from legwright.robot.tree import Solid
from legwright.study.finding import Finding, Verdict
from legwright.study.shells import Shells, StudiedShell
from legwright.views.numbers import limit_text, plain, value_text

if TYPE_CHECKING:
    from rich.console import RenderableType

COLUMNS = ("shell", "on", "size mm", "wall mm", "way up", "support g", "mass g", "time h")


def shells_table(robot: Robot, shells: Shells, findings: Sequence[Finding]) -> RenderableType:
    """Shells as a table, and the sheet's lines for those not counted yet.

    Args:
        robot: The robot.
        shells: What was found.
        findings: Findings on them.
    """
    from rich import box
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in COLUMNS:
        words = name in {"shell", "on", "way up"}
        table.add_column(name, justify="left" if words else "right", overflow="fold")
    for one in shells.studied:
        table.add_row(*_cells(one))
    parts: list[RenderableType] = [Text(f"{robot.name}: shells", style="bold"), table]
    for finding in findings:
        if finding.verdict is not Verdict.PASS:
            style = "red" if finding.verdict is Verdict.FAIL else ""
            text = f"{finding.verdict.value.upper()} {finding.name}: {value_text(finding)} "
            text += f"{limit_text(finding)}. {finding.why} {finding.cure}"
            parts.append(Text(" ".join(text.split()), style=style))
    for one in shells.studied:
        if one.shell.entry.mass is None and one.worked_out is not None:
            parts.append(Text(f"To count it in, write under [shell.{one.shell.name}]:"))
            parts.append(Text(sheet_lines(one.worked_out)))
    parts.append(Text("Times and masses of prints are estimates; weigh what was printed."))
    return Group(*parts)


def sheet_lines(solid: Solid) -> str:
    """Mass, centre and inertia as a sheet states them.

    Args:
        solid: In the link's frame.
    """
    centre = ", ".join(f'"{_rounded(value * 1e3)} mm"' for value in solid.com)
    inertia = solid.inertia * 1e7
    six = [inertia[i, j] for i, j in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))]
    moments = ", ".join(f'"{_rounded(value)} g*cm^2"' for value in six)
    return (
        f'mass = "{solid.mass * 1e3:.1f} g"\ncentre = [{centre}]\n'
        f"inertia = [{moments}]\ncounted = true"
    )


def _rounded(value: float) -> str:
    return f"{round(float(value), 1) + 0.0:.1f}"


def _cells(one: StudiedShell) -> list[str]:
    part = one.part
    size = " × ".join(plain(float(edge) * 1e3, 0) for edge in one.shell.mesh.extent)
    thin, middle = (plain(part.walls.quantile(q) * 1e3, 1) for q in (0.01, 0.5))
    up = ", ".join(plain(float(value), 2) for value in part.lying.up)
    return [
        one.shell.name,
        one.shell.link,
        size,
        f"{thin} to {middle}" if thin != middle else middle,
        up,
        "" if part.support_mass is None else plain(part.support_mass * 1e3, 0),
        "" if part.mass is None else plain(part.mass.solid.mass * 1e3, 0),
        "" if part.time is None else plain(part.time / 3600.0, 1),
    ]
