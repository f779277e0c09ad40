"""Random command sequences on the kinematic twin: how near anything comes to its limit.

    python benchmarks/continuity.py --first 0 --count 100 [--robot robots/rook]

Draws the sequences of `tests/locomotion/test_continuity.py`, each with a seed of its own, and
prints the worst figures and the seed of each.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "locomotion"))

from test_continuity import sequences  # noqa: E402
from twin import Twin  # noqa: E402

import legwright as lw  # noqa: E402
from legwright.locomotion.command import Command  # noqa: E402
from legwright.robot.robot import Robot  # noqa: E402

HIGHEST = {"worst_speed": "speed/limit", "worst_surge": "acceleration/limit", "worst_slip": "slip"}


def run_of(robot: Robot, number: int) -> Twin:
    """The twin after sequence ``number``; a NaN or a joint beyond its stop raises."""
    kept: list[list[tuple[Command, float]]] = []

    @seed(number)
    @settings(
        max_examples=2,  # the first is the simplest one; the second is drawn
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(sequence=sequences)
    def draw(sequence: list[tuple[Command, float]]) -> None:
        kept.append(sequence)

    draw()
    twin = Twin(robot)
    twin.run(Command(), 4.0)
    for command, seconds in kept[-1]:
        twin.run(command, seconds)
    return twin


def main() -> None:
    """Run the asked sequences and print what was worst."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--robot", default=str(ROOT / "robots" / "rook"))
    asked = parser.parse_args()
    robot = lw.load(asked.robot)
    worst: dict[str, tuple[float, int]] = dict.fromkeys(HIGHEST, (0.0, -1))
    least = (float("inf"), -1)
    for number in range(asked.first, asked.first + asked.count):
        twin = run_of(robot, number)
        for name in HIGHEST:
            worst[name] = max(worst[name], (float(getattr(twin, name)), number))
        least = min(least, (twin.least_margin, number))
        if (number + 1) % 20 == 0 or number + 1 == asked.first + asked.count:
            told = ", ".join(f"{HIGHEST[n]} {v:.6f} (#{s})" for n, (v, s) in worst.items())
            print(f"{number + 1 - asked.first}: {told}, margin {least[0]:.4f} m (#{least[1]})",
                  flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
