"""How a drive is set up: one list of objects, the same for simulated and real drives.

The order matters: a PDO is switched off while its mapping changes, and the mode is chosen
before anything moves. `docs/drives.md` says what each line is for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from legwright.errors import RigError
from legwright.rig.can import objects as o
from legwright.rig.can.cia402 import CYCLIC_POSITION
from legwright.rig.can.sdo import Place, Refusal, Talk

MASTER = 127
"""Node id under which the rig's own heartbeat runs; common practice."""
MASTER_BEAT, MASTER_SILENT = 0.05, 0.25
"""Period of the rig's heartbeat, and the silence after which drives hold by themselves [s]."""
DRIVE_BEAT = 0.1
"""Period of the drives' heartbeats [s]."""
SLOW = 0.1
"""Period of TPDO2 [s]."""
FOLLOWING, FOLLOWING_TIME = np.radians(30.0), 0.5
"""Window [rad] and time [s] after which a drive itself declares a following error. It then goes
limp; so it is wide, and the supervisor sits the robot down well before."""
QUICK_STOP_AND_HOLD = 6
"""Of 605Ah: slow down on the quick stop ramp, then stay and hold."""
ABORT_BY_QUICK_STOP = 3
"""Of 6007h: a lost connection is met by quick stop."""
FAULT_BY_QUICK_STOP = 2
"""Of 605Eh: a fault slows down on the quick stop ramp before the power stage goes off."""
KEEP_STATE = 1
"""Of 1029h: a communication error leaves the NMT state as it is; else PDOs would end."""
SYNCHRONOUS, AT_ONCE = 1, 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one drive is told about its joint."""

    lowest: int
    highest: int
    """Range of the position [counts]."""
    window: int
    """Following error window [counts]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What all drives are told."""

    rate: float
    """Cycles per second [Hz]."""
    limits: Mapping[Place, Limits]
    winding: o.Object | None
    """Object of the winding temperature; None where drives do not tell it."""


Write = tuple[o.Object, dict[Place, int]]


def writes(plan: Plan) -> Iterator[Write]:
    """All writes in their order."""
    places = tuple(plan.limits)

    def same(item: o.Object, value: int) -> Write:
        return item, dict.fromkeys(places, value)

    value, power = interpolation_period(plan.rate)
    yield same(o.PRODUCER_HEARTBEAT, round(1e3 * DRIVE_BEAT))
    yield same(o.CONSUMER_HEARTBEAT, MASTER << 16 | round(1e3 * MASTER_SILENT))
    yield same(o.ERROR_BEHAVIOUR, KEEP_STATE)
    yield same(o.ABORT_OPTION, ABORT_BY_QUICK_STOP)
    yield same(o.QUICK_STOP_OPTION, QUICK_STOP_AND_HOLD)
    yield same(o.FAULT_OPTION, FAULT_BY_QUICK_STOP)
    yield same(o.MODE, CYCLIC_POSITION)
    yield same(o.PERIOD, value)
    yield same(o.PERIOD_POWER, power)
    yield o.LOWEST, {place: one.lowest for place, one in plan.limits.items()}
    yield o.HIGHEST, {place: one.highest for place, one in plan.limits.items()}
    yield o.FOLLOWING_WINDOW, {place: one.window for place, one in plan.limits.items()}
    yield same(o.FOLLOWING_TIME, round(1e3 * FOLLOWING_TIME))
    slow = (o.SUPPLY, o.ERROR_CODE) + ((plan.winding,) if plan.winding else ())
    for pdo, mapped, kind, timer in (
        (o.RPDO1, (o.CONTROLWORD, o.TARGET), SYNCHRONOUS, 0.0),
        (o.RPDO2, (o.CONTROLWORD,), AT_ONCE, 0.0),
        (o.TPDO1, (o.STATUSWORD, o.POSITION, o.CURRENT), SYNCHRONOUS, 0.0),
        (o.TPDO2, slow, AT_ONCE, SLOW),
    ):
        yield pdo.identifier, {at: o.OFF | pdo.base + at[1] for at in places}
        yield same(pdo.count, 0)
        for number, item in enumerate(mapped, start=1):
            yield same(pdo.entry(number), item.mapping)
        yield same(pdo.transmission, kind)
        if timer:
            yield same(pdo.timer, round(1e3 * timer))
        yield same(pdo.count, len(mapped))
        yield pdo.identifier, {at: pdo.base + at[1] for at in places}


def interpolation_period(rate: float) -> tuple[int, int]:
    """The cycle as 60C2h says it: a byte and a power of ten.

    Args:
        rate: [Hz]

    Returns:
        Value and power: the cycle is value · 10^power seconds.

    Raises:
        RigError: if no byte says it.
    """
    for power in (-3, -4, -2, -5):
        value = 10.0**-power / rate
        if 1 <= round(value) <= 255 and abs(value - round(value)) < 1e-6 * value:
            return round(value), power
    raise RigError(
        f"A bus rate of {rate:g} Hz has no period that drives can be told. "
        "Choose one whose period is a whole number of milliseconds, like 50, 100, 125, 200 or 250."
    )


def set_up(talk: Talk, plan: Plan) -> None:
    """Write everything to all drives.

    Raises:
        RigError: for the first object that a drive refuses.
    """
    for item, values in writes(plan):
        refusals: tuple[Refusal, ...] = talk.write(values, item)
        if refusals:
            raise RigError(f"Drive set-up: {refusals[0]}. See docs/drives.md for what is needed.")
