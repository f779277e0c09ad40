"""What is remembered of cables from edit to edit is what a fresh look would find."""

from __future__ import annotations

import gc
import weakref
from pathlib import Path

import numpy as np
import pytest

from legwright.electrics import route, slack
from legwright.electrics.slack import cuts_of
from legwright.mechanics.opening import edited
from legwright.robot.editing import opened

ROOK = Path(__file__).parents[2] / "robots" / "rook"
EDITS = (
    {},
    {"dimensions.femur": "91.3 mm"},
    {"dimensions.coxa": "47 mm"},
    {"harness.bulge": "31 mm"},
    {"harness.slack": "0.25"},
    {"stance.body_height": "95 mm"},
)


@pytest.fixture(scope="module")
def rook():
    return opened(ROOK)


def _numbers(robot) -> list[tuple[object, ...]]:
    found = []
    for cable, cut in cuts_of(robot):
        arrays = [fixing.at for fixing in cable.fixings]
        for one in cable.stretches:
            arrays += [one.start, one.end, one.placements, one.axes, one.lower, one.upper]
        links = [fixing.link for fixing in cable.fixings]
        joints = [one.joints for one in cable.stretches]
        numbers = np.concatenate([array.ravel() for array in arrays]).tolist()
        found.append((cable.name, cable.radius, links, joints, numbers, repr(cut)))
    return found


def test_cables_after_an_edit_are_those_of_a_fresh_look(rook) -> None:
    warm = [_numbers(edited(rook, edit)) for edit in (*EDITS, *EDITS)]
    for edit, once, again in zip(EDITS, warm[: len(EDITS)], warm[len(EDITS) :], strict=True):
        for known in (route._laid, slack._cut_length, cuts_of):
            known.cache_clear()
        assert once == again == _numbers(edited(rook, edit)), edit
    assert len({repr(one) for one in warm}) == len(EDITS) - 1  # body height moves no cable


def test_most_cables_outlast_an_edit(rook) -> None:
    cuts_of(edited(rook, {"dimensions.femur": "90 mm"}))
    before = route._laid.cache_info().misses
    found = cuts_of(edited(rook, {"dimensions.femur": "90.5 mm"}))
    assert 0 < route._laid.cache_info().misses - before < len(found) / 2


def test_robots_are_not_kept_by_their_cables(rook) -> None:
    robot = edited(rook, {"dimensions.femur": "88.5 mm"})
    cuts_of(robot)
    gone = weakref.ref(robot)
    cuts_of.cache_clear()
    del robot
    gc.collect()
    assert gone() is None
