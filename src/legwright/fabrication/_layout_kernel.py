"""Kernel: what candidate layouts of a robot are worth, many at a time.

A candidate is a row of places in the lists of values of the free dimensions. Standing feet keep
their distance from the hips; every asked gait is walked through one cycle at rest in every
sample (no inertia), on level ground.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from legwright.fabrication._layout_gap import bounded, clear, girth_of, trunk_gap
from legwright.fabrication._layout_leg import MASS, PLACED, ROW, place, prepare_edge, rates, reserve
from legwright.fabrication._layout_stand import load, stand
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
def _pace(build, dash, rows, trunk, around, middles, stride, work):  # type: ignore[no-untyped-def]
    """Shortest cycle for a stride [s]; -1 where a limit is passed."""
    feet, placed, torque, buffer, squares, rate = work
    legs = rows.shape[0]
    stands = dash.stands.reshape((1, *dash.stands.shape))
    squares[:] = 0.0
    shortest = dash.shortest
    samples = dash.along.shape[0]
    for t in range(samples):
        for leg in range(legs):
            feet[leg, 0] = middles[leg, 0] + stride * dash.along[t, leg]
            feet[leg, 1] = middles[leg, 1]
            feet[leg, 2] = dash.lift[t, leg] - build.height
        gap, margin = stand(rows, trunk, feet, stands, t, around, placed, torque, buffer)
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
def top_speed(build, dash, rows, trunk, around, middles, work):  # type: ignore[no-untyped-def]
    """Largest forward speed inside all limits [m/s]: strides by bisection, then the pace."""
    low, high = 0.0, dash.longest
    best = 0.0
    for _ in range(HALVINGS):
        stride = 0.5 * (low + high)
        cycle = _pace(build, dash, rows, trunk, around, middles, stride, work)
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


@njit(cache=True)
def reflect(spots, at, flip, leg, placed):  # type: ignore[no-untyped-def]
    """A placed leg seen in a mirror: femur axis, knee, foot, axis across, centres of mass.

    Args:
        spots: (U, PLACED)
        at: Which of them.
        flip: (L, 3): signs of x, of y, and of the axis.
        leg: Which leg it becomes.
        placed: (L, PLACED), the named places of the leg filled.
    """
    x, y, sign = flip[leg, 0], flip[leg, 1], flip[leg, 2]
    for k in (0, 3, 6, 25, 28, 31):
        placed[leg, k] = x * spots[at, k]
        placed[leg, k + 1] = y * spots[at, k + 1]
        placed[leg, k + 2] = spots[at, k + 2]
    placed[leg, 9] = sign * x * spots[at, 9]
    placed[leg, 10] = sign * y * spots[at, 10]
    placed[leg, 11] = sign * spots[at, 11]


@njit(cache=True)
def put(owner, path, height, boxes, looked, girth, rows, middles, spots):  # type: ignore[no-untyped-def]
    """Places the legs on every foot place that the walks have.

    Args:
        owner: (U,) leg that a foot place is told for.
        path: (U, 7), see `layout_arrays.Places`.
        height: Body frame over the ground [m].
        boxes: (B, BOX) of the trunk.
        looked: (B, L, 2) whether femur and tibia are measured against a box.
        girth: (L, GIRTH)
        rows: (L, ROW)
        middles: (L, 2)
        spots: (U, PLACED), filled.

    Returns:
        Least joint gap [rad], least distance from the edge of what is reached [m], least gap from
        what looks alike to all legs of a kind [m]; -10, 0, 0 where a foot does not reach.
    """
    gap, edge, least = math.inf, math.inf, math.inf
    for u in range(owner.shape[0]):
        leg = owner[u]
        x, y = middles[leg, 0], middles[leg, 1]
        px = path[u, 0] * x + path[u, 1] * y + path[u, 4]
        py = path[u, 2] * x + path[u, 3] * y + path[u, 5]
        pz = path[u, 6] - height
        g, s = rows[leg], spots[u]
        gap = min(gap, place(g, px, py, pz, s))
        if gap <= -10.0:
            return gap, 0.0, 0.0
        edge = min(edge, reserve(g, s, px, py, pz))
        least = trunk_gap(boxes, looked, rows, girth, leg, spots, u, least)
    return gap, edge, least


@njit(cache=True, nogil=True)
def score(build, walks, places, dash, aim, values, picks, cutoff, out):  # type: ignore[no-untyped-def]
    """Scores of candidates.

    Args:
        build: The robot.
        walks: What is walked.
        places: Its foot places, each once.
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
    spots = np.empty((places.owner.shape[0], PLACED))
    cases, samples = walks.lift.shape[0], walks.lift.shape[1]
    tight = np.zeros(2, dtype=np.int64)
    girth, boxes = girth_of(build.radius, build.beam, build.today[:, 5]), bounded(build.boxes)
    alike = build.apart & places.shared.reshape((-1, 1, 1))
    single = build.apart & ~places.shared.reshape((-1, 1, 1))
    entry, flip, owner, path = places.entry, places.flip, places.owner, places.path
    around, stands, pairs, peak = places.around, walks.stands, build.pairs, build.peak
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
        best[GAP], best[REACH], best[CLEARANCE] = put(
            owner, path, build.height, boxes, alike, girth, rows, middles, spots
        )
        if best[GAP] <= -10.0:
            best[SPEED], best[LOSS] = 0.0, math.inf
            continue
        # Where the legs came nearest in the layout before, they are looked at first: the gap found
        # there lets most others be passed over.
        for leg in range(legs):
            reflect(spots, entry[tight[0], tight[1], leg], flip, leg, placed)
        best[CLEARANCE] = clear(pairs, boxes, single, rows, girth, placed, best[CLEARANCE])
        for case in range(cases):
            squares[:] = 0.0
            for t in range(samples):
                for leg in range(legs):
                    reflect(spots, entry[case, t, leg], flip, leg, placed)
                least = clear(pairs, boxes, single, rows, girth, placed, best[CLEARANCE])
                if least < best[CLEARANCE]:
                    best[CLEARANCE], tight[0], tight[1] = least, case, t
                tip = load(rows, trunk, stands, case, t, around, placed, torque, buffer)
                best[MARGIN] = min(best[MARGIN], tip)
                for leg in range(legs):
                    for j in range(3):
                        squares[leg, j] += torque[leg, j] ** 2
                        best[TORQUE] = max(best[TORQUE], abs(torque[leg, j]) / peak[leg, j])
            for leg in range(legs):
                for j in range(3):
                    used = math.sqrt(squares[leg, j] / samples) / build.held[leg, j]
                    best[HEAT] = max(best[HEAT], used)
            best[LOSS] = near + loss_of(aim, best)
            if best[LOSS] > cutoff:
                break
        if best[LOSS] <= cutoff:
            best[SPEED] = top_speed(build, dash, rows, trunk, places.around, middles, work)
            best[LOSS] = near + loss_of(aim, best)
