"""Demand: what the consumers of a circuit take, sample by sample, at a voltage."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.electrics.circuit import Circuit
from legwright.electrics.network import Indices, Network
from legwright.electrics.parts import Kind
from legwright.errors import RequestError
from legwright.mechanics.drive import Drive, drive_of, drives_of
from legwright.mechanics.heat import copper_factor
from legwright.mechanics.loading import Loads
from legwright.mechanics.motion import Motion
from legwright.mechanics.servo_current import winding_current
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Demand:
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
    asked = winding_current(legs, loads.torque, motion.qd)
    held = [name for name in robot.held if name in circuit.servos]
    drives = [drive_of(robot.servos[name]) for name in held]
    holding = _holding(robot, loads, held, drives)
    samples = motion.t.size
    others = [one for one in circuit.consumers if one.kind is not Kind.SERVO]
    warm = legs.resistance * copper_factor(np.broadcast_to(winding, legs.resistance.shape))
    return Demand(
        joints=(*robot.joint_names, *held),
        current=np.hstack([np.abs(asked), np.tile(holding, (samples, 1))]),
        back_voltage=np.hstack([_back(legs, asked, motion.qd), np.zeros((samples, len(held)))]),
        resistance=np.array([*warm, *(float(drive.resistance) for drive in drives)]),
        idle=np.array([*legs.idle_current, *(float(drive.idle_current) for drive in drives)]),
        loads=tuple(one.name for one in others),
        power=np.array([one.peak_power if peak else one.power for one in others]),
    )


def _back(drives: Drive, current: Floats, speed: Floats) -> Floats:
    return np.asarray(drives.emf_constant * speed * np.sign(current))


def _holding(robot: Robot, loads: Loads, held: list[str], drives: list[Drive]) -> Floats:
    """Winding currents of held joints [A]."""
    torque = dict(zip(robot.held, loads.held_torque, strict=True))
    return np.array(
        [
            abs(float(winding_current(drive, torque[name], 0.0)))
            for name, drive in zip(held, drives, strict=True)
        ]
    )
