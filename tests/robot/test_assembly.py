"""What the sheet overrules, and what a tree and a sheet make together."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from descriptions import FOUR, Numbers, ends, joint, leg, link, mast, walker, written
from referee import foot_of

from legwright.errors import RobotError
from legwright.robot.assembly import assemble
from legwright.robot.robot import Robot
from legwright.robot.servo import Servo
from legwright.robot.sheet import Foot, LegEntry, Sheet, Stance
from legwright.robot.urdf import read_urdf

NAMES = ["left-front", "left-rear", "right-front", "right-rear"]


def made(folder: Path, parts: list[str], **sheet: Any) -> Robot:
    path = written(folder, parts)
    source = folder / "robot.toml"
    return assemble(read_urdf(path), Sheet.model_construct(**sheet), source, path, Numbers)  # type: ignore[arg-type]


def entries(feet: Mapping[str, str], **more: Any) -> dict[str, LegEntry]:
    return {name: LegEntry.model_construct(foot=foot, **more) for name, foot in feet.items()}


FEET = {"ash": "k0_foot", "elm": "k1_foot", "oak": "k2_foot", "yew": "k3_foot"}


def refused(folder: Path, parts: list[str], place: str, **sheet: Any) -> RobotError:
    with pytest.raises(RobotError) as caught:
        made(folder, parts, **sheet)
    assert caught.value.file == folder / "robot.toml"
    assert caught.value.place == place
    return caught.value


def test_legs_named_by_the_sheet_keep_the_order_by_place(tmp_path: Path) -> None:
    feet = {"yew": "k3_foot", "ash": "k0_foot", "oak": "k2_foot", "elm": "k1_foot"}
    robot = made(tmp_path, [*walker(FOUR), *mast()], legs=entries(feet))
    assert list(robot.legs) == ["ash", "elm", "oak", "yew"]
    assert ends(robot) == FEET
    assert set(robot.held) == {"mast_pan", "mast_tilt"}
    for name, found in zip(robot.legs, made(tmp_path, walker(FOUR)).legs.values(), strict=True):
        np.testing.assert_array_equal(robot.legs[name].chain.placements, found.chain.placements)
        np.testing.assert_array_equal(robot.legs[name].chain.foot, found.chain.foot)


def test_a_foot_may_end_before_the_last_link(tmp_path: Path) -> None:
    feet = {name: foot.replace("_foot", "_3") for name, foot in FEET.items()}
    robot = made(tmp_path, walker(FOUR), legs=entries(feet, offset=(0.1, 0.0, -0.01)))
    np.testing.assert_allclose(robot.legs["ash"].chain.foot, [0.1, 0, -0.01])
    assert robot.mass == pytest.approx(
        robot.trunk.mass + sum(s.mass for one in robot.legs.values() for s in one.chain.solids)
    )


def test_joints_of_a_leg_that_are_not_listed_are_held(tmp_path: Path) -> None:
    legs = {
        name: LegEntry.model_construct(foot=foot, joints=(f"k{i}_femur", f"k{i}_tibia"))
        for i, (name, foot) in enumerate(FEET.items())
    }
    robot = made(tmp_path, walker(FOUR), legs=legs, held={"k0_coxa": 0.2})
    assert robot.legs["ash"].joint_names == ("k0_femur", "k0_tibia")
    assert dict(robot.held) == {"k0_coxa": 0.2} | {f"k{i}_coxa": 0.0 for i in (1, 2, 3)}
    free = made(tmp_path, walker(FOUR)).legs["left-front"].chain
    np.testing.assert_allclose(
        foot_of(robot.legs["ash"].chain, np.array([0.3, 0.4])),
        foot_of(free, np.array([0.2, 0.3, 0.4])),
        atol=1e-12,
    )


def test_a_held_joint_in_the_middle_of_a_leg(tmp_path: Path) -> None:
    legs = {
        name: LegEntry.model_construct(foot=foot, joints=(f"k{i}_coxa", f"k{i}_tibia"))
        for i, (name, foot) in enumerate(FEET.items())
    }
    robot = made(tmp_path, walker(FOUR), legs=legs, held={"k0_femur": 0.3})
    whole = made(tmp_path, walker(FOUR)).legs["left-front"].chain
    np.testing.assert_allclose(
        foot_of(robot.legs["ash"].chain, np.array([0.1, 0.4])),
        foot_of(whole, np.array([0.1, 0.3, 0.4])),
        atol=1e-12,
    )
    assert robot.legs["ash"].chain.solids[0].mass == pytest.approx(0.2)
    assert robot.mass == pytest.approx(
        robot.trunk.mass + sum(s.mass for one in robot.legs.values() for s in one.chain.solids)
    )


def test_what_is_no_leg_says_the_sheet(tmp_path: Path) -> None:
    """Front legs of a six-legged machine that serve as arms."""
    robot = made(tmp_path, walker(), not_legs=("k0_1", "k3_coxa"))
    assert ends(robot) == {"left-front": "k1_foot", "left-rear": "k2_foot",
                           "right-front": "k4_foot", "right-rear": "k5_foot"}  # fmt: skip
    assert len(robot.held) == 6


def test_another_body_frame_moves_the_numbers_and_nothing_else(tmp_path: Path) -> None:
    frame = joint("imu_fix", "base", "imu", (0.02, 0.01, 0.03), (0.1, -0.2, 0.3), kind="fixed")
    parts = [*walker(FOUR), link("imu", None), frame]
    usual, other = made(tmp_path, parts), made(tmp_path, parts, body="imu")
    assert other.body == "imu"
    pose = usual.tree.joints["imu_fix"].placement
    q = np.array([0.1, 0.2, 0.3])
    for one, two in zip(usual.legs.values(), other.legs.values(), strict=True):
        back = pose[:3, :3] @ foot_of(two.chain, q) + pose[:3, 3]
        np.testing.assert_allclose(back, foot_of(one.chain, q), atol=1e-12)
    back = pose[:3, :3] @ other.trunk.com + pose[:3, 3]
    np.testing.assert_allclose(back, usual.trunk.com, atol=1e-12)


def test_held_where_the_sheet_says(tmp_path: Path) -> None:
    robot = made(tmp_path, [*walker(FOUR), *mast()], held={"mast_tilt": -0.4})
    assert dict(robot.held) == {"mast_pan": 0.0, "mast_tilt": -0.4}


def test_the_longest_pattern_chooses_the_servo(tmp_path: Path) -> None:
    small, strong, own = (
        Servo.model_construct(id=name, stall_torque=1.0, no_load_speed=5.0)
        for name in ("lark", "crane", "stork")
    )
    robot = made(
        tmp_path,
        [*walker(FOUR), *mast()],
        servo={"lark": small, "crane": strong, "stork": own},
        fit={"k*": "lark", "*_femur": "crane", "k0_femur": "stork"},
    )
    assert robot.servos["k0_coxa"] is small
    assert robot.servos["k1_femur"] is strong
    assert robot.servos["k0_femur"] is own
    pan = robot.servos["mast_pan"]
    assert pan is not None and pan.id == "urdf"


def test_foot_radius_of_the_sheet_comes_first(tmp_path: Path) -> None:
    robot = made(tmp_path, walker(FOUR), foot=Foot.model_construct(radius=0.011))
    assert robot.legs["left-front"].chain.foot_radius == 0.011


def test_names_in_the_sheet_that_the_description_lacks(tmp_path: Path) -> None:
    parts = [*walker(FOUR), *mast()]
    lark = {"lark": Servo.model_construct(stall_torque=1.0, no_load_speed=5.0)}
    assert "'base'" in refused(tmp_path, parts, "body", body="bass").cure
    assert "'mast_pan'" in refused(tmp_path, parts, "not_legs", not_legs=("mast_pn",)).cure
    assert (
        "'k0_foot'"
        in refused(tmp_path, parts, "legs.ash.foot", legs=entries(FEET | {"ash": "k0_feet"})).cure
    )
    assert "'mast_tilt'" in refused(tmp_path, parts, "held.mast_tlt", held={"mast_tlt": 0.0}).cure
    assert (
        "k0_coxa"
        in refused(tmp_path, parts, "fit.k0_coksa", servo=lark, fit={"k0_coksa": "lark"}).cure
    )
    assert "lark" in refused(tmp_path, parts, "fit.k*", servo=lark, fit={"k*": "larch"}).cure
    feet = Stance.model_construct(feet={"left-frnt": (0.1, 0.1)})
    assert "'left-front'" in refused(tmp_path, parts, "stance.feet", stance=feet).cure


def test_what_a_sheet_may_not_ask_for(tmp_path: Path) -> None:
    parts = [*walker(FOUR), *mast()]
    assert "leg" in refused(tmp_path, parts, "held.k0_coxa", held={"k0_coxa": 0.0}).problem
    assert "outside" in refused(tmp_path, parts, "held.mast_tilt", held={"mast_tilt": 2.0}).problem
    assert "part of a leg" in refused(tmp_path, parts, "body", body="k0_2").problem
    one = entries({"ash": "k0_foot"})
    assert "one leg" in refused(tmp_path, parts, "legs", legs=one).problem
    stub = entries({"ash": "k0_1", "elm": "k1_foot"})
    assert "1 driven" in refused(tmp_path, parts, "legs.ash", legs=stub).problem
    legs = entries(FEET)
    legs["ash"] = LegEntry.model_construct(foot="k0_foot", joints=("k1_coxa", "k0_tibia"))
    assert "'k1_coxa'" in refused(tmp_path, parts, "legs.ash.joints", legs=legs).problem
    legs["ash"] = LegEntry.model_construct(foot="k0_foot", joints=("k0_tibia", "k0_coxa"))
    assert "order" in refused(tmp_path, parts, "legs.ash.joints", legs=legs).problem


def test_two_names_for_one_foot(tmp_path: Path) -> None:
    twice = entries(FEET | {"fir": "k0_foot"})
    refused(tmp_path, walker(FOUR), "legs.ash", legs=twice)


def test_a_leg_that_cannot_come_down_beside_others_is_noted(tmp_path: Path) -> None:
    """Its foot link would have to pass through the belly."""
    parts = [part for part in walker() if not part.startswith('<joint name="k1_')]
    box = '<box size="0.3 0.16 0.1"/>'
    parts[0] = link("base", 1.5, shape=box)
    parts += [part for part in leg("k1", "base", (0, 0.1, 0.25), np.pi / 2) if "<joint" in part]
    robot = made(tmp_path, parts)
    assert any("'k1_foot' cannot reach below the trunk" in note for note in robot.notes)


def test_arms_that_hang_low_are_no_belly(tmp_path: Path) -> None:
    """Held front limbs may be drawn below what the feet can reach; they will be lifted."""
    parts = walker()
    low = joint("k0_coxa", "base", "k0_1", (0.12, 0.08, -0.4))
    parts[1] = low
    parts[2] = link("k0_1", shape='<sphere radius="0.05"/>')
    robot = made(tmp_path, parts, not_legs=("k0_1", "k3_1"))
    assert len(robot.legs) == 4
