"""Many cases of one circuit solved in one call: their samples lie one after another.

What differs between the cases is how full the battery is, how warm the copper, and what is
drawn. All draw constant powers and currents here; `supply` looks after those that do not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from legwright.electrics.battery import internal_resistance, open_voltage
from legwright.electrics.circuit import Circuit
from legwright.electrics.copper import resistance_ratio
from legwright.electrics.demand import Demand
from legwright.electrics.flow import Flow, check_loads, constants
from legwright.electrics.network import Indices, Network
from legwright.electrics.settling import Settled
from legwright.robot.tree import Floats, read_only

FIRST = 1
"""Node of the battery's terminals: what feeds it is the battery itself."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Together:
    """C cases of T samples in all, in a circuit with N nodes; M of them are drawn from."""

    circuit: Circuit
    wants: tuple[Demand, ...]
    starts: Indices
    """(C + 1,): first sample of each case, and T."""
    at: Indices
    """(M,): nodes of the servos, then of the other loads."""
    current: Floats
    """(T, M) [A]"""
    power: Floats
    """(T, M) [W]"""
    voltage: Floats
    """(T, N), written over with each solution [V]."""
    through: Floats
    """(T, N), the same [A]."""
    drawn: Floats
    """(T, N), the same [A]."""
    solved: NDArray[np.bool_]
    """(T,), the same."""
    rms: Floats
    """(C, N), the same [A]."""
    most: Floats
    """(C, N): largest current, the same [A]."""
    least: Floats
    """(C, N): lowest voltage, the same, without nodes that merely pass on [V]."""
    enough: Floats
    """(C, S): voltage at which each of the S servos can take all that is asked of it [V]."""

    @property
    def servos(self) -> Indices:
        """(S,): nodes of the servos."""
        return self.at[: self.enough.shape[1]]

    def rows(self, case: int) -> slice:
        """Samples of a case."""
        return slice(int(self.starts[case]), int(self.starts[case + 1]))

    def solve(
        self, which: Indices, resistance: Floats, supply: Floats, *, whole: bool = True
    ) -> None:
        """Solve some of the cases.

        Args:
            which: Their numbers, (n,).
            resistance: Of what feeds each node, (C, N) [Ω].
            supply: Open-circuit voltages of the battery, (C,) [V].
            whole: Whether currents of all nodes and voltages of those that only pass on are
                asked for too.
        """
        from legwright.electrics._sweep import solve_samples

        cold = self.circuit.cold
        solve_samples(
            cold.parent,
            resistance,
            *constants(cold),
            which,
            self.starts,
            np.repeat(supply, np.diff(self.starts)),
            self.at,
            self.current,
            self.power,
            np.empty((0, self.at.size)),
            whole,
            self.voltage,
            self.through,
            self.drawn,
            self.solved,
            self.rms,
            self.most,
            self.least,
        )

    def short(self, which: Indices) -> NDArray[np.bool_]:
        """Those of some cases without a solution, or that ask a servo for more than it can take.

        Args:
            which: Their numbers, (n,).

        Returns:
            (n,)
        """
        whole = np.logical_and.reduceat(self.solved, self.starts[:-1])[which]
        ample = (self.least[which][:, self.servos] > self.enough[which]).all(axis=1)
        found = ~whole
        for row in np.flatnonzero(whole & ~ample):
            wants, rows = self.wants[which[row]], self.rows(int(which[row]))
            room = wants.room(self.voltage[rows][:, self.servos])
            found[row] = (wants.current > room).any()
        return found

    def flow(self, case: int, network: Network) -> Flow:
        """What flows in a case, of which all was asked for."""
        rows = self.rows(case)
        return Flow(
            network=network,
            voltage=self.voltage[rows],
            current=self.through[rows],
            drawn=self.drawn[rows],
            solved=self.solved[rows],
        )

    def sums(self, slow: Mapping[int, Settled]) -> Sums:
        """What the solutions come to.

        Args:
            slow: Cases that were solved otherwise, whose solution is taken in here.
        """
        from legwright.electrics._sweep import tallied

        good = self.solved
        for case, one in slow.items():
            rows = self.rows(case)
            self.voltage[rows], self.through[rows] = one.flow.voltage, one.flow.current
            good[rows] = one.converged
        lowest, peak, rms, mean = np.empty((4, *self.rms.shape))
        worst = np.empty(self.rms.shape, dtype=np.int64)
        tallied(self.voltage, self.through, good, self.starts, lowest, peak, rms, mean, worst)
        return Sums(lowest=lowest, peak=peak, rms=rms, mean=mean, worst=worst)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sums:
    """What C cases come to at N nodes, over the samples with a solution; nan where none has."""

    lowest: Floats
    """(C, N): voltage [V]."""
    peak: Floats
    """(C, N): largest magnitude of the current into each node [A]."""
    rms: Floats
    """(C, N): root mean square of the same [A]."""
    mean: Floats
    """(C, N): its average [A]."""
    worst: NDArray[np.int64]
    """(C, N): sample of the peak, counted in its case."""


def together(circuit: Circuit, wants: Sequence[Demand]) -> Together:
    """Demands side by side; nothing is solved yet.

    Args:
        circuit: The circuit.
        wants: One case each, of the same servos and loads.

    Raises:
        RequestError: for demands that are not finite.
    """
    servo, others = wants[0].placed(circuit, circuit.cold)
    at = np.concatenate([servo, others])
    starts = np.cumsum([0, *(len(one.current) for one in wants)])
    current, power = np.zeros((starts[-1], at.size)), np.empty((starts[-1], at.size))
    for one, begin, end in zip(wants, starts, starts[1:], strict=False):
        current[begin:end, : servo.size] = one.idle
        power[begin:end, : servo.size] = one.servo_power()
        power[begin:end, servo.size :] = one.power
    check_loads(current, power, power[:0], np.ones(1))
    cases, nodes = len(wants), len(circuit.cold.nodes)
    voltage, through, drawn = (np.empty((starts[-1], nodes)) for _ in range(3))
    rms, most, least = np.empty((3, cases, nodes))
    return Together(
        circuit=circuit, wants=tuple(wants), starts=starts, at=at, current=current, power=power,
        voltage=voltage, through=through, drawn=drawn,
        solved=np.zeros(starts[-1], dtype=np.bool_), rms=rms, most=most, least=least,
        enough=np.array([_enough(one) for one in wants]),
    )  # fmt: skip


def _enough(wants: Demand) -> Floats:
    """Voltage at which each servo can take all that is asked of it in every sample, (S,) [V]."""
    return np.asarray((wants.current * wants.resistance + wants.back_voltage).max(axis=0))


def warmed(circuit: Circuit, warm: Floats, ambient: float, charge: Floats) -> Floats:
    """Resistances of what feeds each node, (C, N) [Ω].

    Args:
        circuit: The circuit.
        warm: Of its items, (C, E) [K]; those that are not finite count as the ambient.
        ambient: [K]
        charge: Of the battery, (C,), 0 to 1.
    """
    kelvin = np.where(np.isfinite(warm), warm, ambient)
    found = np.tile(circuit.cold.resistance, (len(warm), 1))
    found[:, circuit.columns] *= np.where(circuit.copper, resistance_ratio(kelvin), 1.0)
    found[:, FIRST] = internal_resistance(circuit.pack, charge)
    return found


def networks(circuit: Circuit, resistance: Floats, charge: Floats) -> list[Network]:
    """The networks of C cases; see `warmed`."""
    volts = open_voltage(circuit.pack, charge)
    return [
        replace(circuit.cold, resistance=read_only(row), voltage=float(each))
        for row, each in zip(resistance, volts, strict=True)
    ]
