"""The battery and the harness behind it: every servo has a voltage of its own."""

from __future__ import annotations

from math import isnan

import numpy as np

from legwright.electrics.circuit import circuit_of
from legwright.electrics.network import Network
from legwright.errors import RequestError
from legwright.rig.supply import Battery, check_charge, other_power
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


def shared_resistance(network: Network, nodes: tuple[str, ...]) -> Floats:
    """Resistance that the paths to two nodes have in common, for all pairs.

    In a radial network the voltage at node i falls by ``Σ_j R_ij I_j`` below the source.

    Args:
        network: Radial; nodes behind a regulator are not allowed.
        nodes: Names, (N,).

    Returns:
        (N, N), symmetric [Ω].

    Source: Ohm's and Kirchhoff's laws for a tree (textbook).

    Raises:
        RequestError: for a node behind a regulator.
    """
    paths: list[dict[int, float]] = []
    for name in nodes:
        at, path = network.node(name), {}
        while at > 0:
            if not isnan(network.fixed[at]):
                raise RequestError("servo node", name, "fed by the battery, without a regulator")
            path[at] = float(network.resistance[at])
            at = int(network.parent[at])
        paths.append(path)
    shared = np.zeros((len(nodes), len(nodes)))
    for i, one in enumerate(paths):
        for j, two in enumerate(paths):
            shared[i, j] = sum(ohms for at, ohms in one.items() if at in two)
    return shared


class Wired(Battery):
    """Battery, protection, hub, cables and connectors as the electrics room sees them.

    Copper is taken at 20 °C. Loads that are no servos draw their power where the paths of all
    servos part.
    """

    def __init__(self, robot: Robot, *, charge: float = 1.0) -> None:
        """Follow the circuit of the sheet.

        Args:
            robot: Its sheet states battery and hub.
            charge: State of charge at the start, 0 to 1.

        Raises:
            RequestError: if the charge is out of range.
            RobotError: if the circuit of the sheet cannot be.
        """
        check_charge(charge)
        circuit = circuit_of(robot)
        network = circuit.network(charge=charge)
        nodes = tuple(circuit.servos[name].node for name in robot.joint_names)
        shared, other = shared_resistance(network, nodes), other_power(robot)
        common, farthest = float(shared.min()), float(shared.diagonal().max())
        about = (
            f"battery at {charge:.0%} and harness, {1e3 * common:.3g} mΩ to the hub, "
            f"{1e3 * farthest:.3g} mΩ to the farthest servo, {other:.3g} W beside the servos"
        )
        inner = float(network.resistance[1])
        super().__init__(
            about, shared, circuit.pack, charge, inner=inner, common=common, other=other
        )
