"""Serial and CAN bus: published frame lengths, response times and line levels."""

from __future__ import annotations

import heapq
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from legwright.electrics import can_bus, serial_bus
from legwright.electrics.can_bus import CanBus, can_cycle, check_nodes, messages_of, node_plan
from legwright.electrics.can_frame import crc15, exact_bits, plain_bits, stuff_bits, worst_bits
from legwright.electrics.can_response import Message, bus_load, response_times
from legwright.electrics.serial_bus import SerialBus, bias_resistor, byte_time, cycle_time
from legwright.errors import RequestError

Reference = Callable[[str], dict[str, dict]]


def test_frame_lengths(reference: Reference) -> None:
    """Davis et al. 2007: 55 + 10 s and 80 + 10 s bits at worst."""
    for payload in range(9):
        case = reference("7_can")[f"len_{payload}"]["expected"]
        assert worst_bits(payload) == case["std_bits"]
        assert worst_bits(payload, extended=True) == case["ext_bits"]
        assert plain_bits(payload) == case["std_nostuff"]
        assert plain_bits(payload, extended=True) == case["ext_nostuff"]
        assert CanBus(bit_rate=1e6).duration(payload) * 1e6 == pytest.approx(case["std_us_1M"])
        assert CanBus(bit_rate=5e5).duration(payload) * 1e6 == pytest.approx(case["std_us_500k"])


@pytest.mark.parametrize("key", ["frame_123", "frame_185", "frame_80", "frame_18FF1234"])
def test_exact_frames(reference: Reference, key: str) -> None:
    """ISO 11898-1 framing and stuffing, bit by bit."""
    case = reference("7_can")[key]
    asked, expected = case["inputs"], case["expected"]
    data = bytes.fromhex(asked["data_hex"])
    total = exact_bits(int(asked["id"], 16), data, extended=asked["extended"])
    assert total == expected["total"]
    plain = plain_bits(len(data), extended=asked["extended"])
    assert plain == expected["bits_unstuffed_incl_IFS"]
    assert total - plain == expected["stuff_bits"]


def test_crc_check_value() -> None:
    """CRC-15/CAN of the digits 1 to 9 is 0x059E (catalogue check value)."""
    bits = [(byte >> at) & 1 for byte in b"123456789" for at in range(7, -1, -1)]
    assert crc15(bits) == 0x059E


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**29 - 1), st.binary(max_size=8), st.booleans())
def test_no_frame_exceeds_the_bound(identifier: int, data: bytes, extended: bool) -> None:
    number = identifier if extended else identifier & 0x7FF
    bits = exact_bits(number, data, extended=extended)
    assert plain_bits(len(data), extended=extended) <= bits
    assert bits <= worst_bits(len(data), extended=extended)


def test_stuffing_of_equal_bits() -> None:
    """Referee: by hand; equal bits get one per five, and a stuff bit counts for the next five
    of its own kind."""
    assert [stuff_bits([0] * n) for n in (4, 5, 9, 10, 14, 15)] == [0, 1, 1, 2, 2, 3]
    assert stuff_bits([0] * 5 + [1] * 4) == 2


def test_response_times_of_the_published_example(reference: Reference) -> None:
    """Davis et al. 2007, table 1: the third message takes 3.5 ms, not 3.0."""
    expected = reference("7_can")["wcrt_davis_example"]["expected"]["R_ms"]
    messages = [
        Message(name=name, period=period * 1e-3, length=1e-3)
        for name, period in (("A", 2.5), ("B", 3.5), ("C", 3.5))
    ]
    ours = response_times(messages, 1e-6)
    assert [time * 1e3 for time in ours] == pytest.approx(expected, rel=1e-9)


def simulated(messages: list[Message], offsets: np.ndarray, until: float) -> list[float]:
    """Longest response seen in a simulation of non-preemptive priority arbitration."""
    queue = [(float(offset), at) for at, offset in enumerate(offsets)]
    heapq.heapify(queue)
    waiting: list[tuple[int, float]] = []
    longest, now = [0.0] * len(messages), 0.0
    while queue and now < until:
        if not waiting:
            now = max(now, queue[0][0])
        while queue and queue[0][0] <= now:
            born, at = heapq.heappop(queue)
            heapq.heappush(waiting, (at, born))
            heapq.heappush(queue, (born + messages[at].period, at))
        at, born = heapq.heappop(waiting)
        now += messages[at].length
        longest[at] = max(longest[at], now - born)
    return longest


def test_no_simulated_bus_is_slower_than_the_bound() -> None:
    """Referee: event simulation with random periods and offsets, load below 1."""
    rng = np.random.default_rng(4)
    for _ in range(60):
        count = int(rng.integers(2, 9))
        messages = [
            Message(
                name=str(n),
                period=float(rng.uniform(2e-3, 20e-3)),
                length=float(rng.uniform(0.05e-3, 0.15e-3) * 8 / count),
            )
            for n in range(count)
        ]
        if bus_load(messages) >= 0.95:
            continue
        bound = response_times(messages, 1e-6)
        for _turn in range(5):
            seen = simulated(messages, rng.uniform(0.0, 5e-3, count), 0.5)
            assert all(s <= b + 1e-12 for s, b in zip(seen, bound, strict=True))
    simultaneous = [Message(name=str(n), period=10e-3, length=0.13e-3) for n in range(10)]
    seen = simulated(simultaneous, np.zeros(10), 0.1)
    assert seen[-1] == pytest.approx(response_times(simultaneous, 1e-6)[-1], rel=1e-9)


def test_jitter_delays_the_message_and_those_after_it() -> None:
    """Referee: by hand; B waits for a late and a punctual A within 2.5 ms, Davis eq. 11."""
    punctual = Message(name="A", period=2.5e-3, length=1e-3)
    late = Message(name="A", period=2.5e-3, length=1e-3, jitter=2e-3)
    second = Message(name="B", period=20e-3, length=1e-3)
    assert response_times([punctual, second], 1e-6) == pytest.approx((2e-3, 2e-3))
    assert response_times([late, second], 1e-6) == pytest.approx((4e-3, 3e-3))


def test_an_overloaded_bus_never_answers() -> None:
    messages = [Message(name=n, period=1e-3, length=0.6e-3) for n in "ab"]
    assert response_times(messages, 1e-6)[0] == pytest.approx(1.2e-3)
    assert response_times(messages, 1e-6)[1] == np.inf


def test_load_of_eighteen_axes(reference: Reference) -> None:
    """36 frames of 8 bytes at 100 Hz and 1 Mbit/s: 48.6 %."""
    bus = CanBus(bit_rate=1e6, heartbeat=0.0)
    cycle = can_cycle(bus, range(1, 19), 100.0)
    sync = 55e-6 * 100.0
    expected = reference("7_can")["bus_load"]["expected"]["load"]
    assert cycle.load - sync == pytest.approx(expected, rel=1e-9)
    assert cycle.time == pytest.approx(55e-6 + 36 * 135e-6)
    assert cycle.worst_latency == pytest.approx(cycle.time)  # all released together
    assert cycle.names[:3] == ("SYNC", "TPDO 1", "TPDO 2")


def test_identifiers_of_the_predefined_connection_set(reference: Reference) -> None:
    """CiA 301 v4.2.0."""
    base = reference("7_can")["cob_id"]["expected"]["base"]
    assert base["SYNC"] == can_bus.SYNC and base["EMCY"] == can_bus.EMERGENCY
    assert base["TPDO1"] == can_bus.TPDO1 and base["RPDO1"] == can_bus.RPDO1
    assert base["HEARTBEAT"] == can_bus.HEARTBEAT


def test_what_fits_on_a_can_bus() -> None:
    """Referee: one axis more breaks the limit; the highest rate just keeps it."""
    bus = CanBus(bit_rate=1e6)
    fits = can_bus.axes_that_fit(bus, 100.0)
    assert bus_load(messages_of(bus, range(1, fits + 1), 100.0)) <= 0.7
    assert bus_load(messages_of(bus, range(1, fits + 2), 100.0)) > 0.7
    assert can_bus.buses_needed(bus, fits, 100.0) == 1
    assert can_bus.buses_needed(bus, fits + 1, 100.0) == 2
    rate = can_bus.highest_rate(bus, 18)
    assert bus_load(messages_of(bus, range(1, 19), rate)) == pytest.approx(0.7)
    with pytest.raises(RequestError, match="one axis"):
        can_bus.buses_needed(bus, 18, 5000.0)


def test_node_plan_tells_leg_and_joint() -> None:
    legs = [[f"{leg}-{joint}" for joint in ("coxa", "femur", "tibia")] for leg in "abcdef"]
    plan = node_plan(legs)
    assert plan["a-coxa"] == 11 and plan["f-tibia"] == 63
    check_nodes(list(plan.values()))
    many = node_plan([[f"{leg}-{joint}" for joint in range(9)] for leg in range(13)])
    assert sorted(many.values()) == list(range(1, 118))
    for wrong in ([0], [128], [3, 3]):
        with pytest.raises(RequestError, match="node id"):
            check_nodes(wrong)


def test_byte_times(reference: Reference) -> None:
    """8N1: ten bits a byte."""
    cases = [c for key, c in reference("8_serial").items() if key.startswith("8N1")]
    assert len(cases) == 4
    for case in cases:
        micros = byte_time(case["inputs"]["baud"]) * 1e6
        assert micros == pytest.approx(case["expected"]["us_per_byte"], rel=1e-8)


def test_bias_resistors(reference: Reference) -> None:
    """TIA-485-A: 200 mV across two 120 Ω and up to 32 unit loads, from 5 V."""
    expected = reference("8_serial")["rs485_bias_noUL"]["expected"]["Rbias_max_each_ohm"]
    assert bias_resistor(5.0) == pytest.approx(expected, rel=1e-9)
    assert bias_resistor(5.0, unit_loads=32) == pytest.approx(620.689655, rel=1e-8)
    assert serial_bus.line_resistance(unit_loads=32) == pytest.approx(51.7241379, rel=1e-8)
    assert serial_bus.unit_loads_fit(32) and not serial_bus.unit_loads_fit(33)
    assert serial_bus.unit_loads_fit(256, unit_load=0.125)
    with pytest.raises(RequestError, match="threshold"):
        bias_resistor(0.1)


def test_serial_cycle_by_hand() -> None:
    """Referee: bytes counted by hand at 1 Mbit/s, 10 µs each."""
    bus = SerialBus(bit_rate=1e6, command_bytes=4, answer_bytes=6, turn_round=50e-6, gap=10e-6)
    assert cycle_time(bus, 1) == pytest.approx((10 + 12) * 10e-6 + 60e-6)
    assert cycle_time(bus, 18) == pytest.approx(18 * 280e-6)
    lost = 10 * 10e-6 + 2 * (50e-6 + 120e-6) + 10e-6
    assert cycle_time(bus, 18, retries=1) == pytest.approx(18 * 280e-6 + lost)
    together = SerialBus(
        bit_rate=1e6, command_bytes=4, answer_bytes=6, turn_round=50e-6, gap=10e-6, together=True
    )
    asking = 6 * 10e-6 + 50e-6 + 12 * 10e-6 + 10e-6
    group = (6 + 18 * 5) * 10e-6 + 10e-6
    assert cycle_time(together, 18) == pytest.approx(18 * asking + group)
    assert serial_bus.line_load(bus, 18, 100.0) == pytest.approx(0.504)


@settings(deadline=None)
@given(st.floats(9600.0, 4e6), st.floats(5.0, 500.0), st.booleans(), st.integers(0, 3))
def test_what_fits_on_a_serial_bus(rate: float, cycles: float, group: bool, lost: int) -> None:
    """Referee: the fitting number fits and one more does not."""
    bus = SerialBus(
        bit_rate=rate, command_bytes=4, answer_bytes=6, turn_round=20e-6, together=group
    )
    fits = serial_bus.axes_that_fit(bus, cycles, retries=lost)
    if fits:
        assert cycle_time(bus, fits, retries=lost) <= 1.0 / cycles * (1 + 1e-6)
        assert serial_bus.highest_rate(bus, fits, retries=lost) >= cycles * (1 - 1e-6)
        assert serial_bus.buses_needed(bus, fits + 1, cycles, retries=lost) == 2
    else:
        with pytest.raises(RequestError, match="one axis"):
            serial_bus.buses_needed(bus, 1, cycles, retries=lost)
    assert cycle_time(bus, fits + 1, retries=lost) > 1.0 / cycles * (1 - 1e-6)
