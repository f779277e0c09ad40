"""Whatever comes over the wire: no crash, and no motion that its sender may not ask for."""

from __future__ import annotations

import asyncio
from collections import Counter
from typing import Any

import numpy as np
import pytest
from rubbish import rubbish
from websockets.asyncio.client import connect
from websockets.exceptions import ConnectionClosed

from legwright.errors import LinkError
from legwright.remote.hosting import hosted
from legwright.remote.service import Service
from legwright.remote.session import Peer
from legwright.remote.sign_in import Doors, Role, key_for, new_token
from legwright.rig.request import Word

EVERY_DAY, LONG = 2_000, 100_000
COUNTS = [EVERY_DAY, pytest.param(LONG, marks=pytest.mark.long)]


def flood(service: Service, rng: np.random.Generator, count: int, *, report: Any = None) -> Counter:
    """Throw rubbish at a service, from sessions that begin anew as they are ended."""
    words: Counter[Word] = Counter()
    id, now, opened = "", 0.0, 0
    for k in range(count):
        now += 0.01
        if not id or service.ended(id):
            if id:
                service.close(id, now)
            opened += 1
            id = service.open(now, peer=Peer(address=f"10.0.{opened // 250 % 250}.{opened % 250}"))
            service.receive(id, '{"type":"hello","version":1}', now)
        service.receive(id, rubbish(rng), now)
        words.update(request.word for request in service.requests())
        if report is not None and k % 20 == 0:
            service.report(report(now))
        service.drain(id)
    assert opened > count / 200, "sessions that talk rubbish are ended"
    return words


@pytest.mark.parametrize("count", COUNTS)
@pytest.mark.parametrize("role", [Role.NONE, Role.WATCH])
def test_rubbish_moves_nothing(rook: Any, role: Role, count: int) -> None:
    """Watchers may stop the robot, and nothing else; strangers not even that."""
    keys = (key_for(new_token(), name="ada", role=Role.DRIVE),)
    service = Service(rook, rate=100.0, doors=Doors(keys=keys, open_to=role))
    words = flood(service, np.random.default_rng(seed=5), count)
    assert set(words) <= ({Word.STOP} if role is Role.WATCH else set())
    assert (words[Word.STOP] > 0) is (role is Role.WATCH)
    assert len(service.records) <= 10_000 and len(service.driving._waiting) <= 4097


@pytest.mark.parametrize("count", COUNTS)
def test_rubbish_from_a_driver_never_ends_the_control_loop(local: Any, count: int) -> None:
    """What passes is sense: the robot takes it without an error. Stops are left out, so that it
    gets to move."""
    robot = local()
    rng, id, modes = np.random.default_rng(seed=6), "", Counter()
    for k in range(count):
        if not id or robot.service.ended(id):
            robot.service.close(id, robot.now)
            robot.service.entrance._failed.clear()  # or it is closed after five tokens
            id, n = robot.service.open(robot.now), 20_000
            robot.service.receive(id, '{"type":"hello","version":1}', robot.now)
        if k % 10 == 0:
            for kind in ("take", "acknowledge", "power"):
                n += 1
                text = f'{{"type":"{kind}","n":{n},"heard":{robot.now}}}'
                robot.service.receive(id, text, robot.now)
        text = rubbish(rng)
        if isinstance(text, str):
            n += 1
            text = text.replace('"heard": ', f'"n": {n}, "heard": {robot.now}, "before": ')
        if b"stop" not in (text if isinstance(text, bytes) else text.encode("utf-8", "replace")):
            robot.service.receive(id, text, robot.now)
        if k % 4 == 0:
            robot.service.drain(id)
            modes[robot.step().mode.value] += 1
    assert len(modes) >= 3, f"it was made to do several things: {modes}"


@pytest.mark.parametrize("count", COUNTS)
def test_rubbish_on_the_real_endpoint(local: Any, count: int) -> None:
    robot = local(Doors(keys=(key_for(new_token(), name="ada", role=Role.DRIVE),)))
    rng = np.random.default_rng(seed=7)

    async def go() -> int:
        sent = 0
        async with hosted(robot) as address:
            while sent < count:
                robot.service.entrance._failed.clear()  # or it is closed after five tokens
                try:
                    async with connect(f"{address}/robot", close_timeout=0.2) as line:
                        for _ in range(25):
                            await line.send(rubbish(rng))
                            sent += 1
                except (ConnectionClosed, UnicodeEncodeError, LinkError):
                    continue
            async with connect(f"{address}/robot") as line:
                await line.send('{"type":"hello","version":1}')
                assert "welcome" in str(await line.recv())
        return sent

    assert asyncio.run(go()) >= count
    assert robot.runtime.watch.mode.value == "limp"
    assert not robot.service._sessions
