"""What lies on the disk beside the desk: looked at while somebody sees it, told when it changes."""

from __future__ import annotations

import asyncio
from contextlib import suppress

from legwright.views.desk.folders import watch


def test_only_what_changes_is_told_and_only_while_somebody_sees_it() -> None:
    async def scene() -> None:
        there, told, looks, seen = ["a"], [("a",)], 0, True

        def look() -> tuple[str, ...]:
            nonlocal looks
            looks += 1
            return tuple(there)

        async def looked(more: int) -> None:
            until = looks + more
            while looks < until:
                await asyncio.sleep(0.001)

        watching = asyncio.create_task(
            watch(
                look,
                lambda: told.append(tuple(there)),
                told=lambda: told[-1],
                when=lambda: seen,
                period=0.001,
            )
        )
        async with asyncio.timeout(10):
            await looked(3)
            assert told == [("a",)]
            there.append("b")
            await looked(3)
            assert told == [("a",), ("a", "b")]
            told.append(("a", "b", "c"))  # others told of one that is gone already
            await looked(3)
            assert told[-1] == ("a", "b") and len(told) == 4
            seen = False
            await asyncio.sleep(0.02)
            before = looks
            there.remove("a")
            await asyncio.sleep(0.02)
            assert looks == before and len(told) == 4
            seen = True  # who comes later sees what came meanwhile
            await looked(2)
        assert told[4:] == [("b",)]
        watching.cancel()
        with suppress(asyncio.CancelledError):
            await watching

    asyncio.run(scene())
