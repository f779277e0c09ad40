"""Settling: servo currents depend on their voltages, and the voltages on the currents.

Iterates between the two, sample by sample, until both agree; where they never do, or a
voltage falls below what the electronics need, says so: a brown-out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.electrics.flow import Flow, flow
from legwright.electrics.network import Network
from legwright.errors import RequestError
from legwright.robot.tree import Floats, Packed

Draws = Callable[[Floats], Floats]
"""Currents (T, N) [A] that the loads draw at node voltages (T, N) [V]."""

COLLAPSED = 0.01
"""Share of the supply below which a loaded node has no operating point."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Settled(Packed):
    """Where voltages and currents came to rest, or that they did not."""

    flow: Flow
    """At the last iteration; meaningless in samples that did not converge."""
    converged: NDArray[np.bool_]
    """(T,): voltage and current agree."""
    impossible: NDArray[np.bool_]
    """(T,): no operating point: the loads pull the voltage down to nothing."""
    brown_out: NDArray[np.bool_]
    """(T,): no operating point, some loaded node below the floor, or a regulator starved."""
    change: Floats
    """(T,): voltage change of the last iteration, largest over the nodes [V]."""
    iterations: int

    @property
    def why(self) -> str:
        """One clause on what went wrong; empty where all is well."""
        count = self.converged.size
        if self.impossible.any():
            first = int(np.argmax(self.impossible))
            return (
                f"{int(self.impossible.sum())} of {count} samples have no operating point, "
                f"the first is sample {first}"
            )
        if not self.converged.all():
            worst = float(np.max(self.change))
            return (
                f"{int((~self.converged).sum())} of {count} samples did not settle within "
                f"{self.iterations} iterations; voltage still moves by {worst:.3g} V"
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
    tolerance: float = 1e-9,
    most: int = 200,
) -> Settled:
    """The fixed point of node voltages and load currents.

    Each iteration holds what the loads draw at the last voltages as powers; a load that really
    draws constant power then settles at once. Samples in which those powers have no solution
    are taken further with the loads held as conductances, which always have one: there a load
    that eases with the voltage settles, and one that does not pulls it down to nothing.

    Args:
        network: Of N nodes.
        draws: Currents (T, N) at node voltages (T, N); called with all samples each time.
            Currents fed back are held as currents.
        power: Further constant-power loads, (T, N) or (1, N) [W].
        supply: Open-circuit voltage, () or (T,) [V].
        floor: Lowest voltage the electronics work at, () or (N,) [V]; minded at nodes that
            draw something.
        tolerance: Voltage change that counts as settled, relative to the supply.
        most: Iterations before it counts as not settled.

    Returns:
        Settled.

    Raises:
        RequestError: where `draws` gives a wrong shape or nan.
    """
    emf = np.atleast_1d(np.asarray(network.voltage if supply is None else supply, np.float64))
    volts = flow(network, supply=emf).voltage
    extra = np.zeros_like(volts[:1]) if power is None else np.atleast_2d(np.asarray(power))
    yielding = impossible = np.zeros(1, dtype=np.bool_)
    iterations = 0
    while True:
        asked = _asked(network, draws, volts, extra)
        result = _held(network, asked, volts, yielding, emf)
        yielding = yielding | ~result.solved
        new = np.where(result.solved[:, None], result.voltage, volts)
        loaded = (asked > 0.0) & np.isnan(network.fixed)
        impossible = impossible | ((new < COLLAPSED * emf[:, None]) & loaded).any(axis=1)
        new = np.where(impossible[:, None], volts, new)  # left where it was: never at nothing
        change = np.where(result.solved, np.abs(new - volts).max(axis=1), np.inf)
        done = (change <= tolerance * emf) & ~impossible
        volts, iterations = new, iterations + 1
        if iterations >= most or (done | impossible).all():
            break
    low = ((volts < np.asarray(floor, np.float64)) & loaded | result.starved).any(axis=1)
    return Settled(
        flow=result,
        converged=done,
        impossible=np.asarray(impossible),
        brown_out=np.asarray(impossible | low),
        change=change,
        iterations=iterations,
    )


def _asked(network: Network, draws: Draws, volts: Floats, extra: Floats) -> Floats:
    """Currents at the last voltages, further power loads included."""
    asked = np.asarray(draws(volts), dtype=np.float64)
    if asked.ndim != 2 or asked.shape[1] != len(network.nodes):
        raise RequestError("shape of the drawn currents", asked.shape, "(T, N) as the voltages")
    if not np.isfinite(asked).all():
        raise RequestError("drawn currents", "nan or inf", "finite at every voltage")
    return np.asarray(asked + extra / volts)


def _held(
    network: Network, asked: Floats, volts: Floats, yielding: NDArray[np.bool_], supply: Floats
) -> Flow:
    """The flow with the asked currents held as powers, or as conductances where yielding."""
    drawn = np.maximum(asked, 0.0)
    soft = yielding[:, None]
    return flow(
        network,
        current=np.minimum(asked, 0.0),
        power=np.where(soft, 0.0, drawn * volts),
        conductance=np.where(soft, drawn / volts, 0.0),
        supply=supply,
    )
