"""Kernel: voltages of a linear supply. Row names of its line of numbers stand here."""

from __future__ import annotations

from legwright.kernel import kernel

(
    REST,  # open-circuit voltage of the source [V]
    INNER,  # resistance of the source itself [Ω]
    COMMON,  # resistance from the source to where the servos' paths part [Ω]
    OTHER,  # power of all that is no servo [W]
    PARTING,  # voltage where the paths part [V]
    TOTAL,  # current of the source [A]
    TERMINAL,  # voltage of its terminals [V]
    DRAWN,  # charge drawn so far [A·s]
    ENERGY,  # energy that left its terminals so far [J]
    START,  # state of charge at the start; 1 without a curve
    CAPACITY,  # of the source [A·s]; inf without a curve
    LINE,  # number of entries
) = range(12)

COLLAPSE = 0.01
"""Share of its capacity within which a battery drawn past empty falls to nothing; an assumption,
no published source: only that a lithium cell's voltage collapses there."""


@kernel
def follow(line, curve):  # type: ignore[no-untyped-def]
    """Renew the open-circuit voltage from the charge that is left.

    Args:
        line: Numbers of the supply, (LINE,); changed.
        curve: Open-circuit voltage at evenly spread states of charge, 0 to 1, (n,) [V]; empty
            where it does not fall.
    """
    last = curve.shape[0] - 1
    if last < 1:
        return
    charge = line[START] - line[DRAWN] / line[CAPACITY]
    if charge < 0.0:
        line[REST] = curve[0] * max(1.0 + charge / COLLAPSE, 0.0)
        return
    place = min(charge, 1.0) * last
    index = min(int(place), last - 1)
    line[REST] = curve[index] + (place - index) * (curve[index + 1] - curve[index])


@kernel
def feed(resistance, line, currents, dt, volts):  # type: ignore[no-untyped-def]
    """Write the voltages at the servos for the currents that they draw.

    Args:
        resistance: That the paths to two servos share, (J, J) [Ω].
        line: Numbers of the supply, (LINE,); changed.
        currents: Of the servos, (J,) [A].
        dt: For how long [s].
        volts: At the servos, (J,); changed [V].
    """
    count = currents.shape[0]
    other = line[OTHER] / max(line[PARTING], 1.0)
    total = other
    for i in range(count):
        total += currents[i]
        fall = 0.0
        for j in range(count):
            fall += resistance[i, j] * currents[j]
        volts[i] = max(line[REST] - line[COMMON] * other - fall, 0.0)
    line[TOTAL] = total
    line[TERMINAL] = max(line[REST] - line[INNER] * total, 0.0)
    line[PARTING] = max(line[REST] - line[COMMON] * total, 0.0)
    line[DRAWN] += total * dt
    line[ENERGY] += line[TERMINAL] * total * dt
