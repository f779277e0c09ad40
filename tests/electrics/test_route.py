"""Routes of cables, against a walk through the tree that shares no code with them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from legwright import load
from legwright.electrics.extremes import extremes
from legwright.electrics.route import routes_of
from legwright.electrics.slack import cut_length
from legwright.electrics.stretch import Fixing, seen_from, stretch_between
from legwright.errors import RequestError, RobotError
from legwright.robot.paths import poses_from
from legwright.robot.robot import Robot
from legwright.robot.sheet import Sheet
from legwright.robot.tree import Floats, JointKind

ROOT = Path(__file__).parents[2]
POSES = 20_000
NAMES = ("rook", "heron", "wren", "r101", "r104")


def wired(name: str) -> Robot:
    """A demo robot, or a wild one with one branch for each leg and one for its mast."""
    if not name.startswith("r1"):
        return load(ROOT / "robots" / name)
    robot = load(ROOT / "tests" / "data" / "wild" / f"{name}.urdf")
    chains = [leg.joint_names for leg in robot.legs.values()]
    chains += [tuple(robot.held)] if robot.held else []
    sheet = Sheet.model_validate(
        {
            "hub": {
                "ports": len(chains),
                "branch": {
                    f"b{number}": {"port": number + 1, "chain": chain, "conductor": "leg"}
                    for number, chain in enumerate(chains)
                },
            },
            "harness": {"conductor": {"leg": {"gauge": "20 AWG", "outside": "1.8 mm"}}},
        }
    )
    return replace(robot, sheet=sheet)


@pytest.fixture(scope="module", params=NAMES)
def robot(request: pytest.FixtureRequest) -> Robot:
    return wired(request.param)


def test_a_place_is_seen_from_any_link_as_the_poses_of_the_whole_tree_say(robot: Robot) -> None:
    """Referee: `robot.paths.poses_from`."""
    rng = np.random.default_rng(2)
    links = list(robot.tree.links)
    for link in rng.choice(links, 8):
        poses = poses_from(robot.tree, str(link), {})
        for other in rng.choice(links, 8):
            at = rng.normal(0.0, 0.1, 3)
            expected = poses[other][:3, :3] @ at + poses[other][:3, 3]
            seen = seen_from(robot.tree, str(link), Fixing(link=str(other), at=at))
            np.testing.assert_allclose(seen, expected, atol=1e-12)


def swept(robot: Robot, links: set[str], rng: np.random.Generator) -> dict[str, Floats]:
    """Poses of some links over the joint space, (POSES, 4, 4) each.

    Half of the poses draw every joint anywhere in its range, half put it at either end.
    """
    positions: dict[str, Floats] = {}
    for joint in robot.tree.joints.values():
        if joint.actuated:
            low, high = max(joint.lower, -np.pi), min(joint.upper, np.pi)
            draws = rng.uniform(low, high, POSES)
            ends = rng.integers(0, 2, POSES // 2)
            draws[: POSES // 2] = np.where(ends == 0, low, high)
            positions[joint.name] = draws
    for joint in robot.tree.joints.values():
        if joint.mimic is not None:
            source = positions[joint.mimic.source]
            positions[joint.name] = joint.mimic.multiplier * source + joint.mimic.offset

    def pose(link: str) -> Floats:
        if link not in robot.tree.parent_joint:
            return np.broadcast_to(np.eye(4), (POSES, 4, 4))
        joint = robot.tree.joints[robot.tree.parent_joint[link]]
        step = np.broadcast_to(np.eye(4), (POSES, 4, 4)).copy()
        if joint.kind is JointKind.PRISMATIC:
            step[:, :3, 3] = np.outer(positions[joint.name], joint.axis)
        elif joint.moves:
            turns = Rotation.from_rotvec(np.outer(positions[joint.name], joint.axis))
            step[:, :3, :3] = turns.as_matrix()
        return pose(joint.parent) @ joint.placement @ step

    return {link: pose(link) for link in links}


def apart(poses: dict[str, Floats], a: Fixing, b: Fixing) -> Floats:
    ends = [poses[f.link][:, :3, :3] @ f.at + poses[f.link][:, :3, 3] for f in (a, b)]
    return np.linalg.norm(ends[0] - ends[1], axis=1)


def test_no_cable_is_ever_too_short_nor_much_longer_than_needed(robot: Robot) -> None:
    """20,000 poses of the whole robot; forward kinematics by scipy's rotations."""
    cables = routes_of(robot).cables
    assert len(cables) >= 3 * len(robot.legs)
    links = {fixing.link for cable in cables for fixing in cable.fixings}
    poses = swept(robot, links, np.random.default_rng(11))
    harness = robot.sheet.harness
    assert harness is not None
    for cable in cables:
        cut = cut_length(cable, harness)
        fixings = pairwise(cable.fixings)
        needed = 2.0 * harness.termination
        for (a, b), stretch, room in zip(fixings, cable.stretches, cut.stretches, strict=True):
            found = apart(poses, a, b)
            assert room.extremes is not None
            assert room.extremes.farthest >= found.max() - 1e-12
            assert room.extremes.farthest <= 1.01 * found.max() + 1e-12
            assert room.extremes.nearest <= found.min() + 1e-12
            assert room.extremes.nearest >= found.min() - 0.01 * found.max() - 1e-12
            radius = (cable.radius if stretch.moves else cable.fixed_radius) or 0.0
            way = found.max()
            if room.loop:
                full = 2.0 * np.pi * radius - 2.0 * radius * np.arcsin(found.min() / (2 * radius))
                way = max(way, full)
            needed += way + (np.pi - 2.0) * radius
        assert needed - 1e-9 <= cut.shortest <= 1.01 * needed
        if cut.length is not None:
            assert cut.shortest - 1e-12 <= cut.length <= cut.longest + 1e-12


@pytest.mark.parametrize("name", ["rook", "heron", "wren"])
def test_every_demo_cable_has_a_makeable_length(name: str) -> None:
    robot = wired(name)
    assert robot.sheet.harness is not None
    for cable in routes_of(robot).cables:
        cut = cut_length(cable, robot.sheet.harness)
        assert cut.trouble is None
        assert cut.length is not None


def test_fixings_several_joints_apart_keep_their_proven_bounds(robot: Robot) -> None:
    """Body to foot link and foot link to another leg's: up to six joints, both ways round."""
    legs = list(robot.legs.values())
    rng = np.random.default_rng(12)
    foot = Fixing(link=legs[0].chain.foot_link, at=np.array([0.01, 0.02, -0.05]))
    body = Fixing(link=robot.body, at=np.array([0.05, -0.02, 0.03]))
    poses = swept(robot, {foot.link, body.link}, rng)
    found = apart(poses, body, foot)
    for start, end in ((body, foot), (foot, body)):
        reached = extremes(stretch_between(robot.tree, start, end))
        assert found.max() - 1e-12 <= reached.farthest <= 1.01 * found.max()
        assert reached.nearest <= found.min() + 1e-12
        assert reached.gap <= 5e-3 * reached.farthest


def test_a_daisy_chain_runs_from_servo_to_servo(robot: Robot) -> None:
    by_branch: dict[str, list[tuple[str, str]]] = {}
    for cable in routes_of(robot).cables:
        by_branch.setdefault(cable.branch, []).append((cable.start, cable.name))
    hub = robot.sheet.hub
    assert hub is not None
    for key, pairs in by_branch.items():
        branch = hub.branch[key]
        load = () if branch.load is None else (branch.load,)
        assert pairs == list(pairwise(("hub", *branch.chain, *load)))


def test_a_port_for_each_servo_ties_its_leads_at_every_joint() -> None:
    """Hub straight to the third servo: no stretch spans two joints, and the sweep agrees."""
    robot = wired("rook")
    hub = robot.sheet.hub
    assert hub is not None
    names = next(iter(robot.legs.values())).joint_names
    branch = {
        name: hub.branch["left-front"].model_copy(update={"chain": (name,), "port": n + 1})
        for n, name in enumerate(names)
    }
    cables = routes_of(changed(robot, "hub", branch=branch)).cables
    assert [len({j for s in c.stretches for j in s.joints}) for c in cables] == [0, 1, 2]
    assert all(len(s.joints) <= 1 for c in cables for s in c.stretches)
    assert all(len(f.at) == 3 for c in cables for f in c.fixings)
    poses = swept(robot, {f.link for f in cables[2].fixings}, np.random.default_rng(13))
    needed = sum(apart(poses, a, b).max() for a, b in pairwise(cables[2].fixings))
    assert robot.sheet.harness is not None
    cut = cut_length(cables[2], robot.sheet.harness)
    far = sum(room.extremes.farthest for room in cut.stretches if room.extremes)
    assert needed - 1e-12 <= far <= 1.01 * needed
    straight = apart(poses, cables[2].fixings[0], cables[2].fixings[-1]).max()
    assert cut.shortest > straight


def changed(robot: Robot, table: str, **values: object) -> Robot:
    sheet = robot.sheet
    part = getattr(sheet, table).model_copy(update=values)
    return replace(robot, sheet=sheet.model_copy(update={table: part}))


def with_harness(extra: dict[str, object]) -> Robot:
    robot = wired("r104")
    harness = {
        "conductor": {"leg": {"gauge": "20 AWG", "outside": "1.8 mm"}},
        **extra,
    }
    new = Sheet.model_validate({"harness": harness}).harness
    return replace(robot, sheet=robot.sheet.model_copy(update={"harness": new}))


def test_ties_and_sockets_of_the_sheet_are_used() -> None:
    robot = wired("r104")
    first, second = next(iter(robot.legs.values())).joint_names[:2]
    link = robot.tree.joints[second].parent
    route = {
        "by": [{"link": link, "at": ["1 mm", "2 mm", "3 mm"]}],
        "socket": ["4 mm", "5 mm", "6 mm"],
    }
    cables = {c.name: c for c in routes_of(with_harness({"route": {second: route}})).cables}
    cable = cables[second]
    assert [f.what for f in cable.fixings] == [first, "tie", second]
    np.testing.assert_allclose(cable.fixings[1].at, [0.001, 0.002, 0.003])
    np.testing.assert_allclose(cable.fixings[2].at, [0.004, 0.005, 0.006])
    assert len(cable.stretches) == 2


def test_wrong_names_are_told_with_the_way_out() -> None:
    robot = wired("r104")
    second = next(iter(robot.legs.values())).joint_names[1]
    with pytest.raises(RobotError, match="leads to nothing that hangs on the hub"):
        routes_of(with_harness({"route": {"nowhere": {}}}))
    tie = {"link": "no_such_link", "at": ["0 mm", "0 mm", "0 mm"]}
    with pytest.raises(RobotError, match="'no_such_link' is no link"):
        routes_of(with_harness({"route": {second: {"by": [tie]}}}))
    with pytest.raises(RobotError, match="'leg' is no conductor of the harness"):
        routes_of(changed(robot, "harness", conductor={}))
    with pytest.raises(RequestError, match="must be a link of"):
        stretch_between(
            robot.tree,
            Fixing(link="moon", at=np.zeros(3)),
            Fixing(link=robot.body, at=np.zeros(3)),
        )
    with pytest.raises(RequestError, match="three finite numbers"):
        stretch_between(
            robot.tree,
            Fixing(link=robot.body, at=np.array([0.0, np.nan, 0.0])),
            Fixing(link=robot.body, at=np.zeros(3)),
        )


def test_what_is_not_stated_is_said() -> None:
    robot = load(ROOT / "robots" / "rook")
    bare = changed(robot, "hub", at=None)
    assert any("hub's place is not stated" in note for note in routes_of(bare).notes)
    no_hub = replace(robot, sheet=robot.sheet.model_copy(update={"hub": None}))
    assert routes_of(no_hub).cables == ()
