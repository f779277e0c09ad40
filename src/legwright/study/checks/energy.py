"""How long does the battery last, and what does a metre cost?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from legwright.electrics.circuit import Circuit
from legwright.electrics.energy import cost_of_transport, distance, energy_per_metre
from legwright.electrics.parts import Kind
from legwright.electrics.runtime import Discharge, End, discharge
from legwright.electrics.supply import Doing, Supply, supplies
from legwright.mechanics.draw import draw
from legwright.mechanics.loads import loads
from legwright.mechanics.pose import still
from legwright.study.bench import Bench
from legwright.study.checks.supply import unknown
from legwright.study.evidence import Case
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge
from legwright.study.power import doing_of

AREA = "energy"

MIDDLE = 0.5
"""State of charge at which the power of a walk is reckoned."""


def check_energy(bench: Bench) -> Iterator[Finding]:
    """Run time walking by gait, and standing; energy per metre; cost of transport."""
    power = bench.power
    names = tuple(f"run time, {gait.name}" for gait in bench.asked.gaits)
    if not power.supplies or power.circuit is None:
        yield from unknown(AREA, (*names, "run time, standing"), power)
        return
    cases = [bench.cases[f"{gait.name} forward"] for gait in bench.asked.gaits]
    *walking, standing = _averages(bench, power.circuit, cases)
    for case, given in zip(cases, walking, strict=True):
        yield from _walking(bench, case, given)
    doing = "standing on all feet"
    yield _time(bench, "run time, standing", standing, _run_down(standing), doing)


def _averages(bench: Bench, circuit: Circuit, cases: Sequence[Case]) -> list[Supply]:
    """Supplies of walks, and of standing, with loads at their average, battery half full."""
    return supplies(
        bench.robot,
        circuit,
        [*map(doing_of, cases), _standing(bench)],
        ambient=bench.asked.ambient,
        charge=MIDDLE,
        peak=False,
    )


def _standing(bench: Bench) -> Doing:
    robot, asked = bench.robot, bench.asked
    motion = still(robot, bench.footing.q, np.ones(len(robot.legs), dtype=bool))
    weighed = loads(robot, motion, payload=asked.payload, friction=asked.friction)
    drawn = draw(robot, motion, weighed, voltage=asked.voltage, ambient=asked.ambient)
    return Doing(motion=motion, loads=weighed, winding=drawn.winding)


def _run_down(given: Supply) -> Discharge | None:
    """The battery run down under a supply's power at its terminals; None: a brown-out."""
    if not given.settled.converged.all():
        return None
    watts = given.terminal * given.flow.current[:, 0]
    return discharge(given.circuit.pack, np.maximum(watts, 0.0))


def _walking(bench: Bench, case: Case, given: Supply) -> Iterator[Finding]:
    run = _run_down(given)
    speed = float(np.hypot(*case.walk.velocity))
    yield _time(bench, f"run time, {case.gait}", given, run, f"{case.name} at {speed:.2g} m/s")
    if run is None or speed == 0.0:
        return
    payload = bench.asked.payload
    mass = bench.robot.mass + (payload.mass if payload else 0.0)
    joules = energy_per_metre(given.power, speed)
    transport = cost_of_transport(given.power, mass, speed)
    far = distance(run.time, speed)
    servos = _servo_power(given)
    yield Finding(
        area=AREA,
        name=f"energy per metre, {case.gait}",
        verdict=Verdict.PASS,
        value=joules,
        unit="J/m",
        why=f"{given.power:.3g} W from the battery, {servos:.3g} W of it into the servos; "
        f"{far / 1e3:.2g} km to a battery.",
        source="power at the battery's terminals over speed; no limit is asked for",
    )
    yield Finding(
        area=AREA,
        name=f"cost of transport, {case.gait}",
        verdict=Verdict.PASS,
        value=transport,
        why=f"{mass:.2f} kg with payload at {speed:.2g} m/s, computer and lights included.",
        source="P/(m g v), Gabrielli and von Kármán 1950; no limit is asked for",
    )


def _servo_power(given: Supply) -> float:
    net = given.flow.network
    nodes = [net.node(one.node) for one in given.circuit.consumers if one.kind is Kind.SERVO]
    taken = given.flow.drawn[:, nodes] * given.flow.voltage_at(np.array(nodes))
    return float(taken.sum(axis=1).mean())


def _time(bench: Bench, name: str, given: Supply, run: Discharge | None, doing: str) -> Finding:
    need = bench.robot.sheet.requirements.run_time
    why = f"Brown-out while {doing}: {given.settled.why}."
    cure = ""
    if run is not None:
        why = (
            f"{doing}: {given.power:.3g} W on average, {run.energy / 3600:.3g} W·h given until "
            f"{_ending(run)} at {run.left:.0%} of the charge."
        )
        cure = _capacity(given, run, need)
    return judge(
        AREA,
        name,
        None if run is None else run.time / 60.0,
        None if need is None else need / 60.0,
        "min",
        sense=Sense.AT_LEAST,
        why=why,
        source="open-circuit curve and resistance of the cells integrated to cut-off; "
        "requirements.run_time",
        cure=cure,
        missing='State requirements.run_time, like "40 min".'
        if run is not None
        else "Cure the brown-out first.",
    )


def _ending(run: Discharge) -> str:
    return {
        End.CUTOFF: "cut-off",
        End.EMPTY: "empty",
        End.TOO_MUCH: "more power is asked than it can give",
        End.NO_LOAD: "never",
    }[run.end]


def _capacity(given: Supply, run: Discharge, need: float | None) -> str:
    if need is None or run.time <= 0.0 or run.time >= need:
        return ""
    hours = given.circuit.pack.capacity / 3600.0 * need / run.time
    return f"A battery of at least {np.ceil(hours * 10) / 10:.1f} A·h."
