"""The battery and the harness behind it: every servo has a voltage of its own."""

from __future__ import annotations

from math import isnan

import numpy as np
from numba import njit

from legwright.electrics.battery import open_voltage
from legwright.electrics.circuit import circuit_of
from legwright.electrics.network import Network
from legwright.errors import RequestError
from legwright.rig.supply import other_power
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


class Wired:
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
        if not 0.0 < charge <= 1.0:
            raise RequestError("charge", charge, "more than 0 and at most 1")
        circuit = circuit_of(robot)
        nodes = tuple(circuit.servos[name].node for name in robot.joint_names)
        self.resistance = shared_resistance(circuit.network(charge=charge), nodes)
        self._common = float(self.resistance.min())
        self._soc = np.linspace(0.0, 1.0, 101)
        self._open = open_voltage(circuit.pack, self._soc)
        self._inner = float(circuit.network(charge=charge).resistance[1])
        self._capacity, self.charge = circuit.pack.capacity, charge
        self._other = other_power(robot)
        self._rest = float(np.interp(charge, self._soc, self._open))
        self._volts = np.full(len(nodes), self._rest)
        self._hub, self._since = self._rest, 0.0
        self.total, self.terminal = 0.0, self._rest
        farthest = float(self.resistance.diagonal().max())
        self.about = (
            f"battery at {charge:.0%} and harness, {1e3 * self._common:.3g} mΩ to the hub, "
            f"{1e3 * farthest:.3g} mΩ to the farthest servo, {self._other:.3g} W beside the servos"
        )

    def voltages(self, currents: Floats, dt: float) -> Floats:
        """A voltage for each servo; see `Supply`."""
        other = self._other / max(self._hub, 1.0)
        self.total = total = _drop(
            self.resistance, currents, self._rest - self._common * other, self._volts, other
        )
        self.charge -= total * dt / self._capacity
        self._since += dt
        if self._since > 0.1:
            self._rest = float(np.interp(self.charge, self._soc, self._open))
            self._since = 0.0
        self.terminal = max(self._rest - self._inner * total, 0.0)
        self._hub = self._rest - self._common * total
        return self._volts


@njit(cache=True)
def _drop(resistance, currents, rest, volts, other):  # type: ignore[no-untyped-def]
    """Voltages at the servos below ``rest``; returns the current of the source."""
    count, total = currents.shape[0], other
    for i in range(count):
        fall = 0.0
        for j in range(count):
            fall += resistance[i, j] * currents[j]
        volts[i] = rest - fall
        total += currents[i]
    return total
