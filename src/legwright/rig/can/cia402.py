"""The power states of CiA 402 drives: statusword in, controlword out, whole tables at once.

::

    NOT_READY ─> DISABLED ─06─> READY ─07─> SWITCHED_ON ─0F─> ENABLED
                    ^             │00           │00            │00  │02
                    ├─────────────┴─────────────┴──────────────┤    v
                    │                                          └─ QUICK_STOP (0F leads back)
                  FAULT <─ FAULT_REACTION                           │00
                    80: a rising bit 7 leads to DISABLED <──────────┘

Source: CiA 402-2 / IEC 61800-7-201, statusword 6041h, controlword 6040h and the transitions
between the states.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

Words = NDArray[np.uint16]
States = NDArray[np.int8]
Truths = NDArray[np.bool_]


class State(IntEnum):
    """Where a drive's power stage is."""

    UNDEFINED = 0
    """The statusword names no state."""
    NOT_READY = 1
    DISABLED = 2
    READY = 3
    SWITCHED_ON = 4
    ENABLED = 5
    QUICK_STOP = 6
    FAULT_REACTION = 7
    FAULT = 8


class Control(IntEnum):
    """Commands of the controlword."""

    DISABLE_VOLTAGE = 0x00
    QUICK_STOP = 0x02
    SHUTDOWN = 0x06
    SWITCH_ON = 0x07
    ENABLE = 0x0F
    FAULT_RESET = 0x80
    """Takes effect with the rising edge."""


STATUS: dict[State, tuple[int, int]] = {
    State.NOT_READY: (0x4F, 0x00),
    State.DISABLED: (0x4F, 0x40),
    State.READY: (0x6F, 0x21),
    State.SWITCHED_ON: (0x6F, 0x23),
    State.ENABLED: (0x6F, 0x27),
    State.QUICK_STOP: (0x6F, 0x07),
    State.FAULT_REACTION: (0x4F, 0x0F),
    State.FAULT: (0x4F, 0x08),
}
"""State -> mask and value of the statusword."""

VOLTAGE_ENABLED = 0x0010
"""Statusword bit 4: the power stage has voltage."""
REMOTE = 0x0200
"""Statusword bit 9: the controlword is obeyed."""
FOLLOWS = 0x1000
"""Statusword bit 12 in cyclic synchronous position: the drive follows the target."""
FOLLOWING_ERROR = 0x2000
"""Statusword bit 13 in cyclic synchronous position."""

CYCLIC_POSITION = 8
"""Mode of operation 6060h: cyclic synchronous position."""
HOLDS = (State.ENABLED, State.QUICK_STOP)
"""States in which a joint holds torque, with quick stop option 6 (605Ah)."""


def _table() -> States:
    table = np.full(256, State.UNDEFINED, dtype=np.int8)
    words = np.arange(256)
    for state, (mask, value) in STATUS.items():
        table[words & mask == value] = state
    table.flags.writeable = False
    return table


def _climb() -> Words:
    up = {
        State.DISABLED: Control.SHUTDOWN,
        State.READY: Control.SWITCH_ON,
        State.SWITCHED_ON: Control.ENABLE,
        State.ENABLED: Control.ENABLE,
        State.QUICK_STOP: Control.ENABLE,
    }
    table = np.zeros(len(State), dtype=np.uint16)
    for state, word in up.items():
        table[state] = word
    table.flags.writeable = False
    return table


_STATE_OF = _table()
_UP = _climb()


def states_of(statuswords: ArrayLike) -> States:
    """States that statuswords name.

    Args:
        statuswords: (...,), 16 bits each.

    Returns:
        `State` values, (...,).
    """
    return np.asarray(_STATE_OF[np.asarray(statuswords, dtype=np.uint16) & 0xFF])


def controlwords(states: States, on: ArrayLike, *, reset: bool) -> Words:
    """The next rung of the ladder, for all drives at once.

    A drive in fault is not reset while power is wanted: its joint has gone limp, and the robot
    must come to rest first.

    Args:
        states: Where the drives are, (R,).
        on: Whether each is to hold torque, (R,) or ().
        reset: Whether bit 7 is up in this cycle, for drives that are in fault and to be off;
            the caller lets it rise and fall.

    Returns:
        Controlwords, (R,).
    """
    words = np.where(on, _UP[states], np.uint16(Control.DISABLE_VOLTAGE))
    if reset:
        faulty = (states == State.FAULT) & ~np.asarray(on, dtype=np.bool_)
        words = np.where(faulty, np.uint16(Control.FAULT_RESET), words)
    return words.astype(np.uint16)


def after(states: States, words: Words, before: Words) -> States:
    """Where drives go by their controlwords: transitions 2 to 12, 15 and 16.

    Args:
        states: Where the drives are, (R,).
        words: Controlwords now, (R,).
        before: Controlwords of the last cycle, for the edge of bit 7, (R,).

    Returns:
        The next states, (R,); at most one transition each.
    """
    low = words & 0x8F
    voltage, running = low & 0x02 != 0, low & 0x04 != 0
    shutdown = low & 0x87 == Control.SHUTDOWN
    switch_on = low & 0x87 == Control.SWITCH_ON
    enable = switch_on & (low & 0x08 != 0)
    quick = voltage & ~running & (low & 0x80 == 0)
    rising = (words & ~before & 0x80) != 0
    found = states.copy()

    def move(source: State, when: Truths, target: State) -> None:
        found[(states == source) & when] = target

    move(State.DISABLED, shutdown, State.READY)
    move(State.READY, switch_on, State.SWITCHED_ON)
    move(State.SWITCHED_ON, enable, State.ENABLED)
    move(State.SWITCHED_ON, shutdown, State.READY)
    move(State.ENABLED, switch_on & ~enable, State.SWITCHED_ON)
    move(State.ENABLED, shutdown, State.READY)
    move(State.ENABLED, quick, State.QUICK_STOP)
    move(State.QUICK_STOP, enable, State.ENABLED)
    for source in (State.READY, State.SWITCHED_ON):
        move(source, quick, State.DISABLED)
    for source in (State.READY, State.SWITCHED_ON, State.ENABLED, State.QUICK_STOP):
        move(source, ~voltage & (low & 0x80 == 0), State.DISABLED)
    move(State.FAULT, rising, State.DISABLED)
    return found


def statuswords(states: States) -> Words:
    """Statuswords of drives in these states, (R,): what simulated drives report."""
    value = np.zeros(len(State), dtype=np.uint16)
    for state, (_, bits) in STATUS.items():
        value[state] = bits | REMOTE
    for state in (State.SWITCHED_ON, State.ENABLED, State.QUICK_STOP):
        value[state] |= VOLTAGE_ENABLED
    value[State.ENABLED] |= FOLLOWS
    return value[states]
