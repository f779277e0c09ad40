"""Round dimensions against the slow full path, and the search against brute force."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.fabrication.layout import layout_of
from legwright.fabrication.layout_arrays import (
    CLEARANCE,
    GAP,
    HEAT,
    LOSS,
    MARGIN,
    REACH,
    SPEED,
    TORQUE,
)
from legwright.fabrication.layout_twins import _listed, places_of
from legwright.fabrication.moving import rebuilt
from legwright.fabrication.rounding import scored, search
from legwright.locomotion.stance import footing
from legwright.mechanics.clearance import clearance
from legwright.mechanics.workspace import reach_reserve
from legwright.robot.robot import Robot
from legwright.robot.scaffold import new_robot
from legwright.study.bench import Bench
from legwright.study.envelope import _top_speed
from legwright.study.rounding import Rounding, Wish, demands, feet_of, rounding_of, written
from legwright.study.rounding_cases import SAMPLES
from legwright.study.rounding_export import rounding_as_json
from legwright.study.strains import joint_gap
from legwright.study.trial import trial

ROBOTS = Path(__file__).parents[2] / "robots"
WILD = Path(__file__).parents[1] / "data" / "wild"
SMALL = {"hip_height": None, "coxa": None, "hip_y": None}


@pytest.fixture(scope="module")
def rook() -> Rounding:
    """Rook on a coarse grid, four dimensions free."""
    return rounding_of(lw.load(ROBOTS / "rook"), Wish(grid="10mm", spread=1, pins=SMALL, top=5))


@pytest.fixture(scope="module")
def heron() -> Rounding:
    """Heron, whose shape is a URDF, on preferred numbers."""
    return rounding_of(lw.load(ROBOTS / "heron"), Wish(grid="R20", spread=1, top=2))


@pytest.fixture(scope="module")
def wild() -> Rounding:
    """A bare URDF with odd measures, axes of any sign and hips at different heights."""
    robot = lw.load(WILD / "r103.urdf")
    return rounding_of(robot, Wish(grid="5mm", spread=1, pins={"hip_angle": None}, top=2))


def _slow(rounding: Rounding, robot: Robot) -> dict[int, float]:
    """Scores of a robot by the planner, the loads and the workspace of the full path."""
    build, peak, held = rounding.task.build, 0.0, 0.0
    margin = reach = gap = np.inf
    for walk, name in zip(rounding.cases.walks, rounding.cases.names, strict=True):
        own = replace(walk, footing=footing(robot))
        case = trial(robot, rounding.asked, own, payload=rounding.asked.payload,
                     samples=SAMPLES, name=name)  # fmt: skip
        assert case.motion.ok
        margin = min(margin, float(case.loads.margin.min()))
        gap = min(gap, joint_gap(robot, case.motion)[0])
        for index, leg in enumerate(robot.legs.values()):
            near = case.motion.q[:, robot.columns[leg.name]]
            reach = min(reach, float(reach_reserve(leg, case.motion.feet[:, index], near).min()))
        torque = np.abs(case.loads.torque).reshape(SAMPLES, -1, 3)
        peak = max(peak, float((torque / build.peak).max()))
        held = max(held, float((np.sqrt((torque**2).mean(axis=0)) / build.held).max()))
    return {MARGIN: margin, REACH: reach, GAP: gap, TORQUE: peak, HEAT: held}


@pytest.mark.parametrize("rank", [0, 4])
def test_scores_agree_with_the_full_path(rook: Rounding, rank: int) -> None:
    """Referee: lw.plan, lw.loads and reach_reserve on the rebuilt robot.

    Balance and reach are the same to rounding; torques differ by what is in motion, of which
    today's share is told.
    """
    one = rook.shortlist[rank]
    slow = _slow(rook, rebuilt(rook.robot, one.legs, rook.free.layout.values))
    for index in (MARGIN, REACH, GAP):
        assert one.scores[index] == pytest.approx(slow[index], abs=2e-6)
    for index, more in zip((TORQUE, HEAT), rook.inertia, strict=True):
        assert 0.0 < more < 0.05
        assert one.scores[index] * (1.0 + more) == pytest.approx(slow[index], rel=0.005)


def test_inertia_takes_room_from_the_demands(rook: Rounding, heron: Rounding) -> None:
    """A drive used to its limit at rest would be beyond it in motion."""
    for found in (rook, heron):
        need = demands(found.robot, found.asked, found.cases, found.inertia)
        for index, more in zip((TORQUE, HEAT), found.inertia, strict=True):
            assert need[index] * (1.0 + more) == pytest.approx(1.0)
    data = rounding_as_json(rook)
    assert data["inertia"] == {"torque": rook.inertia.torque, "heat": rook.inertia.heat}
    assert data["demands"]["torque"] < 1.0


def test_clearance_and_top_speed_agree_with_the_full_path(rook: Rounding) -> None:
    """Referee: MuJoCo's distances of the true shapes; the envelope's bisection with all limits."""
    one = rook.shortlist[0]
    robot = rebuilt(rook.robot, one.legs, rook.free.layout.values)
    stand, gaps = footing(robot), []
    for walk in rook.cases.walks[:4]:
        motion = lw.plan(robot, replace(walk, footing=stand), samples=SAMPLES)
        near = clearance(robot, motion.q).nearest
        assert near is not None
        gaps.append(near.distance)
    assert one.scores[CLEARANCE] == pytest.approx(min(gaps), abs=4e-3)
    name = f"{rook.cases.dash_gait} forward"
    walk = replace(rook.cases.walks[rook.cases.names.index(name)], footing=stand)
    walked = trial(robot, rook.asked, walk, payload=rook.asked.payload, name=name)
    bench = Bench(robot=robot, asked=rook.asked, footing=stand, cases={name: walked}, sloped={})
    gait = next(g for g in rook.asked.gaits if g.name == rook.cases.dash_gait)
    full = _top_speed(bench, gait, "forward")
    assert one.scores[SPEED] == pytest.approx(full.value, rel=0.08)


def test_search_finds_what_brute_force_finds(rook: Rounding) -> None:
    """Every layout of the lattice scored in full: the same five, in the same order."""
    task = rook.task
    picks = np.array(list(product(*(range(count) for count in task.counts))))
    rows = scored(task, picks)
    order = np.argsort(rows[:, LOSS], kind="stable")[:5]
    assert rook.found.proved
    assert rook.found.size == len(picks)
    np.testing.assert_allclose(rook.found.scores[:, LOSS], rows[order, LOSS], rtol=1e-12)
    np.testing.assert_array_equal(rook.found.picks[0], picks[order[0]])


@pytest.mark.parametrize("weight", [0.0, 0.003, 0.3])
def test_search_is_exact_however_little_distance_costs(rook: Rounding, weight: float) -> None:
    """The shortlist of a search in bands is that of brute force, also where nothing is cut off."""
    near = np.where(np.isfinite(rook.task.aim.near), rook.task.aim.near, 0.0) * weight / 0.1
    aim = rook.task.aim._replace(near=near)
    task = replace(rook.task, aim=aim)
    picks = np.array(list(product(*(range(count) for count in task.counts))))
    best = np.sort(scored(task, picks)[:, LOSS])[:7]
    found = search(task, top=7)
    assert found.proved
    np.testing.assert_allclose(found.scores[:, LOSS], best, rtol=1e-12, atol=1e-15)


def test_a_search_cut_short_says_so(rook: Rounding) -> None:
    """With too few looks for a proof, the answer is a neighbourhood's best, not proved."""
    aim = rook.task.aim._replace(near=rook.task.aim.near * 1e-6)
    found = search(replace(rook.task, aim=aim), top=3, most=20)
    assert not found.proved
    assert len(found.picks) == 3
    assert np.all(np.diff(found.scores[:, LOSS]) >= 0.0)


@pytest.mark.parametrize("name", ["rook", "heron", "wild"])
def test_the_new_folder_holds_the_layout(
    name: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Read back from its files, the robot has the rounded layout, feet and scores."""
    rounding: Rounding = request.getfixturevalue(name)
    best = rounding.shortlist[0]
    robot = written(rounding, best, tmp_path / "new")
    stand = footing(robot)
    again = layout_of(robot, stand.q)
    assert again.legs == rounding.free.layout.legs
    np.testing.assert_allclose(again.values, best.legs, atol=2e-8)
    feet = np.array(list(feet_of(rounding, best).values()))
    np.testing.assert_allclose(stand.feet, feet, atol=2e-6)
    slow = _slow(rounding, robot)
    for index in (MARGIN, GAP):
        assert best.scores[index] == pytest.approx(slow[index], abs=2e-5)
    aside = 1e-3 if name == "wild" else 2e-5  # the edge is approximate where the foot's plane
    assert best.scores[REACH] == pytest.approx(slow[REACH], abs=aside)  # misses the first axis
    assert robot.mass == pytest.approx(rounding.robot.mass, rel=0.03)
    with pytest.raises(lw.RobotError, match="exists already"):
        written(rounding, best, tmp_path / "new")


def test_a_moved_urdf_keeps_what_else_the_file_says(wild: Rounding, tmp_path: Path) -> None:
    """Only joints and links that moved differ; masses and limits are the old ones."""
    robot = written(wild, wild.shortlist[0], tmp_path / "new")
    old = wild.robot
    assert robot.mass == pytest.approx(old.mass, abs=1e-12)
    assert list(robot.tree.joints) == list(old.tree.joints)
    for name, joint in robot.tree.joints.items():
        assert (joint.lower, joint.upper) == (
            old.tree.joints[name].lower,
            old.tree.joints[name].upper,
        )
        np.testing.assert_allclose(joint.axis, old.tree.joints[name].axis, atol=1e-12)


def test_prices_are_those_of_one_dimension_alone(heron: Rounding) -> None:
    """Each price is the score of a robot that differs in this dimension only."""
    assert {price.key for price in heron.prices} == {
        one.key
        for one, value in zip(heron.free.dimensions, heron.shortlist[0].values, strict=True)
        if abs(one.today - value) > 1e-9
    }
    price = next(each for each in heron.prices if each.key == "femur")
    values = heron.free.today()
    values[[each.key for each in heron.free.dimensions].index("femur")] = price.after
    slow = _slow(heron, rebuilt(heron.robot, heron.free.legs(values), heron.free.layout.values))
    assert price.scores[MARGIN] == pytest.approx(slow[MARGIN], abs=1e-5)
    assert price.scores[REACH] == pytest.approx(slow[REACH], abs=1e-5)


def test_a_shell_that_counts_is_counted_once(heron: Rounding) -> None:
    assert any(shell.counted for shell in heron.robot.sheet.shell.values())
    one = heron.shortlist[0]
    built = rebuilt(heron.robot, one.legs, heron.free.layout.values)
    assert built.mass == pytest.approx(heron.robot.mass, rel=1e-12)
    assert built.sheet.shell == heron.robot.sheet.shell


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        (Wish(grid="0mm"), "grid is '0mm', must be a step"),
        (Wish(angle="7deg"), "divides 90 deg"),
        (Wish(pins={"thigh": None}), "pin is 'thigh', must be a dimension of this robot"),
        (Wish(pins={"hip_x.left": None}), "Did you mean 'hip_x.front'"),
    ],
)
def test_requests_that_cannot_be_met(wish: Wish, said: str) -> None:
    """One sentence with the value and the way out."""
    with pytest.raises(lw.RequestError) as error:
        rounding_of(lw.load(ROBOTS / "rook"), wish)
    assert said in str(error.value)


def test_a_lopsided_robot_is_told_where(tmp_path: Path) -> None:
    """A hip moved on one side only has no mirror image."""
    text = (ROBOTS / "heron" / "heron.urdf").read_text("utf-8")
    odd = text.replace('xyz="0.18 0.11 0"', 'xyz="0.185 0.11 0"', 1)
    assert odd != text
    (tmp_path / "odd.urdf").write_text(odd, "utf-8")
    with pytest.raises(lw.RequestError, match=r"left-front at .185.0, 110.0. mm"):
        rounding_of(lw.load(tmp_path / "odd.urdf"))


def test_mirrored_legs_score_as_if_each_were_solved_alone(rook: Rounding, heron: Rounding) -> None:
    """Referee: the same kernel with no leg taken for the image of another."""
    for rounding in (rook, heron):
        task = rounding.task
        legs, places = len(task.build.rows), task.places
        assert len(places.owner) < task.walks.lift.size / 2
        alone = _listed(
            task.walks, np.arange(legs), np.ones((legs, 3)), places.around,
            np.zeros(len(task.build.boxes), dtype=bool),
        )  # fmt: skip
        rng = np.random.default_rng(5)
        picks = np.stack([rng.integers(0, count, 40) for count in task.counts], axis=1)
        one, other = scored(task, picks), scored(replace(task, places=alone), picks)
        fine = np.isfinite(other[:, LOSS])
        assert fine.any()
        np.testing.assert_array_equal(np.isfinite(one[:, LOSS]), fine)
        np.testing.assert_allclose(one[fine], other[fine], rtol=1e-9, atol=1e-9)


def test_a_lame_leg_is_no_image(rook: Rounding) -> None:
    """A leg whose knee stops earlier, or weighs more, is solved on its own."""
    build, walks = rook.task.build, rook.task.walks
    for place in (27, 37):
        rows, solid = build.rows.copy(), build.solid.copy()
        rows[4, place] += 0.05
        if place == 37:
            solid[4, 1, :, 0] += 0.05
        changed = build._replace(rows=rows, solid=solid)
        flip = places_of(changed, walks, rook.task.values, rook.task.counts).flip
        assert (flip[4] == 1.0).all()
        assert not (flip[3] == 1.0).all()


@pytest.mark.parametrize("legs", [5, 7])
def test_rings_with_a_leg_on_the_centre_line(tmp_path: Path, legs: int) -> None:
    """Each dimension has a name of its own; the new robot stands where the layout says."""
    robot = lw.load(new_robot(tmp_path / "finch", legs=legs))
    found = rounding_of(robot, Wish(grid="10mm", spread=1, top=1))
    keys = [each.key for each in found.free.dimensions]
    assert len(set(keys)) == len(keys)
    assert "hip_x.front" in keys and "hip_y.front" not in keys
    best = found.shortlist[0]
    again = written(found, best, tmp_path / "round")
    stand = footing(again)
    np.testing.assert_allclose(layout_of(again, stand.q).values, best.legs, rtol=0.0, atol=1e-9)
    assert again.mass == pytest.approx(robot.mass, rel=1e-6)
