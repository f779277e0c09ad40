"""Clients that die without goodbye, at random moments of what they ask for."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from legwright.remote.hosting import hosted
from legwright.remote.sign_in import Doors, Role
from legwright.rig.supervisor import Mode

TOP = Path(__file__).parents[2]
CLIENT = """
import sys, legwright as lw
robot = lw.connect(sys.argv[1])
print("in", flush=True)
robot.stand()
robot.walk(forward=0.05, seconds=0.7)
robot.leg("left-front").lift()
robot.walk(turn=0.2, seconds=0.5)
robot.leg("right-rear").lead([robot.state.feet["right-rear"] + [0, 0, 0.04]], [1.0])
robot.walk(left=0.03)
input()
"""
DEADMAN = 0.25


@pytest.mark.parametrize("deaths", [3, pytest.param(100, marks=pytest.mark.long)])
def test_a_dead_client_leaves_a_robot_that_stands(local: Any, deaths: int) -> None:
    """Within the deadman and a cycle nothing is asked of the robot any more but to stand; it
    never falls, and the next client drives."""
    robot = local(Doors(open_to=Role.MAINTAIN))
    rng = np.random.default_rng(seed=11)
    died_while: set[str] = set()

    async def once(address: str) -> None:
        client = await asyncio.create_subprocess_exec(
            sys.executable, "-c", CLIENT,
            address, cwd=TOP, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip
        assert client.stdout is not None
        assert await client.stdout.readline() == b"in\n"
        await asyncio.sleep(float(rng.uniform(0.0, 8.0)))
        died_while.add(robot.runtime.watch.mode.value)
        client.kill()
        died = robot.now
        await client.wait()
        while robot.now < died + DEADMAN + 0.15:
            await asyncio.sleep(0.01)
        assert robot.runtime.watch.command.kind.value == "stand"
        while robot.service.driving.driver or robot.now < died + 1.0:
            await asyncio.sleep(0.02)
            assert robot.now < died + 3.0, "the place is free again"
        assert robot.runtime.watch.mode not in (Mode.FAULT, Mode.SITTING_DOWN)
        up = robot.rig.sense().up
        assert up is None or up[2] > np.cos(np.radians(10.0))

    async def go() -> None:
        async with hosted(robot) as address:
            for _ in range(deaths):
                await once(address)

    asyncio.run(go())
    assert deaths < 50 or {"standing", "walking", "single-leg"} <= died_while
