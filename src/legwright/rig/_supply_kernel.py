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
    LINE,  # number of entries
) = range(10)


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
