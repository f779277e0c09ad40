"""Settling: servo currents depend on their voltages, and the voltages on the currents.

Iterates between the two, sample by sample, until both agree; where they never do, or a
voltage falls below what the electronics need, says so: a brown-out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.electrics.flow import Flow, flow
from legwright.electrics.network import Network
from legwright.errors import RequestError
from legwright.robot.tree import Floats

Draws = Callable[[Floats], Floats]
"""Currents (T, N) [A] that the loads draw at node voltages (T, N) [V]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Settled:
    """Where voltages and currents came to rest, or that they did not."""

    flow: Flow
    """At the last iteration; nan in samples without a solution."""
    converged: NDArray[np.bool_]
    """(T,): voltage and current agree."""
    impossible: NDArray[np.bool_]
    """(T,): the loads ask for more power than the resistances let through, or ask without
    end."""
    brown_out: NDArray[np.bool_]
    """(T,): no solution, or some loaded node below the floor."""
    change: Floats
    """(T,): voltage change of the last iteration, largest over the nodes [V]."""
    iterations: int

    @property
    def why(self) -> str:
        """One clause on what went wrong; empty where all is well."""
        if self.impossible.any():
            first = int(np.argmax(self.impossible))
            return (
                f"{int(self.impossible.sum())} of {self.impossible.size} samples have no "
                f"operating point, the first is sample {first}"
            )
        if not self.converged.all():
            worst = float(np.nanmax(self.change))
            return (
                f"{int((~self.converged).sum())} of {self.converged.size} samples did not "
                f"settle within {self.iterations} iterations; voltage still moves by {worst:.3g} V"
            )
        if self.brown_out.any():
            return f"{int(self.brown_out.sum())} samples lie below the lowest allowed voltage"
        return ""


def settle(
    network: Network,
    draws: Draws,
    *,
    power: Floats | None = None,
    supply: ArrayLike | None = None,
    floor: ArrayLike = 0.0,
    as_power: bool = True,
    tolerance: float = 1e-9,
    most: int = 100,
) -> Settled:
    """The fixed point of node voltages and load currents.

    Each iteration takes the currents at the last voltages either as powers to be kept or as
    they are. Kept as powers, loads that really draw constant power settle at once, and a lack
    of any operating point is proven by the network's solver instead of guessed.

    Args:
        network: Of N nodes.
        draws: Currents (T, N) at node voltages (T, N); called with all samples each time,
            with the last good voltages where a sample has been given up.
        power: Further constant-power loads, (T, N) or (1, N) [W].
        supply: Open-circuit voltage, () or (T,) [V].
        floor: Lowest voltage the electronics work at, () or (N,) [V]; minded at nodes that
            draw something.
        as_power: Keep powers between iterations, else currents. Currents fed back are kept as
            currents either way.
        tolerance: Voltage change that counts as settled, relative to the supply.
        most: Iterations before it counts as not settled.

    Returns:
        Settled.

    Raises:
        RequestError: where `draws` gives a wrong shape or nan.
    """
    result = flow(network, power=power, supply=supply)
    start = _good(result, network)
    result, volts = _next(network, draws, start, power, supply, as_power)
    change = np.full(volts.shape[0], np.inf)
    impossible = ~result.solved
    done = np.zeros_like(impossible)
    iterations = 1
    limit = tolerance * float(np.max(network.voltage if supply is None else supply))
    while iterations < most and not (done | impossible).all():
        result, new = _next(network, draws, volts, power, supply, as_power)
        iterations += 1
        impossible |= ~result.solved
        change = np.abs(new - volts).max(axis=1)
        done = (change <= limit) & ~impossible
        volts = np.where(impossible[:, None], volts, new)
    low = ((result.voltage < np.asarray(floor, np.float64)) & (result.drawn > 0.0)).any(axis=1)
    return Settled(
        flow=result,
        converged=done,
        impossible=impossible,
        brown_out=impossible | low,
        change=change,
        iterations=iterations,
    )


def _next(
    network: Network,
    draws: Draws,
    volts: Floats,
    power: Floats | None,
    supply: ArrayLike | None,
    as_power: bool,
) -> tuple[Flow, Floats]:
    asked = np.asarray(draws(volts), dtype=np.float64)
    if asked.ndim != 2 or asked.shape[1] != len(network.nodes):
        raise RequestError("shape of the drawn currents", asked.shape, "(T, N) as the voltages")
    extra = np.zeros((1, asked.shape[1])) if power is None else np.asarray(power)
    if as_power:
        kept = np.maximum(asked, 0.0) * volts + extra
        result = flow(network, current=np.minimum(asked, 0.0), power=kept, supply=supply)
    else:
        result = flow(network, current=asked, power=extra, supply=supply)
    volts = np.broadcast_to(volts, result.voltage.shape)
    # A node driven below nothing by given currents has no operating point either.
    alive = (result.voltage > 0.0).all(axis=1)
    result = replace(result, solved=result.solved & alive)
    return result, np.where(result.solved[:, None], result.voltage, volts)


def _good(result: Flow, network: Network) -> Floats:
    """Voltages to begin with: without servos, or of the idle network where even that fails."""
    idle = flow(network).voltage
    return np.where(result.solved[:, None], result.voltage, idle)
