"""CiA 402 states and commands.

Referees: the published tables in reference_values.json; the `canopen` package's own table of
transitions.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from canopen.profiles.p402 import State402

from legwright.rig.can.cia402 import (
    HOLDS,
    STATUS,
    Control,
    State,
    after,
    controlwords,
    states_of,
    statuswords,
)

ENTRIES = json.loads((Path(__file__).parents[1] / "data/reference_values.json").read_text())
CAN = {entry["id"]: entry for entry in ENTRIES["topics"]["7_can"]}
NAMES = {
    "NOT READY TO SWITCH ON": State.NOT_READY,
    "SWITCH ON DISABLED": State.DISABLED,
    "READY TO SWITCH ON": State.READY,
    "SWITCHED ON": State.SWITCHED_ON,
    "OPERATION ENABLED": State.ENABLED,
    "QUICK STOP ACTIVE": State.QUICK_STOP,
    "FAULT REACTION ACTIVE": State.FAULT_REACTION,
    "FAULT": State.FAULT,
}


def one(state: State, word: int, before: int = 0) -> State:
    """Where one drive goes."""
    states = np.array([state], dtype=np.int8)
    words, last = np.array([word], dtype=np.uint16), np.array([before], dtype=np.uint16)
    return State(int(after(states, words, last)[0]))


def test_statusword_masks_are_the_published_ones():
    published = CAN["statusword_masks"]["expected"]["mask_value"]
    assert {NAMES[name]: tuple(pair) for name, pair in published.items()} == STATUS


@pytest.mark.parametrize("entry", [e for name, e in CAN.items() if "statusword" in e["inputs"]])
def test_published_statuswords(entry):
    expected = NAMES[entry["expected"]["state"]]
    assert State(int(states_of(entry["inputs"]["statusword"]))) is expected


def test_states_are_disjoint_and_208_low_bytes_name_none():
    published = CAN["sw_mask_disjoint"]["expected"]
    words = np.arange(256)
    hits = sum((words & mask == value).astype(int) for mask, value in STATUS.values())
    assert int((hits > 1).sum()) == published["ambiguous"]
    assert int((states_of(words) == State.UNDEFINED).sum()) == published["undefined"]
    high = states_of(np.arange(65536))
    np.testing.assert_array_equal(high, np.tile(states_of(words), 256))


def test_controlwords_are_the_published_ones():
    published = CAN["controlword"]["expected"]
    assert published["shutdown"] == Control.SHUTDOWN
    assert published["switch_on"] == Control.SWITCH_ON
    assert published["enable_operation"] == Control.ENABLE
    assert published["disable_voltage"] == Control.DISABLE_VOLTAGE
    assert published["quick_stop"] == Control.QUICK_STOP
    assert published["fault_reset"] == Control.FAULT_RESET


def test_every_transition_of_the_second_implementation_is_made():
    """Referee: canopen's transition table, all but its automatic ones."""
    checked = 0
    for (source, target), word in State402.TRANSITIONTABLE.items():
        if source == "START" or "NOT READY" in source or "REACTION" in source:
            continue
        if source not in NAMES or target not in NAMES:
            continue
        assert one(NAMES[source], word) is NAMES[target], (source, target, hex(word))
        checked += 1
    assert checked >= 13


def test_all_axes_are_up_in_three_cycles_from_anywhere_and_down_in_one():
    states = np.array([s for s in State if s not in (State.UNDEFINED, State.NOT_READY)], np.int8)
    states = states[~np.isin(states, (State.FAULT, State.FAULT_REACTION))]
    before = np.zeros(len(states), dtype=np.uint16)
    for _ in range(3):
        words = controlwords(states, True, reset=False)
        states, before = after(states, words, before), words
    assert (states == State.ENABLED).all()
    down = after(states, controlwords(states, False, reset=False), before)
    assert (down == State.DISABLED).all()


def test_a_fault_is_reset_by_a_rising_edge_and_only_while_power_is_off():
    assert one(State.FAULT, 0x80, 0x00) is State.DISABLED
    assert one(State.FAULT, 0x80, 0x80) is State.FAULT
    assert one(State.FAULT, 0x0F, 0x00) is State.FAULT
    states = np.array([State.FAULT, State.FAULT, State.ENABLED], dtype=np.int8)
    words = controlwords(states, np.array([True, False, True]), reset=True)
    assert words.tolist() == [0x00, 0x80, 0x0F]


def test_a_state_told_is_the_state_read():
    states = np.array([s for s in State if s is not State.UNDEFINED], dtype=np.int8)
    np.testing.assert_array_equal(states_of(statuswords(states)), states)


def test_no_word_makes_a_limp_drive_hold_at_once():
    """Whatever arrives, torque needs the way over READY and SWITCHED_ON."""
    words = np.arange(65536, dtype=np.uint16)
    for state in (State.NOT_READY, State.DISABLED, State.READY, State.FAULT, State.FAULT_REACTION):
        for before in (0x00, 0x80):
            found = after(
                np.full(len(words), state, np.int8), words, np.full(len(words), before, np.uint16)
            )
            assert not np.isin(found, HOLDS).any()
