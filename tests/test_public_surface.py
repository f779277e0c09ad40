"""The promised names take what people pass, refuse the rest clearly, and cross processes."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest

import legwright as lw

ROOK = Path(__file__).parents[1] / "robots" / "rook"


@pytest.fixture(scope="module")
def rook():
    return lw.load(ROOK)


@pytest.fixture(scope="module")
def walk():
    return lw.Walk(lw.gait("tripod", legs=6), velocity=(0.05, 0.01), turn=0.1)


@pytest.mark.parametrize("lead", [(), (5,), (2, 5), (0,), (1, 1)])
def test_leading_axes_broadcast(rook, lead):
    leg = rook.legs["left-front"]
    q = np.zeros((*lead, 3))
    found = leg.reach(leg.foot(q))
    assert leg.foot(q).shape == (*lead, 3) == found.q.shape
    assert leg.jacobian(q).shape == (*lead, 3, 3)
    assert found.error.shape == lead == found.ok.shape
    assert found.ok.dtype == bool
    assert found.ok.all()


def test_a_robot_crosses_to_a_worker_process(rook, walk):
    """Referee: the same plan and loads, to the last bit, from the copy."""
    copy = pickle.loads(pickle.dumps(rook))
    there, here = lw.plan(copy, walk), lw.plan(rook, walk)
    np.testing.assert_array_equal(there.q, here.q)
    np.testing.assert_array_equal(lw.loads(copy, there).torque, lw.loads(rook, here).torque)
    assert copy.mass == rook.mass
    assert list(copy.legs) == list(rook.legs)
    with pytest.raises(TypeError):
        copy.legs["sixth"] = None
    with pytest.raises(TypeError):
        copy.tree.links["sixth"] = None


@pytest.mark.parametrize("name", ["motion", "loads", "walk"])
def test_answers_cross_too(rook, walk, name):
    motion = lw.plan(rook, walk, samples=16)
    value = {"motion": motion, "loads": lw.loads(rook, motion), "walk": walk}[name]
    assert type(pickle.loads(pickle.dumps(value))) is type(value)


def test_what_a_robot_shares_cannot_be_written_to(rook):
    with pytest.raises(ValueError, match="read-only"):
        rook.hips[0] = 1.0
    with pytest.raises(TypeError):
        rook.columns["sixth"] = slice(0, 1)
    with pytest.raises(TypeError):
        rook.legs["sixth"] = None


def test_numpy_numbers_are_numbers(rook):
    phases = {np.int64(i): np.float32(i / 6) for i in range(6)}
    gait = lw.Gait(duty=np.float64(0.84), phases=phases)
    assert gait == pickle.loads(pickle.dumps(gait))
    walk = lw.Walk(gait, velocity=np.array([0.02, 0.0]), turn=np.float64(0.0))
    assert walk == lw.Walk(gait, velocity=(0.02, 0))
    assert lw.plan(rook, walk, samples=np.int64(8)).q.shape == (8, 18)


TRIPOD = lw.gait("tripod", legs=6)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: lw.gait("trot", legs=4), "one of tripod"),
        (lambda: lw.gait("tripod", legs=3), "at least 4: walking lifts a leg"),
        (lambda: lw.gait("tripod", legs=6.0), "whole number"),
        (lambda: lw.gait("tripod", legs="6"), "whole number"),
        (lambda: lw.gait("tripod", legs=None), "whole number"),
        (lambda: lw.gait(None, legs=6), "one of tripod"),
        (lambda: lw.Gait(duty="half", phases={0: 0.0}), "duty is 'half'"),
        (lambda: lw.Gait(duty=True, phases={0: 0.0}), "duty is True"),
        (lambda: lw.Gait(duty=0.5, phases=[0, 0.5]), "phase for each leg"),
        (lambda: lw.Gait(duty=0.5, phases={0: "x"}), "phase of leg 0"),
        (lambda: lw.Walk(TRIPOD, velocity=0.05), "two numbers"),
        (lambda: lw.Walk(TRIPOD, velocity=None), "two numbers"),
        (lambda: lw.Walk(TRIPOD, velocity="ab"), r"velocity\[0\] is 'a'"),
        (lambda: lw.Walk(TRIPOD, turn="fast"), "turn is 'fast'"),
        (lambda: lw.Walk(TRIPOD, turn=float("nan")), "turn is nan"),
        (lambda: lw.Walk(TRIPOD, cycle="1"), "cycle is '1'"),
        (lambda: lw.Walk(TRIPOD, slope="steep"), "slope is 'steep'"),
        (lambda: lw.Walk(TRIPOD, pose=(0, 0, 0.01)), r"lw\.Pose"),
        (lambda: lw.Pose(z="high"), r"pose\.z"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(ask, words):
    with pytest.raises(lw.RequestError, match=words) as refused:
        ask()
    assert not str(refused.value).endswith("..")
    assert str(pickle.loads(pickle.dumps(refused.value))) == str(refused.value)


@pytest.mark.parametrize("samples", [3, 0, 12.5, "many", None])
def test_a_senseless_number_of_samples_is_refused(rook, walk, samples):
    with pytest.raises(lw.RequestError, match="samples is"):
        lw.plan(rook, walk, samples=samples)
