"""Supply: the voltage that reaches each servo while the robot walks, and what it costs.

Servo currents depend on voltages and voltages on currents; `settling` finds where both agree.
Conductors warm under the RMS of the cycle, and resist the more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from legwright.electrics.ampacity import grouping_factor
from legwright.electrics.battery import Pack, internal_resistance, open_voltage
from legwright.electrics.circuit import Circuit, least_input
from legwright.electrics.demand import Demand, demand
from legwright.electrics.flow import Flow
from legwright.electrics.network import Indices, Network
from legwright.electrics.parts import Kind
from legwright.electrics.settling import Settled, settle
from legwright.electrics.together import FIRST, Together, networks, together, warmed
from legwright.electrics.warmth import settled_temperatures
from legwright.mechanics.loading import Loads
from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Packed, read_only

WARMING = 1.0
"""Change of a copper temperature below which the currents are not reckoned again [K]."""

_PASSES = 6
_CHARGES = np.linspace(0.0, 1.0, 401)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Supply(Packed):
    """T samples of a cycle in a circuit of E items that feeds S servos."""

    circuit: Circuit
    charge: float
    """State of charge of the battery, 0 to 1."""
    settled: Settled
    demand: Demand
    voltage: Floats
    """(T, J): at each leg joint's servo [V]."""
    at_input: Mapping[str, float]
    """Consumer -> lowest voltage at it, ahead of its regulator if it has one [V]; nan where
    nothing settled."""
    floor: Mapping[str, float]
    """Consumer -> lowest voltage that it works at there [V]; 0 where not known."""
    terminal: Floats
    """(T,): at the battery's terminals [V]."""
    peak: Floats
    """(E,): largest current magnitude [A]."""
    rms: Floats
    """(E,): root mean square of the current [A]."""
    mean: Floats
    """(E,): average current [A]."""
    worst: NDArray[np.int64]
    """(E,): sample of the largest current."""
    drop: Floats
    """(E,): largest voltage lost [V]."""
    temperature: Floats
    """(E,): where the copper or contact settles [K]; nan where not known."""
    power: float
    """Average from the battery's terminals [W]."""
    step: float
    """Time between samples [s]."""
    short: tuple[str, ...] = ()
    """Joints whose servo is asked for more current than its voltage gives."""

    @property
    def flow(self) -> Flow:
        """Voltages and currents; see `Settled`."""
        return self.settled.flow

    @property
    def brown_out(self) -> bool:
        """Whether some sample has no operating point, or a consumer resets or starves."""
        return bool(self.settled.brown_out.any() or not self.settled.converged.all())

    @property
    def spare(self) -> Mapping[str, float]:
        """Consumer -> voltage above what it works at, in the worst sample [V].

        A servo's floor is its lowest voltage, that of a load behind a regulator the least
        input of the regulator.
        """
        return {name: self.at_input[name] - self.floor[name] for name in self.at_input}

    @property
    def place(self) -> str:
        """The consumer that has the least voltage to spare."""
        spare = self.spare
        return min(spare, key=lambda name: np.inf if np.isnan(spare[name]) else spare[name])

    @property
    def imbalance(self) -> float:
        """Largest share of the power that is unaccounted for; rounding only."""
        good = self.settled.converged
        return float(self.flow.imbalance[good].max()) if good.any() else float("nan")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Doing:
    """What a robot does while it is supplied."""

    motion: Motion
    loads: Loads
    winding: Floats | float
    """Temperature of the servo windings, () or (J,) [K]."""


def supply(
    robot: Robot,
    circuit: Circuit,
    motion: Motion,
    loads: Loads,
    *,
    winding: Floats | float,
    ambient: float | None = None,
    charge: float | None = None,
    peak: bool = True,
) -> Supply:
    """Voltages, currents and temperatures while a robot moves.

    Args:
        robot: The robot.
        circuit: Its circuit.
        motion: The sampled cycle.
        loads: Its joint torques.
        winding: Temperature of the servo windings, () or (J,) [K].
        ambient: [K]; the sheet's when None.
        charge: State of charge; where the heaviest sample pulls the battery to cut-off, the
            least at which this walk is still possible, when None.
        peak: Whether loads that are no servos draw their peak power.

    Returns:
        Supply.

    Raises:
        RequestError: where a servo's currents are not known.
    """
    doing = Doing(motion=motion, loads=loads, winding=winding)
    return supplies(robot, circuit, [doing], ambient=ambient, charge=charge, peak=peak)[0]


def supplies(
    robot: Robot,
    circuit: Circuit,
    doings: Sequence[Doing],
    *,
    ambient: float | None = None,
    charge: float | None = None,
    peak: bool = True,
) -> list[Supply]:
    """`supply` for several cases at once, which takes a fraction of the time.

    Args:
        robot: The robot.
        circuit: Its circuit.
        doings: The cases; each is supplied as if it were alone.
        ambient: As in `supply`.
        charge: As in `supply`, for all.
        peak: As in `supply`, for all.

    Returns:
        One supply for each.

    Raises:
        RequestError: where a servo's currents are not known.
    """
    if not doings:
        return []
    wants = [
        demand(robot, circuit, one.motion, one.loads, winding=one.winding, peak=peak)
        for one in doings
    ]
    around = robot.sheet.requirements.ambient if ambient is None else ambient
    bundle = robot.sheet.harness.bundle if robot.sheet.harness else 1
    cases = together(circuit, wants)
    level = _least_charges(cases, around) if charge is None else np.full(len(wants), float(charge))
    found = _settle(cases, around, level, _floors(robot, circuit), grouping_factor(bundle))
    steps = [one.motion.cycle / one.motion.t.size for one in doings]
    return _summed(robot, cases, level, steps, *found)


def _settle(
    cases: Together, around: float, level: Floats, floor: Mapping[str, float], grouping: float
) -> tuple[list[Network], list[Settled], Floats, dict[int, Settled]]:
    """Networks, voltages and currents with the copper as warm as it becomes, (C, E) [K].

    Last the cases that had to be iterated.
    """
    circuit, count = cases.circuit, len(cases.wants)
    warm = np.full((count, len(circuit.items)), around)
    resistance, volts = warmed(circuit, warm, around, level), open_voltage(circuit.pack, level)
    slow: dict[int, Settled] = {}
    left = np.arange(count)
    for _ in range(_PASSES):
        resistance[left] = warmed(circuit, warm[left], around, level[left])
        cases.solve(left, resistance, volts)
        rms = cases.sums[0][:, cases.joined.carries]
        for case, short in zip(left.tolist(), cases.short(left), strict=True):
            slow.pop(case, None)
            if short:
                net = networks(circuit, resistance[[case]], level[[case]])[0]
                slow[case] = iterated_demand(circuit, net, cases.wants[case], floor)
                rms[case] = _rms(slow[case])
        before, through = warm[left], rms[left][:, circuit.columns]
        warm[left] = settled_temperatures(circuit.items, through, around, grouping=grouping)
        change = np.abs(warm[left] - before)[:, circuit.copper]
        left = left[(change > WARMING).any(axis=1) & ~np.isinf(change).any(axis=1)]
        if not left.size:
            break
    nets = networks(circuit, resistance, level)
    rails = np.flatnonzero(circuit.cold.least > 0.0)
    minded = np.concatenate([cases.servos, cases.joined.carries[circuit.cold.parent[rails]]])
    least = [floor.get(joint, 0.0) for joint in cases.wants[0].joints]
    floors = np.concatenate([least, circuit.cold.least[rails]])
    settled = [
        slow[case] if case in slow else _direct(cases, case, net, minded, floors)
        for case, net in enumerate(nets)
    ]
    return nets, settled, warm, slow


def _direct(cases: Together, case: int, network: Network, at: Indices, floors: Floats) -> Settled:
    """The fixed point of a demand of which the servos can take all.

    While no servo reaches the end of its torque-speed line, all draw constant powers and
    constant currents, which one solution answers; only where one does is there anything to
    iterate.
    """
    answer = cases.flow(case, network)
    good = np.ones(len(answer.volts), dtype=np.bool_)
    low: NDArray[np.bool_] = ~good
    if (cases.sums[4, case, at] < floors).any():
        low = np.asarray((answer.volts[:, at] < floors).any(axis=1))
    return Settled(
        flow=answer,
        converged=good,
        impossible=~good,
        brown_out=low,
        change=np.zeros(good.size),
        iterations=1,
    )


def iterated_demand(
    circuit: Circuit, network: Network, wants: Demand, floor: Mapping[str, float]
) -> Settled:
    """The fixed point of a demand in a network, by iteration; see `settling`.

    Args:
        circuit: The circuit that the network stands for.
        network: At some charge and warmth.
        wants: What is drawn.
        floor: Servo -> lowest voltage it works at [V].
    """
    servo, others = wants.placed(circuit, network)
    power = np.zeros((wants.current.shape[0], len(network.nodes)))
    idle = np.zeros_like(power)
    idle[:, servo] = wants.idle
    for column, watts in zip(others, wants.power, strict=True):
        power[:, column] += watts

    def draws(volts: Floats) -> Floats:
        drawn = idle.copy()
        here = np.broadcast_to(volts, drawn.shape)[:, servo]
        drawn[:, servo] += wants.servo_power(here) / here
        return drawn

    floors = np.zeros(len(network.nodes))
    floors[servo] = [floor.get(joint, 0.0) for joint in wants.joints]
    return settle(network, draws, power=power, floor=floors)


def _rms(settled: Settled) -> Floats:
    """Of the currents where they settled, (N,) [A]."""
    good = settled.flow.current[settled.converged]
    if not good.size:
        return np.full(settled.flow.current.shape[1], np.nan)
    return np.asarray(np.sqrt(np.mean(good * good, axis=0)))


def _least_charges(cases: Together, ambient: float) -> Floats:
    """States of charge at which the heaviest samples just pull the terminals to cut-off, (C,).

    1 where even a full battery is pulled below.
    """
    circuit, count = cases.circuit, len(cases.wants)
    pack = circuit.pack
    warm, charge = np.full((count, len(circuit.items)), ambient), np.ones(count)
    stiff = warmed(circuit, warm, ambient, charge)
    stiff[:, FIRST] = 0.0
    cases.solve(np.arange(count), stiff, np.full(count, pack.cutoff))
    solved = np.logical_and.reduceat(cases.solved, cases.starts[:-1])
    open_circuit, resistance = _by_charge(pack)
    for case in np.flatnonzero(solved):
        left = open_circuit - resistance * cases.sums[3, case, 0]
        if left[-1] > pack.cutoff:
            charge[case] = np.interp(pack.cutoff, left, _CHARGES)
    return charge


@lru_cache(maxsize=4)
def _by_charge(pack: Pack) -> tuple[Floats, Floats]:
    """Open-circuit voltage [V] and resistance [Ω] of a pack at `_CHARGES`."""
    voltage, resistance = open_voltage(pack, _CHARGES), internal_resistance(pack, _CHARGES)
    return read_only(voltage), read_only(resistance)


@lru_cache(maxsize=4)
def _floors(robot: Robot, circuit: Circuit) -> Mapping[str, float]:
    """Consumer -> lowest voltage that it works at, ahead of its regulator [V]."""
    floors = {}
    for one in circuit.consumers:
        servo = robot.servos.get(one.name) if one.kind is Kind.SERVO else None
        floors[one.name] = 0.0 if servo is None else servo.lowest_voltage or 0.0
        ahead = circuit.regulators[one.name]
        if ahead is not None:
            floors[one.name] = least_input(ahead)
    return MappingProxyType(floors)


def _summed(
    robot: Robot, cases: Together, level: Floats, steps: Sequence[float], nets: list[Network],
    settled: list[Settled], warm: Floats, slow: Mapping[int, Settled],
) -> list[Supply]:  # fmt: skip
    circuit, columns = cases.circuit, cases.circuit.columns
    sums = cases.tally(slow)
    inputs = {name: circuit.cold.node(node) for name, node in circuit.inputs.items()}
    floor = dict(_floors(robot, circuit))
    nodes = cases.loads.at[: len(cases.wants[0].joints)]
    found = []
    for case, (wants, one, net) in enumerate(zip(cases.wants, settled, nets, strict=True)):
        good, volts = one.converged, one.flow.voltage_at(nodes)
        lowest, terminal = sums.lowest[case].tolist(), one.flow.terminal
        given = terminal * one.flow.amps[:, 0]
        given = given if good.all() else given[good]
        found.append(
            Supply(
                circuit=circuit,
                charge=float(level[case]),
                settled=one,
                demand=wants,
                voltage=volts[:, : len(robot.joint_names)],
                at_input={name: lowest[node] for name, node in inputs.items()},
                floor=floor,
                terminal=terminal,
                peak=sums.peak[case, columns],
                rms=sums.rms[case, columns],
                mean=sums.mean[case, columns],
                worst=sums.worst[case, columns],
                drop=(sums.peak[case] * net.resistance)[columns],
                temperature=warm[case],
                power=float(given.mean()) if given.size else float("nan"),
                step=steps[case],
                short=_short(wants, volts, good) if case in slow else (),
            )
        )
    return found


def _short(wants: Demand, volts: Floats, good: NDArray[np.bool_]) -> tuple[str, ...]:
    """Joints whose servo is asked for more than it can take, voltages (T, S) [V]."""
    over = wants.current - wants.room(volts)
    most = np.max(over, axis=0, where=good[:, None], initial=0.0)
    return tuple(name for name, less in zip(wants.joints, most, strict=True) if less > 1e-9)
