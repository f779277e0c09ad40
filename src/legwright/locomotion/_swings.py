"""Kernels: how a foot gets from where it stood to where it will stand.

Every step plans anew from the foot's own position, velocity and acceleration, so whatever
changes on the way (the aim, the gait, an obstacle) bends the path and never breaks it.
"""

from __future__ import annotations

import math

from legwright.kernel import kernel, within
from legwright.locomotion import _state as at
from legwright.locomotion._bump import RETREAT
from legwright.locomotion._quintic import quintic
from legwright.locomotion._slanting import lively
from legwright.locomotion._terrain import remember
from legwright.locomotion.probing import SPEED as PROBE_SPEED

HALT = 0.08
"""Time in which a foot that touched comes to rest, back at the height where it was felt [s]."""
ROUGH = 1.0
"""How much higher a foot goes over rough ground, in mean misses of the expected height."""
WARY = 1.0
"""How much higher over rough ground it begins to feel, likewise."""
RISING = 0.45
"""Share of the swing's time after which a foot is at its top."""
STEEP = 0.75
"""Share of the foot speed that the rise may use: it comes with forward motion."""
PEAK, HARDEST = 1.875, 5.774
"""Peak over mean speed of a minimum-jerk move; its peak acceleration times time squared over way
(Flash & Hogan 1985, from memory)."""
EAGER = 0.6
"""Share of a foot's vertical acceleration that a swing uses."""
BEHIND, CATCH_UP = 2e-4, 0.5
"""A foot whose joints leave it farther behind than this stays in the air until they have caught
up; for so long at most [m, s]."""
PROBE_GAIN = 50.0
"""How fast a probing foot slows down once it touches [1/s]."""
SLOW = 0.25
"""Time slowed farther than this slows a foot that feels its way down too."""
SELDOM, QUICKER = 1.2, 1.4
"""Higher over the expected ground than this, in heights from which a descent begins, little is
met: the foot goes down so much faster there."""
HARD = 0.5
"""A foot that meets the ground in its swing faster than a descent times this draws back."""
DRAW_BACK, ONCE_MORE = 0.2, 1.0
"""Time in which it does [s]; and height over that of a descent from which it comes again, for it
went on while it was stopped."""
QUIET = 0.1
"""So long it goes down already before readings count: its gears have just turned back [s]."""
TEST = 0.2
"""So long a standing foot that seems to carry nothing goes down before it is taken for unborne;
what stands is felt within 0.07 to 0.16 [s]."""
SEEK = 0.6
"""Time in which a foot that found nothing goes beside [s]."""
WIDE, GENTLY = 1.3, 0.35
"""A foot that begins to feel higher than so many approaches moves aside no farther than from
there, but at least at this share of its slant: on rough ground a longer way costs stance."""
FIRM = 0.15
"""Part of the swing before touch-down in which the aim stays as it is."""


@within
def lift_off(fixed, state, goal, leg):  # type: ignore[no-untyped-def]
    """Begin a swing of one leg."""
    T = goal.n[at.SWING_TIME]
    state.mode[leg] = at.SWING
    state.flags[leg] |= at.LIFTED
    rise = goal.n[at.LIFT] + ROUGH * state.relief[3]
    state.top[leg] = max(state.foot[leg, 2], state.aim[leg, 2]) + rise
    # High swings take longer than flat ones, so that no joint must slow all others.
    way, most = state.top[leg] - state.foot[leg, 2], EAGER * fixed.spry[leg]
    up = max(PEAK * way / (STEEP * goal.n[at.QUICK]), math.sqrt(HARDEST * way / most))
    down = math.sqrt(HARDEST * max(state.top[leg] - state.aim[leg, 2], 0.0) / most)
    state.rise[leg] = max(RISING * T, up)
    state.left[leg] = state.rise[leg] + max((1.0 - RISING) * T, down)
    state.pressed[leg] = 0.0
    state.since[leg] = state.tries[leg] = state.bump[leg] = 0.0
    state.done[leg] = 1.0


@within
def reserve(state, goal):  # type: ignore[no-untyped-def]
    """Height over the expected ground at which a foot begins to feel its way; 0 for others [m]."""
    near = goal.n[at.APPROACH]
    return near + min(WARY * state.relief[3], 2.5 * near)


@within
def _bring(state, leg, axis, p1, v1, left, h):  # type: ignore[no-untyped-def]
    f, v, a = state.foot, state.foot_v, state.foot_a
    f[leg, axis], v[leg, axis], a[leg, axis] = quintic(
        f[leg, axis], v[leg, axis], a[leg, axis], p1, v1, 0.0, left, h
    )


@within
def touch_down(state, leg):  # type: ignore[no-untyped-def]
    """The ground is felt: come to rest within `HALT`.

    The height is that at which it was felt: going on by the millimetre of the delay and of
    braking would let the newest foot carry what two others should.
    """
    remember(state, leg, state.aim[leg, 2])
    land(state, leg)
    state.flags[leg] |= at.TOUCHED


@within
def land(state, leg):  # type: ignore[no-untyped-def]
    """Come to rest on the ground within `HALT`."""
    felt = state.mode[leg] in at.FEELS_DOWN
    state.mode[leg] = at.LAND
    state.left[leg] = HALT
    for k in range(2):
        state.aim[leg, k] = state.foot[leg, k]
        if not felt:  # a foot in its swing is faster than one that feels its way
            state.aim[leg, k] += 0.5 * HALT * state.foot_v[leg, k]
            state.aim[leg, k] += HALT * HALT * state.foot_a[leg, k] / 12.0
    state.aim[leg, 2] = state.foot[leg, 2]
    state.since[leg] = 0.0


@within
def _retreat(state, goal, leg, h):  # type: ignore[no-untyped-def]
    """Something is in the way: stop, back off to the aim, and rise; see `_bump`."""
    if state.bump[leg] < 0.0:
        state.bump[leg] = RETREAT
        state.tries[leg] += 1.0
        state.flags[leg] |= at.STUMBLED
        T, z = goal.n[at.SWING_TIME], state.foot[leg, 2]
        state.top[leg] = max(state.top[leg], z + goal.n[at.RAISE])
        up = PEAK * (state.top[leg] - z) / (STEEP * goal.n[at.QUICK])
        state.rise[leg] = max(RISING * T, up, RETREAT)
        state.left[leg] = state.rise[leg] + T  # the whole way is still to go
    for k in range(2):
        _bring(state, leg, k, state.aim[leg, k], 0.0, state.bump[leg], h)
    _bring(state, leg, 2, state.top[leg], 0.0, state.rise[leg], h)
    state.rise[leg] = max(state.rise[leg] - h, 0.0)
    state.bump[leg] = max(state.bump[leg] - h, 0.0)
    state.left[leg] -= h


@within
def _swing(fixed, state, goal, leg, touch, h):  # type: ignore[no-untyped-def]
    if state.bump[leg] != 0.0:
        _retreat(state, goal, leg, h)
        return
    felt = goal.n[at.FELT] > 0.0
    left, rise = state.left[leg], state.rise[leg]
    hold = goal.n[at.OP] == at.OP_HOLD and leg == int(goal.n[at.STEP])
    end, sink = state.aim[leg, 2], 0.0
    if felt and not hold:
        sink = -goal.n[at.FALL_SPEED]
        end += reserve(state, goal)
    _aside(fixed, state, goal, leg, end - state.aim[leg, 2], -sink, h)
    if rise > 0.0:
        _bring(state, leg, 2, state.top[leg], 0.0, rise, h)
        state.rise[leg] = max(rise - h, 0.0)
    else:
        _bring(state, leg, 2, end, sink, left, h)
    state.left[leg] = left - h
    if touch and rise <= 0.0 and _comes_again(state, goal, leg):
        _draw_back(state, goal, leg)
        state.tries[leg] = 0.0
    elif touch and rise <= 0.0 and state.foot_v[leg, 2] < 0.0:
        touch_down(state, leg)
    elif touch and state.since[leg] > 0.1:  # something is in the way: up and over it
        if state.tries[leg] < 3.0 and state.foot[leg, 2] + 0.5 * goal.n[at.LIFT] > state.top[leg]:
            state.tries[leg] += 1.0
            state.top[leg] += goal.n[at.RAISE]
            state.rise[leg] = max(state.rise[leg], 0.45 * goal.n[at.SWING_TIME])
            state.left[leg] = max(state.left[leg], goal.n[at.SWING_TIME])
            state.flags[leg] |= at.STUMBLED
    elif state.left[leg] <= 1e-9:
        state.since[leg] = 0.0
        if hold:
            state.mode[leg] = at.HELD
        elif felt:
            state.mode[leg] = at.FALL
            state.tries[leg] = 0.0  # what it met on the way was no search
        elif state.lag[leg] <= BEHIND or state.miss[leg] > BEHIND or state.left[leg] < -CATCH_UP:
            settle(state, leg)
            state.flags[leg] |= at.TOUCHED


@within
def _aside(fixed, state, goal, leg, high, sink, h):  # type: ignore[no-untyped-def]
    """Bring a foot beside its aim, from where it comes to it while it goes down by ``high``."""
    x, y = _slant(fixed, state, goal, leg)
    left = state.left[leg]
    _bring(state, leg, 0, state.aim[leg, 0] - x * high, x * sink, left, h)
    _bring(state, leg, 1, state.aim[leg, 1] - y * high, y * sink, left, h)


@within
def _slant(fixed, state, goal, leg):  # type: ignore[no-untyped-def]
    """Horizontal over downward speed of a foot that feels its way, ground frame; see `slant`.

    A foot that is to push goes straight down.
    """
    if _probes(goal, leg):
        return 0.0, 0.0
    c, s = math.cos(state.place[2]), math.sin(state.place[2])
    most = WIDE * goal.n[at.APPROACH]
    share = max(most / max(reserve(state, goal), most, 1e-9), GENTLY)
    share = min(share, lively(fixed, state, goal, leg))
    x, y = share * fixed.slant[leg, 0], share * fixed.slant[leg, 1]
    return c * x - s * y, s * x + c * y


@within
def _comes_again(state, goal, leg):  # type: ignore[no-untyped-def]
    """Whether a foot that meets the ground in its swing is to come down again, softly."""
    v = state.foot_v[leg, 2]
    hard = v < -HARD * goal.n[at.FALL_SPEED] and goal.n[at.SOFTLY] > 0.0
    return v < 0.0 and (hard or _probes(goal, leg))


@within
def _draw_back(state, goal, leg):  # type: ignore[no-untyped-def]
    """The ground is higher than expected: up from it, and down again with a zero of its own."""
    remember(state, leg, state.aim[leg, 2])
    state.mode[leg] = at.BACK
    for k in range(3):
        state.aim[leg, k] = state.foot[leg, k]
    state.left[leg], state.since[leg] = SEEK, 1.0
    if not _probes(goal, leg):
        state.aim[leg, 2] += ONCE_MORE * goal.n[at.APPROACH]
        state.left[leg] = DRAW_BACK


@within
def settle(state, leg):  # type: ignore[no-untyped-def]
    """The foot stands."""
    state.mode[leg] = at.STAND
    state.since[leg] = 0.0
    for k in range(3):
        state.foot_v[leg, k] = state.foot_a[leg, k] = 0.0


@within
def _doubted(fixed, state, goal, leg, touch, h):  # type: ignore[no-untyped-def]
    """A standing foot seems to carry nothing: go down as in a descent, and see if it is so.

    A gear that moves tells what one at rest hides. What stands after all stays where it is felt.
    """
    if touch and state.since[leg] > 0.0:
        state.bump[leg] = 0.0
        land(state, leg)
    elif state.since[leg] > TEST or state.miss[leg] > 1e-4:
        state.mode[leg] = at.FALL
        state.flags[leg] |= at.UNBORNE
        state.pressed[leg] = 0.0
    else:
        _sink(fixed, state, goal, leg, h)


@within
def _fall(fixed, state, goal, leg, touch, h):  # type: ignore[no-untyped-def]
    """Down at a constant speed and slant until the ground is felt, or lower than allowed."""
    probes = _probes(goal, leg)
    if touch and state.since[leg] > 0.0:
        if probes:
            state.mode[leg], state.since[leg] = at.PUSH, 0.0
            state.aim[leg, 2] = state.foot[leg, 2]
            state.flags[leg] |= at.TOUCHED
        elif state.bump[leg] < 0.0 and goal.n[at.SOFTLY] > 0.0:
            state.bump[leg] = 0.0
            _draw_back(state, goal, leg)
        else:
            touch_down(state, leg)
        return
    floor = state.aim[leg, 2] - goal.n[at.DEEPEST]
    # over where ground is expected, a leg that does not reach its foot is asked too high, not low
    short = state.miss[leg] > 1e-4 and state.foot[leg, 2] < state.aim[leg, 2]
    if probes and (state.foot[leg, 2] <= floor or state.miss[leg] > 1e-4):
        settle(state, leg)
        state.mode[leg] = at.HELD
        return
    if state.foot[leg, 2] <= floor or short:
        state.flags[leg] |= at.SEARCHED
        state.tries[leg] += 1.0
        if state.tries[leg] > 3.0:
            state.flags[leg] |= at.NO_GROUND
            touch_down(state, leg)
            return
        state.mode[leg] = at.BACK
        state.left[leg] = SEEK
        state.since[leg] = 0.0
        return
    _sink(fixed, state, goal, leg, h)


@within
def _sink(fixed, state, goal, leg, h):  # type: ignore[no-untyped-def]
    """Down at the speed of a descent."""
    pace = max(state.clock[at.SIGMA], SLOW)  # slowed time must not slow it: joints would stick
    sink = -goal.n[at.FALL_SPEED] / pace
    if state.foot[leg, 2] > state.aim[leg, 2] + SELDOM * goal.n[at.APPROACH]:
        sink *= QUICKER
    gain = min(12.0 * h / pace, 1.0)
    before = state.foot_v[leg, 2]
    state.foot_v[leg, 2] = before + gain * (sink - before)
    state.foot_a[leg, 2] = (state.foot_v[leg, 2] - before) / h
    state.foot[leg, 2] += h * state.foot_v[leg, 2]
    _drift(fixed, state, goal, leg, h)


@within
def _drift(fixed, state, goal, leg, h):  # type: ignore[no-untyped-def]
    """Aside in proportion to the way down, without a jump of speed."""
    slant = _slant(fixed, state, goal, leg)
    gain = min(12.0 * h / max(state.clock[at.SIGMA], SLOW), 1.0)
    for k in range(2):
        before = state.foot_v[leg, k]
        state.foot_v[leg, k] = before - gain * (slant[k] * state.foot_v[leg, 2] + before)
        state.foot_a[leg, k] = (state.foot_v[leg, k] - before) / h
        state.foot[leg, k] += h * state.foot_v[leg, k]


@within
def _back(fixed, state, goal, leg, h):  # type: ignore[no-untyped-def]
    """No ground here: up, a little towards the neutral place, and down again."""
    if state.since[leg] <= 1.5 * h:
        c, s = math.cos(state.place[2]), math.sin(state.place[2])
        nx = state.place[0] + c * fixed.neutral[leg, 0] - s * fixed.neutral[leg, 1]
        ny = state.place[1] + s * fixed.neutral[leg, 0] + c * fixed.neutral[leg, 1]
        turn = 2.0 * state.tries[leg] + leg
        dx, dy = nx - state.foot[leg, 0], ny - state.foot[leg, 1]
        state.aim[leg, 0] = state.foot[leg, 0] + 0.5 * dx + 0.02 * math.cos(turn)
        state.aim[leg, 1] = state.foot[leg, 1] + 0.5 * dy + 0.02 * math.sin(turn)
    left, sink = state.left[leg], goal.n[at.FALL_SPEED]
    high = goal.n[at.APPROACH] + QUIET * sink
    if left > 0.0:
        _aside(fixed, state, goal, leg, high, sink, h)
        _bring(state, leg, 2, state.aim[leg, 2] + high, -sink, left, h)
    else:
        state.foot_v[leg, 2] = -sink
        state.foot[leg, 2] -= h * sink
        _drift(fixed, state, goal, leg, h)
    state.left[leg] = left - h
    if state.left[leg] <= -QUIET:
        state.mode[leg] = at.FALL
        state.since[leg] = 0.0


@within
def _probes(goal, leg):  # type: ignore[no-untyped-def]
    return goal.n[at.PROBING] > 0.0 and leg == int(goal.n[at.STEP])


@within
def _push(state, goal, leg, h):  # type: ignore[no-untyped-def]
    """Press on slowly until it is enough, or the leg reaches no farther; then stand."""
    probes = _probes(goal, leg)
    deep = state.foot[leg, 2] <= state.aim[leg, 2] - goal.n[at.DEEPEST] or state.miss[leg] > 1e-4
    stop = not probes or goal.n[at.ENOUGH] >= 1.0 or deep
    sink = 0.0 if stop else -PROBE_SPEED * (1.0 - goal.n[at.ENOUGH])
    before = state.foot_v[leg, 2]
    state.foot_v[leg, 2] = before + min(PROBE_GAIN * h, 1.0) * (sink - before)
    state.foot_a[leg, 2] = (state.foot_v[leg, 2] - before) / h
    state.foot[leg, 2] += h * state.foot_v[leg, 2]
    if stop and abs(state.foot_v[leg, 2]) < 1e-4:
        settle(state, leg)


@kernel
def fly(fixed, state, goal, leg, touch, h):  # type: ignore[no-untyped-def]
    """Move one foot that is not standing on by ``h``."""
    state.since[leg] += h
    mode = state.mode[leg]
    if mode == at.SWING:
        _swing(fixed, state, goal, leg, touch, h)
    elif mode == at.FALL:
        _fall(fixed, state, goal, leg, touch, h)
    elif mode == at.DOUBT:
        _doubted(fixed, state, goal, leg, touch, h)
    elif mode == at.BACK:
        _back(fixed, state, goal, leg, h)
    elif mode == at.PUSH:
        _push(state, goal, leg, h)
    elif mode == at.LAND:
        for k in range(3):
            _bring(state, leg, k, state.aim[leg, k], 0.0, state.left[leg], h)
        state.left[leg] -= h
        if state.left[leg] <= 1e-9:
            settle(state, leg)
