"""Supply, wiring, bus and energy: each fault is found, told, and cured by the number named."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.electrics.serial_bus import SerialBus, cycle_time
from legwright.errors import RequestError
from legwright.locomotion.stance import footing
from legwright.mechanics.draw import draw
from legwright.robot.robot import Robot
from legwright.study.asked import asked_of
from legwright.study.bench import Bench, feed, lay_out
from legwright.study.check import GROUPS
from legwright.study.checks.bus import check_bus
from legwright.study.checks.cables import check_cables
from legwright.study.checks.energy import check_energy
from legwright.study.checks.supply import check_supply
from legwright.study.checks.wiring import check_wiring
from legwright.study.finding import Finding, Verdict

ROOK = Path(__file__).parents[2] / "robots" / "rook" / "robot.toml"
CHECKS: Mapping[str, Callable[[Bench], Iterator[Finding]]] = {
    "supply": check_supply,
    "wiring": check_wiring,
    "cables": check_cables,
    "bus": check_bus,
    "energy": check_energy,
}


@cache
def unfed() -> Bench:
    """Rook walked as a tripod, before its circuit is looked at."""
    robot = lw.load(ROOK)
    wants = robot.sheet.requirements.model_copy(update={"gaits": ("tripod",), "by_gait": {}})
    tripod = replace(robot, sheet=robot.sheet.model_copy(update={"requirements": wants}))
    stand = footing(tripod)
    return lay_out(tripod, asked_of(tripod, stand), stand, lambda *_: None)


def judged(robot: Robot) -> dict[str, Finding]:
    """Electrical findings by name; the walk itself does not depend on the circuit."""
    bench = unfed()
    asked = replace(bench.asked, ambient=robot.sheet.requirements.ambient)
    fed = feed(replace(bench, robot=robot, asked=asked))
    found = [finding for check in CHECKS.values() for finding in check(fed)]
    names = [finding.name for finding in found]
    assert len(names) == len(set(names))
    return {finding.name: finding for finding in found}


def variant(folder: Path, text: str) -> Robot:
    """Rook with some of its sheet stated otherwise."""
    sheet = f'schema = 1\nextends = "{ROOK}"\n{text}'
    (folder / "robot.toml").write_text(sheet, encoding="utf-8")
    return lw.load(folder)


def test_rook_passes_everything() -> None:
    found = judged(lw.load(ROOK))
    assert {one.verdict for one in found.values()} == {Verdict.PASS}
    assert {one.area for one in found.values()} == set(GROUPS["electrics"])
    assert all(one.why and one.source for one in found.values())


def test_only_electrics_selects_the_group() -> None:
    findings = lw.check(lw.load(ROOK), only=["electrics"])
    assert {one.area for one in findings} == {"supply", "wiring", "bus", "energy"}
    with pytest.raises(RequestError, match="electrics"):
        lw.check(lw.load(ROOK), only=["electrisc"])


def test_torque_is_judged_at_the_voltage_that_arrives() -> None:
    """Referee: `draw` called anew with each servo's own voltage."""
    bench = feed(unfed())
    for name, case in bench.cases.items():
        given = bench.power.supplies[name]
        again = draw(
            bench.robot, case.motion, case.loads, voltage=given.voltage, ambient=case.draw.ambient
        )
        np.testing.assert_array_equal(case.draw.headroom, again.headroom)
        assert case.draw.voltage.shape == case.motion.q.shape
    before = unfed()
    assert before.asked.voltage is not None
    assert bench.asked.voltage == pytest.approx(before.asked.voltage - bench.power.lost)
    assert bench.power.lost > 0.05
    assert "lost in the wiring" in bench.asked.voltage_why


def test_thin_long_wire_loses_too_much_and_the_named_gauge_cures(tmp_path: Path) -> None:
    long = '[requirements]\nvoltage_drop = 0.02\n[hub.branch.left-middle]\nlead = "2.5 m"\n'
    thin = '[harness.connector.leg]\nsmallest_wire = "0.05 mm^2"\n'
    found = judged(variant(tmp_path, long + thin))
    lost = found["voltage lost on the way to a servo"]
    assert lost.verdict is Verdict.FAIL
    gauge = re.match(r"(\d+ AWG) instead of 20 AWG for 'leg'", lost.cure)
    assert gauge is not None, lost.cure
    thick = long + f'[harness.conductor.leg]\ngauge = "{gauge[1]}"\noutside = "4 mm"\n'
    better = judged(variant(tmp_path, thick))["voltage lost on the way to a servo"]
    assert better.verdict is Verdict.PASS
    assert better.value is not None
    assert lost.value is not None
    assert better.value < lost.value


def test_a_fuse_larger_than_its_wire_fails_and_the_named_one_cures(tmp_path: Path) -> None:
    found = judged(variant(tmp_path, '[hub.branch.mast]\nfuse = "30 A"\n'))
    name = "fuse against the wire it protects"
    assert found[name].verdict is Verdict.FAIL
    rating = re.search(r"A fuse of at most ([\d.]+) A .*hub\.branch\.mast\.fuse", found[name].cure)
    assert rating is not None, found[name].cure
    cured = judged(variant(tmp_path, f'[hub.branch.mast]\nfuse = "{rating[1]} A"\n'))
    assert cured[name].verdict is Verdict.PASS
    assert cured["fuse opens before the insulation suffers"].verdict is Verdict.PASS


def test_a_fuse_too_small_for_the_load(tmp_path: Path) -> None:
    found = judged(variant(tmp_path, '[protection]\nfuse = "3 A"\n'))
    assert found["fuse loaded while walking"].verdict is Verdict.FAIL
    assert found["fuse through a short stall"].verdict is Verdict.FAIL


def test_terminals_that_do_not_fit(tmp_path: Path) -> None:
    found = judged(variant(tmp_path, '[harness.conductor.leg]\ngauge = "12 AWG"\noutside = "4 mm"'))
    fit = found["wires that do not fit their terminals"]
    assert fit.verdict is Verdict.FAIL
    assert "too thick" in fit.why


def test_a_contact_beyond_its_rating(tmp_path: Path) -> None:
    found = judged(variant(tmp_path, '[harness.connector.leg]\ncurrent = "0.5 A"\n'))
    assert found["connector current"].verdict is Verdict.FAIL
    assert found["wires and contacts while a leg stalls"].verdict is Verdict.FAIL


def test_narrow_hub_copper_and_the_named_width(tmp_path: Path) -> None:
    hub = '[hub]\ncopper_width = "{}"\ncopper_layers = 1\ncopper_thickness = "35 um"\n'
    found = judged(variant(tmp_path, hub.format("1 mm")))
    over = found["hub copper under a lasting overload"]
    assert over.verdict is Verdict.FAIL
    width = re.match(r"([\d.]+ mm) of copper", over.cure)
    assert width is not None
    cured = judged(variant(tmp_path, hub.format(width[1])))
    assert cured["hub copper under a lasting overload"].verdict is Verdict.PASS


def test_a_weak_battery_is_a_brown_out_with_its_place(tmp_path: Path) -> None:
    found = judged(variant(tmp_path, '[battery]\ncell_resistance = "500 mohm"\n'))
    low = found["voltage at the servos, walking"]
    assert low.verdict is Verdict.FAIL
    assert "Brown-out" in low.why
    assert low.parts


def test_a_stalled_leg_starves_the_others(tmp_path: Path) -> None:
    weak = '[servo.dunnock]\nlowest_voltage = "9.3 V"\n[battery]\ncell_resistance = "25 mohm"\n'
    found = judged(variant(tmp_path, weak))
    assert found["voltage beside a stalled leg"].verdict is Verdict.FAIL


def test_inrush_needs_its_precharge(tmp_path: Path) -> None:
    """Referee: U²C/2R by hand, 12.6 V into 50 mF through the loop of some 40 mΩ."""
    text = '[hub]\ncapacitance = "50 mF"\n[protection]\nfuse_kind = "normal"\nprecharge = "{}"\n'
    held = judged(variant(tmp_path, text.format("10 ohm")))["inrush through the main fuse"]
    bare = judged(variant(tmp_path, text.format("0 ohm")))["inrush through the main fuse"]
    assert held.value is not None
    assert bare.value is not None
    assert bare.value == pytest.approx(12.6**2 * 0.05 / (2 * 0.031), rel=0.1)
    assert bare.value > 5.0 * held.value


def test_no_fuse_at_the_battery_is_told(tmp_path: Path) -> None:
    text = '[harness.run.battery]\nend = "fuse"\n[harness.run.after]\nstart = "fuse"\n'
    text += 'end = "switch"\nconductor = "main"\nconnector = "main"\nlength = "90 mm"\n'
    found = judged(variant(tmp_path, text))
    bare = found["conductors behind a fuse"]
    assert bare.verdict is Verdict.FAIL
    assert "run battery" in bare.why


def test_a_design_fault_fails_and_leaves_the_rest_unknown(tmp_path: Path) -> None:
    text = '[harness.run.extra]\nstart = "battery"\nend = "hub"\nconductor = "main"\n'
    found = judged(variant(tmp_path, text))
    assert found["circuit"].verdict is Verdict.FAIL
    assert "loop" in found["circuit"].why
    assert found["voltage at the servos, walking"].verdict is Verdict.UNKNOWN
    assert found["bus load"].verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("table", "names", "key"),
    [
        ("battery", ("voltage at the servos, walking", "conductor current"), "[battery]"),
        ("hub", ("battery current, walking", "run time, tripod"), "[hub]"),
        ("bus", ("bus load", "bus cycle", "node ids"), "[bus]"),
    ],
)
def test_a_missing_table_is_unknown_with_its_key(
    table: str, names: tuple[str, ...], key: str
) -> None:
    robot = lw.load(ROOK)
    bare = replace(robot, sheet=robot.sheet.model_copy(update={table: None}))
    found = judged(bare)
    for name in names:
        assert found[name].verdict is Verdict.UNKNOWN
        assert key in found[name].cure


def test_a_cable_of_unknown_length_is_unknown(tmp_path: Path) -> None:
    text = '[harness.run.beacon]\nstart = "hub"\nend = "beacon"\nconductor = "light"\n'
    found = judged(variant(tmp_path, text))
    assert found["cables with wire and length"].verdict is Verdict.UNKNOWN
    assert "harness.run.beacon" in found["cables with wire and length"].cure


def test_bus_cycle_by_hand() -> None:
    """Referee: 10 axes of (4+6+6+6) bytes of 10 µs and 60 µs; one lost answer waits twice."""
    found = judged(lw.load(ROOK))
    good = 22 * 10e-6 + 60e-6
    lost = 10 * 10e-6 + 2.0 * (60e-6 + 12 * 10e-6)
    assert found["bus cycle"].value == pytest.approx((10 * good + lost) * 1e3)
    line = SerialBus(bit_rate=1e6, command_bytes=4, answer_bytes=6, turn_round=60e-6)
    assert found["bus cycle"].value == pytest.approx(cycle_time(line, 10, retries=1) * 1e3)


def test_a_bus_too_slow_and_the_named_number_of_buses(tmp_path: Path) -> None:
    found = judged(variant(tmp_path, '[bus]\nupdate_rate = "400 Hz"\n'))
    assert found["bus load"].verdict is Verdict.FAIL
    buses = re.match(r"(\d+) buses", found["bus load"].cure)
    assert buses is not None
    cured = judged(variant(tmp_path, f'[bus]\nupdate_rate = "400 Hz"\nbuses = {buses[1]}\n'))
    assert cured["bus load"].verdict is not Verdict.FAIL
    assert cured["axes on one bus"].verdict is Verdict.PASS
    rate = re.search(r"at most (\d+) cycles", found["bus load"].cure)
    assert rate is not None
    slower = judged(variant(tmp_path, f'[bus]\nupdate_rate = "{rate[1]} Hz"\n'))
    assert slower["bus load"].verdict is not Verdict.FAIL


def test_can_is_terminated_and_its_latency_known(tmp_path: Path) -> None:
    can = '[bus]\nkind = "can"\ncommand_bytes = 8\nanswer_bytes = 8\nterminated = false\n'
    found = judged(variant(tmp_path, can))
    assert found["termination"].verdict is Verdict.FAIL
    latency = found["worst latency of a command or answer"]
    assert latency.verdict is Verdict.PASS
    assert latency.value is not None
    assert found["bus cycle"].value is not None
    assert latency.value >= 0.135  # one frame of 135 bits at 1 Mbit/s


def test_node_ids_that_clash(tmp_path: Path) -> None:
    found = judged(variant(tmp_path, "[bus.nodes]\nmast_pan = 11\nmast_tilt = 11\n"))
    assert found["node ids"].verdict is Verdict.FAIL
    assert "11" in found["node ids"].why


def test_run_time_asked_too_long_and_the_named_capacity(tmp_path: Path) -> None:
    text = '[requirements]\nrun_time = "200 min"\n'
    found = judged(variant(tmp_path, text))
    name = "run time, tripod"
    assert found[name].verdict is Verdict.FAIL
    hours = re.search(r"at least ([\d.]+) A·h", found[name].cure)
    assert hours is not None
    more = f'[battery]\ncapacity = "{float(hours[1])} A*h"\n'
    assert judged(variant(tmp_path, text + more))[name].verdict is not Verdict.FAIL


def test_energy_is_power_over_speed_and_weight() -> None:
    """Referee: P/v and P/(m g v) from the numbers that the findings tell."""
    robot = lw.load(ROOK)
    found = judged(robot)
    speed, mass = 0.10, robot.mass + 0.6
    per_metre = found["energy per metre, tripod"]
    watts = re.match(r"([\d.]+) W from the battery", per_metre.why)
    assert watts is not None
    assert per_metre.value == pytest.approx(float(watts[1]) / speed, rel=5e-3)
    transport = found["cost of transport, tripod"].value
    assert per_metre.value is not None
    assert transport == pytest.approx(per_metre.value / (mass * 9.80665))


def test_standing_lasts_longer_than_walking() -> None:
    found = judged(lw.load(ROOK))
    walking, standing = found["run time, tripod"].value, found["run time, standing"].value
    assert walking is not None
    assert standing is not None
    assert standing > walking


def test_two_contacts_leave_no_pin_for_data(tmp_path: Path) -> None:
    found = judged(variant(tmp_path, "[harness.connector.leg]\ncontacts = 2\n"))
    assert found["connectors without pins for the bus"].verdict is Verdict.FAIL
    assert found["connectors without pins for the bus"].parts == ("leg",)


def test_a_lead_that_is_too_short_pulls_and_the_cure_does_not(tmp_path: Path) -> None:
    """Referee: the cure's own number, fed back."""
    lead = '[hub.branch.left-front]\nlead = "{}"\n'
    found = judged(variant(tmp_path, lead.format("40 mm")))
    pulls = found["stated lengths that pull or snag"]
    assert pulls.verdict is Verdict.FAIL
    better = pulls.cure.split(" to ")[-1].rstrip(".")
    found = judged(variant(tmp_path, lead.format(better)))
    assert found["stated lengths that pull or snag"].verdict is Verdict.PASS
