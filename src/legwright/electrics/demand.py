"""Demand: what the consumers of a circuit take, sample by sample, at a voltage."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.electrics.circuit import Circuit
from legwright.electrics.network import Indices, Network
from legwright.electrics.parts import Kind
from legwright.errors import RequestError
from legwright.mechanics._draw import windings
from legwright.mechanics._servo import Drives, one_kind
from legwright.mechanics.drive import drive_of, drives_of
from legwright.mechanics.heat import copper_factor
from legwright.mechanics.loading import Loads
from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Packed


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Demand(Packed):
    """Servos that follow a motion, and loads that draw constant power.

    A servo takes what its winding turns into heat and work, ``R i² + k_e ω i``, and the
    current of its electronics. The winding carries what the torque asks for, at most what its
    torque-speed line gives at the voltage that arrives.
    """

    joints: tuple[str, ...]
    """(S,): leg joints, then held joints."""
    current: Floats
    """(T, S): winding current that the torque asks for, magnitude [A]."""
    back_voltage: Floats
    """(T, S): of the turning motor, positive against the current [V]."""
    resistance: Floats
    """(S,): of the warm winding [Ω]."""
    idle: Floats
    """(S,): supply current of the electronics [A]."""
    loads: tuple[str, ...]
    """(K,): consumers that are no servos."""
    power: Floats
    """(K,): that they take [W]."""

    def servo_power(self, voltage: Floats | None = None) -> Floats:
        """Power into the windings, electronics left out, (T, S) [W].

        Args:
            voltage: At the servos, (T, S) [V]; None: enough for every torque asked for.
        """
        i = self.current
        if voltage is not None:
            i = np.minimum(i, self.room(voltage))
        return np.maximum(self.resistance * i * i + self.back_voltage * i, 0.0)

    def room(self, voltage: Floats) -> Floats:
        """Largest winding currents, (T, S) [A].

        Args:
            voltage: At the servos, (T, S) [V].
        """
        return np.maximum(voltage - self.back_voltage, 0.0) / self.resistance

    def placed(self, circuit: Circuit, network: Network) -> tuple[Indices, Indices]:
        """Indices of servo nodes (S,) and load nodes (K,) in a network."""
        nodes = circuit.places(network)
        servo = np.array([nodes[name] for name in self.joints], dtype=np.int64)
        return servo, np.array([nodes[name] for name in self.loads], dtype=np.int64)


@lru_cache(maxsize=4)
def unknown_servos(robot: Robot) -> tuple[str, ...]:
    """Joints whose servo's current cannot be reckoned from the sheet."""
    names = (*robot.joint_names, *robot.held)
    return tuple(
        name
        for name in names
        if name in robot.servos and np.isnan(drive_of(robot.servos[name]).torque_constant)
    )


def demand(
    robot: Robot,
    circuit: Circuit,
    motion: Motion,
    loads: Loads,
    *,
    winding: Floats | float,
    peak: bool = True,
) -> Demand:
    """What a motion and the other loads ask of a circuit.

    Args:
        robot: The robot.
        circuit: Its circuit.
        motion: The sampled cycle.
        loads: Its joint torques; held joints hold theirs on level ground.
        winding: Temperature of the windings, () or (J,) [K].
        peak: Whether loads that are no servos draw their peak power, else their average.

    Returns:
        Demand.

    Raises:
        RequestError: where a servo's currents are not known.
    """
    unknown = unknown_servos(robot)
    if unknown:
        raise RequestError("servo of", unknown[0], "given with stall_current and rated_voltage")
    legs = drives_of(robot)
    held = [name for name in robot.held if name in circuit.servos]
    drives, resting = _all_drives(robot, tuple(held))
    torque, speed = loads.torque, motion.qd
    if held:
        pulls = dict(zip(robot.held, loads.held_torque, strict=True))
        torque = np.empty((len(torque), torque.shape[1] + len(held)))
        torque[:, : -len(held)], torque[:, -len(held) :] = loads.torque, [pulls[n] for n in held]
        speed = np.zeros_like(torque)
        speed[:, : -len(held)] = motion.qd
    current, back = np.empty((2, *torque.shape))
    windings(drives, one_kind(torque), one_kind(speed), current, back)
    others = [one for one in circuit.consumers if one.kind is not Kind.SERVO]
    warm = drives.resistance.copy()
    warm[: legs.resistance.size] *= copper_factor(winding)
    return Demand(
        joints=(*robot.joint_names, *held),
        current=current,
        back_voltage=back,
        resistance=warm,
        idle=resting,
        loads=tuple(one.name for one in others),
        power=np.array([one.peak_power if peak else one.power for one in others]),
    )


@lru_cache(maxsize=4)
def _all_drives(robot: Robot, held: tuple[str, ...]) -> tuple[Drives, Floats]:
    """Constants of the drives of legs and held joints, and what their electronics take [A]."""
    legs = drives_of(robot)
    rest = [drive_of(robot.servos[name]) for name in held]
    columns = [
        np.array([*getattr(legs, name), *(getattr(one, name) for one in rest)])
        for name in (*Drives._fields, "idle_current")
    ]
    return Drives(*columns[:-1]), columns[-1]
