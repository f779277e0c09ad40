"""Distances of moving links from hollow shells: against coal, closed forms and brute force."""

import warnings
from itertools import product

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation
from solid_shapes import box, of

import legwright as lw
from legwright.fabrication._way_kernel import chain, swing
from legwright.fabrication.gap import (
    body_of,
    gap,
    gaps,
    inside,
    nearest_placed,
    pieces,
    placed,
)
from legwright.fabrication.mesh import Mesh
from legwright.fabrication.rays import box_tree
from legwright.fabrication.shell_sweep import nearest_gap, pose_gaps, range_gap
from legwright.fabrication.way_between import Way, drive_values, way_between
from legwright.mechanics.shapes import link_poses
from legwright.robot.paths import step_of
from legwright.robot.tree import Joint, JointKind, Shape, ShapeKind

ROBOT = "robots/wren"


@pytest.fixture(scope="module")
def cup() -> Mesh:
    lower = trimesh.transformations.translation_matrix([0, 0, -0.004])
    return of(
        trimesh.boolean.difference(
            [
                trimesh.creation.cylinder(0.08, 0.05, sections=48),
                trimesh.creation.cylinder(0.076, 0.05, sections=48, transform=lower),
            ]
        )
    )


def _random_poses(count: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    poses = np.tile(np.eye(4), (count, 1, 1))
    poses[:, :3, :3] = Rotation.random(count, random_state=seed).as_matrix()
    poses[:, :3, 3] = rng.uniform([-0.1, -0.1, -0.06], [0.1, 0.1, 0.06], (count, 3))
    return poses


def _referee(mesh: Mesh, shape, poses: np.ndarray) -> np.ndarray:
    """Distances by the collision library coal, triangles against an exact shape."""
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
    found = []
    for pose in poses:
        place = coal.Transform3s(pose[:3, :3], pose[:3, 3])
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            request, result = coal.DistanceRequest(), coal.DistanceResult()
            found.append(coal.distance(surface, coal.Transform3s(), shape, place, request, result))
    return np.array(found)


@pytest.mark.parametrize("kind", ["box", "cylinder", "sphere"])
def test_distances_agree_with_coal(cup, kind):
    import coal

    shape, theirs = {
        "box": ((ShapeKind.BOX, (0.05, 0.03, 0.02)), coal.Box(0.05, 0.03, 0.02)),
        "cylinder": ((ShapeKind.CYLINDER, (0.007, 0.06)), coal.Cylinder(0.007, 0.06)),
        "sphere": ((ShapeKind.SPHERE, (0.009,)), coal.Sphere(0.009)),
    }[kind]
    body = body_of(Shape(kind=shape[0], size=shape[1], placement=np.eye(4)))
    poses = _random_poses(1500, 4)
    ours, expected = gaps(box_tree(cup), body, poses), _referee(cup, theirs, poses)
    apart = expected > 1e-6
    assert 100 < apart.sum() < 1400
    np.testing.assert_array_equal(ours > 1e-9, apart)
    np.testing.assert_allclose(ours[apart], expected[apart], atol=2e-6)


def test_a_hull_is_measured_like_the_box_that_it_is(cup, tmp_path):
    path = tmp_path / "block.stl"
    trimesh.creation.box((0.05, 0.03, 0.02)).export(path)
    hull = body_of(Shape(kind=ShapeKind.MESH, size=(1.0,) * 3, placement=np.eye(4), mesh=path))
    exact = body_of(Shape(kind=ShapeKind.BOX, size=(0.05, 0.03, 0.02), placement=np.eye(4)))
    poses = _random_poses(200, 9)
    tree = box_tree(cup)
    np.testing.assert_allclose(gaps(tree, hull, poses), gaps(tree, exact, poses), atol=1e-8)


def test_nearest_points_of_a_ball_over_a_slab():
    slab = box((0.2, 0.2, 0.01))
    body = body_of(Shape(kind=ShapeKind.SPHERE, size=(0.02,), placement=np.eye(4)))
    pose = np.eye(4)
    pose[:3, 3] = [0.03, -0.02, 0.055]
    found = gap(box_tree(slab), body, pose[None])
    assert found.distance == pytest.approx(0.03, abs=1e-9)
    np.testing.assert_allclose(
        found.points, [[0.03, -0.02, 0.005], [0.03, -0.02, 0.035]], atol=1e-9
    )


def test_depth_of_points_in_shapes():
    spots = np.array([[0.0, 0.0, 0.0], [0.019, 0.0, 0.0], [0.05, 0.0, 0.0]])
    still = np.eye(4)[None]
    ball = body_of(Shape(kind=ShapeKind.SPHERE, size=(0.02,), placement=np.eye(4)))
    np.testing.assert_allclose(inside(ball, spots, still), [0.02, 0.001, -0.03], atol=1e-12)
    brick = body_of(Shape(kind=ShapeKind.BOX, size=(0.04, 0.1, 0.1), placement=np.eye(4)))
    np.testing.assert_allclose(inside(brick, spots, still), [0.02, 0.001, -0.03], atol=1e-12)
    rod = body_of(Shape(kind=ShapeKind.CYLINDER, size=(0.02, 0.1), placement=np.eye(4)))
    np.testing.assert_allclose(inside(rod, spots, still), [0.02, 0.001, -0.03], atol=1e-12)


@pytest.fixture(scope="module")
def wren():
    return lw.load(ROBOT)


def test_poses_between_links_are_those_of_the_whole_robot(wren):
    rng = np.random.default_rng(2)
    q = rng.uniform(-0.5, 0.5, size=(5, len(wren.joint_names)))
    everything = link_poses(wren, q)
    for start, end in (
        (wren.body, "left_front_foot"),
        ("left_rear_tibia_link", wren.body),
        ("left_front_femur_link", "right_rear_tibia_link"),
        (wren.body, "mast_camera"),
    ):
        way = way_between(wren, start, end)
        got = way.poses(drive_values(wren, way, q))
        a = np.broadcast_to(everything[start], (5, 4, 4))
        expected = np.linalg.inv(a) @ np.broadcast_to(everything[end], (5, 4, 4))
        np.testing.assert_allclose(got, expected, atol=1e-12)


LEANING = np.eye(4)
LEANING[:3, :3] = Rotation.from_euler("xyz", [0.4, -0.7, 0.2]).as_matrix()
LEANING[:3, 3] = [0.01, 0.0, -0.02]
SHAPES = {
    "box": Shape(kind=ShapeKind.BOX, size=(0.05, 0.03, 0.02), placement=LEANING),
    "rod": Shape(kind=ShapeKind.CYLINDER, size=(0.007, 0.06), placement=LEANING),
    "disc": Shape(kind=ShapeKind.CYLINDER, size=(0.03, 1e-7), placement=LEANING),
    "ball": Shape(kind=ShapeKind.SPHERE, size=(0.02,), placement=LEANING),
}


def _points_of(shape: Shape, rng: np.random.Generator) -> np.ndarray:
    """Points of a shape, its outermost among them, in its link's frame."""
    spots = rng.normal(size=(60, 3))
    if shape.kind is ShapeKind.BOX:
        spots = 0.5 * np.array(shape.size) * np.sign(spots)
    elif shape.kind is ShapeKind.CYLINDER:
        spots[:, :2] *= shape.size[0] / np.linalg.norm(spots[:, :2], axis=1)[:, None]
        spots[:, 2] = 0.5 * shape.size[1] * np.sign(spots[:, 2])
    else:
        spots *= shape.size[0] / np.linalg.norm(spots, axis=1)[:, None]
    return spots @ shape.placement[:3, :3].T + shape.placement[:3, 3]


def _out_of(shape: Shape, spots: np.ndarray) -> np.ndarray:
    """Distances of points in the link's frame from a shape, by closed forms."""
    local = (spots - shape.placement[:3, 3]) @ shape.placement[:3, :3]
    if shape.kind is ShapeKind.BOX:
        out = np.abs(local) - 0.5 * np.array(shape.size)
    elif shape.kind is ShapeKind.CYLINDER:
        flat = np.hypot(local[:, 0], local[:, 1])
        out = np.stack([flat - shape.size[0], np.abs(local[:, 2]) - 0.5 * shape.size[1]], axis=1)
    else:
        out = np.linalg.norm(local, axis=1, keepdims=True) - shape.size[0]
    return np.linalg.norm(np.maximum(out, 0.0), axis=1)


def _swung(way, values: np.ndarray, half: np.ndarray, body) -> tuple[float, np.ndarray]:
    """How far the kernel lets a body be from a pose, and the share of each drive."""
    seen, each = np.empty(6 * len(way.steps) + 12), np.empty(len(way.drives))
    chain(way.packed, values, seen)
    return swing(way.packed, seen, half, body.ends, body.around, each), each


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
@pytest.mark.parametrize(("start", "end"), [("", "left_front_foot"), ("left_front_foot", "")])
@pytest.mark.parametrize("size", [0.05, 0.5, 1.0])
def test_no_shape_comes_further_than_its_swing(wren, shape, start, end, size):
    """Both ways along a leg; a third of the bound is reached at least, so that it is worth it."""
    rng = np.random.default_rng(3)
    way, body = way_between(wren, start or wren.body, end or wren.body), body_of(shape)
    spots, used = _points_of(shape, rng), 0.0
    span = way.upper - way.lower
    for _ in range(300):
        a = rng.uniform(way.lower, way.upper)
        half = 0.5 * size * span * rng.uniform(size=len(span))
        b = a + half * rng.choice([-1.0, 1.0], len(span)) * rng.uniform(size=len(span)) ** 0.1
        room, each = _swung(way, a, half, body)
        assert each.sum() >= room - 1e-12
        from_a, from_b = way.poses(np.stack([a, b]))
        for one, other in ((from_a, from_b), (from_b, from_a)):
            seen = np.linalg.inv(one) @ other
            away = _out_of(shape, spots @ seen[:3, :3].T + seen[:3, 3]).max()
            assert away <= room + 1e-12
            used = max(used, float(away / room))
    assert used > 1.0 / 3.0


def test_what_turns_about_its_own_axis_stays_where_it_is(wren):
    """A round mast that pans, and a ball about its middle."""
    way = way_between(wren, wren.body, "mast_post")
    upright = np.eye(4)
    upright[:3, 3] = [0.0, 0.0, 0.05]
    half = 0.5 * (way.upper - way.lower)
    for kind, size in ((ShapeKind.CYLINDER, (0.01, 0.1)), (ShapeKind.SPHERE, (0.02,))):
        body = body_of(Shape(kind=kind, size=size, placement=upright))
        assert _swung(way, np.zeros(1), half, body)[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("kind", ["box", "rod"])
def test_pieces_of_a_shape_are_the_shape(cup, kind):
    body = body_of(SHAPES[kind])
    cut = pieces(body)
    assert len(cut) > 1
    poses, tree = _random_poses(300, 12), box_tree(cup)
    apart = np.min([gaps(tree, piece, poses) for piece in cut], axis=0)
    np.testing.assert_allclose(apart, gaps(tree, body, poses), atol=1e-9)


def test_poses_agree_with_joint_by_joint(wren):
    """Referee: the description's own joint transforms, multiplied one by one."""
    rng = np.random.default_rng(4)
    way = way_between(wren, "right_middle_foot", "left_front_foot")
    values = rng.uniform(way.lower, way.upper, size=(20, len(way.drives)))
    at = way.rest + values @ way.share.T
    for number, pose in enumerate(way.poses(values)):
        slow = np.eye(4)
        for (joint, upward), angle in zip(way.steps, at[number], strict=True):
            step = step_of(joint, float(angle))
            slow = slow @ (np.linalg.inv(step) if upward else step)
        np.testing.assert_allclose(pose, slow, atol=1e-12)


def test_sliding_joints_are_passed_both_ways():
    """Referee: the description's own joint transforms."""
    slide, hinge = (
        Joint(
            name=kind.value, kind=kind, parent="a", child="b", placement=LEANING, lower=-1.0,
            upper=1.0, axis=np.array([0.6, 0.0, 0.8]),
        )
        for kind in (JointKind.PRISMATIC, JointKind.REVOLUTE)
    )  # fmt: skip
    for steps in product([(slide, False), (slide, True)], [(hinge, False), (hinge, True)]):
        way = Way(
            steps=steps, drives=("one", "two"), share=np.array([[1.0, 0.0], [0.0, -2.0]]),
            rest=np.array([0.0, 0.3]), lower=-np.ones(2), upper=np.ones(2),
        )  # fmt: skip
        slow = np.eye(4)
        for (joint, upward), position in zip(steps, (0.4, -0.9), strict=True):
            step = step_of(joint, position)
            slow = slow @ (np.linalg.inv(step) if upward else step)
        np.testing.assert_allclose(way.poses(np.array([[0.4, 0.6]]))[0], slow, atol=1e-12)


def _lid(robot) -> Mesh:
    """A flat plate over the trunk's front, where lifted legs can hit it."""
    return box((0.1, 0.2, 0.002), at=(0.09, 0.0, 0.07))


def test_range_search_finds_what_a_fine_grid_finds(wren):
    """Referee: every pose of a fine grid, link by link, by brute force."""
    mesh = box((0.05, 0.05, 0.004), at=(0.0, 0.0, 0.06))
    tree = box_tree(mesh)
    found = range_gap(wren, wren.body, mesh, tree)
    assert found.nearest is not None
    least = np.inf
    for link in wren.tree.links:
        if link in (wren.body, *(n for n in wren.tree.links if "mast" in n)):
            continue
        way = way_between(wren, wren.body, link)
        steps = [np.linspace(a, b, 17) for a, b in zip(way.lower, way.upper, strict=True)]
        grid = np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, len(steps))
        for shape in wren.tree.links[link].shapes:
            least = min(least, float(gaps(tree, body_of(shape), way.poses(grid), most=0.06).min()))
    assert found.nearest.distance <= least + 1e-9
    assert found.proven >= found.nearest.distance - 1.0e-3
    assert found.proven <= least


def test_legs_that_hit_a_plate_are_named(wren):
    mesh = _lid(wren)
    found = range_gap(wren, wren.body, mesh, box_tree(mesh))
    assert found.blocked
    assert found.nearest.distance <= 0.0
    assert any("front" in link for link in found.blocked)
    assert all(0.0 <= share <= 1.0 for share in found.blocked.values())


def test_nearest_of_poses_is_the_first_of_all(wren):
    mesh = _lid(wren)
    tree = box_tree(mesh)
    motion = lw.plan(wren, lw.Walk(lw.gait("ripple", legs=6), velocity=(0.03, 0.0)), samples=24)
    everything = pose_gaps(wren, wren.body, mesh, tree, motion.q)
    nearest = nearest_gap(wren, wren.body, mesh, tree, motion.q)
    assert nearest is not None
    assert nearest.distance == pytest.approx(everything[0].distance, abs=1e-12)
    assert [one.distance for one in everything] == sorted(one.distance for one in everything)


def test_walks_are_told_the_nearest_of_all_links_again_and_again(wren):
    """Above the trunk, where coxae and femurs come near; asked twice, for what is remembered."""
    mesh = box((0.3, 0.2, 0.002), at=(0.0, 0.0, 0.045))
    tree = box_tree(mesh)
    for way in ((0.03, 0.0), (0.0, 0.02), (0.03, 0.0)):
        motion = lw.plan(wren, lw.Walk(lw.gait("tripod", legs=6), velocity=way), samples=32)
        everything = pose_gaps(wren, wren.body, mesh, tree, motion.q)
        nearest = nearest_gap(wren, wren.body, mesh, tree, motion.q)
        assert nearest is not None
        assert nearest.distance == pytest.approx(everything[0].distance, abs=1e-12)


@pytest.mark.parametrize("spare", [1e-3, 6e-3, 0.1])
@pytest.mark.parametrize("most", [0.004, 0.02, 0.5])
def test_poses_that_are_passed_over_are_no_nearer(cup, spare, most):
    """Referee: every pose on its own; poses follow each other in small steps, and in large."""
    tree, rng = box_tree(cup), np.random.default_rng(4)
    shape = body_of(Shape(kind=ShapeKind.BOX, size=(0.03, 0.02, 0.05), placement=np.eye(4)))
    for step in (2e-4, 5e-3):
        for trial in range(6):
            poses = np.tile(np.eye(4), (200, 1, 1))
            turns = np.cumsum(rng.normal(0.0, 20.0 * step, (200, 3)), axis=0)
            poses[:, :3, :3] = Rotation.from_rotvec(turns).as_matrix()
            poses[:, :3, 3] = np.cumsum(rng.normal(0.0, step, (200, 3)), axis=0)
            poses[:, 0, 3] += 0.15
            every = gaps(tree, shape, poses, most=most)
            order = np.arange(200) if trial % 2 else rng.permutation(200)
            found = nearest_placed(
                tree, shape, *placed(shape, poses), order=order, spare=spare, most=most
            )
            assert found[0] == pytest.approx(every.min(), abs=1e-12)
