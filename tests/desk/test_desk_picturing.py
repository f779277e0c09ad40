"""What may come after the picture leaves the cores to the verdict."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path

import pytest

from legwright.views.desk import picturing
from legwright.views.desk.pages import Board
from legwright.views.desk.picturing import Picturing, View
from legwright.views.desk.session import Session


class Noting(Board):
    """Notes what is posted."""

    def __init__(self) -> None:
        super().__init__()
        self.posted: list[str] = []

    def post(self, key: str, frame: str | bytes, *, keep: bool = True) -> None:
        self.posted.append(key)


async def until(board: Noting, key: str) -> None:
    async with asyncio.timeout(60.0):
        while key not in board.posted:
            await asyncio.sleep(0.01)


def test_reach_waits_for_the_verdict_but_not_for_ever(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = Session(small)
    view = View(case="tripod forward", walk=None)

    async def looked() -> None:
        board = Noting()
        picture = Picturing(board)
        running = asyncio.create_task(picture.run())
        try:
            monkeypatch.setattr(picturing, "WAIT", 60.0)
            picture.judged.clear()
            picture.want(view, session.robot, 1, None)
            await picture.pictured()
            await asyncio.sleep(0.1)
            assert "cycle/now" in board.posted
            assert "reach/now" not in board.posted
            picture.judged.set()
            await until(board, "reach/now")
            monkeypatch.setattr(picturing, "WAIT", 0.05)
            board.posted.clear()
            picture.judged.clear()
            picture._reached.clear()
            began = time.monotonic()
            picture.want(view, session.robot, 2, None)
            await until(board, "reach/now")
            assert time.monotonic() - began >= 0.05
        finally:
            running.cancel()
            picture.close()

    asyncio.run(looked())


def test_a_newer_picture_does_not_wait(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    session = Session(small)
    monkeypatch.setattr(picturing, "WAIT", 60.0)

    async def looked() -> None:
        board = Noting()
        picture = Picturing(board)
        running = asyncio.create_task(picture.run())
        try:
            for number, case in enumerate(("tripod forward", "tripod backward")):
                picture.judged.clear()
                board.posted.clear()
                picture.want(View(case=case, walk=None), session.robot, number, None)
                async with asyncio.timeout(30.0):
                    await picture.pictured()
                assert "cycle/now" in board.posted
        finally:
            running.cancel()
            picture.close()

    asyncio.run(looked())
