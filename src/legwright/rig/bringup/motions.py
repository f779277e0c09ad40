"""Slow moves of one drive on the bench, watched at every cycle."""

from __future__ import annotations

from math import ceil, cos, pi, sin

import numpy as np

from legwright.errors import RigError
from legwright.rig.bringup.bench import Bench, Readout
from legwright.robot.tree import Floats

SLOW = 0.25
"""Speed of careful moves [rad/s]; common practice, no published source."""
WAG = np.radians(4.0)
"""How far a drive wags to show itself [rad]."""
BLOCKED_GAP, BLOCKED_TIME = np.radians(3.0), 0.15
"""A drive this far behind its target for so long is blocked [rad, s]."""


def place_of(bench: Bench, node: int) -> int:
    """A node's place in readouts.

    Raises:
        RigError: if it does not answer.
    """
    nodes = bench.find()
    if node not in nodes:
        raise RigError(f"Node {node} does not answer any more. Look at its cable and supply.")
    return nodes.index(node)


def glide(bench: Bench, node: int, to: float, *, speed: float = SLOW) -> list[Readout]:
    """Move one drive to an own angle along a half cosine; others stay as they are.

    Args:
        bench: The bench.
        node: The drive.
        to: Its own angle [rad].
        speed: Mean speed [rad/s].

    Returns:
        A readout per cycle.
    """
    place = place_of(bench, node)
    start = float(bench.read().angle[place])
    cycles = max(1, ceil(abs(to - start) / speed * bench.rate))
    seen = []
    for k in range(1, cycles + 1):
        share = 0.5 - 0.5 * cos(pi * k / cycles)
        bench.hold(node, start + share * (to - start))
        bench.advance()
        seen.append(bench.read())
    return seen


def wait(bench: Bench, seconds: float) -> list[Readout]:
    """Let time pass."""
    seen = []
    for _ in range(max(1, round(seconds * bench.rate))):
        bench.advance()
        seen.append(bench.read())
    return seen


def wag(bench: Bench, node: int) -> float:
    """Wag one drive about where it stands, once to each side, and let it go.

    Returns:
        How far it really moved, end to end [rad].
    """
    place = place_of(bench, node)
    start = float(bench.read().angle[place])
    seen = []
    cycles = round(2.0 * bench.rate)
    for k in range(cycles + 1):
        bench.hold(node, start + WAG * sin(2.0 * pi * k / cycles))
        bench.advance()
        seen.append(float(bench.read().angle[place]))
    bench.hold(node, None)
    return float(np.ptp(seen))


def sweep(bench: Bench, node: int, start: float, end: float, speed: float) -> tuple[Floats, Floats]:
    """Run at constant speed and read current over angle, without the ends.

    Returns:
        Own angles [rad] and currents [A] of the middle of the way.
    """
    place = place_of(bench, node)
    glide(bench, node, start)
    wait(bench, 0.2)
    cycles = max(4, ceil(abs(end - start) / speed * bench.rate))
    angles, currents = np.empty(cycles), np.empty(cycles)
    for k in range(cycles):
        bench.hold(node, start + (end - start) * (k + 1) / cycles)
        bench.advance()
        seen = bench.read()
        angles[k], currents[k] = seen.angle[place], seen.current[place]
    cut = max(1, cycles // 5)
    return angles[cut:-cut], currents[cut:-cut]


def until_blocked(bench: Bench, node: int, way: float, most: float) -> float | None:
    """Creep one way until the drive does not follow any more.

    Args:
        bench: The bench.
        node: The drive.
        way: +1 or -1, the drive's own way.
        most: How far at most [rad].

    Returns:
        Own angle at which it was blocked, with the drive backed off a little; None where it went
        all the way without being blocked.
    """
    place = place_of(bench, node)
    start = float(bench.read().angle[place])
    step = SLOW / bench.rate
    blocked = 0.0
    for k in range(1, ceil(most / step) + 1):
        target = start + way * k * step
        bench.hold(node, target)
        bench.advance()
        angle = float(bench.read().angle[place])
        blocked = blocked + 1.0 / bench.rate if abs(target - angle) > BLOCKED_GAP else 0.0
        if blocked >= BLOCKED_TIME:
            glide(bench, node, angle - way * BLOCKED_GAP)
            return angle
    return None
