"""Kernel: forces of sticking feet that balance the robot (direct stiffness method)."""

from __future__ import annotations

import numpy as np

from legwright.kernel import kernel
from legwright.mechanics._lag import lag, place_of, torques_under

CALM = 1e-5
"""Damping of the body's moves from iteration to iteration [N/m, N·m/rad]."""
BALANCE = 1e-3
"""Forces and moments that may stay unbalanced while steps are still shortened [N, N·m]."""
NEWTON, HALVINGS = 40, 10
"""Most iterations for forces, and for the length of a step."""


@kernel
def _misfit(  # type: ignore[no-untyped-def]
    c, own, wrench, points, heights, normal, jac, column, rotor, goal, softness, loose, touch, at,
    anchor, force, xi, tau, e, slope, wound, b,
):  # fmt: skip
    """How far feet are from their anchors and forces from balance, into ``b``."""
    place, n = np.empty(3), touch.sum()
    torques_under(own, jac, column, touch, force, tau)
    lag(c, tau, rotor, goal, e, slope, wound)
    for k in range(6):
        b[3 * n + k] = wrench[k]
    for leg in range(len(touch)):
        if not touch[leg]:
            continue
        o, p, f = 3 * at[leg], points[leg], force[leg]
        height = place_of(p, heights[leg], normal, jac, column, leg, e, xi, place)
        press = f[0] * normal[0] + f[1] * normal[1] + f[2] * normal[2]
        along = heights[leg] - height  # of the displacement, downward
        for i in range(3):
            # sideways at the anchor; along the normal in the ground by force over stiffness
            side = place[i] + along * normal[i]
            b[o + i] = anchor[leg, i] - side - (height + press * softness) * normal[i]
            b[o + i] -= loose * (f[i] - press * normal[i])
            b[3 * n + i] -= f[i]
        b[3 * n + 3] -= p[1] * f[2] - p[2] * f[1]
        b[3 * n + 4] -= p[2] * f[0] - p[0] * f[2]
        b[3 * n + 5] -= p[0] * f[1] - p[1] * f[0]


@kernel
def _stiffness(points, normal, jac, column, softness, loose, touch, at, slope, A):  # type: ignore[no-untyped-def]
    """Derivatives of the misfit by forces and body displacement, into ``A``, sign turned."""
    n = touch.sum()
    A[:] = 0.0
    for k in range(6):
        A[3 * n + k, 3 * n + k] = -CALM
    for leg in range(len(touch)):
        if not touch[leg]:
            continue
        o, p = 3 * at[leg], points[leg]
        for i in range(3):
            for k in range(3):
                own = 1.0 if i == k else 0.0
                total = (softness - loose) * normal[i] * normal[k] + loose * own
                for j in range(column[leg], column[leg + 1]):
                    total -= jac[i, j] * slope[j] * jac[k, j]
                A[o + i, o + k] = total
            A[o + i, 3 * n + i] = 1.0
        A[o, 3 * n + 4], A[o, 3 * n + 5] = p[2], -p[1]
        A[o + 1, 3 * n + 3], A[o + 1, 3 * n + 5] = -p[2], p[0]
        A[o + 2, 3 * n + 3], A[o + 2, 3 * n + 4] = p[1], -p[0]
        for i in range(3):
            for k in range(6):
                A[3 * n + k, o + i] = A[o + i, 3 * n + k]


@kernel
def balance(  # type: ignore[no-untyped-def]
    c, own, wrench, points, heights, normal, jac, column, rotor, goal, softness, loose, touch,
    anchor, force, xi, tau, e, slope, wound,
):  # fmt: skip
    """Balance with a given set of touching feet; True when it converged.

    The forces that balance are the least of a convex function (the complementary energy), so a
    step that does not overshoot along its own direction always comes nearer.
    """
    L, n = len(touch), 0
    at = np.full(L, -1)
    for leg in range(L):
        if touch[leg]:
            at[leg] = n
            n += 1
    size = 3 * n + 6
    A, b, trial = np.zeros((size, size)), np.zeros(size), np.zeros_like(force)
    for turn in range(NEWTON):
        _misfit(c, own, wrench, points, heights, normal, jac, column, rotor, goal, softness,
                loose, touch, at, anchor, force, xi, tau, e, slope, wound, b)  # fmt: skip
        off = 0.0
        for k in range(6):
            off = max(off, abs(b[3 * n + k]))
        _stiffness(points, normal, jac, column, softness, loose, touch, at, slope, A)
        x = np.linalg.solve(A, b)
        for k in range(6):
            xi[k] += x[3 * n + k]
        share, low, high = 1.0, 0.0, 1.0
        for _ in range(HALVINGS):
            for leg in range(L):
                if touch[leg]:
                    for k in range(3):
                        trial[leg, k] = force[leg, k] + share * x[3 * at[leg] + k]
            if off > BALANCE:
                break  # the first full step brings the balance
            _misfit(c, own, wrench, points, heights, normal, jac, column, rotor, goal, softness,
                    loose, touch, at, anchor, trial, xi, tau, e, slope, wound, b)  # fmt: skip
            gain = worth = 0.0  # positive while going on along the step pays
            for i in range(3 * n):
                gain += x[i] * b[i]
                worth += abs(x[i] * b[i])
            if gain > -0.1 * worth and share == 1.0:
                break
            if gain > 0.0:
                low = share
            else:
                high = share
            share = 0.5 * (low + high)
        most = 0.0
        for leg in range(L):
            if touch[leg]:
                for k in range(3):
                    most = max(most, abs(x[3 * at[leg] + k]))
                    force[leg, k] += share * x[3 * at[leg] + k]
        if most < 1e-3 and turn > 0:
            torques_under(own, jac, column, touch, force, tau)
            lag(c, tau, rotor, goal, e, slope, wound)
            return True
    return False
