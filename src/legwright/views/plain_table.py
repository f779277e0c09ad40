"""A quiet table for the terminal: one rule under the heads, numbers to the right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from legwright.views.terminal import as_shown

if TYPE_CHECKING:
    from rich.table import Table


def plain_table(heads: Sequence[str], *, unicode: bool, fold: bool = False) -> Table:
    """An empty table in the look of the verdict table.

    Args:
        heads: Of the columns, of one line or more; the first is left-aligned.
        unicode: Whether the terminal shows more than ASCII.
        fold: Whether long cells are broken; else they stand whole.

    Returns:
        A rich table.
    """
    from rich.box import Box
    from rich.table import Table

    rule = "─" if unicode else "-"
    box = Box(f"    \n    \n {rule}{rule} \n    \n    \n    \n    \n    \n", ascii=not unicode)
    table = Table(box=box, padding=(0, 1, 0, 0), show_edge=False, pad_edge=False)
    for number, head in enumerate(heads):
        lines = [as_shown(line, unicode) for line in head.splitlines()]
        table.add_column(
            "\n".join(lines), justify="left" if number == 0 else "right", header_style="",
            no_wrap=not fold or number == 0, overflow="fold", vertical="bottom",
        )  # fmt: skip
    return table
