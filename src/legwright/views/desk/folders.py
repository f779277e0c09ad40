"""What lies on the disk beside the desk comes and goes without it: looked at now and then."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TypeVar

from legwright.views.desk.aside import Aside

T = TypeVar("T")
PERIOD = 2.0
"""How often a folder is looked at while somebody can see it [s]."""


async def watch(
    look: Callable[[], T], tell: Callable[[], None], *, told: Callable[[], T],
    when: Callable[[], bool], period: float = PERIOD,
) -> None:  # fmt: skip
    """Look again and again, until cancelled; tell when another is seen than was told.

    Args:
        look: Called on a thread of its own: a disk may be slow.
        tell: Called on the loop.
        told: What was told last, by `tell` or by others.
        when: Whether anybody would see it; nothing is looked at otherwise.
        period: Between two looks [s].
    """
    aside = Aside("folders")
    try:
        while True:
            await asyncio.sleep(period)
            if when() and await aside.do(look) != told():
                tell()
    finally:
        aside.close()
