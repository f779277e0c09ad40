"""Kernels: the gait's clock, whose turn it is to lift, and when all must wait."""

from __future__ import annotations

from legwright.kernel import within
from legwright.locomotion import _state as at

HOLD_RATE = 40.0
"""How fast the clock stops and starts again [1/s]."""
HURRY = 3.0
"""So much faster runs the clock of feet that feel while none of them is in the air."""
FLOW_TIME = 0.8
"""Time constant in which the body's speed goes to the clock's mean speed [s]."""


@within
def local_share(state, goal, leg):  # type: ignore[no-untyped-def]
    """Share of the cycle since the touch-down that the clock gives a leg."""
    return (state.clock[at.PHASE] - goal.phases[leg]) % 1.0


@within
def standing_feet(state, legs):  # type: ignore[no-untyped-def]
    """Mark the feet that stand in ``legs`` (L,); returns their number."""
    count = 0
    for leg in range(len(legs)):
        legs[leg] = state.mode[leg] == at.STAND or state.mode[leg] == at.LAND
        count += legs[leg]
    return count


@within
def in_the_air(state, goal):  # type: ignore[no-untyped-def]
    """Whether a foot is in the air, and whether one should have landed by the clock."""
    flying = late = False
    for leg in range(len(state.mode)):
        mode = state.mode[leg]
        up = mode in (at.SWING, at.FALL, at.BACK, at.DOUBT)
        flying |= up or mode == at.HELD
        if goal.n[at.WALKING] > 0.0 and local_share(state, goal, leg) < goal.n[at.DUTY]:
            late |= up
            state.done[leg] = 0.0
    return flying, late


@within
def wants_up(state, goal, leg, ahead):  # type: ignore[no-untyped-def]
    """Whether a standing foot is to lift now, or within the share ``ahead`` of the cycle."""
    if state.mode[leg] != at.STAND or state.posture[2] - state.relief[0] < goal.n[at.LOWEST]:
        return False
    if leg == int(goal.n[at.STEP]):
        return True
    if goal.n[at.WALKING] <= 0.0 or goal.n[at.STEP] >= 0.0:
        return False
    local = local_share(state, goal, leg)
    if local >= goal.n[at.DUTY]:
        return state.done[leg] == 0.0
    return local + ahead >= goal.n[at.DUTY]


@within
def run_clock(state, goal, flying, late, blocked, h):  # type: ignore[no-untyped-def]
    """Run the clock, or hold it while a foot is late or must not lift.

    The body's speed follows the clock's mean (`FLOW`): it goes on evenly while single feet
    are late, and stops at once where a foot must not lift.
    """
    clock, walking = state.clock, goal.n[at.WALKING] > 0.0
    run = 0.0 if late or blocked or not walking or goal.n[at.STEP] >= 0.0 else 1.0
    if goal.n[at.FELT] > 0.0 and not flying:
        run *= HURRY  # feet that landed in another's delay need not sit out their own time
    clock[at.RHO] += min(max(run - clock[at.RHO], -HOLD_RATE * h), HOLD_RATE * h)
    clock[at.BLOCKED] = clock[at.BLOCKED] + h if late or blocked else 0.0
    if not walking:
        clock[at.FLOW] = 1.0
        return
    if goal.n[at.STEP] >= 0.0:
        clock[at.FLOW] = max(clock[at.FLOW] - HOLD_RATE * h, 0.0)
    else:
        clock[at.FLOW] += min(h / FLOW_TIME, 1.0) * (min(clock[at.RHO], 1.0) - clock[at.FLOW])
    clock[at.PHASE] = (clock[at.PHASE] + h * clock[at.RHO] / goal.n[at.CYCLE]) % 1.0
