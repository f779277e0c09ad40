"""Kernel: feet that stay where they touched, on legs that give.

Each drive is a spring behind friction: the servo's position loop pulls with its stiffness times
the position error, the rotor moves only when that pull and the load differ by more than
friction, and gear and play give between rotor and link. Each foot keeps the ground point that
it touched and rolls on it. Sample by sample, Newton's method finds body displacement and foot
forces that balance the robot (direct stiffness method, textbook).
"""

from __future__ import annotations

import numpy as np

from legwright.kernel import kernel
from legwright.mechanics._lag import SERVO, lag, place_of, torques_under
from legwright.mechanics._sticking import balance

NEAR = 2e-3
"""Feet so near to the ground as the lowest one touch when the body is let down [m]."""
FIRM = 1e-7
"""Compliance of a foot sideways, so that legs with two drives have an answer [m/N]."""
HELD = 1.01
"""A foot slips beyond this much more than friction holds."""
SETS = 60
"""Most changes of which feet touch or slip, per sample."""


@kernel
def march(  # type: ignore[no-untyped-def]
    c, own, wrench, points, heights, normals, jac, column, goal, turn, roll, softness, creep, mu,
    rounds, torque, forces, pull,
):  # fmt: skip
    """Follow a closed cycle round and round; writes the last round.

    Args:
        c: What gives, (GIVES, J).
        own: Torques while nothing touches, (T, J) [N·m].
        wrench: That the ground must supply, about the body origin, (T, 6) [N, N·m].
        points: Planned contact points, (T, L, 3) [m].
        heights: Of these over the ground, (T, L) [m].
        normals: Of the ground, (T, 3).
        jac: Of the contact points, (T, 3, J) [m/rad].
        column: First column of each leg, (L + 1,).
        goal: Joint targets, (T, J) [rad].
        turn: How a direction fixed in the ground turns from the sample before, (T, 3, 3).
        roll: How far a foot rolls from the sample before, (T, L, 3) [m].
        softness: Of a foot along the normal [m/N].
        creep: Way that a foot creeps per sample and sideways force [m/N].
        mu: Coefficient of friction.
        rounds: Cycles.
        torque: Written, (T, J) [N·m].
        forces: Written, (T, L, 3) [N].
        pull: Written: torque of the motors before friction, (T, J) [N·m].

    Returns:
        Root mean square change of the torques from the round before, and the number of samples
        of the last round in which no balance was found.
    """
    T, J = goal.shape
    L = points.shape[1]
    rotor, xi, tau = goal[0].copy(), np.zeros(6), np.zeros(J)
    e, slope, wound = np.empty(J), np.empty(J), np.empty(J)
    anchor, force = np.zeros((L, 3)), np.zeros((L, 3))
    touch, tried = np.zeros(L, np.bool_), np.zeros(L, np.bool_)
    place = np.empty(3)
    change, lost = 0.0, 0
    for _spin in range(rounds):
        change, lost = 0.0, 0
        for t in range(T):
            for leg in range(L):
                anchor[leg] = turn[t] @ anchor[leg]
                if touch[leg]:
                    anchor[leg] += roll[t, leg]
                tried[leg] = False
            found = False
            for _ in range(SETS):
                count = touch.sum()
                if count >= 3:
                    found = balance(
                        c, own[t], wrench[t], points[t], heights[t], normals[t], jac[t], column,
                        rotor, goal[t], softness, FIRM + creep, touch, anchor, force, xi, tau, e,
                        slope, wound,
                    )  # fmt: skip
                else:
                    torques_under(own[t], jac[t], column, touch, force, tau)
                    lag(c, tau, rotor, goal[t], e, slope, wound)
                if not _regroup(
                    points[t], heights[t], normals[t], jac[t], column, mu, count, touch,
                    tried, anchor, force, xi, e, slope, place,
                ):  # fmt: skip
                    break
            if not found:  # begin anew, free of strain
                lost += 1
                _relieve(points[t], normals[t], jac[t], column, touch, anchor, force, wrench[t],
                         xi, e, place)  # fmt: skip
                torques_under(own[t], jac[t], column, touch, force, tau)
                lag(c, tau, rotor, goal[t], e, slope, wound)
            for j in range(J):
                rotor[j] = goal[t, j] + e[j] + wound[j]
                change += (tau[j] - torque[t, j]) ** 2
                torque[t, j] = tau[j]
                pull[t, j] = -c[SERVO, j] * e[j]
            for leg in range(L):
                press = force[leg] @ normals[t]
                for k in range(3):
                    forces[t, leg, k] = force[leg, k] if touch[leg] else 0.0
                    anchor[leg, k] -= creep * (force[leg, k] - press * normals[t, k])
    return np.sqrt(change / (T * J)), lost


@kernel
def _relieve(  # type: ignore[no-untyped-def]
    points, normal, jac, column, touch, anchor, force, wrench, xi, e, place,
):  # fmt: skip
    """Let the touching feet stand where they are, each with its share of the weight."""
    xi[:], e[:] = 0.0, 0.0
    count = max(touch.sum(), 1)
    for leg in range(len(touch)):
        if touch[leg]:
            up = place_of(points[leg], 0.0, normal, jac, column, leg, e, xi, place)
            for k in range(3):
                anchor[leg, k] = place[k] - up * normal[k]
                force[leg, k] = wrench[k] / count


@kernel
def _regroup(  # type: ignore[no-untyped-def]
    points, heights, normal, jac, column, mu, count, touch, tried, anchor, force, xi, e, slope,
    place,
):  # fmt: skip
    """Feet that pull let go, feet that reach the ground touch, feet that push aside slip."""
    L, changed = len(touch), False
    worst, least = -1, -1e-3
    for leg in range(L):
        if touch[leg] and count >= 3:
            press = force[leg] @ normal
            if press < least:
                worst, least = leg, press
    if worst >= 0:
        touch[worst] = False
        tried[worst] = True
        force[worst] = 0.0
        return True
    near = 1e-6
    if count < 3:  # let the body down onto the lowest feet
        near = NEAR
        low = np.inf
        for leg in range(L):
            if not tried[leg]:
                height = place_of(points[leg], heights[leg], normal, jac, column, leg, e, xi, place)
                low = min(low, height)
        if low > 0.0 and low < np.inf:
            for k in range(3):
                xi[k] -= low * normal[k]
    for leg in range(L):
        if touch[leg] or tried[leg]:
            continue
        height = place_of(points[leg], heights[leg], normal, jac, column, leg, e, xi, place)
        if height < near:
            touch[leg] = changed = True
            along = height - heights[leg]
            for k in range(3):
                anchor[leg, k] = place[k] - along * normal[k]
                force[leg, k] = 0.1 * normal[k]
    if changed:
        return True
    for leg in range(L):
        if touch[leg]:
            changed |= _slip(force[leg], normal, jac, column, leg, slope, mu, anchor[leg])
    return changed


@kernel
def _slip(force, normal, jac, column, leg, slope, mu, anchor):  # type: ignore[no-untyped-def]
    """Move the anchor of a foot that pushes aside more than friction holds; True if it moved.

    It moves as far as this leg alone must give to be rid of the excess.
    """
    press = force @ normal
    side = force - press * normal
    push, most = np.sqrt(side @ side), mu * max(press, 0.0)
    if push <= HELD * most + 1e-2:
        return False
    excess = side * (1.0 - most / push)
    way = np.zeros(3)
    for j in range(column[leg], column[leg + 1]):
        pull = 0.0
        for k in range(3):
            pull += jac[k, j] * excess[k]
        for k in range(3):
            way[k] -= jac[k, j] * slope[j] * pull
    up = way @ normal
    for k in range(3):
        anchor[k] -= way[k] - up * normal[k]
    return True
