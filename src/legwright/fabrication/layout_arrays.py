"""What the layout kernel reads and writes: arrays of a robot, its walks, and what losing means."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats

Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]

MARGIN, REACH, SPEED, TORQUE, HEAT, CLEARANCE, GAP = range(7)
"""Places in a row of scores."""
SCORES = 7
LOSS = 7
"""Behind the scores: what the candidate loses, its distance from today's layout included."""


class Build(NamedTuple):
    """A robot as the kernel sees it; L legs."""

    rows: Floats
    """(L, ROW): today's legs."""
    yaw: Floats
    """(L,): today's directions [rad]."""
    dim: Whole
    """(L, 7): the free dimension behind x, y, height, direction, coxa, femur, tibia; -1 none."""
    scale: Floats
    """(L, 7): factor on the dimension's value."""
    base: Floats
    """(L, 7): what is added; today's value where no dimension stands behind it."""
    today: Floats
    """(L, 7): today's values."""
    solid: Floats
    """(L, 3, V, 4): mass and place of each segment's link for each value of its dimension."""
    foot: Floats
    """(L, 4): standing foot: distance from the hip [m], angle from the leg's direction [rad]; or,
    where the distance is negative, its place x, y in the body frame (2, 3) [m]."""
    trunk: Floats
    """(4,): mass with payload, and its moments without the hip servos [kg, kg·m]."""
    hip: Floats
    """(L,): mass that moves with each hip [kg]."""
    height: float
    """Body frame over the ground [m]."""
    peak: Floats
    """(L, 3): torque that each drive gives at rest, over the wanted reserve [N·m]."""
    held: Floats
    """(L, 3): torque that each drive gives for ever [N·m]."""
    pace: Floats
    """(L, 3): no-load speed at the battery's lowest voltage [rad/s]; inf where unknown."""
    flat: Flags
    """(L, 3): whether the torque does not fall with speed."""
    pairs: Whole
    """(P, 2): neighbouring legs."""
    radius: Floats
    """(L, 3): of the capsules around coxa, femur, tibia [m]."""
    beam: Floats
    """(L, 6): box around the femur's link, see `_layout_leg.beam_gap` [m]."""
    boxes: Floats
    """(B, 15): boxes that hold what does not move with a leg: axes row by row, centre, half edges,
    body frame [m]."""
    apart: Flags
    """(B, L, 2): whether femur and tibia are measured against a box: not where they meet today."""


class Walks(NamedTuple):
    """What is walked: C cases of T samples each."""

    turn: Floats
    """(C, T, L, 2, 2): foot place = turn @ middle + shift."""
    shift: Floats
    """(C, T, L, 2) [m]"""
    lift: Floats
    """(C, T, L): over the ground [m]."""
    stands: Flags
    """(C, T, L)"""


class Places(NamedTuple):
    """The foot places of the walks, each once; U of them. See `layout_twins`."""

    flip: Floats
    """(L, 3): signs of x, y and of the femur's axis between a leg and the one that it mirrors."""
    entry: Whole
    """(C, T, L): which place a leg has in a sample."""
    owner: Whole
    """(U,): leg that a place is told for."""
    path: Floats
    """(U, 7): turn (row by row) and shift of its standing foot, height over the ground [m]."""
    shared: Flags
    """(B,): boxes of the trunk that look alike to all legs that mirror each other."""
    around: Whole
    """(L,): legs in the order in which their feet go round, from above to the left."""


class Dash(NamedTuple):
    """The gait whose top speed is looked for, for a stride of 1 m; T samples."""

    along: Floats
    """(T, L): forward place from the middle, per stride."""
    lift: Floats
    """(T, L) [m]"""
    along_rate: Floats
    """(T, L): by the share of the cycle."""
    lift_rate: Floats
    """(T, L) [m]"""
    stands: Flags
    """(T, L)"""
    cycle: float
    """Stated cycle time [s]; 0 where open."""
    shortest: float
    """Shortest cycle that is tried [s]."""
    margin: float
    """Least margin that stops it [m]; -inf where none does."""
    heat: float
    """Largest share of the lasting torque that stops it; inf where none does."""
    gap: float
    """Least distance from joint limits [rad]."""
    longest: float
    """Longest stride tried [m]."""


class Aim(NamedTuple):
    """What losing means; one entry a score unless said otherwise."""

    today: Floats
    """Scores of today's layout."""
    sense: Floats
    """1: more is better; -1: less is."""
    scale: Floats
    """A change of this size counts as 1."""
    weight: Floats
    need: Floats
    """What the sheet asks for, where today's layout gives it; else -inf or inf."""
    fine: float
    """Added for each need that is broken."""
    near: Floats
    """(D, V): cost of taking a value, for its distance from today's."""
