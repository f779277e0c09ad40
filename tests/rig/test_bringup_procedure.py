"""The whole bench procedure on hidden benches: everything found, faults named, resumable."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RobotError
from legwright.rig.bringup.hidden import AllSeeing, HiddenBench, Secrets
from legwright.rig.bringup.procedure import STEPS, Work, run_step
from legwright.rig.bringup.progress import FILE, Progress, read_progress
from legwright.rig.bringup.supply_test import load_branch

ROOK = Path(__file__).parents[2] / "robots" / "rook"


@pytest.fixture(scope="module")
def rook():
    return lw.load(ROOK)


def test_bring_up_finds_everything_and_the_robot_walks(rook, tmp_path: Path):
    secrets = Secrets.drawn(rook, 11)
    bench = HiddenBench(rook, secrets, seed=11)
    path = tmp_path / FILE
    work = Work(
        robot=rook, bench=bench, witness=AllSeeing(bench, secrets),
        progress=read_progress(path, rook.name),
        on_ground=lambda: HiddenBench(rook, secrets, seed=11, height=None),
    )  # fmt: skip
    for step in STEPS:
        progress, record = run_step(step, work, path)
        assert record.ok, (step.key, record.wrong)
        work = replace(work, progress=progress)
    assert read_progress(path, rook.name) == work.progress, "what was written is what was done"
    nodes, ways, zeros = work.zeros()
    assert [nodes[name] for name in rook.joint_names] == secrets.nodes.tolist()
    np.testing.assert_array_equal(ways, secrets.direction)
    np.testing.assert_allclose(zeros, secrets.zero, atol=np.radians(0.1))
    walked = work.progress.records["ground"].values["odometry"][0]
    assert walked > 0.15


def test_a_step_needs_those_before_it(rook):
    secrets = Secrets.drawn(rook, 12)
    bench = HiddenBench(rook, secrets, seed=12)
    work = Work(
        robot=rook, bench=bench, witness=AllSeeing(bench, secrets), progress=Progress(robot="rook")
    )
    zero = next(step for step in STEPS if step.key == "zero")
    with pytest.raises(RobotError, match="match: has not been done yet"):
        run_step(zero, work, None)


def test_no_agreement_no_motion(rook):
    secrets = Secrets.drawn(rook, 12)
    bench = HiddenBench(rook, secrets, seed=12)

    class Careful(AllSeeing):
        def agree(self, caution: str) -> bool:
            return False

    work = Work(
        robot=rook, bench=bench, witness=Careful(bench, secrets), progress=Progress(robot="rook")
    )
    before = bench.world.time
    progress, record = run_step(STEPS[2], work, None)
    assert not record.ok and not progress.done("match") and bench.world.time == before


def test_a_bad_crimp_is_found_by_the_joints_behind_it(rook):
    secrets = Secrets.drawn(rook, 13)
    bench = HiddenBench(rook, secrets, seed=13)
    supply = bench.world.supply
    names = rook.joint_names
    bad = [names.index(name) for name in ("right_rear_femur", "right_rear_tibia")]
    supply.resistance[np.ix_(bad, bad)] += 0.25
    node = {name: int(secrets.nodes[j]) for j, name in enumerate(names)}
    upper = np.concatenate([leg.chain.upper for leg in rook.legs.values()])
    stops = {
        name: (
            float(secrets.direction[j] * (upper[j] - secrets.zero[j])),
            float(secrets.direction[j]),
        )
        for j, name in enumerate(names)
    }
    chain = rook.sheet.hub.branch["right-rear"].chain
    falls = {fall.joint: fall for fall in load_branch(bench, rook, chain, node, stops)}
    assert falls["right_rear_coxa"].wrong == ""
    assert "crimps" in falls["right_rear_femur"].wrong
    assert "crimps" in falls["right_rear_tibia"].wrong


@pytest.mark.parametrize("text", ["", "{", "[]", '{"schema": 1}', '{"schema": 9, "robot": "x"}'])
def test_a_spoilt_record_gets_one_sentence(tmp_path: Path, text: str):
    path = tmp_path / FILE
    path.write_text(text)
    with pytest.raises(RobotError, match="begin anew") as caught:
        read_progress(path, "rook")
    assert str(path) in str(caught.value)


def test_another_robots_record_is_refused(tmp_path: Path):
    path = tmp_path / FILE
    path.write_text('{"schema": 1, "robot": "wren", "records": []}')
    with pytest.raises(RobotError, match="wren"):
        read_progress(path, "rook")
