"""Robots assembled from descriptions, against their own truth and against Pinocchio."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from descriptions import FOUR, Numbers, joint, link, mast, read, walker, written
from referee import Referee, foot_of, solids_of

from legwright.errors import RobotError
from legwright.robot.loading import load
from legwright.robot.robot import Robot
from legwright.robot.solids import merged
from legwright.robot.tree import Floats

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))


def wild(path: Path) -> Robot:
    return load(path, solver=Numbers)  # type: ignore[arg-type]


def random_positions(robot: Robot, rng: np.random.Generator) -> dict[str, Floats]:
    return {
        name: rng.uniform(np.maximum(leg.lower, -np.pi), np.minimum(leg.upper, np.pi))
        for name, leg in robot.legs.items()
    }


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_wild_robots_have_the_legs_their_authors_meant(path: Path) -> None:
    """Truth: the JSON beside each description."""
    truth = json.loads(path.with_suffix(".json").read_text())
    robot = wild(path)
    found = {(leg.joint_names, leg.chain.foot_link) for leg in robot.legs.values()}
    assert found == {(tuple(t["joints"]), t["foot"]) for t in truth["legs"].values()}
    assert robot.body == truth["base"]
    assert set(robot.held) == ({"pan", "tilt"} if truth["has_mast"] else set())
    by_foot = {t["foot"]: t["hip"] for t in truth["legs"].values()}
    for leg in robot.legs.values():
        np.testing.assert_allclose(leg.hip[:2], by_foot[leg.chain.foot_link], atol=1e-8)


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_wild_legs_are_found_without_any_help_from_names(path: Path, tmp_path: Path) -> None:
    """Every link and joint renamed to a number."""
    text, legs = path.read_text(), json.loads(path.with_suffix(".json").read_text())["legs"]
    names = sorted({part.split('"')[1] for part in text.split("<") if 'name="' in part})
    code = {name: f"n{7 * i % 1009}" for i, name in enumerate(names)}
    for name, new in code.items():
        text = text.replace(f'"{name}"', f'"{new}"')
    blind = tmp_path / "blind.urdf"
    blind.write_text(text)
    found = {(leg.joint_names, leg.chain.foot_link) for leg in wild(blind).legs.values()}
    assert found == {
        (tuple(code[j] for j in leg["joints"]), code[leg["foot"]]) for leg in legs.values()
    }


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_wild_legs_are_ordered_and_named_by_place(path: Path) -> None:
    robot = wild(path)
    half = len(robot.legs) // 2
    names = list(robot.legs)
    assert names[0] == "left-front" and names[half - 1] == "left-rear"
    assert names[half] == "right-front" and names[-1] == "right-rear"
    hips = robot.hips
    assert np.all(hips[:half, 1] > 0) and np.all(hips[half:, 1] < 0)
    assert np.all(np.diff(hips[:half, 0]) < 0) and np.all(np.diff(hips[half:, 0]) < 0)


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_feet_and_masses_agree_with_pinocchio(path: Path) -> None:
    """Referee: Pinocchio's frames and composite rigid body inertia at random positions."""
    robot = wild(path)
    referee = Referee(path, robot.body)
    rng = np.random.default_rng(3)
    for _ in range(10):
        q = random_positions(robot, rng)
        named = dict(robot.held)
        for name, leg in robot.legs.items():
            named |= dict(zip(leg.joint_names, q[name], strict=True))
        referee.place(named)
        for name, leg in robot.legs.items():
            ours, theirs = foot_of(leg.chain, q[name]), referee.at(leg.chain.foot_link)
            np.testing.assert_allclose(ours, theirs, atol=1e-12)
        ours, theirs = merged(solids_of(robot, q)), referee.total()
        assert ours.mass == pytest.approx(theirs.mass, rel=1e-12)
        assert ours.mass == pytest.approx(robot.mass, rel=1e-12)
        np.testing.assert_allclose(ours.com, theirs.com, atol=1e-12)
        np.testing.assert_allclose(ours.inertia, theirs.inertia, atol=1e-12)


def test_a_held_mast_counts_as_trunk_where_it_is_held(tmp_path: Path) -> None:
    """Referee: Pinocchio with the mast turned to its nearest limit to zero."""
    parts = [*walker(), *mast()]
    parts[-4] = joint("mast_tilt", "mast_1", "mast_2", (0, 0, 0.04), axis=(0, 1, 0), span=(0.3, 1))
    path = written(tmp_path, parts)
    robot = load(path, solver=Numbers)  # type: ignore[arg-type]
    assert dict(robot.held) == {"mast_pan": 0.0, "mast_tilt": 0.3}
    referee = Referee(path, robot.body)
    referee.place({"mast_tilt": 0.3} | {f"k{i}_tibia": 0.5 for i in range(6)})
    ours = merged(solids_of(robot, {name: np.array([0, 0, 0.5]) for name in robot.legs}))
    np.testing.assert_allclose(ours.com, referee.total().com, atol=1e-12)
    np.testing.assert_allclose(ours.inertia, referee.total().inertia, atol=1e-12)


def test_urdf_limits_become_servos_of_legs_and_mast(tmp_path: Path) -> None:
    robot = read(tmp_path, [*walker(), *mast()])
    assert set(robot.servos) == {*robot.joint_names, "mast_pan", "mast_tilt"}
    servo = robot.servos["k0_femur"]
    assert servo is not None
    assert (servo.stall_torque, servo.no_load_speed) == (4.0, 6.0)
    assert robot.notes == ()


def test_missing_ratings_leave_servos_unknown_and_say_so(tmp_path: Path) -> None:
    """Exporters write 0 where they know nothing."""
    parts = [part.replace('effort="4"', 'effort="0"') for part in walker()]
    robot = read(tmp_path, parts)
    assert set(robot.servos.values()) == {None}
    assert any("No effort or velocity limit" in note for note in robot.notes)


def test_foot_radius_is_that_of_the_sphere_at_the_foot(tmp_path: Path) -> None:
    robot = read(tmp_path, walker())
    assert {leg.chain.foot_radius for leg in robot.legs.values()} == {0.008}


def test_load_folder_without_sheet_names_the_urdf_in_it(tmp_path: Path) -> None:
    written(tmp_path, walker(FOUR), "finch.urdf")
    with pytest.raises(RobotError, match=r"robot\.toml") as caught:
        load(tmp_path, solver=Numbers)  # type: ignore[arg-type]
    assert "finch.urdf" in caught.value.cure


def test_massless_legs_are_noted(tmp_path: Path) -> None:
    parts = [
        link(p.split('"')[1], None, shape='<sphere radius="0.008"/>' if "_foot" in p else "")
        if p.startswith('<link name="k')
        else p
        for p in walker(FOUR)
    ]
    robot = read(tmp_path, parts)
    assert robot.mass == 1.5
    assert sum("weighs nothing" in note for note in robot.notes) == 4


def test_point_masses_are_noted(tmp_path: Path) -> None:
    zero = '<inertia ixx="0" iyy="0" izz="0" ixy="0" ixz="0" iyz="0"/>'
    parts = [
        p.replace('<inertia ixx="2e-4" iyy="2e-4" izz="2e-4" ixy="0" ixz="0" iyz="0"/>', zero)
        for p in walker(FOUR)
    ]
    assert any("point masses" in note for note in read(tmp_path, parts).notes)


def test_a_folder_with_sheet_and_description(tmp_path: Path) -> None:
    written(tmp_path, [*walker(FOUR), *mast()], "wagtail.urdf")
    sheet = tmp_path / "robot.toml"
    sheet.write_text('schema = 1\nname = "wagtail"\nurdf = "wagtail.urdf"\n')
    for path in (tmp_path, sheet):
        robot = load(path, solver=Numbers)  # type: ignore[arg-type]
        assert (robot.name, robot.source, len(robot.legs)) == ("wagtail", sheet, 4)


def test_a_sheet_whose_description_is_gone(tmp_path: Path) -> None:
    (tmp_path / "robot.toml").write_text('schema = 1\nurdf = "gone.urdf"\n')
    with pytest.raises(RobotError, match=r"gone\.urdf") as caught:
        load(tmp_path, solver=Numbers)  # type: ignore[arg-type]
    assert caught.value.place == "urdf"


def test_an_inertia_that_is_slightly_off_is_noted(tmp_path: Path) -> None:
    """2 % beyond what a real body can have: rounding of an exporter."""
    parts = [p.replace('izz="2e-4"', 'izz="4.08e-4"') if '"k0_' in p else p for p in walker(FOUR)]
    notes = read(tmp_path, parts).notes
    assert any("no real body" in note and "'k0_1'" in note for note in notes)


def test_more_chains_than_a_robot_has(tmp_path: Path) -> None:
    parts = walker(FOUR)
    for i in range(120):
        parts += mast(name=f"m{i}")
    with pytest.raises(RobotError, match="more than 100"):
        read(tmp_path, parts)
