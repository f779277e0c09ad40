"""Flow: voltages and currents of a network under load, and what becomes of the power."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.electrics.joined import Joined, joined
from legwright.electrics.network import Indices, Network
from legwright.errors import RequestError
from legwright.robot.tree import Floats


class Drawn(NamedTuple):
    """What loads draw at M nodes over T samples."""

    at: Indices
    """(M,)"""
    current: Floats
    """Whatever the voltage, (T, M), or (1, M) in all samples [A]."""
    power: Floats
    """As constant power, (T, M) [W]."""
    conductance: Floats
    """By resistive loads, (T, M), or (0, M) for none [S]."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Flow:
    """What flows in a network of N nodes over T samples.

    Samples without a solution, where the loads ask for more power than the resistances let
    through, are nan. Kept is what the solver found, at K nodes; the rest follows when asked for.
    """

    network: Network
    joined: Joined
    """Which nodes are kept."""
    volts: Floats
    """(T, K): of the nodes that are kept [V]."""
    amps: Floats
    """(T, K): into them [A]."""
    loads: Drawn
    solved: NDArray[np.bool_]
    """(T,): False where there is no solution."""

    @cached_property
    def voltage(self) -> Floats:
        """(T, N): of each node [V]."""
        tied = self.joined
        ohms = tied.reaches @ self.network.resistance
        volts = self.volts[:, tied.above] - ohms * self.current
        volts[:, tied.kept] = self.volts
        return volts

    @cached_property
    def current(self) -> Floats:
        """(T, N): into each node through what feeds it [A]; first: from the source."""
        return self.amps[:, self.joined.carries]

    @cached_property
    def drawn(self) -> Floats:
        """(T, N): by the loads at each node [A]."""
        at, current, power, conductance = self.loads
        volts = self.volts[:, self.joined.carries[at]]
        taken = current + power / volts
        if len(conductance):
            taken = taken + conductance * volts
        drawn = np.zeros((len(volts), self.network.parent.size))
        for column, node in enumerate(at):
            drawn[:, node] += taken[:, column]
        drawn[~self.solved] = np.nan
        return drawn

    def voltage_at(self, nodes: Indices) -> Floats:
        """Of some nodes, (T, n) [V]."""
        places = self.joined.carries[nodes]
        if (self.joined.kept[places] == nodes).all():
            return self.volts[:, places]
        return self.voltage[:, nodes]

    @property
    def terminal(self) -> Floats:
        """(T,): voltage of the first node behind the source's own resistance [V]."""
        ohms, into = self.network.resistance[1], self.amps[:, self.joined.carries[1]]
        return np.asarray(self.volts[:, 0] - ohms * into)

    @property
    def loss(self) -> Floats:
        """(T, N): heat in what feeds each node [W]; the source's own for its terminals."""
        net = self.network
        heat = net.resistance * self.current**2
        for at in np.flatnonzero(~np.isnan(net.fixed)):
            taken = np.maximum(self.current[:, at] * net.fixed[at], 0.0)
            heat[:, at] = taken * (1.0 / net.efficiency[at] - 1.0) + net.idle[at]
        return heat

    @property
    def starved(self) -> NDArray[np.bool_]:
        """(T, N): True at the output of a regulator whose input voltage is too low.

        The flow is reckoned as if it still held its output.
        """
        found = np.zeros(self.voltage.shape, dtype=np.bool_)
        for at in np.flatnonzero(self.network.least > 0.0):
            found[:, at] = self.voltage[:, self.network.parent[at]] < self.network.least[at]
        return found

    @property
    def source_power(self) -> Floats:
        """(T,): given by the source, its own loss included [W]."""
        return self.current[:, 0] * self.voltage[:, 0]

    @property
    def load_power(self) -> Floats:
        """(T,): taken by the loads [W]."""
        return np.asarray((self.drawn * self.voltage).sum(axis=1))

    @property
    def imbalance(self) -> Floats:
        """(T,): share of the power that is unaccounted for; rounding only."""
        rest = self.source_power - self.load_power - self.loss.sum(axis=1)
        return np.asarray(np.abs(rest) / np.maximum(np.abs(self.source_power), 1e-12))


def flow(
    network: Network,
    *,
    current: Floats | Mapping[str, ArrayLike] | None = None,
    power: Floats | Mapping[str, ArrayLike] | None = None,
    conductance: Floats | Mapping[str, ArrayLike] | None = None,
    supply: ArrayLike | None = None,
) -> Flow:
    """Node voltages and element currents, sample by sample.

    Args:
        network: Of N nodes.
        current: Drawn whatever the voltage: (T, N) in the network's node order, or by node
            name, each () or (T,) [A]. Negative: fed back.
        power: Drawn as constant power, in the same forms, at least 0 [W].
        conductance: Of resistive loads, in the same forms, at least 0 [S].
        supply: Open-circuit voltage, () or (T,) [V]; the source's when None.

    Returns:
        Flow.

    Raises:
        RequestError: for a node that is not there, shapes that do not fit, or values that are
            not finite; for power fed back.
    """
    volts = np.asarray(network.voltage if supply is None else supply, dtype=np.float64)
    amps = _by_node(network, current, "current")
    watts = _by_node(network, power, "power")
    siemens = _by_node(network, conductance, "conductance")
    samples = max(amps.shape[0], watts.shape[0], siemens.shape[0], volts.size)
    try:
        np.broadcast_shapes(amps.shape, watts.shape, siemens.shape, (samples, 1))
        volts = spread(volts, (samples,))
    except ValueError:
        shapes = (amps.shape, watts.shape, siemens.shape, volts.shape)
        what = "shapes of current, power, conductance, supply"
        raise RequestError(what, shapes, "alike") from None
    check_loads(amps, watts, siemens, volts)
    busy = np.flatnonzero(amps.any(axis=0) | watts.any(axis=0) | siemens.any(axis=0))
    loads = (spread(part[:, busy], (samples, busy.size)) for part in (amps, watts, siemens))
    drawn, tied = Drawn(busy, *loads), joined(network, busy)
    return solved_flow(network, tied, drawn, volts)


def solved_flow(network: Network, tied: Joined, drawn: Drawn, supply: Floats) -> Flow:
    """The flow of loads that are known to be right, supply (T,) [V]."""
    samples, count = len(drawn.power), tied.kept.size
    answer = Flow(
        network=network,
        joined=tied,
        volts=np.empty((samples, count)),
        amps=np.empty((samples, count)),
        loads=drawn,
        solved=np.empty(samples, dtype=np.bool_),
    )
    solve_cases(
        np.zeros(1, dtype=np.int64), np.array([0, samples]), tied, network.resistance[None, :],
        supply, drawn, answer.volts, answer.amps, answer.solved,
        np.empty((5, 1, count)), np.empty((1, count), dtype=np.int64),
    )  # fmt: skip
    return answer


def solve_cases(
    which: Indices, starts: Indices, tied: Joined, resistance: Floats, supply: Floats,
    drawn: Drawn, volts: Floats, amps: Floats, solved: NDArray[np.bool_], sums: Floats,
    worst: Indices,
) -> None:  # fmt: skip
    """Solve some of C cases, whose samples lie one after another; see the kernel.

    Args:
        which: Their numbers.
        starts: First sample of each case, and T, (C + 1,).
        tied: The nodes that are kept.
        resistance: Of what feeds each node of the network, (C, N) [Ω].
        supply: (T,) [V].
        drawn: By the loads of all cases.
        volts: Written, (T, K) [V].
        amps: Written, (T, K) [A].
        solved: Written, (T,).
        sums: Written, (5, C, K).
        worst: Written, (C, K).
    """
    from legwright.electrics._sweep import solve_samples

    solve_samples(
        tied.ahead, resistance @ tied.chains, tied.fixed, tied.efficiency, tied.idle, which,
        starts, supply, tied.carries[drawn.at], drawn.current, drawn.power, drawn.conductance,
        volts, amps, solved, sums, worst,
    )  # fmt: skip


def spread(values: Floats, shape: tuple[int, ...]) -> Floats:
    """Values over a shape, as the one kind of array that the kernel is made for; it only reads."""
    if values.shape == shape and values.flags.carray and values.dtype == np.float64:
        return values
    out = np.empty(shape)
    out[...] = values
    return out


def _by_node(
    network: Network, values: Floats | Mapping[str, ArrayLike] | None, what: str
) -> Floats:
    """Loads as (T, N)."""
    count = len(network.nodes)
    if values is None:
        return np.zeros((1, count))
    if not isinstance(values, Mapping):
        table = np.atleast_2d(np.asarray(values, dtype=np.float64))
        if table.ndim != 2 or table.shape[1] != count:
            raise RequestError(f"shape of {what}", table.shape, f"(T, {count})")
        return table
    columns = {name: np.asarray(value, dtype=np.float64) for name, value in values.items()}
    lengths = {column.size for column in columns.values() if column.ndim}
    if len(lengths) > 1 or any(column.ndim > 1 for column in columns.values()):
        raise RequestError(f"samples of {what}", sorted(lengths), "equally many at every node")
    table = np.zeros((max(lengths, default=1), count))
    for name, column in columns.items():
        table[:, network.node(name)] = column
    return table


def check_loads(current: Floats, power: Floats, conductance: Floats, supply: Floats) -> None:
    """Refuse loads that are not finite, and powers fed back.

    Raises:
        RequestError: for the first of them.
    """
    given = {"current": current, "power": power, "conductance": conductance, "supply": supply}
    for what, values in given.items():
        if not np.isfinite(values.sum()) and not np.isfinite(values).all():
            raise RequestError(what, "nan or inf", "finite everywhere")
    if power.size and power.min() < 0.0:
        raise RequestError("power", float(power.min()), "at least 0; feed back as current")
    if conductance.size and conductance.min() < 0.0:
        raise RequestError("conductance", float(conductance.min()), "at least 0")
    if supply.min() <= 0.0:
        raise RequestError("supply", float(supply.min()), "above 0")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Tally:
    """A flow summed up per node and the element that feeds it."""

    worst: NDArray[np.int64]
    """(N,): sample of the largest current magnitude."""
    peak: Floats
    """(N,): largest current magnitude [A]."""
    rms: Floats
    """(N,): root mean square of the current [A]."""
    mean: Floats
    """(N,): average current [A]."""
    lowest: Floats
    """(N,): lowest voltage [V]."""
    lowest_at: NDArray[np.int64]
    """(N,): its sample."""
    drop: Floats
    """(N,): largest voltage lost in the element [V]; 0 for regulators."""
    loss: Floats
    """(N,): average heat in the element [W]."""


def tally(result: Flow) -> Tally:
    """Peaks, RMS and averages over the samples of a flow, evenly spaced.

    Raises:
        RequestError: where some sample has no solution.
    """
    if not result.solved.all():
        count = int((~result.solved).sum())
        raise RequestError("flow", f"{count} samples without a solution", "solved throughout")
    size = np.abs(result.current)
    return Tally(
        worst=np.argmax(size, axis=0),
        peak=size.max(axis=0),
        rms=np.sqrt(np.mean(size * size, axis=0)),
        mean=result.current.mean(axis=0),
        lowest=result.voltage.min(axis=0),
        lowest_at=np.argmin(result.voltage, axis=0),
        drop=(result.network.resistance * size).max(axis=0),
        loss=result.loss.mean(axis=0),
    )
