"""Steps of the assembly in the order and the words in which a person works through them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from legwright.fabrication.assembly_order import Assembly, Step
from legwright.fabrication.pieces import TRUNK, Piece, Pieces
from legwright.robot.tree import Floats

SIDES = (
    ((0.0, 0.0, -1.0), "from above"),
    ((0.0, 0.0, 1.0), "from below"),
    ((-1.0, 0.0, 0.0), "from the front"),
    ((1.0, 0.0, 0.0), "from behind"),
    ((0.0, -1.0, 0.0), "from the left"),
    ((0.0, 1.0, 0.0), "from the right"),
)
"""Way in, body axes, and how an assembler says it."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Task:
    """One numbered step: what comes, from where, onto what, and why now."""

    number: int
    bench: str
    words: str
    """One or two sentences."""
    comes: tuple[Piece, ...]
    there: tuple[Piece, ...]
    """What is there already."""
    way: Floats | None
    """Unit vector along which it comes in, body axes."""
    troubled: bool = False
    """Whether no straight way in was found."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Bench:
    """What is put together in one go."""

    name: str
    units: tuple[str, ...]
    """Units that are put together alike; the first is shown."""
    tasks: tuple[Task, ...]


def benches(pieces: Pieces, assembly: Assembly) -> tuple[Bench, ...]:
    """The assembly, alike legs told once.

    Args:
        pieces: All pieces.
        assembly: Their order.

    Returns:
        Benches in the order of work; task numbers run through.
    """
    units = list(dict.fromkeys(piece.unit for piece in pieces.pieces if piece.unit != TRUNK))
    by_bench: dict[str, list[Step]] = {}
    for step in assembly.steps:
        by_bench.setdefault(step.bench, []).append(step)
    alike: dict[tuple[object, ...], list[str]] = {}
    for bench, steps in by_bench.items():
        pattern = [(_bare(step.brings, units), bool(step.blocked)) for step in steps]
        key = (bench,) if bench == TRUNK else tuple(pattern)
        alike.setdefault(key, []).append(bench)
    found: list[Bench] = []
    number = 0
    for names in alike.values():
        tasks = []
        there: list[Piece] = []
        for steps in _runs(by_bench[names[0]], units):
            number += 1
            comes = tuple(piece for step in steps for piece in _comes(pieces, step))
            tasks.append(
                Task(
                    number=number,
                    bench=names[0],
                    words=_words(steps, units, first=not there, placed=_placed(comes)),
                    comes=comes,
                    there=tuple(there),
                    way=steps[0].way,
                    troubled=any(step.blocked for step in steps),
                )
            )
            there += comes
        name = names[0] if len(names) == 1 else f"{len(names)} alike legs"
        found.append(Bench(name=name, units=tuple(names), tasks=tuple(tasks)))
    return tuple(found)


def _runs(steps: Sequence[Step], units: Sequence[str]) -> list[list[Step]]:
    """Neighbouring steps that bring the same kind of thing the same way, together."""
    runs: list[list[Step]] = []
    for step in steps:
        last = runs[-1][-1] if runs else None
        if (
            last is not None
            and _alike(last.way, step.way)
            and _kind(last.brings, units) == _kind(step.brings, units)
            and not (last.blocked or step.blocked)
            and last.brings not in step.on
        ):
            runs[-1].append(step)
        else:
            runs.append([step])
    return runs


def _alike(one: Floats | None, other: Floats | None) -> bool:
    if one is None or other is None:
        return one is other
    return bool(np.allclose(one, other))


def _bare(name: str, units: Sequence[str]) -> str:
    """A piece's name without that of its leg: ``tibia servo``; a finished leg is a ``leg``."""
    for unit in units:
        for word in (unit, unit.replace("-", "_")):
            if name == word:
                return "leg" if "-" in unit else unit
            if name.startswith(word):
                return name[len(word) :].strip(" _")
    return name


def _kind(name: str, units: Sequence[str]) -> str:
    return _bare(name, units).partition(",")[0]


def _comes(pieces: Pieces, step: Step) -> tuple[Piece, ...]:
    unit = tuple(p for p in pieces.pieces if p.unit == step.brings)
    if step.bench == TRUNK and step.brings != TRUNK and unit:
        return unit
    return (pieces[step.brings],)


def _placed(comes: Sequence[Piece]) -> bool:
    return any(piece.blocks for piece in comes)


def _words(steps: Sequence[Step], units: Sequence[str], *, first: bool, placed: bool) -> str:
    what = _several([step.brings for step in steps], units)
    if first:
        return f"Begin with the {what}."
    step = steps[0]
    onto = _several([name for each in steps for name in each.on], units)
    words = f"Fix the {what}"
    if onto:
        words += f" to the {onto}"
    if step.way is not None:
        words += f", coming {from_where(step.way)}"
    words += "."
    later = sorted({name for each in steps for name in each.before})
    if step.blocked:
        words += f" No straight way in was found: the {_and(step.blocked)} stands in it."
    elif later:
        verb = "closes" if len(later) == 1 else "close"
        words += f" Now, since the {_several(later, units)} {verb} that way later."
    elif not placed:
        words += " Its size or place is not stated, so nothing is said of its way."
    return words


def _several(names: Sequence[str], units: Sequence[str]) -> str:
    """``6 coxa servos``, ``lower plate``."""
    counts: dict[str, int] = {}
    for name in dict.fromkeys(names):
        kind = _kind(name, units)
        counts[kind] = counts.get(kind, 0) + 1
    return _and([kind if n == 1 else f"{n} {kind}s" for kind, n in counts.items()])


def from_where(way: Floats) -> str:
    """How an assembler says a way in, body axes: ``from above``."""
    best = max(SIDES, key=lambda side: float(np.dot(side[0], way)))
    if float(np.dot(best[0], way)) > 0.966:  # within 15°
        return best[1]
    return "slantwise " + best[1]


def _and(names: Sequence[str]) -> str:
    shown = list(names[:3])
    if len(names) > 3:
        return ", ".join(shown) + f" and {len(names) - 3} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
