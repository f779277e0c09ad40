"""Joined: a network without nodes that only pass on; most are joints of wires and contacts."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.electrics.network import Indices, Network
from legwright.robot.tree import Floats


class Joined(NamedTuple):
    """K of a network's N nodes are kept; the others feed one node each, and nothing else."""

    kept: Indices
    """(K,): the nodes that are kept, in the network's order."""
    ahead: Indices
    """(K,): place among them of the next toward the source; 0 for the first."""
    carries: Indices
    """(N,): place of the kept node whose current goes into each node."""
    above: Indices
    """(N,): place of the kept node that comes before each, toward the source."""
    reaches: NDArray[np.bool_]
    """(N, N): whether a node's resistance lies in the way from there to each."""
    chains: NDArray[np.bool_]
    """(N, K): whether a node's resistance lies in the way from a kept node to the next."""
    fixed: Floats
    """(K,): voltages that regulators hold [V]; nan elsewhere."""
    efficiency: Floats
    """(K,)"""
    idle: Floats
    """(K,): own power of regulators [W]."""


def joined(network: Network, at: Indices) -> Joined:
    """The network as a solver sees it.

    Args:
        network: Of N nodes.
        at: Nodes that something is drawn at; they are kept, as are forks, ends and both sides
            of regulators.
    """
    columns = (network.fixed, network.efficiency, network.idle)
    parts = (part.tobytes() for part in (network.parent, np.asarray(at, np.int64), *columns))
    return _joined(*parts)


@lru_cache(maxsize=16)
def _joined(*parts: bytes) -> Joined:
    parent, at = (np.frombuffer(part, np.int64) for part in parts[:2])
    fixed, efficiency, idle = (np.frombuffer(part, np.float64) for part in parts[2:])
    held = ~np.isnan(fixed)
    keep = np.bincount(parent[1:], minlength=parent.size) != 1
    keep[at] = keep[held] = keep[parent[held]] = keep[0] = True
    kept = np.flatnonzero(keep)
    above, carries = np.zeros(parent.size, np.int64), np.empty(parent.size, np.int64)
    carries[kept] = np.arange(kept.size)
    for node in range(1, parent.size):
        above[node] = carries[parent[node]] if keep[parent[node]] else above[parent[node]]
    for node in range(parent.size - 1, 0, -1):
        if not keep[parent[node]]:
            carries[parent[node]] = carries[node]
    chains = carries[:, None] == np.arange(kept.size)
    # in a chain, nodes come in order: the way to one leads through those before it
    reaches = np.tril(carries[:, None] == carries[None, :])
    return Joined(
        kept=kept,
        ahead=above[kept],
        carries=carries,
        above=above,
        reaches=reaches,
        chains=chains,
        fixed=np.array(fixed[kept]),
        efficiency=np.array(efficiency[kept]),
        idle=np.array(idle[kept]),
    )
