"""The parametric walker: masses, inertias, mirror symmetry, any number of legs."""

from pathlib import Path

import numpy as np
import pytest

from legwright.errors import RobotError
from legwright.robot.generate import tree_of
from legwright.robot.layout import hips_of
from legwright.robot.paths import poses_below
from legwright.robot.primitives import ball_solid, box_solid, tube_solid
from legwright.robot.scaffold import new_sheet
from legwright.robot.sheet import Sheet
from legwright.robot.sheet_reading import read_sheet
from legwright.robot.urdf import read_urdf
from legwright.robot.urdf_writing import rpy_of, urdf_text

ROBOTS = Path(__file__).parents[2] / "robots"
COUNTS = range(3, 21)


@pytest.fixture(scope="module")
def rook():
    file = ROBOTS / "rook" / "robot.toml"
    sheet = read_sheet(file)
    return sheet, tree_of(sheet, file)


@pytest.fixture(params=COUNTS, scope="module")
def walker(request, tmp_path_factory):
    file = tmp_path_factory.mktemp("walker") / "robot.toml"
    file.write_text(new_sheet("walker", legs=request.param))
    sheet = read_sheet(file)
    return request.param, sheet, tree_of(sheet, file)


def test_no_dimensions_is_said():
    with pytest.raises(RobotError, match="dimensions"):
        tree_of(Sheet(), Path("robot.toml"))


def test_every_body_can_exist(walker):
    """Referee: a rigid body's principal moments are positive and obey the triangle inequality."""
    _, _, tree = walker
    for link in tree.links.values():
        moments = np.linalg.eigvalsh(link.solid.inertia)
        assert link.solid.mass > 0.0
        assert moments[0] > 0.0
        assert moments[0] + moments[1] >= moments[2] * (1.0 - 1e-9)


def test_each_leg_has_three_joints_and_a_foot(walker):
    legs, sheet, tree = walker
    assert len(hips_of(sheet.dimensions)) == legs
    assert sum(joint.actuated for joint in tree.joints.values()) == 3 * legs
    assert sum(name.endswith("_foot") for name in tree.links) == legs


def test_left_mirrors_right(walker):
    """Referee: reflection at y = 0 maps the set of feet, and the whole mass, onto itself."""
    _, _, tree = walker
    q = {}
    for name in tree.joints:
        if name.endswith("_coxa"):
            q[name] = -0.3 if name.startswith("right") else 0.3 * (name != "front_coxa")
        elif name.endswith(("_femur", "_tibia")):
            q[name] = 0.2
    poses = poses_below(tree, tree.root, q)
    feet = np.array([poses[name][:3, 3] for name in tree.links if name.endswith("_foot")])
    mirrored = feet * [1.0, -1.0, 1.0]
    for point in mirrored:
        assert np.min(np.linalg.norm(feet - point, axis=1)) < 1e-12
    centre = sum(
        link.solid.mass * (poses[name] @ [*link.solid.com, 1.0])[:3]
        for name, link in tree.links.items()
    )
    assert abs(centre[1]) < 1e-12


def test_mass_is_the_sum_of_the_parts(rook):
    """Referee: the sheet's masses added by hand; density times volume for the structure."""
    _, tree = rook
    servos = 18 * 0.072 + 2 * 0.022
    plates = 2 * 0.240 * 0.170 * 0.003 * 1850 * 0.6
    cheeks = 6 * 2 * (0.050 + 0.085) * 0.028 * 0.003 * 1850
    tubes = 6 * np.pi * (0.007**2 - 0.0055**2) * (0.130 - 0.0045) * 1600
    stated = 0.36 + 0.22 + 0.095 + 0.040 + 0.085 + 6 * 0.008
    total = sum(link.solid.mass for link in tree.links.values())
    assert total == pytest.approx(servos + plates + cheeks + tubes + stated, rel=1e-9)


def test_zero_shift_only_moves_the_zero(rook):
    """The pose at q with a shifted zero is that at q + shift without."""
    sheet, tree = rook
    bare = sheet.model_copy(
        update={
            "dimensions": sheet.dimensions.model_copy(
                update={"zero": sheet.dimensions.zero.model_copy(update={"tibia": 0.0})}
            )
        }
    )
    plain = tree_of(bare, Path("robot.toml"))
    shift = sheet.dimensions.zero.tibia
    one = poses_below(tree, "trunk", {"left_front_tibia": 0.3})["left_front_foot"]
    two = poses_below(plain, "trunk", {"left_front_tibia": 0.3 + shift})["left_front_foot"]
    np.testing.assert_allclose(one, two, atol=1e-12)


def test_lateral_offsets_are_mirrored(rook):
    sheet, _ = rook
    shape = sheet.dimensions.model_copy(
        update={"femur_shift": 0.011, "tibia_shift": 0.007, "femur_rise": 0.013}
    )
    tree = tree_of(sheet.model_copy(update={"dimensions": shape}), Path("robot.toml"))
    poses = poses_below(tree, "trunk", {})
    left, right = poses["left_rear_foot"][:3, 3], poses["right_rear_foot"][:3, 3]
    np.testing.assert_allclose(left * [1, -1, 1], right, atol=1e-12)
    assert left[2] == pytest.approx(0.013 - 0.130)


def test_primitives_against_trimesh():
    """Referee: trimesh's mass properties of its own primitives."""
    trimesh = pytest.importorskip("trimesh")
    box = trimesh.creation.box((0.1, 0.2, 0.3))
    ours = box_solid(box.volume, (0.1, 0.2, 0.3), (0.0, 0.0, 0.0))
    np.testing.assert_allclose(ours.inertia, box.moment_inertia, rtol=1e-9, atol=1e-15)
    ball = trimesh.creation.icosphere(subdivisions=5, radius=0.05)
    theirs = ball.moment_inertia[0, 0] / ball.volume
    assert ball_solid(1.0, 0.05, (0, 0, 0)).inertia[0, 0] == pytest.approx(theirs, rel=2e-3)
    tube = trimesh.creation.annulus(r_min=0.02, r_max=0.03, height=0.2, sections=512)
    ours = tube_solid(1.0, 0.03, 0.02, -0.1, 0.1)
    theirs = tube.moment_inertia / tube.volume
    assert ours.inertia[0, 0] == pytest.approx(theirs[2, 2], rel=1e-3)
    assert ours.inertia[1, 1] == pytest.approx(theirs[0, 0], rel=1e-3)


def test_urdf_round_trip(walker, tmp_path):
    """Referee: our own reader, which is proven against Pinocchio."""
    _, _, tree = walker
    _same(tree, _written(tree, tmp_path))


def test_urdf_round_trip_of_rook(rook, tmp_path):
    _same(rook[1], _written(rook[1], tmp_path))


def _written(tree, folder):
    file = folder / "robot.urdf"
    file.write_text(urdf_text(tree))
    return read_urdf(file)


def _same(one, two):
    assert list(one.links) == list(two.links)
    assert list(one.joints) == list(two.joints)
    assert one.root == two.root
    for name, joint in one.joints.items():
        other = two.joints[name]
        np.testing.assert_allclose(joint.placement, other.placement, atol=1e-9)
        np.testing.assert_allclose(joint.axis, other.axis, atol=1e-9) if joint.moves else None
        for key in ("kind", "parent", "child"):
            assert getattr(joint, key) == getattr(other, key)
        if joint.moves:
            assert joint.lower == pytest.approx(other.lower, abs=1e-9)
            assert joint.upper == pytest.approx(other.upper, abs=1e-9)
            assert joint.effort == pytest.approx(other.effort, abs=1e-9)
            assert joint.velocity == pytest.approx(other.velocity, abs=1e-9)
    for name, link in one.links.items():
        other = two.links[name]
        assert link.solid.mass == pytest.approx(other.solid.mass, rel=1e-9)
        np.testing.assert_allclose(link.solid.com, other.solid.com, atol=1e-9)
        np.testing.assert_allclose(link.solid.inertia, other.solid.inertia, atol=1e-9)
        for shape, again in zip(link.collision, other.collision, strict=True):
            assert shape.kind == again.kind
            np.testing.assert_allclose(shape.size, again.size, atol=1e-9)
            np.testing.assert_allclose(shape.placement, again.placement, atol=1e-9)


def test_pinocchio_reads_it(rook, tmp_path):
    """Referee: Pinocchio's own URDF reader: total mass, number of joints, a foot's place."""
    pin = pytest.importorskip("pinocchio")
    file = tmp_path / "rook.urdf"
    file.write_text(urdf_text(rook[1]))
    model = pin.buildModelFromUrdf(str(file))
    data = model.createData()
    assert model.nq == 20
    total = sum(link.solid.mass for link in rook[1].links.values())
    assert pin.computeTotalMass(model) + model.inertias[0].mass == pytest.approx(total, rel=1e-9)
    q = np.linspace(-0.4, 0.4, model.nq)
    pin.framesForwardKinematics(model, data, q)
    named = {model.names[i]: q[model.joints[i].idx_q] for i in range(1, model.njoints)}
    ours = poses_below(rook[1], "trunk", named)["right_rear_foot"]
    theirs = data.oMf[model.getFrameId("right_rear_foot")].homogeneous
    np.testing.assert_allclose(ours, theirs, atol=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_rpy_of_any_rotation(seed):
    """Referee: SciPy's rotations, and `pose_of` back again; also at the singular pitch."""
    from scipy.spatial.transform import Rotation

    from legwright.robot.placement import pose_of

    turn = Rotation.random(rng=np.random.default_rng(seed)).as_matrix()
    if seed < 4:
        turn = Rotation.from_euler("xyz", [0.3 * seed, (-1) ** seed * np.pi / 2, 0.4]).as_matrix()
    back = pose_of((0.0, 0.0, 0.0), rpy_of(turn))[:3, :3]
    np.testing.assert_allclose(back, turn, atol=1e-8)
