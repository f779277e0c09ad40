"""Which chains are legs: other branches, other builds and other frames don't confuse it."""

from __future__ import annotations

import random
import re
from math import pi
from pathlib import Path

import numpy as np
import pytest
from descriptions import FOUR, SIX, ends, joint, leg, link, mast, read, ring, walker
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from referee import foot_of

from legwright.errors import RobotError

SIX_NAMES = ["left-front", "left-middle", "left-rear", "right-front", "right-middle", "right-rear"]
SIX_FEET = {name: f"k{i}_foot" for i, name in enumerate(SIX_NAMES)}


def test_six_legs_by_place(tmp_path: Path) -> None:
    assert ends(read(tmp_path, walker())) == SIX_FEET


def arm(
    n: int, at: tuple[float, float, float], size: float = 0.1, parent: str = "base"
) -> list[str]:
    """A serial arm: one turn about z, then pitches."""
    parts = [joint("arm0", "base", "arm0_l", at), link("arm0_l")]
    for i in range(1, n):
        parts.append(joint(f"arm{i}", f"arm{i - 1}_l", f"arm{i}_l", (size, 0, 0), axis=(0, 1, 0)))
        parts.append(link(f"arm{i}_l"))
    return [
        *parts,
        joint("grip", f"arm{n - 1}_l", "hand", (size, 0, 0), kind="fixed"),
        link("hand"),
    ]


@pytest.mark.parametrize(
    "extra",
    [
        mast(),
        [*mast(), *mast(at=(-0.1, 0, 0.08), name="mast2")],
        [*mast(at=(0.1, 0.05, 0.08)), *mast(at=(0.1, -0.05, 0.08), name="mast2")],
        mast(at=(0.16, 0, -0.01)),
        arm(5, (0.1, 0, 0.05)),
        arm(3, (0.0, 0, 0.05), 0.09),
        arm(6, (0.15, 0, 0.0), 0.2),
        arm(5, (0.15, 0, 0.0), 0.08),
        arm(3, (0.15, 0, 0.0), 0.1),
        [joint("fan", "base", "rotor", (0, 0, 0.1), kind="continuous"), link("rotor")],
        [joint("lift", "base", "deck", (0, 0, 0.1), kind="prismatic", span=(0, 0.2)), link("deck"),
         *mast("deck", (0, 0, 0.02))],
    ],
    ids=["mast", "two masts", "twin masts", "mast in front", "arm", "three-joint arm",
         "long arm", "arm in front", "short arm in front", "fan", "lift with mast"],
)  # fmt: skip
def test_branches_that_are_no_legs(extra: list[str], tmp_path: Path) -> None:
    robot = read(tmp_path, [*walker(), *extra])
    assert ends(robot) == SIX_FEET
    assert robot.body == "base"
    own = {part.split('"')[1] for part in extra if part.startswith("<joint")}
    assert set(robot.held) == {name for name in own if robot.tree.joints[name].actuated}
    assert robot.trunk.mass + sum(
        solid.mass for one in robot.legs.values() for solid in one.chain.solids
    ) == pytest.approx(robot.mass)


def test_a_seventh_limb_like_the_legs_on_top_is_an_arm(tmp_path: Path) -> None:
    robot = read(tmp_path, [*walker(), *leg("top", "base", (0.02, 0, 0.06), 0.0)])
    assert ends(robot) == SIX_FEET
    assert set(robot.held) == {"top_coxa", "top_femur", "top_tibia"}
    assert any("'top_foot' is not taken as a leg" in note for note in robot.notes)


def test_a_leg_whose_limits_keep_it_up_is_still_a_leg(tmp_path: Path) -> None:
    """Its limits are wrong; what it cannot do is judged later, not hidden."""
    parts = [
        part.replace('lower="-1.2" upper="1.2"', 'lower="-1.2" upper="-0.9"').replace(
            'lower="0" upper="2.2"', 'lower="-0.2" upper="0"'
        )
        if part.startswith('<joint name="k1')
        else part
        for part in walker()
    ]
    robot = read(tmp_path, parts)
    assert ends(robot) == SIX_FEET
    assert any("'k1_foot' cannot reach below the trunk" in note for note in robot.notes)


def test_raised_middle_legs_are_legs(tmp_path: Path) -> None:
    """They sit between the others and above them, but not on the midline."""
    parts = [link("base", 1.5)]
    for i, (x, y) in enumerate(SIX):
        hip = (2 * x, y / 2, 0.04 if x == 0 else 0.0)
        parts += leg(f"k{i}", "base", hip, pi / 2 if y > 0 else -pi / 2)
    assert ends(read(tmp_path, parts)) == SIX_FEET


def test_a_long_arm_that_could_touch_the_ground_is_mentioned(tmp_path: Path) -> None:
    robot = read(tmp_path, [*walker(), *arm(6, (0.15, 0, 0.0), 0.2)])
    assert any("'hand'" in note and "[legs]" in note for note in robot.notes)


def test_a_hand_of_many_fingers_is_no_body(tmp_path: Path) -> None:
    """Five fingers of three joints outnumber four legs; they are shorter."""
    hand = arm(4, (0.1, 0, 0.05), 0.08)
    for i in range(5):
        hand += leg(f"f{i}", "hand", (0.01, 0.02 * (i - 2), 0), 0.0, lengths=(0.01, 0.02, 0.02))
    robot = read(tmp_path, [*walker(FOUR), *hand])
    assert robot.body == "base"
    assert len(robot.legs) == 4
    assert len(robot.held) == 4 + 15


def test_rear_legs_longer_than_front_legs(tmp_path: Path) -> None:
    parts = [link("base", 1.0)]
    for i, (x, y) in enumerate(FOUR):
        lengths = (0.05, 0.08, 0.12) if x > 0 else (0.06, 0.1, 0.16)
        parts += leg(f"k{i}", "base", (x, y, 0), pi / 2 if y > 0 else -pi / 2, lengths)
    robot = read(tmp_path, parts)
    assert list(robot.legs) == ["left-front", "left-rear", "right-front", "right-rear"]
    assert any("not like the other legs" in note for note in robot.notes)


def test_every_leg_of_its_own_length(tmp_path: Path) -> None:
    parts = [link("base", 1.0)]
    for i, (x, y) in enumerate(FOUR):
        k = 1 + 0.2 * i
        lengths = (0.05 * k, 0.08 * k, 0.12 * k)
        parts += leg(f"k{i}", "base", (x, y, 0), pi / 2 if y > 0 else -pi / 2, lengths)
    assert len(read(tmp_path, parts).legs) == 4


def test_a_waist_between_front_and_rear_legs_is_held(tmp_path: Path) -> None:
    parts = [link("base", 1.0), link("rear", 1.0), joint("waist", "base", "rear", (-0.1, 0, 0))]
    for i, (x, y) in enumerate(FOUR):
        on, at = ("base", (0.1, y, 0.0)) if x > 0 else ("rear", (-0.05, y, 0.0))
        parts += leg(f"k{i}", on, at, pi / 2 if y > 0 else -pi / 2)
    robot = read(tmp_path, parts)
    assert robot.body == "base"
    assert ends(robot) == {"left-front": "k0_foot", "left-rear": "k1_foot",
                           "right-front": "k2_foot", "right-rear": "k3_foot"}  # fmt: skip
    assert dict(robot.held) == {"waist": 0.0}
    assert robot.legs["left-rear"].hip[0] == pytest.approx(-0.15)
    assert any("'waist'" in note for note in robot.notes)


def test_legs_hung_below_a_torso_that_turns(tmp_path: Path) -> None:
    parts = [link("torso", 0.5), joint("yaw", "torso", "base", (0, 0, -0.1)), *walker(FOUR)]
    robot = read(tmp_path, parts)
    assert robot.body == "base"
    assert dict(robot.held) == {"yaw": 0.0}
    assert robot.trunk.mass == pytest.approx(2.0)
    assert robot.trunk.com[2] == pytest.approx(0.1 * 0.5 / 2.0)


def test_a_test_stand_above_the_robot_is_left_out(tmp_path: Path) -> None:
    parts = [link("world", None), joint("slide", "world", "base", kind="prismatic"), *walker(FOUR)]
    robot = read(tmp_path, parts)
    assert (robot.body, dict(robot.held)) == ("base", {})
    assert any("'slide'" in note for note in robot.notes)


@pytest.mark.parametrize("kind", ["floating", "planar"])
def test_a_free_joint_above_the_robot_is_its_freedom(kind: str, tmp_path: Path) -> None:
    free = f'<joint name="free" type="{kind}"><parent link="world"/><child link="base"/></joint>'
    robot = read(tmp_path, [link("world", None), free, *walker(FOUR)])
    assert (robot.body, robot.tree.root, len(robot.legs)) == ("base", "base", 4)


def test_legs_on_rails_that_are_fixed_to_the_body(tmp_path: Path) -> None:
    """Their lowest common ancestor is the body, not a rail."""
    parts = [link("base", 1.0)]
    for side, y in (("l", 0.08), ("r", -0.08)):
        parts += [
            joint(side, "base", f"{side}_rail", (0, y, 0), kind="fixed"),
            link(f"{side}_rail"),
        ]
        for i, x in enumerate((0.1, 0.0, -0.1)):
            parts += leg(f"{side}{i}", f"{side}_rail", (x, 0, 0), pi / 2 if y > 0 else -pi / 2)
    robot = read(tmp_path, parts)
    assert robot.body == "base"
    assert list(robot.legs) == SIX_NAMES
    np.testing.assert_allclose(robot.legs["left-front"].hip, [0.1, 0.08, 0])


def test_fittings_on_a_leg_do_not_lead_it_astray(tmp_path: Path) -> None:
    """A bracket, a camera with two joints on the femur, a guard and a sensor at the foot."""
    fittings = [
        joint("b", "k0_1", "bracket", (0, 0, 0.03), kind="fixed"), link("bracket", 0.01),
        *mast("k1_2", (0.02, 0, 0.02)),
        joint("g", "k2_3", "guard", (0.05, 0, 0.02), kind="fixed"), link("guard", 0.01),
        joint("s", "k3_3", "strain_gauge", (0.11, 0, 0), kind="fixed"), link("strain_gauge", 0.01),
    ]  # fmt: skip
    robot = read(tmp_path, [*walker(FOUR), *fittings])
    assert sorted(ends(robot).values()) == ["k0_foot", "k1_foot", "k2_foot", "k3_foot"]
    assert {one.n for one in robot.legs.values()} == {3}
    assert set(robot.held) == {"mast_pan", "mast_tilt"}
    femur = next(one for one in robot.legs.values() if one.chain.foot_link == "k1_foot")
    assert femur.chain.solids[1].mass == pytest.approx(0.1 + 0.2)


def test_a_foot_without_a_name_is_the_farthest_end(tmp_path: Path) -> None:
    parts = walker(FOUR, foot="_x")
    for i in range(4):
        parts += [
            joint(f"i{i}", f"k{i}_3", f"imu{i}", (0.03, 0, 0.01), kind="fixed"),
            link(f"imu{i}"),
        ]
    assert sorted(ends(read(tmp_path, parts)).values()) == ["k0_x", "k1_x", "k2_x", "k3_x"]


def test_a_claw_on_one_leg_is_a_tool(tmp_path: Path) -> None:
    parts = [*walker(), joint("grip", "k2_foot", "claw", (0.01, 0, 0)), link("claw", 0.02)]
    robot = read(tmp_path, parts)
    assert ends(robot) == SIX_FEET
    assert dict(robot.held) == {"grip": 0.0}
    assert robot.legs["left-rear"].chain.solids[2].mass == pytest.approx(0.1 + 0.01 + 0.02)


@pytest.mark.parametrize("toes", [2, 3])
def test_toes_are_held(toes: int, tmp_path: Path) -> None:
    parts = walker(FOUR)
    for i in range(4):
        for k in range(toes):
            toe = f"t{i}_{k}"
            at = (0.01 * np.cos(2.1 * k), 0.01 * np.sin(2.1 * k), 0)
            parts += [joint(f"{toe}_j", f"k{i}_foot", toe, at, axis=(0, 1, 0)), link(toe, 0.01)]
    robot = read(tmp_path, parts)
    assert sorted(ends(robot).values()) == [f"k{i}_foot" for i in range(4)]
    assert len(robot.held) == 4 * toes


def test_a_foot_with_two_nameless_pads_is_itself_the_end(tmp_path: Path) -> None:
    parts = walker(FOUR)
    for i in range(4):
        for side in (-0.01, 0.01):
            name = f"p{i}{'r' if side < 0 else 'l'}"
            parts += [
                joint(f"{name}_j", f"k{i}_foot", name, (0, side, 0), kind="fixed"),
                link(name),
            ]
    assert sorted(ends(read(tmp_path, parts)).values()) == [f"k{i}_foot" for i in range(4)]


def test_tibia_that_mimics_the_femur(tmp_path: Path) -> None:
    """A parallelogram keeps the shin upright: two drives, three moving joints."""
    parts = []
    for part in walker(FOUR):
        mimic = f'<mimic joint="{part[13:15]}_femur" multiplier="-1" offset="0.4"/></joint>'
        shin = part.startswith("<joint") and "_tibia" in part[:30]
        parts.append(part.replace("</joint>", mimic) if shin else part)
    robot = read(tmp_path, parts)
    chain = robot.legs["left-front"].chain
    assert chain.joint_names == ("k0_coxa", "k0_femur")
    assert chain.moving_names == ("k0_coxa", "k0_femur", "k0_tibia")
    np.testing.assert_array_equal(chain.coupling, [[1, 0], [0, 1], [0, -1]])
    np.testing.assert_array_equal(chain.offset, [0, 0, 0.4])
    # the shin's turn against the body is 0.3 + (0.4 - 0.3): worked out by hand
    foot = foot_of(chain, np.array([0.0, 0.3]))
    outward = 0.05 + 0.08 * np.cos(0.3) + 0.12 * np.cos(0.4)
    down = -0.08 * np.sin(0.3) - 0.12 * np.sin(0.4)
    np.testing.assert_allclose(foot, [0.12, 0.08 + outward, down], atol=1e-12)


@pytest.mark.parametrize(
    ("limits", "want"),
    [
        ((-1.0, 1.0), (-0.6, 1.2)),
        ((0.0, 0.9), (-0.5, 0.4)),
        ((-9.0, 9.0), (-1.2, 1.2)),
        ((0.0, 0.0), (-1.2, 1.2)),
    ],
)
def test_limits_of_a_mimic_narrow_its_drive(
    limits: tuple[float, float], want: tuple[float, float], tmp_path: Path
) -> None:
    """Tibia = 0.4 - femur; worked out by hand; limits that meet mean nothing."""
    parts = walker(FOUR)
    for i in range(4):
        mimic = f'<mimic joint="k{i}_femur" multiplier="-1" offset="0.4"/>'
        parts[5 + 8 * i] = joint(
            f"k{i}_tibia",
            f"k{i}_2",
            f"k{i}_3",
            (0.08, 0, 0),
            axis=(0, 1, 0),
            span=limits,
            more=mimic,
        )
    chain = read(tmp_path, parts).legs["left-front"].chain
    np.testing.assert_allclose((chain.lower[1], chain.upper[1]), want, atol=1e-12)


def test_a_mimic_rod_beside_the_leg_is_no_part_of_it(tmp_path: Path) -> None:
    parts = walker(FOUR)
    for i in range(4):
        rod = f'<mimic joint="k{i}_tibia" multiplier="-1"/>'
        at = (0.06, 0, 0.02)
        parts.append(joint(f"rod{i}", f"k{i}_1", f"rod{i}_l", at, axis=(0, 1, 0), more=rod))
        parts.append(link(f"rod{i}_l", 0.02))
    robot = read(tmp_path, parts)
    assert {one.n for one in robot.legs.values()} == {3}
    assert robot.held == {}
    assert robot.legs["left-front"].chain.solids[0].mass == pytest.approx(0.12)


def test_mimics_of_mimics_follow_the_driven_joint(tmp_path: Path) -> None:
    parts = [*mast(), *walker(FOUR)]
    parts[2] = joint("mast_tilt", "mast_1", "mast_2", (0, 0, 0.04), axis=(0, 1, 0),
                     more='<mimic joint="mast_pan" multiplier="2" offset="0.1"/>')  # fmt: skip
    parts[4:4] = [joint("third", "mast_2", "t", more='<mimic joint="mast_tilt" multiplier="3"/>'),
                  link("t")]  # fmt: skip
    mimic = read(tmp_path, parts).tree.joints["third"].mimic
    assert mimic is not None
    assert (mimic.source, mimic.multiplier, mimic.offset) == ("mast_pan", 6.0, pytest.approx(0.3))


def test_continuous_and_prismatic_joints_in_legs(tmp_path: Path) -> None:
    parts = [part.replace('"revolute"', '"continuous"') if "_coxa" in part else part
             for part in walker(FOUR)]  # fmt: skip
    chain = read(tmp_path, parts).legs["left-front"].chain
    assert (chain.lower[0], chain.upper[0]) == (-np.inf, np.inf)
    parts = [part.replace('"revolute"', '"prismatic"') if "_tibia" in part[:30] else part
             for part in walker(FOUR)]  # fmt: skip
    assert read(tmp_path, parts).legs["left-front"].chain.prismatic == (False, False, True)


def test_a_joint_whose_limits_meet_is_fixed_there(tmp_path: Path) -> None:
    parts = walker(FOUR)
    parts[1] = joint(
        "k0_coxa", "base", "k0_1", (0.12, 0.08, 0), (0, 0, pi / 2 - 0.3), span=(0.3, 0.3)
    )
    robot = read(tmp_path, parts)
    assert not robot.tree.joints["k0_coxa"].moves
    pose = robot.tree.joints["k0_coxa"].placement
    np.testing.assert_allclose(pose[:3, 0], [0, 1, 0], atol=1e-10)


@pytest.mark.parametrize("count", [3, 4, 5, 6, 7, 8, 10])
@pytest.mark.parametrize("turn", [0.0, 0.5])
def test_radial_robots_have_names_of_their_own(count: int, turn: float, tmp_path: Path) -> None:
    parts = [link("base", 2.0)]
    for i in range(count):
        a = 2 * pi * (i + turn) / count
        parts += leg(f"k{i}", "base", (0.12 * np.cos(a), 0.12 * np.sin(a), 0), a)
    robot = read(tmp_path, parts)
    assert len(robot.legs) == count
    for name, one in robot.legs.items():
        x, y, _ = one.hip
        assert name.startswith("left") == (y > 1e-6)
        assert name.startswith("right") == (y < -1e-6)
        if name == "front":
            assert x > 0
        if name == "rear":
            assert x < 0
    sides = [[one.hip[0] for name, one in robot.legs.items() if name.startswith(side)]
             for side in ("left", "right")]  # fmt: skip
    assert all(np.all(np.diff(side) < 1e-9) for side in sides)


def test_body_frame_beside_the_body(tmp_path: Path) -> None:
    """All hips lie on one side of the body frame; the midline still runs between them."""
    hips = [(x, y + 0.3) for x, y in SIX]
    parts = [link("base", 2.0)]
    for i, (x, y) in enumerate(hips):
        parts += leg(f"k{i}", "base", (x, y, 0), pi / 2 if y > 0.3 else -pi / 2)
    assert ends(read(tmp_path, parts)) == SIX_FEET


def test_all_coxa_axes_in_the_centre(tmp_path: Path) -> None:
    """Names then follow the feet."""
    parts = [link("base", 2.0)]
    for i, (x, y) in enumerate(ring(6)):
        parts += leg(f"k{i}", "base", (0, 0, 0), float(np.arctan2(y, x)) + pi / 6)
    robot = read(tmp_path, parts)
    assert list(robot.legs) == SIX_NAMES
    assert ends(robot)["left-front"] == "k0_foot"


def test_hips_on_a_spine(tmp_path: Path) -> None:
    """All hips on the midline: left and right follow the feet, front and rear the hips."""
    parts = [link("base", 2.0)]
    for i, (x, y) in enumerate(SIX):
        parts += leg(f"k{i}", "base", (x, 0, 0), pi / 2 if y > 0 else -pi / 2)
    assert ends(read(tmp_path, parts)) == SIX_FEET


def test_y_up_body_is_seen_and_noted(tmp_path: Path) -> None:
    """A body frame with y up and z to the right, as drawing programs export it."""
    frame = joint("turn", "base", "level", rpy=(-pi / 2, 0, 0), kind="fixed")
    parts = [link("base", 1.0), link("level", 1.0), frame]
    flat = []
    for i, (x, y) in enumerate(SIX):
        flat += leg(f"k{i}", "level", (x, y, 0), pi / 2 if y > 0 else -pi / 2)
    assert ends(read(tmp_path, [*parts, *flat])) == SIX_FEET
    bent = []
    for i, (x, y) in enumerate(SIX):
        one = leg(f"k{i}", "base", (x, 0, -y), 0.0)
        heading = pi / 2 if y > 0 else -pi / 2
        one[0] = joint(f"k{i}_coxa", "base", f"k{i}_1", (x, 0, -y), (-pi / 2, heading, 0))
        bent += one
    robot = read(tmp_path, [link("base", 1.0), *bent, *mast(at=(0.1, 0.08, 0))])
    assert ends(robot) == SIX_FEET
    assert any("+y" in note for note in robot.notes)


def test_no_two_like_limbs_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(RobotError, match="one leg cannot walk"):
        read(tmp_path, [link("base", 1.0), *mast(), *leg("k", "base", (0, 0.1, 0), 1.0)])


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 2**32), word=st.sampled_from(["leg", "limb_", "Bein", "ärm"]))
def test_the_same_robot_told_differently(seed: int, word: str, tmp_path: Path) -> None:
    """Order, names, an extra root, mid-chain frames and flipped axes change no foot."""
    chance = random.Random(seed)
    truth = read(tmp_path, [*walker(), *mast()])
    want = [foot_of(one.chain, np.array([0.1, 0.2, 0.3])) for one in truth.legs.values()]
    parts, signs = retold(chance, [*walker(), *mast()])
    text = re.sub(r'"k(\d)_', lambda m: f'"{word}{5 * int(m[1]) % 6}_', "\n".join(parts))
    again = read(tmp_path, [text.replace('"base"', '"chassis"')])
    assert list(again.legs) == SIX_NAMES
    assert again.mass == pytest.approx(truth.mass)
    np.testing.assert_allclose(again.trunk.com, truth.trunk.com, atol=1e-12)
    np.testing.assert_allclose(again.trunk.inertia, truth.trunk.inertia, atol=1e-12)
    for i, one in enumerate(again.legs.values()):
        q = np.array([0.1, 0.2, 0.3]) * [signs[f"k{i}_{j}"] for j in ("coxa", "femur", "tibia")]
        np.testing.assert_allclose(foot_of(one.chain, q), want[i], atol=1e-12)
        assert np.all(one.lower <= q) and np.all(q <= one.upper)


def retold(chance: random.Random, told: list[str]) -> tuple[list[str], dict[str, float]]:
    """The same parts in another manner, and the sign of each joint's axis."""
    signs: dict[str, float] = {}
    parts: list[str] = []
    for part in told:
        name = part.split('"')[1]
        if part.startswith("<joint") and 'type="revolute"' in part:
            signs[name] = chance.choice([-1.0, 1.0])
            parts.append(flipped(part) if signs[name] < 0 else part)
            continue
        parts.append(part)
        if part.startswith("<link") and name != "base" and chance.random() < 0.5:
            parts = split(parts, name)
    if chance.random() < 0.5:
        hold = joint("hold", "anchor", "base", (0, 0, 1), (0.3, 0.2, 1), "fixed")
        parts += [link("anchor", None), hold]
    chance.shuffle(parts)
    return parts, signs


def flipped(part: str) -> str:
    """The same joint with its axis the other way round and its limits swapped to suit."""
    axis = part.split('<axis xyz="')[1].split('"', maxsplit=1)[0]
    other = " ".join(f"{-float(word):g}" for word in axis.split())
    low = part.split('lower="')[1].split('"', maxsplit=1)[0]
    high = part.split('upper="')[1].split('"', maxsplit=1)[0]
    return part.replace(f'axis xyz="{axis}"', f'axis xyz="{other}"').replace(
        f'lower="{low}" upper="{high}"', f'lower="{-float(high):g}" upper="{-float(low):g}"'
    )


def split(parts: list[str], name: str) -> list[str]:
    """The joint that carries a link now ends at an empty link, a fixed joint follows."""
    carrier = f'<child link="{name}"/>'
    renamed = [part.replace(carrier, f'<child link="{name}_frame"/>') for part in parts]
    return [
        *renamed,
        link(f"{name}_frame", None),
        joint(f"{name}_fx", f"{name}_frame", name, kind="fixed"),
    ]
