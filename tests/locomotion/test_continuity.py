"""Whatever is asked, in whatever order: no jump, no slip, no fall, no NaN."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from twin import Twin

from legwright.locomotion.command import Command, Kind
from legwright.locomotion.gait import gait
from legwright.locomotion.walk import Pose
from legwright.robot.robot import Robot

LEGS = ("left-front", "left-middle", "left-rear", "right-front", "right-middle", "right-rear")
SLIP = 2e-3
"""Issue 4: no stance foot moves more than 2 mm on the ground."""
ROUNDING = 1.001

small = st.floats(-0.15, 0.15)
angle = st.floats(-0.25, 0.25)
poses = st.builds(
    Pose, x=st.floats(-0.04, 0.04), y=st.floats(-0.04, 0.04), z=st.floats(-0.03, 0.03),
    roll=angle, pitch=angle, yaw=angle,
)  # fmt: skip
walks = st.builds(
    Command, kind=st.just(Kind.WALK), velocity=st.tuples(small, small), turn=st.floats(-0.6, 0.6),
    gait=st.sampled_from([gait(name, 6) for name in ("tripod", "ripple", "wave")]),
    height=st.none() | st.floats(0.05, 0.16), pose=st.just(Pose()) | poses,
)  # fmt: skip
singles = st.builds(
    Command, kind=st.sampled_from([Kind.LIFT, Kind.PLACE]), leg=st.sampled_from(LEGS),
)  # fmt: skip
others = st.builds(
    Command, kind=st.sampled_from([Kind.STAND, Kind.HOLD, Kind.SIT]), pose=poses,
    height=st.none() | st.floats(0.05, 0.16),
)  # fmt: skip
sequences = st.lists(
    st.tuples(walks | walks | singles | others, st.floats(0.05, 2.0)), min_size=2, max_size=8
)


def check_sequence(robot: Robot, sequence: list[tuple[Command, float]]) -> None:
    twin = Twin(robot)
    twin.run(Command(), 4.0)
    for command, seconds in sequence:
        twin.run(command, seconds)
    assert twin.worst_speed <= ROUNDING
    assert twin.worst_surge <= ROUNDING
    assert twin.worst_slip <= SLIP
    assert twin.least_margin >= 0.0


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(sequence=sequences)
def test_random_commands_keep_joints_feet_and_margin(rook: Robot, sequence) -> None:
    """Referee: finite differences of the targets, the robot's own forward kinematics, and the
    static margin of McGhee & Frank (1968). One sequence is up to 20 s of control at 0.15 s each:
    forty here, five hundred with `make long`."""
    check_sequence(rook, sequence)


@pytest.mark.long
@settings(max_examples=500, deadline=None, suppress_health_check=list(HealthCheck))
@given(sequence=sequences)
def test_five_hundred_random_sequences(rook: Robot, sequence) -> None:
    check_sequence(rook, sequence)
