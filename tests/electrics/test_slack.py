"""Lengths of cables, against the plain geometry of arcs and arms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from legwright.electrics.extremes import GAP, extremes
from legwright.electrics.route import Cable
from legwright.electrics.slack import (
    QUARTER_TURN,
    CutLength,
    arch_bulge,
    arch_length,
    cut_length,
    makeable,
    rooms_between,
    widest_reach,
)
from legwright.electrics.stretch import Stretch, distances
from legwright.errors import RequestError
from legwright.robot.sheet_electrics import Harness


def arm(
    *,
    start: tuple[float, float, float],
    steps: list[tuple[float, float, float]],
    end: tuple[float, float, float],
    axes: list[tuple[float, float, float]] | None = None,
    lower: list[float],
    upper: list[float],
    coupling: np.ndarray | None = None,
    prismatic: tuple[bool, ...] | None = None,
    endless: tuple[str, ...] = (),
) -> Stretch:
    """Joints one after the other, all about z unless told otherwise."""
    count = len(steps)
    placements = np.tile(np.eye(4), (count, 1, 1))
    placements[:, :3, 3] = steps
    names = tuple(f"j{number}" for number in range(count))
    coupling = np.eye(count) if coupling is None else coupling
    return Stretch(
        start=np.array(start),
        end=np.array(end),
        joints=names,
        placements=placements,
        axes=np.array(axes or [(0.0, 0.0, 1.0)] * count),
        prismatic=prismatic or (False,) * count,
        drives=names[: coupling.shape[1]],
        coupling=coupling,
        offset=np.zeros(count),
        lower=np.array(lower),
        upper=np.array(upper),
        endless=endless,
    )


def test_one_joint_follows_the_law_of_cosines() -> None:
    """a = 30 mm, b = 40 mm at an angle of 180 deg - q: d² = a² + b² + 2 a b cos q."""
    stretch = arm(
        start=(-0.03, 0.0, 0.0), steps=[(0.0, 0.0, 0.0)], end=(0.04, 0.0, 0.0),
        lower=[-1.2], upper=[0.7],
    )  # fmt: skip
    found = extremes(stretch)
    assert found.farthest == pytest.approx(0.07, rel=1e-12)
    nearest = np.sqrt(0.03**2 + 0.04**2 + 2 * 0.03 * 0.04 * np.cos(1.2))
    assert found.nearest == pytest.approx(nearest, rel=1e-12)
    assert found.at_nearest == (-1.2,)
    assert found.at_farthest == pytest.approx((0.0,), abs=1e-12)
    assert found.gap == 0.0


@given(
    a=st.tuples(*[st.floats(-0.2, 0.2)] * 3),
    t=st.tuples(*[st.floats(-0.2, 0.2)] * 3),
    b=st.tuples(*[st.floats(-0.2, 0.2)] * 3),
    axis=st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1),
    span=st.tuples(st.floats(-6.0, 6.0), st.floats(0.01, 6.0)),
    ratio=st.sampled_from([1.0, -1.0, 0.5, -2.0]),
    slides=st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_any_one_joint_against_a_fine_sweep(a, t, b, axis, span, ratio, slides) -> None:  # type: ignore[no-untyped-def]
    stretch = arm(
        start=a, steps=[t], end=b, axes=[tuple(np.array(axis) / np.linalg.norm(axis))],
        lower=[span[0]], upper=[span[0] + span[1]], coupling=np.array([[ratio]]),
        prismatic=(slides,),
    )  # fmt: skip
    found = extremes(stretch)
    u = np.linspace(span[0], span[0] + span[1], 20_001)[:, None]
    swept = distances(stretch, u)
    step = 0.5 * span[1] / 20_000 * abs(ratio) * 1.1
    assert swept.max() - 1e-12 <= found.farthest <= swept.max() + step
    assert swept.min() - step <= found.nearest <= swept.min() + 1e-12


def test_a_stretched_arm_inside_both_ranges_is_the_mixed_extreme() -> None:
    """100 + 80 + 50 mm in one line at q = 0, away from every corner of the joint box."""
    stretch = arm(
        start=(-0.1, 0.0, 0.0), steps=[(0.0, 0.0, 0.0), (0.08, 0.0, 0.0)], end=(0.05, 0.0, 0.0),
        lower=[-1.0, -0.9], upper=[1.3, 1.4],
    )  # fmt: skip
    found = extremes(stretch)
    assert 0.23 <= found.farthest <= 0.23 + 2 * GAP * 0.23
    assert found.at_farthest == pytest.approx((0.0, 0.0), abs=0.1)
    corners = [(p, q) for p in (-1.0, 1.3) for q in (-0.9, 1.4)]
    ends = distances(stretch, np.array(corners))
    assert ends.max() < 0.9 * found.farthest
    grid = np.stack(np.meshgrid(*[np.linspace(lo, hi, 801) for lo, hi in
                                  ((-1.0, 1.3), (-0.9, 1.4))]), axis=-1)  # fmt: skip
    swept = distances(stretch, grid)
    assert swept.min() - found.gap <= found.nearest <= swept.min()


def test_one_drive_that_moves_two_joints_is_swept_over_its_own_range_only() -> None:
    """A mimic joint that turns back as far as its source turns keeps the end link parallel."""
    stretch = arm(
        start=(0.0, 0.0, 0.0), steps=[(0.0, 0.0, 0.0), (0.1, 0.0, 0.0)], end=(0.02, 0.0, 0.0),
        lower=[-1.0], upper=[1.5], coupling=np.array([[1.0], [-1.0]]),
    )  # fmt: skip
    found = extremes(stretch)
    near = np.hypot(0.1 * np.cos(1.5) + 0.02, 0.1 * np.sin(1.5))
    assert 0.12 <= found.farthest <= 0.12 * (1 + 3 * GAP)
    assert near * (1 - 3 * GAP) <= found.nearest <= near


def arc_radius(length: float, chord: float) -> float:
    """By root finding on sin(x)/x = c/L, x half the arc's angle."""
    if length <= chord * (1 + 1e-12):
        return np.inf
    if chord < 1e-9 * length:
        return length / (2 * np.pi)
    x = brentq(lambda x: np.sin(x) / x - chord / length, 1e-9, np.pi)
    return length / (2 * x)


def test_arcs_of_known_shape() -> None:
    """Half a circle over its diameter; a whole one over nothing; 3 quarters over a chord."""
    assert arch_bulge(0.05 * np.pi, 0.1) == pytest.approx(0.05, rel=1e-9)
    assert arch_bulge(0.1 * np.pi, 0.0) == pytest.approx(0.1, rel=1e-9)
    assert arch_length(0.05, 0.1) == pytest.approx(0.05 * np.pi, rel=1e-12)
    r = 0.03
    assert arch_length(r * (1 + np.sqrt(0.5)), r * np.sqrt(2)) == pytest.approx(1.5 * np.pi * r)
    assert arch_length(0.0, 0.1) == 0.1
    assert widest_reach(0.1, 0.06) == pytest.approx(0.04)


@given(near=st.floats(0.0, 0.1), more=st.floats(0.0, 0.1), radius=st.floats(0.001, 0.05))
@settings(max_examples=150, deadline=None)
def test_lengths_in_the_room_never_kink_and_those_outside_do(near, more, radius) -> None:  # type: ignore[no-untyped-def]
    far = near + more
    ends = 2 * QUARTER_TURN * radius
    rooms = rooms_between(near, far, radius=radius)
    lengths = far + np.linspace(1e-6, 8 * radius, 60)
    for length in lengths:
        least = min(arc_radius(length, c) for c in np.linspace(near, far, 15))
        inside = any(r.shortest - ends <= length <= r.longest - ends for r in rooms)
        edge = min(abs(length - x) for r in rooms for x in (r.shortest - ends, r.longest - ends))
        if edge > 1e-5:
            assert inside == (least >= radius * (1 - 1e-6))


@given(near=st.floats(0.0, 0.1), more=st.floats(0.0, 0.05), bulge=st.floats(0.005, 0.1))
@settings(max_examples=40, deadline=None)
def test_the_longest_bulges_just_as_far_as_allowed(near, more, bulge) -> None:  # type: ignore[no-untyped-def]
    (room,) = rooms_between(near, near + more, bulge=bulge)
    if room.fits:
        assert room.shortest == near + more
        chords = np.linspace(near, near + more, 301)
        widest = max(arch_bulge(room.longest, float(chord)) for chord in chords)
        assert widest == pytest.approx(bulge, rel=1e-5)
        assert widest_reach(room.longest, near) >= bulge * (1 - 1e-6)
    else:
        chords = np.linspace(near, near + more, 21)
        assert max(arch_bulge(near + more, float(chord)) for chord in chords) > bulge * (1 - 1e-9)


def test_lengths_are_makeable() -> None:
    assert makeable(0.1212, 0.2, step=0.005) == pytest.approx(0.125)
    assert makeable(0.125, 0.2, step=0.005) == pytest.approx(0.125)
    assert makeable(0.1212, 0.1330, step=0.005, slack=0.5) == pytest.approx(0.130)
    assert makeable(0.1212, 0.1240, step=0.005) is None
    with pytest.raises(RequestError, match=r"step is 0.0, must be finite and above 0"):
        makeable(0.1, 0.2, step=0.0)


def harness_with(**keys: object) -> Harness:
    return Harness.model_validate(keys)


def across(stretch: Stretch, *, radius: float = 0.018, harness: Harness) -> CutLength:
    cable = Cable(
        name="knee", branch="b", port=1, place=1, start="hip", fixings=(), stretches=(stretch,),
        conductor="leg", radius=radius, fixed_radius=0.4 * radius, stated=None,
    )  # fmt: skip
    return cut_length(cable, harness)


def test_no_length_fits_where_the_joint_moves_more_than_the_bulge_allows() -> None:
    """180 deg of travel bring the fixings together; the loop then needs more than 10 mm."""
    stretch = arm(
        start=(-0.03, 0.0, 0.0), steps=[(0.0, 0.0, 0.0)], end=(0.03, 0.0, 0.0),
        lower=[0.0], upper=[np.pi],
    )  # fmt: skip
    free = across(stretch, harness=harness_with(step="1 mm", slack=0.0))
    loop = 2 * np.pi * 0.018 + 2 * QUARTER_TURN * 0.018 + 0.01
    assert free.stretches[0].loop
    assert free.shortest == pytest.approx(loop)
    assert free.length == pytest.approx(0.144)
    tight = across(stretch, harness=harness_with(bulge="10 mm"))
    assert tight.length is None
    assert tight.shortest > tight.longest
    assert tight.trouble is not None
    assert tight.trouble.startswith("The stretch across joint 'j0' needs 133.6 mm")
    narrow = across(stretch, harness=harness_with(bulge="42 mm", step="50 mm"))
    assert narrow.length is None
    assert narrow.trouble is not None
    assert narrow.trouble.startswith("No multiple of 50 mm lies between")


def test_a_joint_that_turns_without_end_winds_the_cable_up() -> None:
    stretch = arm(
        start=(-0.03, 0.0, 0.0), steps=[(0.0, 0.0, 0.0)], end=(0.03, 0.0, 0.0),
        lower=[-np.pi], upper=[np.pi], endless=("j0",),
    )  # fmt: skip
    cut = across(stretch, harness=harness_with())
    assert cut.length is None
    assert cut.trouble == "Joint 'j0' turns without end and winds the cable up."


def test_bad_numbers_are_told() -> None:
    with pytest.raises(RequestError, match=r"chord is -1.0, must be finite and not negative"):
        rooms_between(-1.0, 1.0)
    with pytest.raises(RequestError, match=r"farthest is 0.1, must be finite and at least"):
        rooms_between(0.2, 0.1)
    with pytest.raises(RequestError, match="radius is nan"):
        rooms_between(0.1, 0.2, radius=np.nan)
    with pytest.raises(RequestError, match=r"length is 0.05, must be at least the chord"):
        arch_bulge(0.05, 0.1)
