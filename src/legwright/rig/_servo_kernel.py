"""Kernel: all servos through one physics step.

Constants and states are tables of one row per quantity and one column per joint; the row
numbers below are the only names that kernel and caller share.
"""

from __future__ import annotations

from math import exp, floor

import numpy as np
from numba import njit

from legwright.kernel import kernel, within
from legwright.rig._supply_kernel import feed

# Rows of the table of constants.
(
    RESISTANCE,  # winding at 20 °C [Ω]
    EMF,  # back voltage per output speed, and torque before losses per current [V·s]
    DRIVING_LOSS,  # friction torque per output torque while the motor drives
    BACKDRIVE_LOSS,  # the same while the load drives
    COULOMB,  # friction torque while turning [N·m]
    STRIBECK,  # friction on top at rest, as a share
    STRIBECK_SPEED,  # speed at which that has fallen to 1/e [rad/s]
    ROTOR,  # rotor inertia at the output [kg·m²]
    PLAY,  # half of the backlash [rad]
    GEAR,  # stiffness of gear and horn [N·m/rad]
    GEAR_DAMPING,  # [N·m·s/rad]
    CURRENT_LIMIT,  # of the electronics [A]
    GAIN,  # of the position loop [V/rad]
    FEED,  # share of the back voltage of the wanted speed that is fed forward
    ENCODER,  # step of the position sensor [rad]
    THERMAL,  # winding to ambient [K/W]
    THERMAL_TIME,  # [s]
    HOTTEST,  # winding temperature at which no current is left [K]
    FADE,  # band below it in which the limit falls [K]
    AMBIENT,  # [K]
    LOWEST_VOLTAGE,  # below it the servo resets [V]
    IDLE,  # supply current of the electronics [A]
    FILTER,  # time constant of the current sensor [s]
    SPEED_FILTER,  # time constant of the reported speed [s]
    FLAT,  # 1 where torque does not fall with speed (bare URDF)
    CAP,  # torque limit there [N·m]
    FASTEST,  # speed limit there [rad/s]
    CONSTANTS,  # number of rows
) = range(28)

# Rows of the table of states.
(
    ANGLE,  # of the rotor, at the output [rad]
    SPEED,  # of the rotor [rad/s]
    CURRENT,  # in the winding [A]
    FILTERED,  # the same behind the sensor's filter [A]
    WINDING,  # temperature [K]
    READ,  # position that the sensor gives [rad]
    READ_SPEED,  # its filtered rate [rad/s]
    TORQUE,  # that arrives at the link [N·m]
    SUPPLY,  # current from the supply [A]
    OFF,  # time until a reset servo is back [s]
    DEAD,  # 1 where the servo has failed and is limp
    FRICTION,  # factor on all friction, 1 as identified
    RESETS,  # number of brown-outs
    STATES,  # number of rows
) = range(14)

RESET_TIME = 0.5
"""A servo that browned out is back after this long [s]; common practice, no published source."""

COPPER = 0.00393
"""Temperature coefficient of copper at 20 °C [1/K]; IEC 60028:1925."""


@kernel
def step_servos(c, s, qpos, qvel, at, goal, resistance, line, volts, dt, force):  # type: ignore[no-untyped-def]
    """Advance every servo by dt and write its torque on the link into ``force``.

    Args:
        c: Constants, (CONSTANTS, J).
        s: States, (STATES, J); changed.
        qpos: The engine's positions.
        qvel: The engine's velocities.
        at: Places of the joints in `qpos`, and in `qvel` and `force`, (2, J).
        goal: Wanted positions [rad] and speeds [rad/s], (2, J).
        resistance: That the paths to two servos share, (J, J) [Ω]; see `_supply_kernel`.
        line: Numbers of the supply; changed.
        volts: At each servo's terminals, (J,); changed [V].
        dt: Time step [s].
        force: The engine's applied forces; changed.
    """
    feed(resistance, line, s[SUPPLY], dt, volts)
    for j in range(goal.shape[1]):
        q, w = qpos[at[0, j]], qvel[at[1, j]]
        grain = c[ENCODER, j]
        read = floor(q / grain + 0.5) * grain if grain > 0.0 else q
        rate = (read - s[READ, j]) / dt
        s[READ, j] = read
        s[READ_SPEED, j] += min(dt / c[SPEED_FILTER, j], 1.0) * (rate - s[READ_SPEED, j])

        # Gear and horn: a spring behind the play, that can push but not pull through the gap.
        wound = s[ANGLE, j] - q
        play = c[PLAY, j]
        stretch = wound - play if wound > play else (wound + play if wound < -play else 0.0)
        torque = 0.0
        if stretch != 0.0:
            torque = c[GEAR, j] * stretch + c[GEAR_DAMPING, j] * (s[SPEED, j] - w)
            if torque * stretch < 0.0:
                torque = 0.0
        if c[FLAT, j] > 0.0 and (s[DEAD, j] > 0.0 or s[OFF, j] > 0.0):
            torque = 0.0

        if c[FLAT, j] > 0.0:
            _limits_only(c, s, j, q, goal[0, j], goal[1, j], dt)
            torque = min(max(torque, -c[CAP, j]), c[CAP, j])
            s[CURRENT, j] = torque
        else:
            _motor(c, s, j, read, goal[0, j], goal[1, j], volts[j], dt, torque)
        s[FILTERED, j] += min(dt / c[FILTER, j], 1.0) * (s[CURRENT, j] - s[FILTERED, j])
        s[TORQUE, j] = torque
        force[at[1, j]] = torque


@njit(cache=True, inline="always")
def _limits_only(c, s, j, q, goal, goal_speed, dt):  # type: ignore[no-untyped-def]
    """A stiff servo that knows but a torque and a speed limit."""
    speed = (goal - s[ANGLE, j]) / dt
    speed = min(max(speed, -c[FASTEST, j]), c[FASTEST, j])
    angle = s[ANGLE, j] + speed * dt
    most = c[CAP, j] / c[GEAR, j]
    s[ANGLE, j] = min(max(angle, q - most), q + most)
    s[SPEED, j] = min(max(goal_speed, -c[FASTEST, j]), c[FASTEST, j])


@njit(cache=True, inline="always")
def _motor(c, s, j, read, goal, goal_speed, volts, dt, torque):  # type: ignore[no-untyped-def]
    """Position loop, winding, friction and heat of one servo; ``torque`` loads its gear."""
    if s[OFF, j] > 0.0:
        s[OFF, j] -= dt
    elif volts < c[LOWEST_VOLTAGE, j]:
        s[OFF, j] = RESET_TIME
        s[RESETS, j] += 1.0
    speed = s[SPEED, j]
    emf = c[EMF, j] * speed
    ohms = c[RESISTANCE, j] * (1.0 + COPPER * (s[WINDING, j] - 293.15))
    current = 0.0
    if s[OFF, j] <= 0.0 and s[DEAD, j] == 0.0:
        drive = c[GAIN, j] * (goal - read) + c[FEED, j] * c[EMF, j] * goal_speed
        drive = min(max(drive, -volts), volts)
        current = (drive - emf) / ohms
        cool = (c[HOTTEST, j] - s[WINDING, j]) / c[FADE, j]
        limit = c[CURRENT_LIMIT, j] * min(max(cool, 0.0), 1.0)
        current = min(max(current, -limit), limit)
    s[CURRENT, j] = current
    power = max((ohms * current + emf) * current, 0.0)
    s[SUPPLY, j] = c[IDLE, j] + (power / volts if volts > 0.0 else 0.0)

    # Coulomb friction stepped implicitly: it stops the rotor, but never turns it back.
    free = speed + dt / c[ROTOR, j] * (c[EMF, j] * current - torque)
    share = c[DRIVING_LOSS, j] if torque * free > 0.0 else c[BACKDRIVE_LOSS, j]
    slow = speed / c[STRIBECK_SPEED, j]
    rest = c[STRIBECK, j] * exp(-slow * slow) if abs(slow) < 5.0 else 0.0
    friction = s[FRICTION, j] * c[COULOMB, j] * (1.0 + rest) + share * abs(torque)
    brake = dt / c[ROTOR, j] * friction
    speed = free - brake if free > 0.0 else free + brake
    if abs(free) <= brake:
        speed = 0.0
    s[SPEED, j] = speed
    s[ANGLE, j] += speed * dt

    heat = ohms * current * current
    rise = heat * c[THERMAL, j] - (s[WINDING, j] - c[AMBIENT, j])
    s[WINDING, j] += dt / c[THERMAL_TIME, j] * rise


@within
def read_servos(s, noise, grain, chance, told):  # type: ignore[no-untyped-def]
    """What the servos report.

    Args:
        s: States, (STATES, J).
        noise: Standard deviation of one current reading, (J,) [A].
        grain: Step of the current sensor, 0 for none, (J,) [A].
        chance: Draws of the normal distribution, (J + 3,); the first J are used.
        told: Position, velocity and current, (3, J), written; nan where a servo is silent.
    """
    for j in range(s.shape[1]):
        current = s[FILTERED, j] + noise[j] * chance[j]
        if grain[j] > 0.0:
            current = floor(current / grain[j] + 0.5) * grain[j]
        silent = s[DEAD, j] > 0.0
        told[0, j] = np.nan if silent else s[READ, j]
        told[1, j] = np.nan if silent else s[READ_SPEED, j]
        told[2, j] = np.nan if silent else current
