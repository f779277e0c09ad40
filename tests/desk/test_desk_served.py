"""The desk over its socket: what a page hears, and who may come in."""

from __future__ import annotations

import asyncio
import urllib.error
import urllib.request
from pathlib import Path

import numpy as np
import pytest
from desk_visitor import served, visiting
from websockets.asyncio.client import connect
from websockets.exceptions import InvalidStatus

import legwright as lw
from legwright.mechanics.shapes import link_poses
from legwright.study.check import study
from legwright.views.desk.blocks import Cycle, Pulled

ROOK = Path(__file__).parents[2] / "robots" / "rook"


def test_a_page_hears_robot_picture_and_verdict_as_the_study_finds_them(small: Path) -> None:
    """Referee: the study itself."""

    async def scene() -> tuple[dict, dict, tuple, dict]:
        async with served(small) as (_, address), visiting(address) as page:
            await page.hello()
            welcome = await page.text("welcome")
            shape = await page.text("shape")
            cycle = await page.block(Cycle)
            return welcome, shape, cycle, await page.text("verdict", lambda told: told["whole"])

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


def test_what_is_undone_is_the_edit_before_however_much_waits(small: Path) -> None:
    """A newer edit of a key replaces one that waits, but none that is undone in between."""

    async def scene() -> list[dict]:
        async with served(small) as (_, address), visiting(address) as page:
            await page.hello()
            await page.block(Cycle)
            await page.say("edit", key="dimensions.femur", value="88 mm")
            for value in ("120 mm", "121 mm", "122 mm"):
                await page.say("edit", key="dimensions.tibia", value=value)
            await page.say("undo")
            await page.say("edit", key="dimensions.tibia", value="124 mm")
            edits = await page.text("edits", lambda told: "124 mm" in str(told["list"]))
            return edits["list"]

    now = {edit["key"]: edit["after"] for edit in asyncio.run(scene())}
    assert now == {"dimensions.femur": "88 mm", "dimensions.tibia": "124 mm"}


def test_edits_are_drawn_beside_what_is_on_disk_and_survive_a_reload(small: Path) -> None:
    """Referee: the same change made in memory without the desk."""
    from legwright.mechanics.opening import edited

    async def scene() -> None:
        async with served(small) as (_, address), visiting(address) as page:
            await page.hello()
            await page.block(Cycle)
            n = await page.say("edit", key="dimensions.femur", value="0 mm")
            refused = await page.text("refused")
            assert (refused["n"], refused["key"]) == (n, "dimensions.femur")
            assert "small/robot.toml" in refused["text"]
            assert str(small.parent) not in refused["text"]
            assert "must be positive" in refused["text"]
            await page.say("edit", key="dimensions.femur", value="92 mm")
            edits = await page.text("edits", lambda told: told["list"])
            assert edits["list"] == [
                {"key": "dimensions.femur", "before": "85 mm", "after": "92 mm"}
            ]
            assert edits["under"] == "on disk"
            robot = edited(small, {"dimensions.femur": "92 mm"})
            shape = await page.text("shape", lambda told: told["who"] == "now")
            assert shape["mass"] == pytest.approx(robot.mass)
            header, arrays = await page.block(Cycle, lambda h: h.who == "now" and h.fed)
            feet = robot.legs["left-front"].foot(arrays["q"][:, :3].astype(float))
            np.testing.assert_allclose(arrays["feet"][:, 0], feet, atol=1e-5)
            assert header.rev == edits["rev"]
            fields = [told for told in page.said if told["type"] == "fields"]
            while not fields or fields[-1]["rev"] != edits["rev"]:  # they come behind the picture
                fields.append(await page.text("fields"))
            femur = next(f for f in fields[-1]["list"] if f["key"] == "dimensions.femur")
            assert (femur["number"], femur["kept"]) == (92.0, "85 mm")
            if not any(isinstance(h, Cycle) and h.who == "before" for h, _ in page.blocks):
                await page.block(Cycle, lambda h: h.who == "before")
            async with visiting(address) as second:  # a reload, or a second page
                await second.hello()
                told = await second.text("edits")
                assert told["list"] == edits["list"]
                await second.block(Cycle, lambda h: h.who == "now")
                await second.say("pull", what="foot", name="left-front", to=[0.25, 0.2, 0.02])
                assert (await second.block(Pulled))[1]["q"].shape == (18,)
                await second.say("undo")
                told = await page.text("edits")
                assert (told["list"], told["under"], told["redo"]) == (
                    [], "", "femur 85 mm → 92 mm",
                )  # fmt: skip

    asyncio.run(scene())


def test_drawings_come_as_svg_with_a_policy_and_nothing_else_does(small: Path) -> None:
    async def scene() -> None:
        async with served(small) as (_, address), visiting(address) as page:
            await page.hello()
            drawings = await page.text("drawings")
            names = [one["name"] for one in drawings["list"]]
            assert names[:2] == ["schematic", "harness"]

            def get(path: str) -> tuple[int, str, str]:
                try:
                    with urllib.request.urlopen(address + path, timeout=20) as answer:
                        policy = answer.headers["content-security-policy"]
                        return answer.status, policy, answer.read().decode()
                except urllib.error.HTTPError as error:
                    error.close()
                    return error.code, "", ""

            status, policy, svg = await asyncio.to_thread(get, "drawing/schematic.svg?theme=dark")
            assert status == 200
            assert "default-src 'none'" in policy
            assert svg.startswith("<svg")
            for path in (
                "drawing/robot.svg", "drawing/..%2f..%2frobot.toml.svg", "../robot.toml",
                "drawing/%2e%2e/%2e%2e/etc/passwd", "robot.toml", "film/x.png",
            ):  # fmt: skip
                assert (await asyncio.to_thread(get, path))[0] in (404, 405, 503), path

    asyncio.run(scene())


def test_a_variant_is_laid_under_and_kept_edits_become_one(tmp_path: Path) -> None:
    import shutil

    shutil.copytree(ROOK.parent, tmp_path / "robots")

    async def scene() -> None:
        path = tmp_path / "robots" / "rook"
        async with served(path) as (_, address), visiting(address) as page:
            await page.hello()
            welcome = await page.text("welcome")
            assert set(welcome["variants"]) == {"heron", "rook-can", "wren"}
            await page.block(Cycle)
            await page.say("compare", variant="../rook")
            assert "folder beside" in (await page.text("refused"))["text"]
            await page.say("compare", variant="heron")
            assert (await page.text("edits"))["under"] == "heron"
            shape = await page.text("shape", lambda told: told["who"] == "before")
            assert shape["mass"] == pytest.approx(lw.load(tmp_path / "robots" / "heron").mass)
            header, _ = await page.block(Cycle, lambda h: h.who == "before")
            assert header.case == "tripod forward"
            await page.say("compare", variant="")
            assert (await page.text("edits"))["under"] == ""
            await page.say("keep", name="robin")
            assert "all is as on disk" in (await page.text("refused"))["text"]
            await page.say("edit", key="dimensions.tibia", value="135 mm")
            await page.say("keep", name="robin")
            assert "robin/robot.toml" in (await page.text("done"))["text"]
            assert "robin" in (await page.text("welcome"))["variants"]
            robin = lw.load(tmp_path / "robots" / "robin")
            assert robin.sheet.dimensions.tibia == pytest.approx(0.135)
            # what others do to the folders is seen too; what lies under the robot stays listed
            await page.say("compare", variant="heron")
            await page.text("welcome", lambda told: told["compared"] == "heron")
            shutil.move(tmp_path / "robots" / "heron", tmp_path / "robots" / "egret")
            there = {"egret", "heron", "robin", "rook-can", "wren"}
            await page.text("welcome", lambda told: set(told["variants"]) == there)
            shutil.rmtree(tmp_path / "robots" / "wren")
            await page.say("compare", variant="")
            there -= {"heron", "wren"}
            await page.text("welcome", lambda told: set(told["variants"]) == there)

    asyncio.run(scene())


def test_a_sheet_that_changes_on_disk_is_drawn_and_judged_anew(small: Path) -> None:
    """Referee: the study of the changed folder."""
    sheet = small / "robot.toml"
    text = sheet.read_text(encoding="utf-8")

    async def scene() -> tuple[dict, dict, dict]:
        async with served(small) as (_, address), visiting(address) as page:
            await page.hello()
            await page.text("verdict", lambda told: told["whole"])
            sheet.write_text(text.replace('femur = "85 mm"', 'femur = "8 furlongs"'))
            broken = await page.text("edits", lambda told: told["unread"])
            sheet.write_text(text.replace('femur = "85 mm"', 'femur = "88 mm"'))
            edits = await page.text("edits", lambda told: told["read"] and not told["unread"])
            return (
                broken,
                edits,
                await page.text(
                    "verdict", lambda told: told["whole"] and told["rev"] >= edits["rev"]
                ),
            )

    broken, edits, verdict = asyncio.run(scene())
    assert "furlongs" in broken["read"] and str(small.parent) not in broken["read"]
    assert edits["list"] == []
    told = {(one["area"], one["name"]): one["value"] for one in verdict["findings"]}
    for finding in study(lw.load(small)).findings:
        if finding.value is not None and np.isfinite(finding.value):
            value = told[finding.area, finding.name]
            assert value == pytest.approx(finding.value, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("dragged", "order"), [(0.0, "judged, drawn"), (1e9, "drawn, judged")])
def test_a_verdict_begins_beside_the_picture_but_for_a_drag(
    small: Path, monkeypatch: pytest.MonkeyPatch, dragged: float, order: str
) -> None:
    from legwright.views.desk import desk as desk_module

    monkeypatch.setattr(desk_module, "DRAGGED", dragged)
    happened: list[str] = []

    async def scene() -> None:
        async with served(small) as (desk, address), visiting(address) as page:
            await page.hello()
            await page.text("verdict", lambda told: told["whole"])
            turn, pictured = desk._ledger.turn, desk._picturing.pictured

            async def drawn() -> None:
                await pictured()
                happened.append("drawn")

            def judged(*subjects: object, **rest: object) -> None:
                happened.append("judged")
                turn(*subjects, **rest)

            monkeypatch.setattr(desk._ledger, "turn", judged)
            monkeypatch.setattr(desk._picturing, "pictured", drawn)
            await page.say("edit", key="requirements.payload", value="0.31 kg")
            await page.text("verdict", lambda told: told["whole"] and told["rev"] == 2)

    asyncio.run(scene())
    assert ", ".join(happened) == order
