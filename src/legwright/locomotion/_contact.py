"""Kernel: what the ground does to each foot, from joint currents and joint positions."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from legwright.kernel import copy, kernel, within
from legwright.locomotion import _state as at
from legwright.locomotion._leftover import UNSURE_BY, lifting, surplus
from legwright.mechanics._recursion import recurse
from legwright.robot.tree import Floats

GRAVITY = 9.80665
BLIND, LISTEN = 0.04, 0.10
"""A descent's first moments are not judged; from `LISTEN` on it has a zero of its own [s]."""
GAP, WINDOW = 0.04, 0.08
"""The zero is the mean of this much time, ending `GAP` before now [s]."""
RING = 64
"""Samples kept per leg: `GAP` and `WINDOW` at 400 Hz."""
DRIFT = 2.0
"""Standard deviations that the sequential test takes off each sample: half of the 4 by which a
touch-down shifts its mean, the best choice for a known shift (Page 1954, Continuous inspection
schemes, Biometrika 41, sec. 5)."""
MOST = 6.0
"""No sample counts for more standard deviations than this."""
HASTE = 2.0
"""So few readings above the drift say less: a foot that strikes leaves the ground again, for its
leg is free within the backlash, and comes off it 15 to 20 ms after it touched."""
FLUNG, WATCHED = 1.5, 0.01
"""A foot that moved faster than this times as it was sent, over so long, does not stand: it is
flung up within its backlash, or slides off an edge [s]."""
UNSURE = 0.25
"""Femur speed below which friction is ever less certain [rad/s]; about twice the speed at which
friction has fallen from rest to running."""
UNREST = 2.0
"""A descent's own scatter counts up to this many calibrated ones."""
PLAIN = 2.0
"""Readings that rose before by more standard deviations than this, carried on until now, are
those of gears that turn back: as far as they go on to rise it says nothing."""
AGREE = 2.0, 3.0
"""A following error counts for no more standard deviations than so many of the force, and so many
beside it: gears that stick and slip leave a foot behind that nothing pushes."""
EARLY = 3.0
"""How many times less certain the usual zero is than a descent's own."""
ODD = 8.0
"""Standard deviations over the usual zero from which a new zero was taken on the ground."""
HIDES = 1.25
"""So many times its gear's friction over the usual zero, and `ODD`, is no friction any more: a foot
in doubt that bore all along has no zero of its own."""
MEMORY = 0.3
"""Weight of the newest zero in the usual one."""
SMOOTH = 0.7
"""Share of the newest force in the smoothed one."""
UNMOVED = 0.01
"""Vertical speed of standing feet against where they were sent that says nothing [m/s]."""
TIPS = 0.2
"""Turn rate of the body about its level axes that jolts as much [rad/s]; 19 of 20 touch-downs come
at less."""
SLOWS = 6.0
"""Time that is slowed at this rate jolts as much [1/s]."""
TURNED = 0.10
"""So much longer the usual zero counts once the joint that feels was sent the other way in a
descent: its gear turns back, and readings rise for 0.15 s with no ground there [s]."""
HEED, FADES = 0.02, 0.06
"""Time over which it is taken, and in which it is forgotten [s]."""
LONGER = 1.5
"""A descent goes on with the joint that it began with until another's vertical lever is so many
times longer."""
SLACK = 0.01
"""Smallest vertical lever that counts, m of foot per rad."""
STEADY = 0.05
"""Time over which what is left over in the joints of a standing leg is taken [s]."""
FORCE, ERROR = 0, 1
"""The two channels of the joint that feels: newtons from current; metres of following error."""


class Feeling(NamedTuple):
    """The observer's memory."""

    gain: Floats
    """(J,): output torque per winding current [N·m/A]."""
    friction: Floats
    """(J,): identified gear friction [N·m]; 0 until calibrated."""
    noise: Floats
    """(3, L): standard deviation in the air of force [N] and following error [m], and their
    correlation."""
    qd: Floats
    """(4, J): joint speeds asked for in the last steps, newest first [rad/s]."""
    asked: Floats
    """(2, J): joint positions asked for in the last steps, newest first [rad]."""
    residual: Floats
    """(J,): torque that neither weight, inertia nor friction explain [N·m]."""
    steady: Floats
    """(J,): the same, smoothed over `STEADY` [N·m]."""
    raw: Floats
    """(2, L): upward force that the residual of the joint that feels means [N], and how far that
    joint keeps the foot above where it was sent [m]."""
    zero: Floats
    """(2, L): what they read in the air, from the leg's own descents."""
    usual: Floats
    """(2, L): mean of the last descents' zeros, nan before the first."""
    ring: Floats
    """(2, L, RING): readings of this descent."""
    spread: Floats
    """(2, L): standard deviation of the readings that made the zero."""
    trend: Floats
    """(2, L): how far the trend of those readings has gone on from the zero until now."""
    seen: Floats
    """(L,): readings since this descent began."""
    push: Floats
    """(L,): smoothed force of the ground on the foot, zero taken off [N]."""
    score: Floats
    """(L,): cumulative sum of the sequential test."""
    over: Floats
    """(L,): steps in a row above the threshold, where the force alone decides."""
    joint: Floats
    """(L,): column of the joint that feels, -1 for none."""
    run: Floats
    """(L,): readings in a row since the score was 0."""
    was: Floats
    """(2, J): measured joint positions of the last steps, newest first [rad]."""
    gap: Floats
    """(L,): how far each foot stays above where it was sent, by all its joints [m]."""
    rate: Floats
    """(L,): vertical speed of each foot against where it was sent [m/s]."""
    jolt: Floats
    """(3,): the standing feet's, over `UNMOVED`; how much it counts; and the share of time that
    passed in the last step."""
    limit: Floats
    """(5, L): score that is a touch in descent; push that is one in flight, and at the flight's
    end, on the way down [N]; score that is a touch already after `HASTE` readings; and push that
    tells of a foot in doubt [N]."""


@kernel
def feel(fixed, state, feeling, q, current, up, spin, dt, touch):  # type: ignore[no-untyped-def]
    """Estimate foot forces and say which feet touch.

    Args:
        fixed: The robot.
        state: Modes of the legs and what was asked of the joints.
        feeling: The observer's memory, updated.
        q: (J,) measured joint positions; none is nan.
        current: (J,) measured winding currents; nan counts as no information.
        up: (3,) direction against gravity, body frame.
        spin: (3,) angular velocity of the body, body frame [rad/s]; 0 where nothing tells.
        dt: Time since the last step [s].
        touch: (L,) of bools, filled.
    """
    J, L = len(q), len(state.mode)
    for row in range(3, 0, -1):
        copy(feeling.qd[row], feeling.qd[row - 1])
    copy(feeling.qd[0], state.qd)
    rows, qd, qdd = q.copy().reshape(1, J), np.empty((1, J)), np.empty((1, J))
    twist, acceleration = np.zeros((1, 6)), np.zeros((1, 6))
    for j in range(J):  # what is asked now has reached the links two steps later
        qd[0, j] = feeling.qd[1, j]
        qdd[0, j] = (feeling.qd[1, j] - feeling.qd[2, j]) / dt
    for k in range(3):
        acceleration[0, k] = GRAVITY * up[k]
    found = recurse(fixed.packed, rows, qd, qdd, twist, acceleration)
    torque, jacobian = found[0], found[3]
    for k in range(3):
        state.com[k] = found[4][0, 1 + k]
    for j in range(J):
        own = feeling.gain[j] * current[j] - fixed.packed.rotor[j] * qdd[0, j] - torque[0, j]
        own -= feeling.friction[j] * min(max(qd[0, j] / 0.05, -1.0), 1.0)
        feeling.residual[j] = own
        if not np.isnan(own):
            feeling.steady[j] += min(dt / STEADY, 1.0) * (own - feeling.steady[j])
    jolt = _jolt(fixed, state, feeling, q, jacobian[0], up, spin, dt)
    for leg in range(L):
        touch[leg] = False
        state.surplus[leg] = surplus(fixed.packed, feeling, leg)
        best, lever = _feels(fixed.packed, state, leg, jacobian[0], up, feeling)
        if best < 0:
            continue
        feeling.raw[FORCE, leg] = -feeling.residual[best] / lever
        feeling.raw[ERROR, leg] = lever * (q[best] - feeling.asked[1, best])
        force, doubt = lifting(fixed.packed, leg, jacobian[0], up, feeling, qdd[0])
        if np.isnan(force):  # no leg of three joints, or stretched: the best lever alone
            jerky = abs(fixed.packed.rotor[best] * qdd[0, best]) + feeling.friction[best]
            force, doubt = feeling.raw[FORCE, leg], UNSURE_BY * jerky / abs(lever)
        if state.mode[leg] in at.FEELS_DOWN:
            sinks = -math.copysign(qd[0, best], lever * qd[0, best]) / UNSURE
            hides = HIDES * feeling.friction[best] / abs(lever)
            plain = feeling.usual[FORCE, leg] + max(hides, ODD * feeling.noise[FORCE, leg])
            _judge(state, feeling, leg, force - doubt, plain, sinks, jolt, dt, touch)
            soft = touch[leg] and feeling.over[leg] < 3.0 and state.bump[leg] == 0.0
            if soft and state.mode[leg] == at.FALL:
                touch[leg] = not _flung(fixed.packed, state, feeling, leg, jacobian[0], q, dt)
        else:
            _in_flight(state, feeling, leg, force - doubt, touch)
    copy(feeling.asked[1], feeling.asked[0])
    copy(feeling.asked[0], state.q)
    copy(feeling.was[1], feeling.was[0])
    copy(feeling.was[0], q)


@within
def _feels(packed, state, leg, jacobian, up, feeling):  # type: ignore[no-untyped-def]
    """The joint that feels and its vertical lever; -1 where none does.

    That of the longest lever. In a descent it stays the same one until another's is far longer,
    for each has a zero of its own; then the descent begins anew. A foot that pushes on after a
    touch keeps it.
    """
    best, lever, same = -1, 0.0, 0.0
    for j in range(packed.column[leg], packed.column[leg + 1]):
        arm = up[0] * jacobian[0, j] + up[1] * jacobian[1, j] + up[2] * jacobian[2, j]
        if np.isnan(feeling.residual[j]):
            continue
        if j == feeling.joint[leg]:
            same = arm
        if abs(arm) > max(abs(lever), SLACK):
            best, lever = j, arm
    pushes = state.mode[leg] == at.PUSH
    feels = pushes or state.mode[leg] in at.FEELS_DOWN
    if feels and best >= 0 and best != feeling.joint[leg]:
        if abs(lever) < LONGER * abs(same) or (pushes and same != 0.0):
            return int(feeling.joint[leg]), same
        feeling.seen[leg] = 0.0
        feeling.usual[FORCE, leg] = feeling.usual[ERROR, leg] = np.nan
    feeling.joint[leg] = best
    return best, lever


@within
def _in_flight(state, feeling, leg, sure, touch):  # type: ignore[no-untyped-def]
    """A foot that is not in its descent: keep its force, and say if it surely meets something.

    ``sure`` is the upward force of which the model's doubt is taken off [N].
    """
    push = feeling.raw[FORCE, leg] - feeling.zero[FORCE, leg]
    feeling.push[leg] += SMOOTH * (push - feeling.push[leg])
    feeling.score[leg] = feeling.run[leg] = feeling.seen[leg] = 0.0
    down = state.rise[leg] <= 0.0 and state.foot_v[leg, 2] < 0.0
    more = sure > feeling.limit[2 if down else 1, leg]
    feeling.over[leg] = feeling.over[leg] + 1.0 if more else 0.0
    touch[leg] = feeling.over[leg] >= 3.0


@within
def _judge(state, feeling, leg, sure, plain, sinks, jolt, dt, touch):  # type: ignore[no-untyped-def]
    """Zero the readings in each descent, then compare them with what noise allows.

    ``sure`` is the upward force of which the model's doubt is taken off; ``plain`` the reading that
    friction does not explain, whatever the zero says [N].
    ``sinks`` is how fast the joint that feels is sent downward, over `UNSURE`. Where it is sent
    the other way, the body moves the foot, and the descent begins anew.
    """
    known = not np.isnan(feeling.usual[FORCE, leg])
    if sinks <= 0.0:
        feeling.seen[leg] = -float(int(TURNED / dt + 0.5))
    if feeling.seen[leg] == 0.0 or sinks <= 0.0:
        if known:
            _set(feeling.zero, feeling.usual, leg)
        feeling.spread[FORCE, leg] = feeling.spread[ERROR, leg] = 0.0
        feeling.trend[FORCE, leg] = feeling.trend[ERROR, leg] = 0.0
    feeling.seen[leg] += 1.0
    blind, first = int(BLIND / dt + 0.5), int(LISTEN / dt + 0.5)
    count = int(feeling.seen[leg])
    if count > blind and feeling.score[leg] <= feeling.limit[0, leg]:
        _listen(feeling, leg, count - blind, first - blind, dt)
    if count == first and _odd(feeling, leg):
        touch[leg] = True  # it touched while the zero was taken, or its friction is another now
        state.bump[leg] = -1.0
        feeling.usual[FORCE, leg] = feeling.usual[ERROR, leg] = np.nan
        return
    push = feeling.raw[FORCE, leg] - feeling.zero[FORCE, leg]
    feeling.push[leg] += SMOOTH * (push - feeling.push[leg])
    wide = EARLY if count < first else 1.0
    if sinks < 1.0:
        wide *= 1.0 + 2.0 * (1.0 - max(sinks, 0.0))
    wide *= 1.0 + jolt
    sample = deviation(feeling, leg) / wide if sinks > 0.0 else 0.0
    feeling.score[leg] = max(0.0, feeling.score[leg] + min(sample, MOST) - DRIFT)
    if np.isnan(feeling.score[leg]) or (count < first and not known):
        feeling.score[leg] = 0.0
    feeling.run[leg] = feeling.run[leg] + 1.0 if feeling.score[leg] > 0.0 else 0.0
    more = sure > feeling.limit[2 if count < first else 1, leg]
    if state.mode[leg] == at.DOUBT and count >= first:
        more |= sure > feeling.limit[4, leg] or feeling.raw[FORCE, leg] > plain
    feeling.over[leg] = feeling.over[leg] + 1.0 if more else 0.0
    down = feeling.score[leg] > feeling.limit[0 if feeling.run[leg] > HASTE else 3, leg]
    touch[leg] = down or feeling.over[leg] >= 3.0
    if count < first and touch[leg]:
        state.bump[leg] = -1.0
        if down:  # where the usual zero says so wrongly, it would say so again and again
            feeling.usual[FORCE, leg] = feeling.usual[ERROR, leg] = np.nan


@within
def _flung(packed, state, feeling, leg, jacobian, q, dt):  # type: ignore[no-untyped-def]
    """Whether a foot that feels its way has moved faster of late than it was sent."""
    back = 1 if dt < 0.75 * WATCHED else 0
    moved = sent = 0.0
    for i in range(3):
        way = 0.0
        for j in range(packed.column[leg], packed.column[leg + 1]):
            way += jacobian[i, j] * (q[j] - feeling.was[back, j])
        moved += way**2
        sent += state.foot_v[leg, i] ** 2
    sent *= (FLUNG * state.clock[at.SIGMA] * (back + 1) * dt) ** 2
    return moved > sent


@within
def _jolt(fixed, state, feeling, q, jacobian, up, spin, dt):  # type: ignore[no-untyped-def]
    """Renew the feet's vertical following errors; how much less readings say while all is moved.

    Standing feet that move against where they were sent tell of a body that tips, or of a foot
    that struck the ground: no reading of a foot in the air is level then.
    """
    total, count = 0.0, 0
    for leg in range(len(state.mode)):
        gap = 0.0
        for j in range(fixed.packed.column[leg], fixed.packed.column[leg + 1]):
            arm = up[0] * jacobian[0, j] + up[1] * jacobian[1, j] + up[2] * jacobian[2, j]
            gap += arm * (q[j] - feeling.asked[1, j])
        speed = (gap - feeling.gap[leg]) / dt
        feeling.gap[leg] = gap
        feeling.rate[leg] += min(dt / HEED, 1.0) * (speed - feeling.rate[leg])
        if state.mode[leg] == at.STAND:
            total += feeling.rate[leg] ** 2
            count += 1
    size = math.sqrt(total / max(count, 1)) / UNMOVED
    size += abs(state.clock[at.SIGMA] - feeling.jolt[2]) / (dt * SLOWS)
    tips = math.sqrt(spin[0] ** 2 + spin[1] ** 2)
    size = max(size, tips / TIPS) if np.isfinite(tips) else size
    feeling.jolt[2] = state.clock[at.SIGMA]
    feeling.jolt[0] = max(size, feeling.jolt[0] * math.exp(-dt / FADES))
    return feeling.jolt[1] * max(feeling.jolt[0] - 1.0, 0.0)


@within
def _listen(feeling, leg, count, first, dt):  # type: ignore[no-untyped-def]
    """Keep this reading, the ``count``-th, and renew the zero from those that are old enough."""
    for channel in range(2):
        feeling.ring[channel, leg, (count - 1) % RING] = feeling.raw[channel, leg]
    if count < first:
        return
    gap, window = int(GAP / dt + 0.5), int(WINDOW / dt + 0.5)
    stop = max(count - gap, first)
    start = max(stop - window, count - RING, 0)
    for channel in range(2):
        total = squares = 0.0
        for k in range(start, stop):
            total += feeling.ring[channel, leg, k % RING]
        n = stop - start
        mean, middle, slope = total / n, 0.5 * (start + stop - 1), 0.0
        for k in range(start, stop):
            over = feeling.ring[channel, leg, k % RING] - mean
            squares += over**2
            slope += over * (k - middle)
        slope *= 12.0 / max(n * (n * n - 1.0), 1.0)  # least squares over equal steps
        feeling.zero[channel, leg] = mean
        feeling.spread[channel, leg] = math.sqrt(squares / n)
        feeling.trend[channel, leg] = slope * (count - 1 - middle)


@within
def _odd(feeling, leg):  # type: ignore[no-untyped-def]
    """Whether the first zero of a descent lies far over the usual one; remembers it if not."""
    if np.isnan(feeling.usual[FORCE, leg]):
        _set(feeling.usual, feeling.zero, leg)
        return False
    far = True
    for channel in range(2):
        over = feeling.zero[channel, leg] - feeling.usual[channel, leg]
        far = far and over > ODD * feeling.noise[channel, leg]
    if far:
        _set(feeling.zero, feeling.usual, leg)
        return True
    for channel in range(2):
        over = feeling.zero[channel, leg] - feeling.usual[channel, leg]
        feeling.usual[channel, leg] += MEMORY * over
    return False


@within
def _set(into, source, leg):  # type: ignore[no-untyped-def]
    """Both channels of one leg (2, L)."""
    for channel in range(2):
        into[channel, leg] = source[channel, leg]


@within
def deviation(feeling, leg):  # type: ignore[no-untyped-def]
    """Both channels' distance from zero in one number of standard deviation 1 in the air.

    Where a descent scatters more than the calibration, its own scatter counts (constant false
    alarm rate by cell averaging, Finn & Johnson 1968, RCA Review 29).
    """
    force, error = _over(feeling, FORCE, leg), _over(feeling, ERROR, leg)
    error = min(error, AGREE[0] * max(force, 0.0) + AGREE[1])
    return (force + error) / math.sqrt(2.0 + 2.0 * feeling.noise[2, leg])


@within
def _over(feeling, channel, leg):  # type: ignore[no-untyped-def]
    """One channel's distance from zero, in standard deviations."""
    noise = feeling.noise[channel, leg]
    wide = max(noise, min(feeling.spread[channel, leg], UNREST * noise))
    over = feeling.raw[channel, leg] - feeling.zero[channel, leg]
    return (over - max(feeling.trend[channel, leg] - PLAIN * noise, 0.0)) / wide
