"""Round layouts as a table in the terminal: dimensions, what each rounding costs, shortlist."""

from __future__ import annotations

import sys
from math import degrees, isfinite
from typing import TYPE_CHECKING

from legwright.study.rounding import Candidate, Rounding
from legwright.views.numbers import plain
from legwright.views.plain_table import plain_table
from legwright.views.terminal import as_shown, shows_unicode

if TYPE_CHECKING:
    from rich.console import RenderableType

HEADS = ("margin", "reach", "speed", "torque", "heat", "clear")
UNITS = ("mm", "mm", "mm/s", "%", "%", "mm")
FACTORS = (1e3, 1e3, 1e3, 1e2, 1e2, 1e3)
UP = (True, True, True, False, False, True)
"""Whether more is better."""


def value_words(key: str, value: float) -> str:
    """A dimension in its everyday unit: mm with at most two decimals, or degrees.

    Args:
        key: The dimension's name.
        value: [m or rad]
    """
    if key.startswith("hip_angle"):
        return plain(degrees(value), _decimals(degrees(value))) + "°"
    return plain(1e3 * value, _decimals(1e3 * value))


def _decimals(value: float) -> int:
    return next((n for n in (0, 1, 2) if abs(value - round(value, n)) < 2e-3), 2)


def score_words(index: int, value: float) -> str:
    """A score in its everyday unit.

    Args:
        index: Place in the row of scores.
        value: SI.
    """
    return plain(FACTORS[index] * value, 0 if index == 2 else 1)


def change_words(index: int, value: float, today: float) -> str:
    """A change against today's score with its sign; a dot where nothing changes."""
    change = FACTORS[index] * (value - today)
    decimals = 0 if index == 2 else 1
    if not isfinite(change):
        return "?"
    if abs(change) < 0.5 * 10.0**-decimals:
        return "·"
    return ("+" if change > 0.0 else "") + plain(change, decimals)


def rounding_table(rounding: Rounding, *, unicode: bool | None = None) -> RenderableType:
    """What a search for round layouts found, for a terminal of 80 columns or more.

    Args:
        rounding: The search.
        unicode: Whether the terminal shows more than ASCII; asked of standard output when None.

    Returns:
        Something that a rich console prints.
    """
    from rich.console import Group
    from rich.text import Text

    letters = shows_unicode(sys.stdout) if unicode is None else unicode

    def text(words: str, style: str = "") -> Text:
        return Text(as_shown(words, letters), style=style)

    parts: list[RenderableType] = [_title(rounding, text), Text()]
    if not rounding.shortlist:
        parts.append(text("No layout on this grid lets every foot reach its path: widen the "
                          "spread, or choose a finer grid."))  # fmt: skip
        return Group(*parts)
    parts += [_dimension_table(rounding, letters), Text()]
    parts += [_price_table(rounding, letters), Text()]
    parts += [_shortlist_table(rounding, letters), Text()]
    parts += [text(line, "dim") for line in _footnotes(rounding)]
    return Group(*parts)


def _title(rounding: Rounding, text: object) -> RenderableType:
    from rich.text import Text

    grids = sorted({grid.words for key, grid in rounding.grids.items()
                    if any(d.key.split(".")[0] == key.split(".")[0] and not d.pinned
                           for d in rounding.free.dimensions)})  # fmt: skip
    title = Text()
    title.append(f"{rounding.robot.name}: ", style="bold")
    title.append("round dimensions", style="bold")
    title.append(f"  (on {', '.join(grids)})" if grids else "  (all pinned)")
    return title


def _dimension_table(rounding: Rounding, letters: bool) -> RenderableType:
    best = rounding.shortlist[0]
    table = plain_table(["dimension", "today", "round", "change", "grid"], unicode=letters)
    for each, value in zip(rounding.free.dimensions, best.values, strict=True):
        kind = each.key.split(".")[0]
        grid = rounding.grids.get(each.key) or rounding.grids.get(kind)
        change = value - each.today
        moved = abs(change) > 5e-6
        sign = "+" if change > 0 else ""
        cells = (
            dimension_name(each.key),
            value_words(each.key, each.today),
            value_words(each.key, value),
            sign + value_words(each.key, change) if moved else "·",
            "pinned" if each.pinned else (grid.words if grid else ""),
        )
        table.add_row(*(as_shown(c, letters) for c in cells), style="" if moved else "dim")
    return table


def dimension_name(key: str) -> str:
    """A dimension in words: ``hip x, front``."""
    kind, _, row = key.partition(".")
    return kind.replace("_", " ") + (f", {row}" if row else "")


def _price_table(rounding: Rounding, letters: bool) -> RenderableType:
    best, today = rounding.shortlist[0], rounding.today.scores
    units = [f"{head}\n{unit}" for head, unit in zip(HEADS, UNITS, strict=True)]
    table = plain_table(["what it costs", *units, "loss\n%"], unicode=letters)
    rows = [("today", [score_words(k, today[k]) for k in range(6)], "")]
    for price in rounding.prices:
        rows.append(
            (
                dimension_name(price.key),
                [change_words(k, price.scores[k], today[k]) for k in range(6)],
                plain(100.0 * price.loss, 1),
            )
        )
    changed = [change_words(k, best.scores[k], today[k]) for k in range(6)]
    rows.append(("all together", changed, plain(100 * (best.loss - best.nearness), 1)))
    rows.append(("round", [score_words(k, best.scores[k]) for k in range(6)], ""))
    for name, cells, loss in rows:
        strong = "bold" if name in ("today", "round") else ""
        table.add_row(*(as_shown(c, letters) for c in (name, *cells, loss)), style=strong)
    return table


def _shortlist_table(rounding: Rounding, letters: bool) -> RenderableType:
    """The other layouts by what sets them apart: few columns, whatever the robot."""
    first = rounding.shortlist[0]
    table = plain_table(["rank", "differs from the first", "loss %", "away"], unicode=letters,
                        fold=True)  # fmt: skip
    table.columns[1].justify = "left"
    for rank, each in enumerate(rounding.shortlist, start=1):
        cells = (
            str(rank),
            _apart(rounding, each, first),
            plain(100.0 * (each.loss - each.nearness - 10.0 * len(each.broken)), 1),
            plain(100.0 * each.nearness, 1),
        )
        table.add_row(*(as_shown(c, letters) for c in cells), style="red" if each.broken else "")
    return table


def _apart(rounding: Rounding, each: Candidate, first: Candidate) -> str:
    """What sets a layout apart from the first, and what it lacks."""
    words = [
        f"{dimension_name(dimension.key)} {value_words(dimension.key, value)}"
        for dimension, value, there in zip(
            rounding.free.dimensions, each.values, first.values, strict=True
        )
        if abs(value - there) > 1e-9
    ]
    if each.broken:
        words.append(f"below what the sheet asks: {', '.join(each.broken)}")
    return "; ".join(words) or "see above"


def _inertia(rounding: Rounding) -> str:
    """What the scores leave out, in numbers of today's robot."""
    more = rounding.inertia
    torque, heat = plain(100.0 * more.torque, 1), plain(100.0 * more.heat, 1)
    return (
        f"Torque and heat are those of poses at rest: motion adds {torque}\u202f% to the first "
        f"and {heat}\u202f% to the second today; demands are judged with that much room."
    )


def _footnotes(rounding: Rounding) -> list[str]:
    found = rounding.found
    proof = "no other layout of the lattice is better" if found.proved else (
        "the lattice is too large for a proof: the best that was found"
    )  # fmt: skip
    per_minute = 60.0 * found.tried / max(found.seconds, 1e-9)
    return [
        f"{plain(found.size, 0)} layouts on the lattice, {plain(found.tried, 0)} looked at in "
        f"{found.seconds:.1f} s ({plain(per_minute, 0)} a minute); {proof}.",
        "What it costs: each dimension rounded alone, then all of them. "
        "Loss: weighted losses as shares of today's figures; gains do not pay. Away: steps from "
        "today's layout. Scores take legs as capsules; legwright check judges.",
        _inertia(rounding),
        *rounding.notes,
    ]
