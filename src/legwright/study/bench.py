"""The bench: everything the checks look at, computed once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from legwright.electrics.supply import Supply
from legwright.locomotion.gait import Gait
from legwright.locomotion.stance import Footing
from legwright.locomotion.walk import Walk
from legwright.robot.robot import Robot
from legwright.study.asked import Asked
from legwright.study.evidence import Case
from legwright.study.power import Power, asked_behind, fed, power_of
from legwright.study.trial import pace, tilted, trial

SLOPE_HEADINGS = {
    "uphill": 0.0,
    "downhill": np.pi,
    "slope to the left": np.pi / 2,
    "slope to the right": -np.pi / 2,
}
"""Directions of steepest ascent that are tried on the required slope [rad]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Bench:
    """A robot, what is asked of it, and how it walked when asked."""

    robot: Robot
    asked: Asked
    footing: Footing
    cases: Mapping[str, Case] = field(default_factory=dict)
    """``tripod forward`` -> fine case at the asked speed, on level ground, with payload; empty
    until it has walked."""
    sloped: Mapping[str, Case] = field(default_factory=dict)
    """``tripod uphill`` -> the forward case on the required slope; empty when none is asked."""

    power: Power = field(default_factory=Power)
    """The circuit and what it gives to each case; empty until the bench is fed."""

    def case(self, name: str) -> Case:
        """A level or sloped case by its name."""
        return self.cases[name] if name in self.cases else self.sloped[name]

    def of(self, gait: Gait | str) -> tuple[Case, ...]:
        """The level cases of one gait."""
        name = gait if isinstance(gait, str) else gait.name
        return tuple(case for case in self.cases.values() if case.gait == name)

    def sloped_of(self, gait: Gait | str) -> tuple[Case, ...]:
        """The cases of one gait on the required slope."""
        name = gait if isinstance(gait, str) else gait.name
        return tuple(case for case in self.sloped.values() if case.gait == name)

    def key(self, name: str) -> str:
        """The finding's source for a requirement: its key, and whether it was assumed."""
        key = f"requirements.{name}"
        return f"{key} (assumed)" if key in self.asked.assumed else key


class Walked(NamedTuple):
    """One gait walked as asked, and what the circuit gives to it where that is known too."""

    cases: Mapping[str, Case]
    sloped: Mapping[str, Case]
    supplies: Mapping[str, Supply]
    """Their circuit is bare: `feed` gives them that of the bench."""


def lay_out(
    robot: Robot, asked: Asked, footing: Footing, progress: Callable[[str, int, int], None],
    first: Callable[[Bench], None] | None = None,
    given: Mapping[str, Callable[[], Walked]] | None = None,
) -> Bench:  # fmt: skip
    """Walk every gait in every direction as asked, level and on the required slope.

    Args:
        robot: The robot.
        asked: What is asked.
        footing: Where it stands.
        progress: Told what is being done, how many are done, of how many.
        first: Given a bench of the first gait alone as soon as there is one.
        given: Gait -> what gives its walk, for gaits that are walked elsewhere meanwhile.

    Returns:
        The bench for the checks.
    """
    total = sum(len(asked.directions(gait)) for gait in asked.gaits)
    cases: dict[str, Case] = {}
    sloped: dict[str, Case] = {}
    for gait in asked.gaits:
        if given and gait.name in given:
            far = given[gait.name]()
            cases |= far.cases
            sloped |= far.sloped
            continue
        for name, case in _level(robot, asked, footing, gait):
            cases[name] = case
            progress("gaits", len(cases), total)
        sloped |= _on_slope(robot, asked, cases[f"{gait.name} forward"])
        if first is not None and gait is asked.gaits[0]:
            alone = replace(asked, gaits=(gait,))
            first(Bench(robot=robot, asked=alone, footing=footing, cases=dict(cases),
                        sloped=dict(sloped)))  # fmt: skip
    return Bench(robot=robot, asked=asked, footing=footing, cases=cases, sloped=sloped)


def walked(robot: Robot, asked: Asked, footing: Footing, gait: Gait) -> Walked:
    """One gait walked and fed, for `lay_out` and `feed` to be given.

    Args:
        robot: The robot.
        asked: What is asked.
        footing: Where it stands.
        gait: The gait.
    """
    cases = dict(_level(robot, asked, footing, gait))
    sloped = _on_slope(robot, asked, cases[f"{gait.name} forward"])
    given = power_of(robot, {**cases, **sloped}, stalled=False).supplies
    bare = {name: replace(one, circuit=one.circuit.bare) for name, one in given.items()}
    return Walked(cases, sloped, bare)


def _level(robot: Robot, asked: Asked, footing: Footing, gait: Gait) -> Iterator[tuple[str, Case]]:
    """Names and cases of a gait on level ground."""
    near = None
    for direction, (walked, twist) in asked.directions(gait).items():
        walk = Walk(walked, velocity=twist[:2], turn=twist[2], footing=footing)
        name = f"{gait.name} {direction}"
        paced = pace(robot, asked, walk, payload=asked.payload, near=near)
        near = paced.cycle
        yield name, trial(robot, asked, paced, payload=asked.payload, name=name)


def _on_slope(robot: Robot, asked: Asked, level: Case) -> dict[str, Case]:
    """A level case in all directions of the required slope; empty where none is asked."""
    slope = robot.sheet.requirements.slope
    cases: dict[str, Case] = {}
    for heading, uphill in SLOPE_HEADINGS.items() if slope else ():
        name = f"{level.gait} {heading}"
        cases[name] = tilted(robot, asked, level, slope or 0.0, uphill, asked.payload, name)
    return cases


def feed(bench: Bench, known: Mapping[str, Supply] | None = None) -> Bench:
    """Feed every case from the robot's circuit: currents and headroom at what arrives.

    Args:
        bench: The bench, all cases at the battery's cut-off voltage.
        known: Case name -> supply, of cases that are fed already.

    Returns:
        The bench with the circuit's answers; searches that follow take the cut-off voltage
        less the most that the wiring loses.
    """
    everything = {**bench.cases, **bench.sloped}
    power = power_of(bench.robot, everything, known=known)
    cases = fed(bench.robot, everything, power)
    return replace(
        bench,
        power=power,
        asked=asked_behind(bench.asked, power),
        cases={name: cases[name] for name in bench.cases},
        sloped={name: cases[name] for name in bench.sloped},
    )


def worst(cases: Iterable[Case], value: Callable[[Case], float]) -> tuple[float, Case]:
    """The least value over cases, and the case that has it.

    Args:
        cases: At least one case.
        value: What to compare; nan counts as larger than everything.

    Returns:
        Value and case.
    """
    ranked = [(value(case), case) for case in cases]
    return min(ranked, key=lambda pair: pair[0] if pair[0] == pair[0] else np.inf)
