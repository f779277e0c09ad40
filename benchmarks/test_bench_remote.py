"""What the wire costs: round trip, a stream of state, watchers, and messages by themselves."""

from __future__ import annotations

import asyncio
import time
from typing import Any

import pytest

import legwright as lw
from legwright.remote import asked, said
from legwright.remote.hosting import hosted
from legwright.remote.local import Local
from legwright.remote.sign_in import Doors, Role
from legwright.remote.wire import asked as read
from legwright.remote.wire import frame
from legwright.rig.simulated import Simulated

FIELDS = ("mode", "q", "qd", "current", "force", "contact", "voltage", "place")


@pytest.fixture(scope="module")
def local() -> Local:
    robot = lw.load("robots/rook")
    found = Local(Simulated(robot, rate=200.0), doors=Doors(open_to=Role.MAINTAIN))
    for _ in range(3):
        found.step()
    return found


def test_a_state_as_a_frame(benchmark: Any, local: Local) -> None:
    report = local.step()
    benchmark(lambda: frame(local.service.readings.state(report, "s", FIELDS)))


def test_a_message_read(benchmark: Any) -> None:
    text = frame(asked.Walk(n=5, heard=12.0, forward=0.1, turn=0.2, gait="ripple"))
    benchmark(lambda: read(text))


@pytest.mark.parametrize("watchers", [0, 1, 10, 50])
def test_a_report_to_watchers(benchmark: Any, local: Local, watchers: int) -> None:
    """One cycle's report to so many streams at the bus rate."""
    service, report = local.service, local.step()
    ids = []
    for _ in range(watchers):
        ids.append(service.open(local.now))
        service.receive(ids[-1], frame(asked.Hello(version=1)), local.now)
        wish = asked.Subscribe(n=1, rate=200.0, fields=FIELDS)
        service.receive(ids[-1], frame(wish), local.now)
        for stream in service._sessions[ids[-1]].streams.values():
            stream.period, stream.due = 0.0, 0.0
    benchmark(lambda: service.report(report))
    for id in ids:
        service.close(id, local.now)


def test_round_trip_on_loopback(benchmark: Any) -> None:
    """Median of 500 pings over a WebSocket; the robot is being computed in the same process."""
    robot = Local(Simulated(lw.load("robots/rook")), doors=Doors(open_to=Role.MAINTAIN))

    async def go() -> tuple[float, float]:
        trips = []
        async with hosted(robot) as address, lw.connect_async(address, watch=True) as client:
            link = client._link
            pong: asyncio.Future[None] = asyncio.get_running_loop().create_future()
            take = link._take

            async def taking(message: said.AnySaid) -> None:
                if isinstance(message, said.Pong):
                    pong.set_result(None)
                await take(message)

            link._take = taking  # type: ignore[method-assign]
            for n in range(500):
                pong = asyncio.get_running_loop().create_future()
                began = time.perf_counter()
                await link._line.send(frame(asked.Ping(n=10_000_000 + n)))
                await pong
                trips.append(time.perf_counter() - began)
                await asyncio.sleep(0.006)
        trips.sort()
        return trips[len(trips) // 2], trips[int(0.99 * len(trips))]

    median, p99 = benchmark.pedantic(lambda: asyncio.run(go()), rounds=1, iterations=1)
    benchmark.extra_info.update(median_ms=1e3 * median, p99_ms=1e3 * p99)
    print(f"\nround trip: median {1e3 * median:.2f} ms, 99th percentile {1e3 * p99:.2f} ms")


def test_a_stream_of_200_hz(benchmark: Any) -> None:
    """Share of a core for client and server together: 18 joints, 200 Hz, 5 s, less the share
    without the stream."""

    async def go(stream: bool) -> float:
        rig = Simulated(lw.load("robots/rook"), rate=200.0)
        robot = Local(rig, doors=Doors(open_to=Role.MAINTAIN))
        async with hosted(robot) as address, lw.connect_async(address, watch=True) as client:
            began = time.process_time()
            if stream:
                found = await client.watch(rate=200.0, seconds=5.0, fields=FIELDS)
                assert len(found.t) > 900
            else:
                await asyncio.sleep(5.0)
            return (time.process_time() - began) / 5.0

    def both() -> tuple[float, float]:
        return asyncio.run(go(False)), asyncio.run(go(True))

    without, with_it = benchmark.pedantic(both, rounds=1, iterations=1)
    benchmark.extra_info.update(share=with_it - without)
    share = f"{1e2 * (with_it - without):.1f} % of a core ({1e2 * without:.1f} % without)"
    print(f"\n200 Hz stream: {share}")
