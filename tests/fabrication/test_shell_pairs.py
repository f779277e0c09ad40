"""Shells against shells: an independent collision library, closed forms, the robot's own links."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation
from solid_shapes import box, of

import legwright as lw
from legwright.fabrication.mesh import Mesh
from legwright.fabrication.rays import box_tree
from legwright.fabrication.shell_pairs import (
    Worn,
    moving_pairs,
    pair_gap,
    pair_range,
    surface_gaps,
)
from legwright.mechanics.shapes import link_poses
from legwright.study.checks.shell_pairs import (
    has_pairs,
    pair_gait_finding,
    pair_still_finding,
    worn,
)
from legwright.study.finding import Verdict
from legwright.study.shell_evidence import pair_evidence
from legwright.views.shell_sheets import _pairs

ROBOTS = Path(__file__).parents[2] / "robots"


def _cup(size: float) -> Mesh:
    lower = trimesh.transformations.translation_matrix([0, 0, -0.05 * size])
    return of(
        trimesh.boolean.difference(
            [
                trimesh.creation.cylinder(size, 0.6 * size, sections=40),
                trimesh.creation.cylinder(0.95 * size, 0.6 * size, sections=40, transform=lower),
            ]
        )
    )


def _surface(mesh: Mesh):
    import coal

    corners, triangles = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
    for point in mesh.points:
        corners.append(point)
    for face in mesh.faces:
        triangles.append(coal.Triangle(*(int(i) for i in face)))
    surface = coal.BVHModelOBBRSS()
    surface.beginModel(len(mesh.faces), len(mesh.points))
    surface.addSubModel(corners, triangles)
    surface.endModel()
    return surface


def _theirs(one, place, other, pose) -> float:
    import coal

    request, result = coal.DistanceRequest(), coal.DistanceResult()
    frames = [coal.Transform3s(each[:3, :3], each[:3, 3]) for each in (place, pose)]
    return coal.distance(one, frames[0], other, frames[1], request, result)


def test_distances_of_hollow_surfaces_agree_with_coal() -> None:
    """Referee: coal, triangles against triangles; also one inside the other, not touching."""
    one, other = _cup(0.08), _cup(0.03)
    rng = np.random.default_rng(5)
    poses = np.tile(np.eye(4), (900, 1, 1))
    poses[:, :3, :3] = Rotation.random(900, random_state=5).as_matrix()
    poses[:, :3, 3] = rng.uniform([-0.12, -0.12, -0.08], [0.12, 0.12, 0.08], (900, 3))
    poses[0] = np.eye(4)
    ours = surface_gaps(box_tree(one), box_tree(other), poses, most=0.5)
    a, b = _surface(one), _surface(other)
    expected = np.array([_theirs(a, np.eye(4), b, pose) for pose in poses])
    apart = expected > 1e-9
    assert 200 < apart.sum() < 800 and apart[0]
    np.testing.assert_array_equal(ours > 1e-9, apart)
    np.testing.assert_allclose(ours[apart], expected[apart], atol=1e-9)
    near = surface_gaps(box_tree(one), box_tree(other), poses, most=0.01)
    np.testing.assert_array_equal(np.isfinite(near), ours < 0.01)


def _placed(robot, q):
    """Poses of all links, (T, 4, 4) each."""
    poses = link_poses(robot, q)
    return {name: np.broadcast_to(each, (len(q), 4, 4)) for name, each in poses.items()}


@pytest.fixture(scope="module")
def dressed(tmp_path_factory):
    """Wren with its hood and six covers around the femurs, one of them wider."""
    folder = tmp_path_factory.mktemp("dressed")
    for name, more in (("cover", 0.0), ("wide", 0.004)):
        outer = trimesh.creation.box((0.052, 0.034 + more, 0.030))
        inner = trimesh.creation.box((0.060, 0.031 + more, 0.027))
        tube = trimesh.boolean.difference([outer, inner])
        tube.apply_translation((0.026, 0.0, 0.0))
        tube.apply_scale(1000.0)
        tube.export(folder / f"{name}.stl")
    plain = lw.load(ROBOTS / "wren")
    lines = [f'extends = "{(ROBOTS / "wren" / "robot.toml").as_posix()}"']
    for leg in plain.legs:
        mesh = "wide" if leg == "left-middle" else "cover"
        link = f"{leg.replace('-', '_')}_femur_link"
        lines += [f"[shell.{leg}]", f'mesh = "{mesh}.stl"', f'link = "{link}"', "counted = false"]
    (folder / "robot.toml").write_text("\n".join(lines))
    return lw.load(folder)


def _bench(robot, walks):
    cases = {name: lw.plan(robot, walk, samples=32) for name, walk in walks.items()}
    made = [SimpleNamespace(name=name, motion=motion) for name, motion in cases.items()]
    return SimpleNamespace(robot=robot, of=lambda gait: made), cases


def test_the_nearest_pair_of_a_walk_is_that_of_brute_force(dressed) -> None:
    """Referee: coal on every pair in every pose, links placed by the robot's own kinematics."""
    walk = lw.Walk(lw.gait("wave", legs=6), velocity=(0.03, 0.0), cycle=2.4)
    bench, cases = _bench(dressed, {"wave forward": walk})
    assert has_pairs(bench)
    shells = {name: one for name, (one, _) in worn(bench).items()}
    pairs = list(moving_pairs(dressed, list(shells.values())))
    assert len(shells) == 7 and len(pairs) == 21
    surfaces = {name: _surface(one.mesh) for name, one in shells.items()}
    q = cases["wave forward"].q[::2]
    places = _placed(dressed, q)
    best = min(
        (_theirs(surfaces[one.name], places[one.link][t], surfaces[other.name],
                 places[other.link][t]), one.name, other.name, t)
        for one, other in combinations(shells.values(), 2)
        for t in range(len(q))
    )  # fmt: skip
    (found,) = pair_gait_finding(bench, "wave")
    assert found.value == pytest.approx(1e3 * best[0], abs=1e-6)
    assert set(found.parts) == {best[1], best[2]}
    assert found.limit == pytest.approx(1e3 * dressed.sheet.requirements.link_clearance)
    one, other = (shells[name] for name in found.parts)
    near = pair_gap(dressed, one, other, q)
    assert near is not None and near.sample == best[3]
    assert np.linalg.norm(near.points[1] - near.points[0]) == pytest.approx(best[0], abs=1e-9)


def test_the_closest_poses_are_drawn(dressed) -> None:
    """The pair and pose of the finding, on a sheet whose lettering keeps apart."""
    walk = lw.Walk(lw.gait("wave", legs=6), velocity=(0.03, 0.0), cycle=2.4)
    bench, cases = _bench(dressed, {"wave forward": walk})
    case = SimpleNamespace(name="wave forward", walk=walk, motion=cases["wave forward"])
    study = SimpleNamespace(robot=dressed, cases={"wave forward": case})
    (found,) = pair_gait_finding(bench, "wave")
    walking, ranges = pair_evidence.__wrapped__(study)
    assert walking.gap.shells == found.parts
    assert walking.gap.distance == pytest.approx(1e-3 * found.value)
    assert walking.words in found.why
    assert ranges.gap.distance < walking.gap.distance
    sheet = _pairs(dressed, walking, ranges)
    labels = [label for label in sheet.drawing.labels if label.text]
    for one, other in combinations(labels, 2):
        assert not one.meets(other, gap=-0.3), (one.text, other.text)
    plain = SimpleNamespace(robot=lw.load(ROBOTS / "wren"), cases={})
    assert pair_evidence.__wrapped__(plain) is None


def test_driven_into_each_other_by_hand(dressed) -> None:
    """Referee: coal on as many random poses says that neighbours meet as often."""
    bench, _ = _bench(dressed, {})
    shells = {name: one for name, (one, _) in worn(bench).items()}
    one, other = shells["left-front"], shells["left-middle"]
    found = pair_range(dressed, one, other)
    assert found.nearest is not None and found.nearest.met == (found.met > 0.0)
    rng = np.random.default_rng(9)
    lower = np.concatenate([leg.lower for leg in dressed.legs.values()])
    upper = np.concatenate([leg.upper for leg in dressed.legs.values()])
    places = _placed(dressed, rng.uniform(lower, upper, (1000, len(lower))))
    a, b = _surface(one.mesh), _surface(other.mesh)
    met = np.mean([_theirs(a, places[one.link][t], b, places[other.link][t]) <= 0.0
                   for t in range(1000)])  # fmt: skip
    assert found.met == pytest.approx(met, abs=4.0 * np.sqrt(0.25 / 1000))
    (told,) = pair_still_finding(bench)
    assert told.verdict is Verdict.PASS and told.parts


def _two(gap: float):
    """Blocks of 20 mm, one on the trunk, one on a link that a joint turns about it."""
    robot = lw.load(ROBOTS / "wren")
    link = "left_front_coxa_link"
    base = _placed(robot, np.zeros((1, len(robot.joint_names))))[link][0]
    first = Worn("first", robot.body, box((0.02, 0.02, 0.02)).moved(base), None)
    shift = np.eye(4)
    shift[2, 3] = 0.02 + gap
    second = box((0.02, 0.02, 0.02)).moved(shift)
    pair = (
        first._replace(tree=box_tree(first.mesh)),
        Worn("second", link, second, box_tree(second)),
    )
    return robot, pair, np.zeros((1, len(robot.joint_names)))


@pytest.mark.parametrize("gap", [0.004, 0.0005, -0.003, -0.008])
def test_blocks_above_each_other(gap) -> None:
    """By hand: the gap; where they overlap, at least half of the overlap is found, never more."""
    robot, (one, other), q = _two(gap)
    found = pair_gap(robot, one, other, q)
    assert found is not None
    if gap > 0.0:
        assert not found.met and found.distance == pytest.approx(gap, abs=1e-9)
    else:
        assert found.met and gap - 1e-9 <= found.distance <= 0.5 * gap


def test_shells_that_nothing_moves_apart_are_no_pair(dressed) -> None:
    femur, tibia = "left_front_femur_link", "left_front_tibia_link"
    links = {"a": dressed.body, "b": dressed.body, "c": femur, "d": tibia}
    shells = [Worn(name, link, None, None) for name, link in links.items()]
    pairs = {(one.name, other.name) for one, other in moving_pairs(dressed, shells)}
    assert pairs == {("a", "c"), ("b", "c"), ("a", "d"), ("b", "d"), ("c", "d")}
    bench, _ = _bench(lw.load(ROBOTS / "wren"), {})
    assert not has_pairs(bench)
    assert list(pair_still_finding(bench)) == []
