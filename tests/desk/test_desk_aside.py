"""Work beside the loop: in order, its errors to whoever waits, nobody kept waiting at the end."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import time

import pytest

from legwright.views.desk.aside import Aside
from legwright.views.desk.pages import WAITING, Board, Page


def test_pieces_run_one_after_another_and_errors_go_to_who_waits() -> None:
    async def scene() -> list[int]:
        aside, ran = Aside("test"), []
        loop = asyncio.get_running_loop()

        def piece(number: int) -> int:
            time.sleep(0.005)
            ran.append(number)
            return number

        began = loop.time()
        told = await asyncio.gather(*(aside.do(lambda n=n: piece(n)) for n in range(10)))
        assert told == list(range(10)) == ran
        assert loop.time() - began >= 0.05
        with pytest.raises(ZeroDivisionError):
            await aside.do(lambda: 1 // 0)
        waiting = [asyncio.create_task(aside.do(lambda n=n: piece(n))) for n in (20, 21)]
        await asyncio.sleep(0)
        waiting[1].cancel()
        await waiting[0]
        await aside.do(lambda: None)
        aside.close()
        return ran

    assert asyncio.run(scene())[-1] == 20


def test_a_program_ends_while_a_piece_runs() -> None:
    code = (
        "import asyncio, time\n"
        "from legwright.views.desk.aside import Aside\n"
        "async def main():\n"
        "    asyncio.ensure_future(Aside('x').do(lambda: time.sleep(60)))\n"
        "    await asyncio.sleep(0.05)\n"
        "asyncio.run(main())\n"
    )
    began = time.monotonic()
    subprocess.run([sys.executable, "-c", code], check=True, timeout=50)
    assert time.monotonic() - began < 50.0


def test_only_the_newest_of_a_kind_waits_and_late_pages_see_it() -> None:
    woken: list[int] = []
    board, early = Board(), Page(lambda: woken.append(1))
    board.join(early)
    for number in range(1000):
        board.post("pose", f"pose {number}", keep=False)
        board.post("shape", f"shape {number}")
    assert early.drain() == ["pose 999", "shape 999"]
    assert early.drain() == []
    late = Page(lambda: None)
    board.join(late)
    assert late.drain() == ["shape 999"]
    for number in range(10 * WAITING):
        late.answer(f"refused {number}")
    waiting = late.drain()
    assert len(waiting) == WAITING
    assert waiting[-1] == f"refused {10 * WAITING - 1}"
    board.forget("shape")
    board.leave(early)
    board.post("shape", "gone")
    assert early.drain() == []
    assert woken
