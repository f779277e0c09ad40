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
from legwright.electrics.flow import Drawn, Flow, check_loads, solve_cases
from legwright.electrics.joined import Joined, joined
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
    joined: Joined
    """The K nodes that are kept."""
    loads: Drawn
    """Of all cases: at the servos, then at the other loads."""
    enough: Floats
    """(C, S): voltage at which each of the S servos can take all that is asked of it [V]."""
    volts: Floats
    """(T, K), written over with each solution [V]."""
    amps: Floats
    """(T, K), the same [A]."""
    solved: NDArray[np.bool_]
    """(T,), the same."""
    sums: Floats
    """(5, C, K), the same: RMS, average, largest magnitude and largest of the current [A],
    lowest voltage [V]."""
    worst: Indices
    """(C, K), the same: sample of the largest magnitude."""

    @property
    def servos(self) -> Indices:
        """(S,): places of the servos among the nodes that are kept."""
        return self.joined.carries[self.loads.at[: self.enough.shape[1]]]

    def rows(self, case: int) -> slice:
        """Samples of a case."""
        return slice(int(self.starts[case]), int(self.starts[case + 1]))

    def solve(self, which: Indices, resistance: Floats, supply: Floats) -> None:
        """Solve some of the cases.

        Args:
            which: Their numbers, (n,).
            resistance: Of what feeds each node, (C, N) [Ω].
            supply: Open-circuit voltages of the battery, (C,) [V].
        """
        each = np.repeat(supply, np.diff(self.starts))
        solve_cases(
            which, self.starts, self.joined, resistance, each, self.loads, self.volts, self.amps,
            self.solved, self.sums, self.worst,
        )  # fmt: skip

    def short(self, which: Indices) -> NDArray[np.bool_]:
        """Those of some cases without a solution, or that ask a servo for more than it can take.

        Args:
            which: Their numbers, (n,).

        Returns:
            (n,)
        """
        whole = np.logical_and.reduceat(self.solved, self.starts[:-1])[which]
        ample = (self.sums[4][which][:, self.servos] > self.enough[which]).all(axis=1)
        found = ~whole
        for row in np.flatnonzero(whole & ~ample):
            wants, rows = self.wants[which[row]], self.rows(int(which[row]))
            found[row] = (wants.current > wants.room(self.volts[rows][:, self.servos])).any()
        return found

    def flow(self, case: int, network: Network) -> Flow:
        """What flows in a case."""
        rows = self.rows(case)
        loads = self.loads._replace(power=self.loads.power[rows])
        return Flow(
            network=network,
            joined=self.joined,
            volts=self.volts[rows],
            amps=self.amps[rows],
            loads=loads,
            solved=self.solved[rows],
        )

    def tally(self, slow: Mapping[int, Settled]) -> Sums:
        """What the solutions come to.

        Args:
            slow: Cases that were solved otherwise.
        """
        rms, mean, peak, _, lowest = self.sums[:, :, self.joined.carries]
        worst = self.worst[:, self.joined.carries]
        for case, one in slow.items():
            good = one.converged
            volts, current = one.flow.voltage[good], one.flow.current[good]
            if not good.any():
                rms[case] = mean[case] = peak[case] = lowest[case] = np.nan
                worst[case] = 0
                continue
            size = np.abs(current)
            rms[case], mean[case] = np.sqrt(np.mean(size * size, axis=0)), current.mean(axis=0)
            peak[case], lowest[case] = size.max(axis=0), volts.min(axis=0)
            worst[case] = np.flatnonzero(good)[size.argmax(axis=0)]
        return Sums(lowest=lowest, peak=peak, rms=rms, mean=mean, worst=worst)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sums:
    """What C cases come to at N nodes, over the samples with a solution; nan where none has."""

    lowest: Floats
    """(C, N): voltage; at nodes that only pass on, that of the next [V]."""
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
    current, power = np.zeros((1, at.size)), np.empty((starts[-1], at.size))
    current[0, : servo.size] = wants[0].idle
    for one, begin, end in zip(wants, starts, starts[1:], strict=False):
        power[begin:end, : servo.size] = one.servo_power()
        power[begin:end, servo.size :] = one.power
    check_loads(current, power, power[:0], np.ones(1))
    tied = joined(circuit.cold, at)
    shape = (int(starts[-1]), tied.kept.size)
    return Together(
        circuit=circuit,
        wants=tuple(wants),
        starts=starts,
        joined=tied,
        loads=Drawn(at, current, power, np.empty((0, at.size))),
        enough=np.array([_enough(one) for one in wants]),
        volts=np.empty(shape),
        amps=np.empty(shape),
        solved=np.zeros(shape[0], dtype=np.bool_),
        sums=np.empty((5, len(wants), shape[1])),
        worst=np.empty((len(wants), shape[1]), dtype=np.int64),
    )


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
