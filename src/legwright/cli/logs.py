"""The commands `legwright logs`: what can be done with recordings."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from legwright.cli.exits import Exit

logs = typer.Typer(help="List, repair, cut and export recordings.", no_args_is_help=True)

Recording = Annotated[Path, typer.Argument(metavar="FILE.mcap", help="A recording.")]
Output = Annotated[Path, typer.Option("--out", metavar="PATH", help="Where to write.")]


@logs.command("list")
def listed(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of recordings.")] = Path(
        "logs"
    ),
) -> None:
    """List the recordings of a folder, oldest first."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    from legwright.rig.logs import entries

    found = entries(folder)
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, header_style="")
    for name, right in (("file", 0), ("robot", 0), ("began", 0), ("length", 1), ("size", 1)):
        table.add_column(name, justify="right" if right else "left", no_wrap=True)
    table.add_column("state")
    for entry in found:
        began = datetime.fromtimestamp(entry.began) if entry.began else None
        state = "whole" if entry.whole else "cut off: legwright logs repair makes it whole"
        table.add_row(
            entry.path.name,
            entry.robot or "–",
            "–" if began is None else began.isoformat(" ", "seconds"),
            f"{entry.seconds:.1f} s",
            f"{entry.size / 1e6:.2f} MB",
            entry.problem or state,
        )
    console = Console(highlight=False)
    total = sum(entry.size for entry in found) / 1e6
    cut = sum(not entry.whole for entry in found)
    console.print(f"{len(found)} recordings, {total:.1f} MB, {cut} not whole")
    console.print(table)


@logs.command("repair")
def repaired(file: Recording, out: Output) -> None:
    """Write a whole file from what can be read of one that was cut off."""
    from legwright.rig.logs import repair

    saved, lost = repair(file, out)
    typer.echo(f"{out}: {saved} messages saved, {lost} bytes at the end could not be read.")


@logs.command("cut")
def trimmed(
    file: Recording,
    out: Output,
    start: Annotated[float, typer.Option("--from", help="First time to keep [s].")] = 0.0,
    end: Annotated[float, typer.Option("--to", help="Last time to keep [s].")] = 1e9,
) -> None:
    """Keep what lies between two times."""
    from legwright.rig.logs import cut

    typer.echo(f"{out}: {cut(file, out, start, end)} messages.")


@logs.command("export")
def exported(
    file: Recording,
    out: Output,
    form: Annotated[str, typer.Option("--as", help="csv, numpy or parquet.")] = "csv",
) -> None:
    """Write every channel as a table of numbers."""
    from legwright.rig.logs import export
    from legwright.rig.replay import read_recording

    for path in export(read_recording(file), out, form):
        typer.echo(str(path))
    raise typer.Exit(int(Exit.PASS))
