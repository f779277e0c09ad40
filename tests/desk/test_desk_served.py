"""The desk over its socket: what a page hears, and who may come in."""

from __future__ import annotations

import asyncio
import urllib.error
import urllib.request
from pathlib import Path

import numpy as np
import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import InvalidStatus

import legwright as lw
from conftest import served, visiting
from legwright.mechanics.shapes import link_poses
from legwright.study.check import study
from legwright.views.desk.blocks import Cycle

ROOK = Path(__file__).parents[2] / "robots" / "rook"


def test_a_page_hears_robot_picture_and_verdict_as_the_study_finds_them(small: Path) -> None:
    """Referee: the study itself."""

    async def scene() -> tuple[dict, dict, tuple, dict]:
        async with served(small) as (_, address), visiting(address) as page:
            await page.hello()
            welcome = await page.text("welcome")
            shape = await page.text("shape")
            cycle = await page.block(Cycle)
            return welcome, shape, cycle, await page.text("verdict")

    welcome, shape, (header, arrays), verdict = asyncio.run(scene())
    robot = lw.load(small)
    found = study(robot)
    assert welcome["robot"] == "small"
    assert welcome["joints"] == list(robot.joint_names)
    assert set(welcome["cases"]) == set(found.cases)
    assert shape["mass"] == pytest.approx(robot.mass)
    case = found.cases["tripod forward"]
    assert header.case == "tripod forward"
    for name, values in (
        ("q", case.motion.q), ("torque", case.draw.torque), ("voltage", case.draw.voltage),
        ("current", case.draw.supply_current), ("margin", case.loads.margin),
        ("force", case.loads.force), ("available", case.draw.available),
    ):  # fmt: skip
        np.testing.assert_allclose(arrays[name], values, rtol=1e-5, atol=1e-6, err_msg=name)
    assert header.limits.margin == pytest.approx(0.02)
    told = {(one["area"], one["name"]): one for one in verdict["findings"]}
    assert len(told) == len(found.findings)
    for finding in found.findings:
        one = told[finding.area, finding.name]
        assert one["verdict"] == finding.verdict.value
        assert one["cure"] == finding.cure
        known = finding.value is not None and np.isfinite(finding.value)
        assert one["value"] == (pytest.approx(finding.value, rel=1e-9) if known else None)
    assert verdict["rev"] == welcome["rev"] == header.rev


def test_the_page_can_put_every_link_where_the_robot_has_it() -> None:
    """Referee: `link_poses`; the page's rule is that of `Joint`."""
    from legwright.views.desk.scene import shape_of

    robot = lw.load(ROOK)
    shape = shape_of(robot, rev=1)
    q = np.linspace(-0.4, 0.4, len(robot.joint_names))
    poses = {shape.root: np.array(shape.base).reshape(4, 4)}
    for joint in shape.joints:
        position = q[joint.column] if joint.column >= 0 else joint.held
        a, b, c = joint.axis
        cross = np.array([[0, -c, b], [c, 0, -a], [-b, a, 0.0]])
        turn = np.eye(4)
        turn[:3, :3] += np.sin(position) * cross + (1 - np.cos(position)) * cross @ cross
        moved = turn if joint.kind != "fixed" else np.eye(4)
        placement = np.array(joint.placement).reshape(4, 4)
        poses[joint.child] = poses[joint.parent] @ placement @ moved
    there = link_poses(robot, q[None])
    assert set(poses) == set(there)
    for name, pose in poses.items():
        expected = np.broadcast_to(there[name], (1, 4, 4))[0]
        np.testing.assert_allclose(pose, expected, atol=1e-12, err_msg=name)
    for name, (link, point) in shape.feet.items():
        leg = robot.legs[name]
        foot = (poses[link] @ [*point, 1.0])[:3]
        np.testing.assert_allclose(foot, leg.foot(q[robot.columns[name]]), atol=1e-12)


def test_another_page_and_another_address_are_turned_away(small: Path) -> None:
    async def scene() -> None:
        async with served(small) as (_, address):
            url = address.replace("http", "ws", 1) + "desk"
            with pytest.raises(InvalidStatus):
                async with connect(url, origin="https://elsewhere.example", proxy=None):
                    pass
            with pytest.raises(urllib.error.HTTPError) as refused:
                request = urllib.request.Request(address, headers={"Host": "orchard.example"})
                await asyncio.to_thread(urllib.request.urlopen, request, timeout=5)
            assert refused.value.code == 403
            refused.value.close()
            origin = address.rstrip("/")
            async with connect(url, origin=origin, proxy=None) as own:
                await own.send('{"type":"hello","version":1}')
                assert '"welcome"' in str(await asyncio.wait_for(own.recv(), 30))

    asyncio.run(scene())


def test_what_makes_no_sense_is_refused_in_a_sentence_and_nothing_breaks(small: Path) -> None:
    async def scene() -> None:
        async with served(small) as (_, address), visiting(address) as page:
            await page.say("undo")
            assert "hello" in (await page.text("refused"))["text"]
            await page.hello()
            await page.text("welcome")
            for rubbish in ("", "{}", '{"type":"show","n":"x"}', "\x00" * 50):
                await page.connection.send(rubbish)
                assert (await page.text("refused"))["text"]
            n = await page.say("show", case="tripod fordward")
            refused = await page.text("refused")
            assert refused["n"] == n
            assert "Did you mean 'tripod forward'" in refused["text"]

    asyncio.run(scene())
