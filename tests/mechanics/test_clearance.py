"""Clearance against Pinocchio with coal, analytic cases and its own invariances."""

from __future__ import annotations

import itertools
from pathlib import Path

import coal
import numpy as np
import pinocchio as pin
import pytest
import trimesh
from scipy.optimize import minimize
from square_walker import FOOT_RADIUS, walker

from legwright.errors import RequestError, RobotError
from legwright.mechanics._bounds import segments
from legwright.mechanics.clearance import BLOCK, clearance, free_share, range_clearance
from legwright.mechanics.gauge import gauge_of
from legwright.mechanics.neighbours import joint_ranges, pairs_of, random_poses
from legwright.mechanics.shapes import link_poses
from legwright.robot.hulls import hull_points
from legwright.robot.loading import load
from legwright.robot.robot import Robot

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))


def read(path: Path) -> Robot:
    return load(path, solver=lambda chain: None)


class Referee:
    """The same URDF in Pinocchio; distances by coal."""

    def __init__(self, path: Path, robot: Robot) -> None:
        self.model = pin.buildModelFromUrdf(str(path))
        self.data = self.model.createData()
        self.shapes = pin.buildGeomFromUrdf(self.model, str(path), pin.COLLISION)
        self.index = {obj.name: i for i, obj in enumerate(self.shapes.geometryObjects)}
        self.robot = robot

    def place(self, q: np.ndarray) -> list[pin.SE3]:
        full = pin.neutral(self.model)
        for name, value in zip(self.robot.joint_names, q, strict=True):
            joint = self.model.joints[self.model.getJointId(name)]
            if joint.nq == 2:
                full[joint.idx_q : joint.idx_q + 2] = np.cos(value), np.sin(value)
            else:
                full[joint.idx_q] = value
        pin.forwardKinematics(self.model, self.data, full)
        return [self.data.oMi[o.parentJoint] * o.placement for o in self.shapes.geometryObjects]

    def distance(self, poses: list[pin.SE3], one: str, two: str) -> float:
        i, j = self.index[one], self.index[two]
        objects = self.shapes.geometryObjects
        request, result = coal.DistanceRequest(), coal.DistanceResult()
        request.enable_signed_distance = True
        return coal.distance(
            objects[i].geometry,
            coal.Transform3s(poses[i].rotation, poses[i].translation),
            objects[j].geometry,
            coal.Transform3s(poses[j].rotation, poses[j].translation),
            request,
            result,
        )


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_distances_against_coal(path):
    """Referee: Pinocchio's URDF reader and kinematics, coal's distances (another engine).

    Where shapes overlap, depths of round shapes differ by the engines' own tolerance; there
    the sign and one tenth of a millimetre are held.
    """
    robot = read(path)
    gauge, pairs = gauge_of(robot), pairs_of(robot)
    referee = Referee(path, robot)
    poses = random_poses(robot, 6, seed=5)
    placed = gauge.placed(poses)
    rng = np.random.default_rng(8)
    for t in range(len(poses)):
        theirs = referee.place(poses[t])
        for p in rng.choice(len(pairs.shapes), 40, replace=False):
            i, j = pairs.shapes[p]
            names = [gauge.model.geom(int(k)).name.replace("/", "_") for k in (i, j)]
            want = referee.distance(theirs, *names)
            got = gauge.distance(placed, t, pairs.shapes[p])
            assert got == pytest.approx(want, abs=1e-5 if want > 0.0 else 1e-4)


@pytest.mark.parametrize("path", WILD[:3], ids=lambda p: p.stem)
def test_nearest_of_a_cycle_is_the_least_of_all(path):
    """Referee: every pair in every pose measured one by one, nothing ruled out."""
    robot = read(path)
    gauge, pairs = gauge_of(robot), pairs_of(robot)
    lower, upper = joint_ranges(robot)
    rng = np.random.default_rng(2)
    poses = 0.5 * (lower + upper) + rng.uniform(-0.3, 0.3, (12, len(lower)))
    placed = gauge.placed(poses)
    every = [
        (gauge.distance(placed, t, pair), t, links)
        for t in range(len(poses))
        for pair, links in zip(pairs.shapes, pairs.links, strict=True)
    ]
    found = clearance(robot, poses, within=0.05)
    assert found.nearest is not None
    distance, sample, links = min(every)
    assert found.distance == pytest.approx(distance, abs=1e-9)
    assert (found.nearest.sample, found.nearest.links) == (sample, links)
    close: dict[tuple[str, str], float] = {}
    for gap, _, names in every:
        close[names] = min(gap, close.get(names, np.inf))
    want = {names: gap for names, gap in close.items() if gap <= 0.05}
    assert {near.links for near in found.close} == set(want)
    for near in found.close:
        assert near.distance == pytest.approx(want[near.links], abs=1e-9)


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_bounds_never_exceed_distances(path):
    """A bound above the true distance would hide a collision: none may be."""
    robot = read(path)
    gauge, pairs = gauge_of(robot), pairs_of(robot)
    poses = random_poses(robot, 4, seed=9)
    placed = gauge.placed(poses)
    true = np.array(
        [[gauge.distance(placed, t, pair) for pair in pairs.shapes] for t in range(len(poses))]
    )
    at, which, bound = gauge.near(placed, pairs.shapes, np.inf)
    assert len(at) == true.size  # every one of them, once
    assert len(set(zip(at.tolist(), which.tolist(), strict=True))) == true.size
    assert np.all(bound <= true[at, which] + 1e-6)
    centre, reach = placed.centre, gauge.reach
    first, second = pairs.shapes.T
    balls = np.linalg.norm(centre[:, first] - centre[:, second], axis=-1)
    balls -= reach[first] + reach[second]
    assert np.all(balls <= true + 1e-6)
    assert balls[gauge.closest(placed, pairs.shapes)] == balls.min()
    for enough in (-0.01, 0.0, 0.02):
        some, pair, low = gauge.near(placed, pairs.shapes, enough)
        left = np.ones(true.shape, dtype=bool)
        left[some, pair] = False
        assert (true[left] > enough - 1e-6).all()
        assert (low <= enough).all()


def test_segment_distance_against_an_optimiser():
    """Referee: scipy L-BFGS-B on the two segment parameters; degenerate cases included."""
    rng = np.random.default_rng(0)
    offset, a, b = rng.normal(size=(3, 60, 3))
    a[:5], b[3:8], b[8:12] = 0.0, 0.0, 0.5 * a[8:12]
    ours = [segments(*offset[i], a[i], b[i]) for i in range(60)]
    for i in range(60):

        def gap(x, i=i):
            return float(np.sum((offset[i] + x[0] * a[i] - x[1] * b[i]) ** 2))

        best = min(
            minimize(gap, start, bounds=[(-1, 1)] * 2, tol=1e-15).fun
            for start in ((0, 0), (0.9, 0.9), (-0.9, 0.9), (0.9, -0.9), (-0.9, -0.9))
        )
        assert ours[i] == pytest.approx(np.sqrt(best), abs=1e-6)


def test_points_are_as_far_apart_as_the_distance():
    """Two nearest points span the distance, whatever the root's frame."""
    robot = read(WILD[0])
    near = clearance(robot, random_poses(robot, 3, seed=1)[:1], within=-1.0).nearest
    assert near is not None
    span = float(np.linalg.norm(near.points[0] - near.points[1]))
    assert span == pytest.approx(abs(near.distance), abs=1e-5)


def test_range_is_at_least_as_near_as_any_sample():
    """The refined pose lies inside the limits, is measured right, and none sampled is nearer."""
    robot = read(WILD[5])
    lower, upper = joint_ranges(robot)
    whole = range_clearance(robot, samples=150, seed=4)
    again = clearance(robot, random_poses(robot, 150, seed=4))
    assert whole.nearest is not None
    assert whole.distance <= again.distance + 1e-12
    assert np.all((whole.nearest.q >= lower) & (whole.nearest.q <= upper))
    back = clearance(robot, whole.nearest.q)
    assert back.distance == pytest.approx(whole.distance, abs=1e-9)
    assert set(back.nearest.links) == set(whole.nearest.links)


def test_range_finds_what_few_samples_miss(tmp_path):
    """Referee: all 4096 corners of the joint ranges of the two legs of one side, the nearest
    of which random poses hardly ever meet."""
    robot = walker(tmp_path, limit=0.75)
    corners = np.array(list(itertools.product((-0.75, 0.75), repeat=6)))
    q = np.zeros((len(corners), 12))
    q[:, :6] = corners
    want = clearance(robot, q).distance
    few = clearance(robot, random_poses(robot, 60, seed=1)).distance
    found = range_clearance(robot, samples=60, seed=1)
    assert few > want + 0.005
    assert found.distance <= want + 1e-6


def test_free_share_of_the_joint_ranges(tmp_path):
    """By its meaning: inside the share no pose of the same sample collides, a bit beyond one
    does; whole ranges that are narrow enough are free; a pose that collides has no share."""
    robot = walker(tmp_path)
    stand = np.zeros(12)
    share = free_share(robot, stand, samples=300, seed=5)
    assert 0.1 < share < 1.0
    away = random_poses(robot, 300, seed=5)
    assert clearance(robot, share * away).distance >= 0.0
    assert clearance(robot, min(share + 1 / 128, 1.0) * away).distance < 0.0
    (tmp_path / "narrow").mkdir()
    assert free_share(walker(tmp_path / "narrow", limit=0.1), stand, samples=100) == 1.0
    clash = clearance(robot, away).nearest
    assert clash is not None
    assert free_share(robot, clash.q, samples=50) == 0.0


def test_gauge_places_mimics_and_held_joints_as_link_poses_do(tmp_path):
    """Two ways to place a shape, MuJoCo's and ours, with a mast joint that follows a femur."""
    text = WILD[0].read_text(encoding="utf-8")
    plain = read(WILD[0])
    source = next(iter(plain.legs.values())).joint_names[1]
    follower = next(iter(plain.held))
    end = text.index("</joint>", text.index(f'name="{follower}"'))
    text = text[:end] + f'<mimic joint="{source}" multiplier="2" offset="0.1"/>' + text[end:]
    tip = plain.tree.joints[follower].child
    text = text.replace(
        "</robot>",
        (
            f'<link name="flag"><collision><geometry><sphere radius="0.01"/></geometry></collision>'
            f'</link><joint name="flag" type="fixed"><parent link="{tip}"/><child link="flag"/>'
            f'<origin xyz="0.1 0.05 0.02"/></joint></robot>'
        ),
    )
    (tmp_path / "mimic.urdf").write_text(text, encoding="utf-8")
    robot = read(tmp_path / "mimic.urdf")
    q = random_poses(robot, 5, seed=2)
    gauge, poses = gauge_of(robot), link_poses(robot, q)
    placed = gauge.placed(q)
    flag = np.broadcast_to(poses["flag"], (5, 4, 4))
    assert np.ptp(flag[:, :3, 3], axis=0).max() > 0.01  # it does move
    for t in range(5):
        turn = placed.body[t, 3:].reshape(3, 3)
        for g, name in enumerate(gauge.link):
            (only,) = robot.tree.links[name].shapes
            pose = poses[name] if poses[name].ndim == 2 else poses[name][t]
            want = (pose @ only.placement)[:3, 3]
            got = turn.T @ (placed.centre[t, g] - placed.body[t, :3])
            np.testing.assert_allclose(got, want, atol=1e-9)


def test_blocks_of_poses_make_no_difference():
    """More poses than one block holds: the same as the better of its halves."""
    robot = read(WILD[3])
    q = random_poses(robot, BLOCK + 300, seed=6)
    whole = clearance(robot, q)
    halves = [clearance(robot, q[:BLOCK]), clearance(robot, q[BLOCK:])]
    assert whole.distance == pytest.approx(min(half.distance for half in halves), abs=1e-12)
    apart: dict[tuple[str, str], float] = {}
    for half in halves:
        for near in half.close:
            apart[near.links] = min(near.distance, apart.get(near.links, np.inf))
    found = {near.links: near.distance for near in whole.close}
    assert found == pytest.approx(apart, abs=1e-12)
    for near in whole.close:
        np.testing.assert_array_equal(near.q, q[near.sample])


def test_wrong_number_of_joints_is_refused():
    with pytest.raises(RequestError, match="joint positions"):
        clearance(read(WILD[0]), np.zeros((4, 3)))


def test_sphere_to_sphere_by_hand(tmp_path):
    """Feet alone: the distance of their centres less two radii."""
    robot = walker(tmp_path)
    gauge, pairs = gauge_of(robot), pairs_of(robot)
    q = random_poses(robot, 20, seed=7)
    placed, poses = gauge.placed(q), link_poses(robot, q)
    balls = [
        (pair, names)
        for pair, names in zip(pairs.shapes, pairs.links, strict=True)
        if all(name.endswith("_foot") for name in names)
    ]
    assert len(balls) == 6
    for pair, (one, two) in balls:
        gap = np.linalg.norm(poses[one][:, :3, 3] - poses[two][:, :3, 3], axis=1)
        for t in range(20):
            want = gap[t] - 2 * FOOT_RADIUS
            assert gauge.distance(placed, t, pair) == pytest.approx(want, abs=1e-9)


def test_known_gap_of_the_standing_walker(tmp_path):
    """By hand: at zero the nearest are femur (radius 8 mm, from 50 mm outside the hip) and
    trunk (edge at the hip): 50 mm along y, both at the height of the hip."""
    near = clearance(walker(tmp_path), np.zeros(12)).nearest
    assert near is not None
    assert near.distance == pytest.approx(0.05, abs=1e-6)
    assert {name.split("_")[-1] for name in near.links} == {"body", "femur"}
    assert near.points[:, 1] == pytest.approx(
        [np.sign(near.points[0, 1]) * y for y in (0.08, 0.13)], abs=1e-6
    )


def test_neighbours_are_not_measured(tmp_path):
    """Links joined by a joint or fixed together never count; a coxa without shape is no link."""
    links = pairs_of(walker(tmp_path)).links
    assert ("body", "lf_coxa") not in links
    assert ("lf_tibia", "lf_foot") not in links
    assert ("lf_coxa", "lf_tibia") in links
    assert ("body", "lf_femur") in links
    bare = pairs_of(walker(tmp_path, coxa=""))
    assert ("body", "lf_femur") not in bare.links
    assert ("body", "lf_tibia") in bare.links
    assert bare.left_out == ()


def test_shapes_drawn_too_coarsely_are_left_out_and_named(tmp_path):
    """A trunk drawn as a disc beyond the coxas overlaps every femur at every pose."""
    robot = walker(tmp_path, trunk='<cylinder radius="0.6" length="0.3"/>')
    pairs = pairs_of(robot)
    said = " ".join(pairs.left_out)
    assert all(f"body and {leg}_femur" in said for leg in ("lf", "lr", "rf", "rr"))
    assert ("body", "lf_femur") not in pairs.links
    assert ("body", "lf_tibia") in pairs.links  # three joints apart: a real clash
    found = clearance(robot, np.zeros(12))
    assert found.distance < 0.0
    assert found.left_out == pairs.left_out


def test_meshes_count_as_hulls(tmp_path):
    """A box written as a mesh file gives the distances of the box; a flat one is thickened."""
    trimesh.creation.box((300.0, 160.0, 60.0)).export(tmp_path / "trunk.stl")
    mesh = walker(tmp_path, trunk='<mesh filename="trunk.stl" scale="0.001 0.001 0.001"/>')
    (tmp_path / "plain").mkdir()
    box = walker(tmp_path / "plain")
    q = random_poses(box, 30, seed=3)
    one, two = clearance(mesh, q, within=0.02), clearance(box, q, within=0.02)
    assert one.distance == pytest.approx(two.distance, abs=1e-5)
    assert {near.links for near in one.close} == {near.links for near in two.close}
    sheet = trimesh.Trimesh([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], [[0, 1, 2], [0, 2, 3]])
    sheet.export(tmp_path / "flat.stl")
    assert len(hull_points(tmp_path / "flat.stl", (0.1, 0.1, 0.1))) == 8
    thin = walker(tmp_path, trunk='<mesh filename="flat.stl" scale="0.003 0.003 0.003"/>')
    assert np.isfinite(clearance(thin, q).distance)


def test_a_file_that_is_no_mesh_is_named(tmp_path):
    (tmp_path / "broken.stl").write_text("not a mesh", encoding="utf-8")
    with pytest.raises(RobotError, match=r"broken\.stl"):
        hull_points(tmp_path / "broken.stl", (1.0, 1.0, 1.0))


def test_positions_that_are_no_numbers_are_refused():
    robot = read(WILD[3])
    with pytest.raises(RequestError, match="finite"):
        clearance(robot, np.full(len(robot.joint_names), np.nan))
