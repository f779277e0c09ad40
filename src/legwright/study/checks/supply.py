"""Does enough voltage reach every servo and load?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.electrics.battery import open_voltage
from legwright.electrics.mishaps import Mishap, others_weakest
from legwright.electrics.parts import Item, Kind
from legwright.electrics.sizes import thinnest
from legwright.electrics.supply import Supply
from legwright.study.bench import Bench
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge
from legwright.study.power import Power

AREA = "supply"
SPARE = 0.02
"""Of the limit, left by a cure: with other wires another moment may be the worst."""

NAMES = (
    "voltage at the servos, walking",
    "voltage lost on the way to a servo",
    "voltage ahead of the regulators",
    "battery current, walking",
    "voltage beside a stalled servo",
    "voltage beside a stalled leg",
)


def check_supply(bench: Bench) -> Iterator[Finding]:
    """Voltage at servos and regulators, battery current, and stalls."""
    power = bench.power
    yield _highest(bench)
    if not power.supplies:
        yield from unknown(AREA, NAMES, power)
        return
    yield _lowest(bench, power)
    yield _lost(bench, power)
    yield from _regulators(power)
    yield _current(bench, power)
    yield _beside(bench, "voltage beside a stalled servo", power.stalls_of("servo"))
    yield _beside(bench, "voltage beside a stalled leg", power.stalls_of("leg"))


def unknown(area: str, names: tuple[str, ...], power: Power) -> Iterator[Finding]:
    """One unknown finding for each name, with what to enter."""
    why = "The circuit that the sheet states cannot be." if power.fault else ""
    missing = power.missing or (str(power.fault) if power.fault else "")
    for name in names:
        yield judge(
            area,
            name,
            None,
            None,
            "",
            sense=Sense.AT_MOST,
            why=why or "The sheet does not describe enough of the circuit.",
            source="battery, hub, harness",
            missing=missing,
        )


def instant(bench: Bench, name: str, sample: int) -> str:
    """``tripod forward, phase 0.31``."""
    motion = bench.case(name).motion
    return f"{name}, phase {motion.t[sample] / motion.cycle:.2f}"


def _highest(bench: Bench) -> Finding:
    """A full battery must not be too much for any servo."""
    robot = bench.robot
    servos = [servo for servo in robot.servos.values() if servo is not None]
    limits = [servo.highest_voltage for servo in servos if servo.highest_voltage is not None]
    battery = robot.sheet.battery
    full = None if battery is None else battery.full_voltage
    limit = min(limits) if limits else None
    weakest = next((servo for servo in servos if servo.highest_voltage == limit), None)
    return judge(
        AREA,
        "voltage of the full battery",
        full,
        limit,
        "V",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"Fresh from the charger, without load; {weakest.id or 'the servo'} bears the least."
        if weakest is not None and limit is not None
        else "No servo states how much it bears.",
        source="battery.cell_full, servo.highest_voltage",
        cure=f"A battery of at most {int(limit / battery.cell_full)} cells in series."
        if battery is not None and limit is not None
        else "",
        missing="Give the [battery], and the servos highest_voltage.",
    )


def _lowest(bench: Bench, power: Power) -> Finding:
    """The servo with the least voltage to spare over all cases."""
    dark = [name for name, given in power.supplies.items() if given.brown_out]
    ranked = dark or list(power.supplies)
    name = min(ranked, key=lambda one: _spare(power.supplies[one])[1])
    given = power.supplies[name]
    joint, _ = _spare(given)
    floor = given.floor[joint]
    value = given.at_input[joint]
    if not given.settled.converged.all():
        value = 0.0
        why = f"Brown-out in {name}: {given.settled.why}; {joint} starves first."
    else:
        column = given.demand.joints.index(joint)
        why = f"{joint}, {name}"
        if column < given.voltage.shape[1]:
            why = f"{joint}, {instant(bench, name, int(given.voltage[:, column].argmin()))}"
        why += f"; battery at {given.charge:.0%} of its charge, {given.terminal.min():.3g} V there."
    weak = bench.robot.sheet.battery
    cells = weak.series if weak else 1
    needed = (floor + given.terminal.min() - value) / cells if value > 0.0 else None
    return judge(
        AREA,
        NAMES[0],
        value,
        floor or None,
        "V",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=why,
        source="servo.lowest_voltage; network solved with the servos' currents to a fixed point",
        cure="A battery that gives more current, or thicker wires."
        if needed is None
        else f"Cut the battery off at {np.ceil(needed * 100) / 100:.2f} V a cell instead.",
        parts=(joint,),
        missing="Give the servos lowest_voltage.",
    )


def _spare(given: Supply) -> tuple[str, float]:
    """The servo with the least voltage to spare, and how much [V]."""
    of_all = given.spare
    spare = {name: of_all[name] for name in given.demand.joints}
    joint = min(spare, key=lambda one: np.inf if np.isnan(spare[one]) else spare[one])
    return joint, spare[joint]


def _lost(bench: Bench, power: Power) -> Finding:
    """The largest share of the battery's voltage lost on the way to a leg's servo."""
    limit = bench.robot.sheet.requirements.voltage_drop
    best = (-1.0, "", 0, 0)
    for name, given in power.supplies.items():
        share = 1.0 - given.voltage / given.terminal[:, None]
        share = np.where(np.isnan(share), -1.0, share)
        at, column = divmod(int(share.argmax()), share.shape[1])
        best = max(best, (float(share[at, column]), name, at, column))
    value, name, at, column = best
    given = power.supplies[name]
    joint = bench.robot.joint_names[column]
    path = given.circuit.feeding(given.circuit.servos[joint].node)
    lost = _by_item(given, path, at)
    worst = max(lost, key=lambda item: lost[item])
    item = given.circuit.by_designation[worst]
    volts = sum(lost.values())
    return judge(
        AREA,
        NAMES[1],
        value * 100.0,
        limit * 100.0,
        "%",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"{volts:.2g} V to {joint}, {instant(bench, name, at)}; most of it, "
        f"{lost[worst] * 1e3:.0f} mV, in {item.name} ({worst}).",
        source="requirements.voltage_drop; node voltages of the network",
        cure=_thicker(given, path, lost, limit * float(given.terminal[at])),
        parts=(joint,),
    )


def _by_item(given: Supply, path: tuple[Item, ...], at: int) -> dict[str, float]:
    """Voltage lost in each item of a path at a sample [V]."""
    volts, nodes = given.flow.voltage[at], given.flow.network
    return {
        item.designation: float(volts[nodes.node(item.start)] - volts[nodes.node(item.end)])
        for item in path
        if item.kind is not Kind.REGULATOR
    }


def _thicker(given: Supply, path: tuple[Item, ...], lost: dict[str, float], limit: float) -> str:
    """The gauge of the branch's wire with which the drop stays within its limit [V]."""
    wires = [item for item in path if item.wire is not None and item.branch]
    over = sum(lost.values()) - (1.0 - SPARE) * limit
    if not wires or wires[0].wire is None:
        return "Shorter or thicker wires."
    old = wires[0].wire
    now = sum(lost[item.designation] for item in wires if item.wire == old)
    better = thinnest(lambda wire: now * (1.0 - wire.per_metre / old.per_metre) >= over)
    if better is None:
        rest = (sum(lost.values()) - now) * 1e3
        return f"Contacts of less resistance: all but the wire loses {rest:.0f} mV."
    return f"{better.name} instead of {old.name} for '{wires[0].conductor}'."


def _regulators(power: Power) -> Iterator[Finding]:
    """Every regulator needs some voltage above its output."""
    ranked = []
    for name, given in power.supplies.items():
        for one in given.circuit.consumers:
            if one.kind is not Kind.SERVO and given.floor[one.name] > 0.0:
                ranked.append((given.spare[one.name], one.name, name))
    if not ranked:
        return
    _, load, name = min(ranked, key=lambda row: row[0])
    given = power.supplies[name]
    yield judge(
        AREA,
        NAMES[2],
        given.at_input[load],
        given.floor[load],
        "V",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=f"Ahead of the regulator of {load}, {name}, loads at their peak.",
        source="a tenth above the output; common practice, no published source",
        cure=f"A regulator for {load} that also steps up, or more cells in series.",
        parts=(load,),
    )


def _current(bench: Bench, power: Power) -> Finding:
    """What the battery must give, against what it may."""
    name = max(power.supplies, key=lambda one: np.nan_to_num(power.supplies[one].peak[0]))
    given = power.supplies[name]
    battery = bench.robot.sheet.battery
    limit = battery.continuous_current if battery else None
    full = float(open_voltage(given.circuit.pack, 1.0))
    return judge(
        AREA,
        NAMES[3],
        float(given.peak[0]),
        limit,
        "A",
        sense=Sense.AT_MOST,
        why=f"Peak in {instant(bench, name, int(given.worst[0]))}; {given.rms[0]:.2g} A RMS, "
        f"{given.mean[0]:.2g} A on average, {given.power:.3g} W ({full:.3g} V when full).",
        source="battery.continuous_current",
        cure="A battery of a higher current rating, or more strings in parallel.",
        missing='State battery.continuous_current, like "50 A".',
    )


def _beside(bench: Bench, name: str, found: tuple[Mishap, ...]) -> Finding:
    """The others must not reset while some servos are stalled."""
    ranked = []
    for one in found:
        joint, volts = others_weakest(one)
        servo = bench.robot.servos.get(joint)
        floor = (servo.lowest_voltage if servo else None) or 0.0
        ranked.append(
            (-np.inf if np.isnan(volts) else volts - floor, one.name, joint, volts, floor)
        )
    _, stalled, joint, volts, floor = min(ranked, key=lambda row: row[0])
    gone = bool(np.isnan(volts))
    return judge(
        AREA,
        name,
        0.0 if gone else volts,
        floor or None,
        "V",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=f"{stalled} stalls with the battery nearly empty; {joint} gets the least."
        + (" The battery cannot feed all of them: brown-out." if gone else ""),
        source="stall current at the voltage that arrives; servo.lowest_voltage",
        cure="Thicker wires, a battery of less resistance, or a higher cut-off voltage.",
        parts=(joint,),
        missing="Give the servos lowest_voltage.",
    )
