"""The Python client on a robot in this process, call by call."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

import legwright as lw

TOP = Path(__file__).parents[2]


def test_the_tour_of_the_api() -> None:
    with lw.connect("sim:robots/rook", pace=None) as robot:
        assert robot.state.mode == "limp"
        robot.stand()
        assert robot.state.mode == "standing"
        start = robot.state.place
        robot.walk(forward=0.05, gait="ripple", seconds=3)
        assert robot.state.mode == "standing"
        assert 0.03 < (robot.state.place - start)[0] < 0.16
        touch = robot.leg("right-front").probe(push=4.0)
        assert touch.point[1] < 0 and touch.force > 1.0
        assert robot.state.joints["left-front"].current.shape == (3,)
        seen = robot.watch(rate=50, seconds=1.0, fields=("q", "force", "contact", "feet"))
        assert seen.t.shape == (51,) and seen.q.shape == (51, 18) and seen.feet.shape == (51, 6, 3)
        np.testing.assert_allclose(np.diff(seen.t), 0.02, atol=1e-9)
        assert seen.contact.all() and seen.qd.size == 0
        assert {"touched", "mode"} <= {event.what for event in robot.events(seconds=0.1)}
        robot.sit()
        assert robot.state.mode == "holding"
        robot.release()
        assert robot.state.mode == "limp"


def test_the_same_seed_gives_the_same_run() -> None:
    """Without a clock, time stands still between calls."""

    def run() -> np.ndarray:
        with lw.connect("sim:robots/rook", pace=None, ground="rough", seed=3) as robot:
            robot.walk(forward=0.05, seconds=2)
            time.sleep(0.05)
            return robot.watch(rate=100, seconds=0.2, fields=("q",)).q

    np.testing.assert_array_equal(run(), run())


def test_a_walk_without_seconds_goes_on_by_itself_and_ends_on_leaving() -> None:
    robot = lw.connect("sim:robots/rook", pace=4.0)
    with robot:
        robot.walk(forward=0.05)
        time.sleep(0.5)
        assert robot.state.mode == "walking"
        assert robot.state.place[0] > 0.001
        with pytest.raises(lw.RequestError, match="Did you mean 'tripod'"):
            robot.walk(gait="trpod")
        assert robot.state.mode == "walking"
    with pytest.raises(lw.LinkError, match="Connect anew"):
        robot.stand()


def test_errors_say_what_to_do() -> None:
    with pytest.raises(lw.RequestError, match="sim:FOLDER"):
        lw.connect("http://rook.local")
    with pytest.raises(lw.RobotError):
        lw.connect("sim:robots/rok")
    with pytest.raises(lw.RequestError, match="pace"):
        lw.connect("sim:robots/rook", pace=0.0)
    with lw.connect("sim:robots/rook", pace=None, watch=True) as robot:
        with pytest.raises(lw.LinkError, match="Take the driver's place") as caught:
            robot.stand()
        assert caught.value.word == "not driver"
        robot.take()
        robot.stand()
        with pytest.raises(lw.RequestError, match="Did you mean"):
            robot.leg("left-frnt")
        robot.stop(0)
        with pytest.raises(lw.LinkError, match="Acknowledge"):
            robot.stand()
        robot.acknowledge()


def test_an_asynchronous_program_says_the_same() -> None:
    async def drive() -> float:
        async with lw.connect_async("sim:robots/rook", pace=None) as robot:
            await robot.stand()
            await robot.walk(forward=0.05, seconds=1)
            return float(robot.state.place[0])

    assert asyncio.run(drive()) > 0.02


def test_a_stop_ends_a_walk_that_another_thread_waits_for() -> None:
    import threading

    with lw.connect("sim:robots/rook", pace=2.0) as robot:
        robot.stand()
        threading.Timer(0.5, robot.stop, args=(2,)).start()
        with pytest.raises(lw.LinkError, match="asked for a stop"):
            robot.walk(forward=0.05, seconds=60)


def test_an_interrupt_ends_the_call_and_leaves_a_standing_robot() -> None:
    code = (
        "import legwright as lw, threading, os, signal, time\n"
        "robot = lw.connect('sim:robots/rook', pace=2.0)\n"
        "try:\n"
        "    with robot:\n"
        "        robot.stand()\n"
        "        threading.Timer(1, os.kill, (os.getpid(), signal.SIGINT)).start()\n"
        "        robot.walk(forward=0.05, seconds=60)\n"
        "except KeyboardInterrupt:\n"
        "    print(robot._inner._link.state.mode)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
        cwd=TOP,
    )
    assert done.stdout.strip() == "standing", done.stderr


def test_a_newer_robot_may_say_more_than_we_know() -> None:
    async def go() -> None:
        async with lw.connect_async("sim:robots/rook", pace=None) as robot:
            within = robot._link._line
            for text in ('{"type":"weather","sun":true}', '{"type":"error","word":"x","text":"y"}'):
                within._frames.append(text)  # type: ignore[attr-defined]
            await robot.stand()
            told = [event.what async for event in robot.events(seconds=0.05)]
            assert "error" in told

    asyncio.run(go())


def test_the_blocking_robot_is_current() -> None:
    """Referee: the script that makes it."""
    import runpy

    made = runpy.run_path(str(TOP / "docs" / "make_blocking.py"))
    text = made["formatted"](made["blocking"](made["SOURCE"].read_text("utf-8")))
    assert made["MADE"].read_text("utf-8") == text, "run: python docs/make_blocking.py"
