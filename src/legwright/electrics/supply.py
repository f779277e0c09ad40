"""Supply: the voltage that reaches each servo while the robot walks, and what it costs.

Servo currents depend on voltages and voltages on currents; `settling` finds where both agree.
Conductors warm under the RMS of the cycle, and resist the more.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from legwright.electrics.ampacity import grouping_factor
from legwright.electrics.battery import Pack, internal_resistance, open_voltage
from legwright.electrics.circuit import Circuit, least_input
from legwright.electrics.demand import Demand, demand
from legwright.electrics.flow import Flow, flow
from legwright.electrics.network import Network
from legwright.electrics.parts import Kind
from legwright.electrics.settling import Settled, settle
from legwright.electrics.warmth import settled_temperatures
from legwright.mechanics.loading import Loads
from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

WARMING = 1.0
"""Change of a copper temperature below which the currents are not reckoned again [K]."""

_PASSES = 6
_CHARGES = np.linspace(0.0, 1.0, 401)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Supply:
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
    wants = demand(robot, circuit, motion, loads, winding=winding, peak=peak)
    around = robot.sheet.requirements.ambient if ambient is None else ambient
    bundle = robot.sheet.harness.bundle if robot.sheet.harness else 1
    grouping = grouping_factor(bundle)
    level = least_charge(circuit, wants, ambient=around) if charge is None else charge
    floor = _floors(robot, circuit)
    warm = np.full(len(circuit.items), around)
    for _ in range(_PASSES):
        network = _warmed(circuit, warm, around, level)
        settled = settled_demand(circuit, network, wants, floor)
        through, good = settled.flow.current, settled.converged
        rms = _over(through, good, lambda i: np.sqrt(np.mean(i * i, axis=0)))
        rms = rms[circuit.columns]
        before, warm = warm, settled_temperatures(circuit.items, rms, around, grouping=grouping)
        change = np.abs(warm - before)[circuit.copper]
        if not (change > WARMING).any() or not np.isfinite(change[change == change]).all():
            break
    step = motion.cycle / motion.t.size
    return _summed(robot, circuit, network, wants, settled, warm, level, step)


def settled_demand(
    circuit: Circuit, network: Network, wants: Demand, floor: Mapping[str, float]
) -> Settled:
    """The fixed point of a demand in a network.

    While no servo reaches the end of its torque-speed line, all draw constant powers and
    constant currents, which one solution answers; only where one does is there anything to
    iterate.

    Args:
        circuit: The circuit that the network stands for.
        network: At some charge and warmth.
        wants: What is drawn.
        floor: Servo -> lowest voltage it works at [V].
    """
    servo, _ = wants.placed(circuit, network)
    power, idle = _loads(circuit, network, wants)
    answer = flow(network, power=power, current=idle)
    if not answer.solved.all() or (wants.current > _room(wants, answer.voltage[:, servo])).any():
        return iterated_demand(circuit, network, wants, floor)
    low = (answer.voltage < _least(circuit, network, floor)) | answer.starved
    good = np.ones(wants.current.shape[0], dtype=np.bool_)
    return Settled(
        flow=answer,
        converged=good,
        impossible=~good,
        brown_out=np.asarray(low.any(axis=1)),
        change=np.zeros(good.size),
        iterations=1,
    )


def iterated_demand(
    circuit: Circuit, network: Network, wants: Demand, floor: Mapping[str, float]
) -> Settled:
    """The same by iteration between voltages and currents; see `settling`."""
    servo, _ = wants.placed(circuit, network)
    power, idle = _loads(circuit, network, wants)
    power[:, servo] -= wants.servo_power()

    def draws(volts: Floats) -> Floats:
        drawn = idle.copy()
        here = np.broadcast_to(volts, drawn.shape)[:, servo]
        drawn[:, servo] += wants.servo_power(here) / here
        return drawn

    floors = _least(circuit, network, floor)
    return settle(network, draws, power=np.maximum(power, 0.0), floor=floors)


def _loads(circuit: Circuit, network: Network, wants: Demand) -> tuple[Floats, Floats]:
    """Powers and currents by node, every torque given, (T, N) each."""
    servo, others = wants.placed(circuit, network)
    power = np.zeros((wants.current.shape[0], len(network.nodes)))
    current = np.zeros_like(power)
    power[:, servo] = wants.servo_power()
    current[:, servo] = wants.idle
    for column, watts in zip(others, wants.power, strict=True):
        power[:, column] += watts
    return power, current


def _least(circuit: Circuit, network: Network, floor: Mapping[str, float]) -> Floats:
    """Lowest voltage of each node, (N,)."""
    least = np.zeros(len(network.nodes))
    for joint, servo_of in circuit.servos.items():
        least[network.node(servo_of.node)] = floor.get(joint, 0.0)
    return least


def least_charge(circuit: Circuit, wants: Demand, *, ambient: float) -> float:
    """State of charge at which the heaviest sample just pulls the terminals to cut-off.

    Args:
        circuit: The circuit.
        wants: What is drawn.
        ambient: Of the copper [K].

    Returns:
        Charge, 0 to 1; 1 where even a full battery is pulled below.
    """
    network = circuit.network(temperature=ambient)
    stiff = replace(network, resistance=_without_cells(network))
    power, idle = _loads(circuit, network, wants)
    at_cutoff = flow(stiff, current=idle, power=power, supply=circuit.pack.cutoff)
    if not at_cutoff.solved.all():
        return 1.0
    heaviest = float(at_cutoff.current[:, 0].max())
    pack = circuit.pack
    open_circuit, resistance = _by_charge(pack)
    left = open_circuit - resistance * heaviest
    if left[-1] <= pack.cutoff:
        return 1.0
    return float(np.interp(pack.cutoff, left, _CHARGES))


@lru_cache(maxsize=8)
def _by_charge(pack: Pack) -> tuple[Floats, Floats]:
    """Open-circuit voltage [V] and resistance [Ω] of a pack at `_CHARGES`."""
    voltage, resistance = open_voltage(pack, _CHARGES), internal_resistance(pack, _CHARGES)
    return read_only(voltage), read_only(resistance)


def _without_cells(network: Network) -> Floats:
    bare = network.resistance.copy()
    bare[1] = 0.0
    return bare


def _warmed(circuit: Circuit, warm: Floats, ambient: float, charge: float) -> Network:
    kelvin = np.where(np.isfinite(warm), warm, ambient)
    return circuit.network(charge=charge, temperature=kelvin)


@lru_cache(maxsize=8)
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


def _over(values: Floats, good: NDArray[np.bool_], what: Callable[[Floats], Floats]) -> Floats:
    if not good.any():
        return np.full(values.shape[1], np.nan)
    return np.asarray(what(values if good.all() else values[good]))


def _summed(
    robot: Robot,
    circuit: Circuit,
    network: Network,
    wants: Demand,
    settled: Settled,
    warm: Floats,
    charge: float,
    step: float,
) -> Supply:
    at, good = circuit.columns, settled.converged
    current, volts = settled.flow.current, settled.flow.voltage
    size = np.abs(current[:, at])
    lowest = _over(volts, good, lambda v: v.min(axis=0))
    servo, _ = wants.placed(circuit, network)
    legs = len(robot.joint_names)
    terminal = volts[:, network.node("battery")]
    given = terminal * current[:, 0]
    shortfall = _over(
        np.maximum(wants.current - _room(wants, volts[:, servo]), 0.0),
        good,
        lambda i: i.max(axis=0),
    )
    most = np.where(good[:, None], size, -1.0)
    return Supply(
        circuit=circuit,
        charge=charge,
        settled=settled,
        demand=wants,
        voltage=volts[:, servo[:legs]],
        at_input={name: float(lowest[network.node(node)]) for name, node in circuit.inputs.items()},
        floor=dict(_floors(robot, circuit)),
        terminal=terminal,
        peak=_over(size, good, lambda i: i.max(axis=0)),
        rms=_over(size, good, lambda i: np.sqrt(np.mean(i * i, axis=0))),
        mean=_over(current[:, at], good, lambda i: i.mean(axis=0)),
        worst=np.argmax(most, axis=0),
        drop=_over(size * network.resistance[at], good, lambda u: u.max(axis=0)),
        temperature=warm,
        power=float(given[good].mean()) if good.any() else float("nan"),
        step=step,
        short=tuple(
            name for name, less in zip(wants.joints, shortfall, strict=True) if less > 1e-9
        ),
    )


def _room(wants: Demand, volts: Floats) -> Floats:
    return np.maximum(volts - wants.back_voltage, 0.0) / wants.resistance
