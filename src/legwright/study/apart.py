"""What a second process works out once the bench is fed, and how it is cut into pieces."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from legwright.study.bench import Bench
from legwright.study.envelope import is_piece, pieces
from legwright.study.evidence import Extent
from legwright.study.power import Power
from legwright.study.stages import Keeper

Works = Mapping[str, Callable[[], Any]]

APART = ("envelope", "check_shells")
"""Stages for a second process once the bench is fed: little less than half of the work that is
left. The envelope is handed out in pieces; where the process stands by, either does them."""


def walks_alone(bench: Bench) -> Bench:
    """All of a bench that `APART` looks at."""
    return replace(bench, sloped={}, power=Power())


def work_apart(keeper: Keeper, bench: Bench, work: Works) -> dict[str, Callable[[], Any]]:
    """The work of `APART`, the envelope in pieces.

    Args:
        keeper: Of the study.
        bench: The bench, fed.
        work: Stage -> what works it out.
    """
    apart = {name: work[name] for name in APART if name in work}
    if apart.pop("envelope", None) is not None:
        before: Any = keeper.old("envelope") or ()
        apart |= pieces(walks_alone(bench), before)
    return apart


def joined(apart: Works) -> tuple[Extent, ...]:
    """The envelope from its pieces.

    Args:
        apart: As `work_apart` gives it, or what gives the answers.
    """
    return tuple(extent for name, edges in apart.items() if is_piece(name) for extent in edges())
