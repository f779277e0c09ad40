"""Kernel: what candidate layouts of a robot are worth, many at a time.

A candidate is a row of places in the lists of values of the free dimensions. Standing feet keep
their distance from the hips; every asked gait is walked through one cycle at rest in every
sample (no inertia), on level ground.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from legwright.fabrication._layout_leg import (
    MASS,
    PLACED,
    ROW,
    beam_gap,
    box_gap,
    prepare_edge,
    rates,
    reserve,
    segment_gap,
)
from legwright.fabrication._layout_stand import stand
from legwright.fabrication.layout_arrays import (
    CLEARANCE,
    GAP,
    HEAT,
    LOSS,
    MARGIN,
    REACH,
    SCORES,
    SPEED,
    TORQUE,
)

HALVINGS = 11
"""Of the search for the longest stride."""


@njit(cache=True)
def lay(build, values, pick, rows, middles):  # type: ignore[no-untyped-def]
    """Writes the legs and standing feet of one candidate.

    Args:
        build: The robot.
        values: (D, V) of the free dimensions.
        pick: (D,) places in them.
        rows: (L, ROW), filled.
        middles: (L, 2), filled: standing feet [m].

    Returns:
        Mass and first moments of all that does not move with a leg (4,).
    """
    legs = build.rows.shape[0]
    trunk = build.trunk.copy()
    own = np.empty(7)
    for leg in range(legs):
        rows[leg, :] = build.rows[leg, :]
        for k in range(7):
            d = build.dim[leg, k]
            own[k] = build.base[leg, k]
            if d >= 0:
                own[k] += build.scale[leg, k] * values[d, pick[d]]
        g = rows[leg]
        turn = own[3] - build.yaw[leg]
        c, s = math.cos(turn), math.sin(turn)
        for row in range(3):
            x, y = g[3 * row], g[3 * row + 1]
            g[3 * row], g[3 * row + 1] = c * x - s * y, s * x + c * y
        g[9] += own[0] - build.today[leg, 0]
        g[10] += own[1] - build.today[leg, 1]
        g[11] += own[2] - build.today[leg, 2]
        g[15] += (own[4] - build.today[leg, 4]) * (1.0 if g[31] > 0.0 else -1.0)
        g[18], g[20] = own[5], own[6]
        for k in range(3):
            d = build.dim[leg, 4 + k]
            at = pick[d] if d >= 0 else 0
            for i in range(4):
                g[MASS + 4 * k + i] = build.solid[leg, k, at, i]
        prepare_edge(g)
        trunk[0] += build.hip[leg]
        trunk[1] += build.hip[leg] * own[0]
        trunk[2] += build.hip[leg] * own[1]
        if build.foot[leg, 0] >= 0.0:
            angle = own[3] + build.foot[leg, 1]
            middles[leg, 0] = own[0] + build.foot[leg, 0] * math.cos(angle)
            middles[leg, 1] = own[1] + build.foot[leg, 0] * math.sin(angle)
        else:
            middles[leg, 0], middles[leg, 1] = build.foot[leg, 2], build.foot[leg, 3]
    return trunk


@njit(cache=True)
def _far(build, rows, placed, p, leg, i, least):  # type: ignore[no-untyped-def]
    """Whether the spheres around a box and a segment are farther apart than ``least``."""
    far = size = 0.0
    for k in range(3):
        middle = 0.5 * (placed[leg, 3 * i + k] + placed[leg, 3 * i + 3 + k])
        far += (middle - build.boxes[p, 9 + k]) ** 2
        size += build.boxes[p, 12 + k] ** 2
    held = 0.5 * rows[leg, 18 + 2 * i] + build.radius[leg, 1 + i]
    near = math.sqrt(size) + held + least
    return near > 0.0 and far > near * near


@njit(cache=True)
def _clear(build, rows, placed, least):  # type: ignore[no-untyped-def]
    """Least gap of femurs and tibias from those of neighbours and from the trunk [m].

    Args:
        build: The robot.
        rows: (L, ROW)
        placed: (L, PLACED)
        least: Least so far; pairs that cannot come nearer are passed over.
    """
    for p in range(build.pairs.shape[0]):
        one, two = build.pairs[p, 0], build.pairs[p, 1]
        a, b = placed[one], placed[two]
        for i in range(2):
            for j in range(2):
                room = build.radius[one, 1 + i] + build.radius[two, 1 + j]
                half = 0.5 * (rows[one, 18 + 2 * i] + rows[two, 18 + 2 * j])
                x = 0.5 * (a[3 * i] + a[3 * i + 3] - b[3 * j] - b[3 * j + 3])
                y = 0.5 * (a[3 * i + 1] + a[3 * i + 4] - b[3 * j + 1] - b[3 * j + 4])
                z = 0.5 * (a[3 * i + 2] + a[3 * i + 5] - b[3 * j + 2] - b[3 * j + 5])
                near = half + room + least
                if near > 0.0 and x * x + y * y + z * z > near * near:
                    continue
                least = min(least, segment_gap(a, 3 * i, b, 3 * j) - room)
    for p in range(build.boxes.shape[0]):
        for leg in range(rows.shape[0]):
            for i in range(2):
                if not build.apart[p, leg, i] or _far(build, rows, placed, p, leg, i, least):
                    continue
                box, s = build.boxes[p], placed[leg]
                if i == 0:
                    beam, today = build.beam[leg], build.today[leg, 5]
                    least = beam_gap(box, rows[leg], s, beam, today, least)
                else:
                    room = build.radius[leg, 2]
                    knee, foot = (s[3], s[4], s[5]), (s[6], s[7], s[8])
                    least = min(least, box_gap(box, knee, foot, least + room) - room)
    return least


@njit(cache=True)
def _pace(build, dash, rows, trunk, middles, stride, work):  # type: ignore[no-untyped-def]
    """Shortest cycle for a stride [s]; -1 where a limit is passed."""
    feet, placed, torque, buffer, squares, rate = work
    legs = rows.shape[0]
    squares[:] = 0.0
    shortest = dash.shortest
    samples = dash.along.shape[0]
    for t in range(samples):
        for leg in range(legs):
            feet[leg, 0] = middles[leg, 0] + stride * dash.along[t, leg]
            feet[leg, 1] = middles[leg, 1]
            feet[leg, 2] = dash.lift[t, leg] - build.height
        gap, margin = stand(rows, trunk, feet, dash.stands[t], placed, torque, buffer)
        if gap < dash.gap or margin < dash.margin:
            return -1.0
        for leg in range(legs):
            fine = rates(
                rows[leg], placed[leg], stride * dash.along_rate[t, leg], 0.0,
                dash.lift_rate[t, leg], rate,
            )  # fmt: skip
            if not fine:
                return -1.0
            for j in range(3):
                squares[leg, j] += torque[leg, j] ** 2
                used = abs(torque[leg, j]) / build.peak[leg, j]
                driven = torque[leg, j] * rate[j] < 0.0
                if used >= 1.0:
                    return -1.0
                left = 1.0 if build.flat[leg, j] or driven else 1.0 - used
                shortest = max(shortest, abs(rate[j]) / (build.pace[leg, j] * left))
    for leg in range(legs):
        for j in range(3):
            if math.sqrt(squares[leg, j] / samples) > dash.heat * build.held[leg, j]:
                return -1.0
    if dash.cycle > 0.0:
        return dash.cycle if shortest <= dash.cycle else -1.0
    return shortest


@njit(cache=True)
def top_speed(build, dash, rows, trunk, middles, work):  # type: ignore[no-untyped-def]
    """Largest forward speed inside all limits [m/s]: strides by bisection, then the pace."""
    low, high = 0.0, dash.longest
    best = 0.0
    for _ in range(HALVINGS):
        stride = 0.5 * (low + high)
        cycle = _pace(build, dash, rows, trunk, middles, stride, work)
        if cycle > 0.0:
            low = stride
            best = max(best, stride / cycle)
        else:
            high = stride
    return best


@njit(cache=True)
def loss_of(aim, scores):  # type: ignore[no-untyped-def]
    """What a row of scores loses against today's; gains do not pay for losses."""
    total = 0.0
    for k in range(SCORES):
        lost = aim.sense[k] * (aim.today[k] - scores[k]) / aim.scale[k]
        if lost > 0.0:
            total += aim.weight[k] * lost
        if aim.sense[k] * (scores[k] - aim.need[k]) < 0.0:
            total += aim.fine
    return total


@njit(cache=True, nogil=True)
def score(build, walks, dash, aim, values, picks, cutoff, out):  # type: ignore[no-untyped-def]
    """Scores of candidates.

    Args:
        build: The robot.
        walks: What is walked.
        dash: The gait of the top speed.
        aim: What losing means.
        values: (D, V) of the free dimensions.
        picks: (N, D) places in them.
        cutoff: A candidate that is sure to lose more than this is given up; inf for none.
        out: (N, SCORES + 1), filled: least margin [m], least reach reserve [m], top speed [m/s],
            largest share of peak torque, of lasting torque, least gap between neighbouring legs
            [m], least joint gap [rad]; then the loss. Of a candidate that was given up the
            scores are those so far and the loss is what it loses at least; where a foot does
            not reach its path, the joint gap is -10 and the loss inf.
    """
    legs = build.rows.shape[0]
    rows, middles = np.zeros((legs, ROW)), np.empty((legs, 2))
    feet, placed, torque = np.empty((legs, 3)), np.empty((legs, PLACED)), np.empty((legs, 3))
    buffer = np.empty((4, legs))
    squares, rate = np.empty((legs, 3)), np.empty(3)
    work = (feet, placed, torque, buffer, squares, rate)
    cases, samples = walks.lift.shape[0], walks.lift.shape[1]
    for n in range(picks.shape[0]):
        near = 0.0
        for d in range(picks.shape[1]):
            near += aim.near[d, picks[n, d]]
        best = out[n]
        for k in range(SCORES):
            best[k] = math.inf if aim.sense[k] > 0.0 else 0.0
        best[LOSS] = near
        if near > cutoff:
            continue
        trunk = lay(build, values, picks[n], rows, middles)
        for case in range(cases):
            squares[:] = 0.0
            for t in range(samples):
                for leg in range(legs):
                    x, y = middles[leg, 0], middles[leg, 1]
                    feet[leg, 0] = (
                        walks.turn[case, t, leg, 0, 0] * x
                        + walks.turn[case, t, leg, 0, 1] * y
                        + walks.shift[case, t, leg, 0]
                    )
                    feet[leg, 1] = (
                        walks.turn[case, t, leg, 1, 0] * x
                        + walks.turn[case, t, leg, 1, 1] * y
                        + walks.shift[case, t, leg, 1]
                    )
                    feet[leg, 2] = walks.lift[case, t, leg] - build.height
                room, tip = stand(rows, trunk, feet, walks.stands[case, t], placed, torque, buffer)
                best[GAP] = min(best[GAP], room)
                if room <= -10.0:
                    break
                best[MARGIN] = min(best[MARGIN], tip)
                for leg in range(legs):
                    edge = reserve(rows[leg], placed[leg], feet[leg, 0], feet[leg, 1], feet[leg, 2])
                    best[REACH] = min(best[REACH], edge)
                    for j in range(3):
                        squares[leg, j] += torque[leg, j] ** 2
                        used = abs(torque[leg, j]) / build.peak[leg, j]
                        best[TORQUE] = max(best[TORQUE], used)
                best[CLEARANCE] = _clear(build, rows, placed, best[CLEARANCE])
            if best[GAP] <= -10.0:
                break
            for leg in range(legs):
                for j in range(3):
                    used = math.sqrt(squares[leg, j] / samples) / build.held[leg, j]
                    best[HEAT] = max(best[HEAT], used)
            best[LOSS] = near + loss_of(aim, best)
            if best[LOSS] > cutoff:
                break
        if best[GAP] <= -10.0:
            best[SPEED], best[LOSS] = 0.0, math.inf
        elif best[LOSS] <= cutoff:
            best[SPEED] = top_speed(build, dash, rows, trunk, middles, work)
            best[LOSS] = near + loss_of(aim, best)
