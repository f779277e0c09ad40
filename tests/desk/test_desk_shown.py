"""What the desk shows of a robot: pulls, circuit and drawings, against independent reckoning."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError
from legwright.locomotion.stance import footing
from legwright.mechanics.clearance import clearance
from legwright.mechanics.reach import feet_of
from legwright.mechanics.shapes import link_poses
from legwright.study.check import study
from legwright.views import tokens
from legwright.views.desk.asked import Ask, Pull
from legwright.views.desk.blocks import CircuitBlock, Cycle, Nearness, Pulled, Reach, unpacked
from legwright.views.desk.circuits import circuit_block
from legwright.views.desk.cycle import cycle_block, reach_block
from legwright.views.desk.drawings import QUICK, SLOW, listed, svg_of
from legwright.views.desk.nearness import nearness_block
from legwright.views.desk.pulling import pulled_block
from legwright.views.desk.shown import Shown, glimpse, same_places, shown_case, shown_walk

ROBOTS = Path(__file__).parents[2] / "robots"


@pytest.fixture(scope="module")
def shown() -> Shown:
    return shown_case(lw.load(ROBOTS / "rook"), "tripod forward")


def pulled(shown: Shown, **fields) -> tuple[Pulled, dict[str, np.ndarray]]:
    header, arrays = unpacked(pulled_block(shown, Pull(n=1, **fields), rev=1))
    assert isinstance(header, Pulled)
    return header, arrays


def rotation(body: np.ndarray) -> np.ndarray:
    """Referee: the quaternion's rotation through SciPy."""
    from scipy.spatial.transform import Rotation

    return Rotation.from_quat(body[[4, 5, 6, 3]]).as_matrix()


def test_a_foot_goes_where_it_is_pulled_and_the_others_stay(shown: Shown) -> None:
    stand = shown.footing
    to = stand.feet[1] + [0.02, 0.01, stand.height + 0.03]
    header, arrays = pulled(shown, what="foot", name="left-middle", to=tuple(to))
    assert header.ok
    feet = arrays["feet"] @ rotation(arrays["body"]).T + arrays["body"][:3]
    np.testing.assert_allclose(feet[1], to, atol=2e-5)
    others = [0, 2, 3, 4, 5]
    np.testing.assert_allclose(arrays["feet"][others], stand.feet[others], atol=1e-6)


def test_a_foot_out_of_reach_stops_at_a_limit_and_says_so(shown: Shown) -> None:
    header, arrays = pulled(shown, what="foot", name="left-middle", to=(0.0, 1.2, 0.0))
    assert not header.ok
    assert "left-middle stays" in header.text
    assert arrays["error"][1] > 0.5
    robot = shown.robot
    lower = np.concatenate([leg.lower for leg in robot.legs.values()])
    upper = np.concatenate([leg.upper for leg in robot.legs.values()])
    assert (arrays["q"] >= lower - 1e-6).all()
    assert (arrays["q"] <= upper + 1e-6).all()


@pytest.mark.parametrize("phase", [-1.0, 0.3])
def test_the_body_moves_over_feet_that_stay_on_the_ground(shown: Shown, phase: float) -> None:
    to = (0.01, -0.008, 0.012, 0.05, -0.04, 0.08)
    _, before = pulled(shown, what="body", to=(0.0,) * 6, phase=phase)
    header, after = pulled(shown, what="body", to=to, phase=phase)
    assert header.ok
    places = [
        arrays["feet"] @ rotation(arrays["body"]).T + arrays["body"][:3]
        for arrays in (before, after)
    ]
    np.testing.assert_allclose(places[1], places[0], atol=2e-5)
    np.testing.assert_allclose(after["body"][:3] - before["body"][:3], to[:3], atol=1e-6)
    np.testing.assert_allclose(feet_of(shown.robot, after["q"]), after["feet"], atol=1e-5)


def test_a_joint_stops_at_its_limit(shown: Shown) -> None:
    name = "left_front_femur"
    header, arrays = pulled(shown, what="joint", name=name, to=(3.0,))
    column = shown.robot.joint_names.index(name)
    assert arrays["q"][column] == pytest.approx(shown.robot.legs["left-front"].upper[1], abs=1e-6)
    assert name in header.stopped


def test_the_margin_of_a_shifted_body_is_that_of_geometry(shown: Shown) -> None:
    """Referee: shapely's polygon of the feet, and the distance of the centre of mass to its rim."""
    from shapely import Point, Polygon

    for shift in ((0.0, 0.0), (0.03, 0.02), (-0.04, 0.01)):
        _, arrays = pulled(shown, what="body", to=(*shift, 0.0, 0.0, 0.0, 0.0))
        feet, com = arrays["feet"], arrays["com"]
        rim = Polygon([tuple(p) for p in feet[[0, 1, 2, 5, 4, 3], :2]])
        there = Point(com[:2])
        expected = rim.exterior.distance(there) * (1 if rim.contains(there) else -1)
        assert arrays["margin"][0] == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    "fields",
    [
        {"what": "foot", "name": "left", "to": (0.0, 0.0, 0.0)},
        {"what": "foot", "name": "left-front", "to": (0.0, 0.0)},
        {"what": "foot", "name": "left-front", "to": (float("nan"), 0.0, 0.0)},
        {"what": "foot", "name": "left-front", "to": (1e9, 0.0, 0.0)},
        {"what": "body", "to": (0.0,) * 5}, {"what": "joint", "name": "", "to": (0.1,)},
        {"what": "joint", "name": "mast_pan", "to": (0.1,)},
    ],
)  # fmt: skip
def test_pulls_without_sense_are_refused(shown: Shown, fields: dict) -> None:
    with pytest.raises(RequestError):
        pulled(shown, **fields)


def test_a_walk_of_ones_own_is_walked_as_asked(shown: Shown) -> None:
    robot = shown.robot
    phases = {leg: 0.5 * (at % 2) for at, leg in enumerate(robot.legs)}
    ask = Ask(n=1, gait="tripod", velocity=(0.05, 0.0), duty=0.6, phases=phases, cycle=1.0)
    own = shown_walk(robot, ask)
    header, arrays = unpacked(cycle_block(own, rev=3, who="now", case=""))
    assert isinstance(header, Cycle)
    assert (header.duty, header.cycle, header.case) == (0.6, 1.0, "")
    assert header.phases == tuple(phases.values())
    assert arrays["contact"].mean() == pytest.approx(0.6, abs=0.01)
    stood = arrays["contact"].astype(bool)
    for row, corners in enumerate(arrays["support"].astype(int)):
        assert set(corners[corners >= 0]) <= set(np.flatnonzero(stood[row]))
    with pytest.raises(RequestError, match="Did you mean"):
        shown_walk(robot, Ask(n=1, gait="tripodd"))
    with pytest.raises(RequestError):
        shown_walk(robot, Ask(n=1, gait="tripod", phases={"tail": 0.1}))


def test_a_glimpse_is_near_the_exact_cycle(shown: Shown) -> None:
    from legwright.mechanics.opening import edited

    robot = edited(ROBOTS / "rook", {"dimensions.femur": "88 mm"})
    first, exact = glimpse(robot, shown), shown_case(robot, "tripod forward")
    if first.case.motion.cycle == exact.case.motion.cycle:
        np.testing.assert_allclose(first.case.motion.q, exact.case.motion.q, atol=1e-9)
        np.testing.assert_allclose(first.case.draw.available, exact.case.draw.available, rtol=0.1)


@pytest.mark.parametrize(
    "edits",
    [
        {"stance.body_height": "100 mm"},
        {"stance.foot_distance": "118 mm"},
        {"dimensions.tibia": "140 mm", "dimensions.coxa": "54 mm"},
    ],
)
def test_a_glimpse_stands_where_the_study_stands(shown: Shown, edits: dict[str, str]) -> None:
    """Referee: the footing that the study finds, by another way."""
    from legwright.mechanics.opening import edited

    robot = edited(ROBOTS / "rook", edits)
    quick, exact = same_places(robot, shown), footing(robot)
    np.testing.assert_allclose(quick.feet, exact.feet, atol=1e-4)
    np.testing.assert_allclose(quick.q, exact.q, atol=1e-3)


def test_the_circuit_keeps_kirchhoffs_laws(shown: Shown) -> None:
    """Referee: along every way from the battery, drops sum to what the consumer lacks."""
    made = circuit_block(shown, rev=1, who="now", case="x", keys={"harness.conductor.leg.gauge"})
    assert made is not None
    header, arrays = unpacked(made)
    assert isinstance(header, CircuitBlock)
    index = {wire.part: at for at, wire in enumerate(header.wires)}
    circuit = shown.circuit
    for at, one in enumerate(header.consumers):
        node = next(c.node for c in circuit.consumers if c.designation == one.part)
        way = circuit.feeding(node)
        if any(header.wires[index[item.designation]].kind == "regulator" for item in way):
            continue
        lost = sum(arrays["drop"][:, index[item.designation]] for item in way)
        np.testing.assert_allclose(arrays["terminal"] - lost, arrays["voltage"][:, at], atol=1e-4)
    gauges = {wire.key for wire in header.wires if wire.conductor == "leg"}
    assert gauges == {"harness.conductor.leg.gauge"}
    leads = [wire for wire in header.wires if wire.kind == "cable"]
    assert all(wire.highest == pytest.approx(453.15) for wire in leads)
    assert all(wire.temperature > 273.15 for wire in leads)


def test_every_part_of_the_circuit_can_be_found_on_the_drawings(shown: Shown) -> None:
    found = listed(shown, QUICK)
    names = list(found)
    assert names == ["schematic", "harness"]
    sheets = {sheet.name: sheet for name in names for sheet in found[name].make()}
    assert list(sheets) == names
    named = {
        name: {part for group in re.findall(r'data-part="([^"]+)"', sheet.drawing.svg)
               for part in group.split()}
        for name, sheet in sheets.items()
    }  # fmt: skip
    cables = {item.designation for item in shown.circuit.items if item.kind.name == "CABLE"}
    servos = {one.designation for one in shown.circuit.servos.values()}
    assert cables <= named["harness"]
    assert servos <= named["harness"]
    on_rows = {i.designation for i in shown.circuit.items if i.branch and i.kind.name == "CABLE"}
    assert on_rows <= named["schematic"]
    assert servos <= named["schematic"]
    for sheet in sheets.values():
        for theme in ("light", "dark", "bare"):
            svg = svg_of(sheet, theme)
            ElementTree.fromstring(svg)
            assert "http" not in svg.replace("http://www.w3.org/", "")
    assert "#14191C" in svg_of(sheets["schematic"], "dark")


def test_the_smallest_letters_are_larger_on_the_page(shown: Shown) -> None:
    """By a quarter, about the middle of their capitals; larger letters stay."""
    (sheet,) = next(iter(listed(shown, QUICK).values())).make()
    letters = re.compile(r' y="([^"]+)" class="[^"]+" font-size="([^"]+)"')
    paper, page = (
        [(float(y), float(size)) for y, size in letters.findall(svg)]
        for svg in (sheet.drawing.svg, svg_of(sheet, "bare"))
    )
    assert len(paper) == len(page) > 100
    for (y0, size0), (y1, size1) in zip(paper, page, strict=True):
        assert size1 == pytest.approx(1.25 * size0 if size0 == tokens.TINY else size0, abs=0.01)
        half = tokens.CAP_OVER_EM / 2.0
        assert y1 - half * size1 == pytest.approx(y0 - half * size0, abs=0.02)


def test_listed_drawings_are_those_that_are_made(shown: Shown) -> None:
    made = listed(shown, SLOW)
    assert {"layout", "shell-hood-1", "assembly-1"} <= set(made)
    for name, one in made.items():
        sheets = {sheet.name: sheet for sheet in one.make()}
        assert name in sheets
        assert set(sheets) <= set(made)
        ElementTree.fromstring(svg_of(sheets[name], "light"))


def test_reach_outlines_are_of_the_leg(shown: Shown) -> None:
    header, arrays = unpacked(reach_block(shown.robot, rev=1, who="now"))
    assert set(arrays) == set(header.hips) == set(shown.robot.legs)
    assert isinstance(header, Reach)
    leg = shown.robot.legs["left-middle"]
    way, hip = np.array(header.outward["left-middle"]), np.array(header.hips["left-middle"])
    outline = arrays["left-middle"]
    points = np.column_stack([hip[:2] + outline[:, :1] * way, outline[:, 1]])
    answer = leg.reach(points.astype(np.float64))
    assert np.median(answer.error) < 0.004
    assert 0.0 < header.inside["left-middle"] < 1.0


def test_link_poses_of_the_shown_cycle_put_feet_on_the_ground(shown: Shown) -> None:
    header, arrays = unpacked(cycle_block(shown, rev=1, who="now", case="tripod forward"))
    poses = link_poses(shown.robot, arrays["q"].astype(np.float64))
    leg = shown.robot.legs["left-front"]
    feet = poses[leg.chain.link_names[-1]] @ [*leg.chain.foot, 1.0]
    R = np.stack([rotation(body) for body in arrays["body"].astype(np.float64)])
    ground = np.einsum("tij,tj->ti", R, feet[:, :3]) + arrays["body"][:, :3]
    stands = arrays["contact"][:, 0] > 0.5
    np.testing.assert_allclose(ground[stands, 2], 0.0, atol=1e-5)
    assert header.worst >= 0.0


@pytest.mark.long
def test_all_cases_are_those_of_the_study() -> None:
    robot = lw.load(ROBOTS / "rook")
    found = study(robot)
    for name, case in found.cases.items():
        mine = shown_case(robot, name)
        np.testing.assert_allclose(mine.case.draw.torque, case.draw.torque, rtol=1e-9)
        np.testing.assert_allclose(mine.case.draw.voltage, case.draw.voltage, rtol=1e-9)


def test_nearest_links_are_told_by_points_that_are_as_far_apart(shown: Shown) -> None:
    """Referee: the links' own placements at the instant that is told, and the study's finding."""
    header, arrays = unpacked(nearness_block(shown, rev=1, case="tripod forward"))
    assert isinstance(header, Nearness)
    assert 1 <= len(header.pairs) <= 3
    q = shown.case.motion.q
    for pair, points in zip(header.pairs, arrays["points"], strict=True):
        placed = link_poses(shown.robot, q[[round(pair.phase * len(q))]])
        ends = [
            placed[link].reshape(-1, 4, 4)[0] @ np.append(point, 1.0)
            for link, point in zip(pair.links, points, strict=True)
        ]
        assert np.linalg.norm(ends[0] - ends[1]) == pytest.approx(abs(pair.distance), abs=1e-6)
    assert [pair.distance for pair in header.pairs] == sorted(p.distance for p in header.pairs)
    assert header.pairs[0].distance == pytest.approx(clearance(shown.robot, q[::2]).distance)
