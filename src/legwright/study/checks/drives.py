"""Can the servos do it: torque, speed, heat?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from legwright.mechanics.drive import STATED_AMBIENT, drives_of
from legwright.mechanics.servo_line import no_load_speed
from legwright.robot.robot import Robot
from legwright.study.bench import Bench
from legwright.study.cures import at_least, at_most, payload_for, speed_for
from legwright.study.evidence import Case
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge
from legwright.study.strains import joint_label, segment

KELVIN = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The same joint of every leg: all femurs, say."""

    label: str
    columns: tuple[int, ...]


def groups(robot: Robot) -> tuple[Group, ...]:
    """The columns of the J axis by segment, base to foot."""
    found: dict[str, list[int]] = {}
    for leg in robot.legs.values():
        start = robot.columns[leg.name].start
        for index in range(leg.n):
            found.setdefault(segment(leg.n, index), []).append(start + index)
    return tuple(Group(label=label, columns=tuple(columns)) for label, columns in found.items())


def check_drives(bench: Bench) -> Iterator[Finding]:
    """Per segment, the worst joint over all gaits and directions."""
    cases = (*bench.cases.values(), *bench.sloped.values())
    for group in groups(bench.robot):
        yield _peak(bench, group, cases)
        yield _continuous(bench, group, cases)
        yield _speed(bench, group, cases)
        yield _winding(bench, group, cases)
        yield _time(bench, group, cases)


def _place(bench: Bench, case: Case, column: int, at: int | None = None) -> str:
    where = f"{joint_label(bench.robot, column)}, {case.name}"
    return where if at is None else f"{where}, phase {case.motion.t[at] / case.motion.cycle:.2f}"


def _peak(bench: Bench, group: Group, cases: tuple[Case, ...]) -> Finding:
    reserve = bench.robot.sheet.requirements.torque_reserve
    columns = list(group.columns)
    best: tuple[float, Case, int, int] | None = None
    for case in cases:
        with np.errstate(divide="ignore"):
            use = 1.0 / case.draw.headroom[:, columns]
        use = np.where(np.isnan(use), -1.0, use)
        at, which = divmod(int(use.argmax()), use.shape[1])
        if best is None or use[at, which] > best[0]:
            best = float(use[at, which]), case, at, columns[which]
    name = f"peak torque, {group.label}"
    if best is None or best[0] < 0:
        return _no_servo("torque", name, group, bench)
    _, case, at, column = best
    value = float(abs(case.draw.torque[at, column]))
    limit = float(case.draw.available[at, column]) / reserve
    speed = float(case.motion.qd[at, column])
    cure = ""
    if value > limit:
        cure = f"A servo that gives {at_least(value * reserve, 'N·m')} at {abs(speed):.2g} rad/s"
        lighter = payload_for(bench, case, lambda c: _peak_holds(c, column, reserve))
        slower = speed_for(bench, case, lambda c: _peak_holds(c, column, reserve))
        cure += f"; or payload down to {at_most(lighter, 'kg')}" if lighter is not None else ""
        cure += f"; or {at_most(slower, '%')} of the speed" if slower is not None else ""
        cure += "."
    return judge(
        "torque",
        name,
        value,
        limit,
        "N·m",
        sense=Sense.AT_MOST,
        cure=cure,
        why=f"{_place(bench, case, column, at)}, turning at {abs(speed):.2g} rad/s; "
        f"{_arriving(bench, case, column, at)}.",
        source=f"torque-speed line of the servo over torque_reserve {reserve:g}",
        parts=(bench.robot.joint_names[column],),
    )


def _arriving(bench: Bench, case: Case, column: int, at: int) -> str:
    """The voltage behind a torque, in words."""
    if case.name not in bench.power.supplies or case.draw.voltage.ndim < 2:
        return bench.asked.voltage_why
    volts = float(case.draw.voltage[at, column])
    return f"at the {volts:.3g} V that arrive there, the battery at its cut-off"


def _peak_holds(case: Case, column: int, reserve: float) -> bool:
    return bool((case.draw.headroom[:, column] >= reserve).all())


def _continuous(bench: Bench, group: Group, cases: tuple[Case, ...]) -> Finding:
    name = f"continuous torque, {group.label}"
    best: tuple[float, Case, int] | None = None
    for case in cases:
        for column in group.columns:
            use = float(case.draw.rms_torque[column] / case.draw.continuous[column])
            if use == use and (best is None or use > best[0]):
                best = use, case, column
    if best is None:
        return _no_servo("torque", name, group, bench, "continuous_torque or thermal data")
    _, case, column = best
    value, limit = float(case.draw.rms_torque[column]), float(case.draw.continuous[column])
    servo = bench.robot.servos[bench.robot.joint_names[column]]
    cure = ""
    if value > limit:
        lighter = payload_for(bench, case, lambda c: bool(c.draw.rms_torque[column] <= limit))
        cure = f"A servo that holds {at_least(value, 'N·m')} for ever at {_celsius(bench)}"
        cure += f"; or payload down to {at_most(lighter, 'kg')}." if lighter is not None else "."
    return judge(
        "torque",
        name,
        value,
        limit,
        "N·m",
        sense=Sense.AT_MOST,
        cure=cure,
        why=f"Root mean square over the cycle, {_place(bench, case, column)}."
        + (_rated_lower(bench, case, column) if value > limit else ""),
        source=f"servo data: heat balance of the winding at {_celsius(bench)}"
        if servo is None or servo.continuous_torque is None
        else f"continuous_torque as stated for {STATED_AMBIENT - KELVIN:.0f} °C, carried to "
        f"{_celsius(bench)} at equal winding temperature",
        parts=(bench.robot.joint_names[column],),
    )


def _rated_lower(bench: Bench, case: Case, column: int) -> str:
    """A sentence where the maker's rating is the stricter: the winding itself would bear it."""
    servo = bench.robot.servos[bench.robot.joint_names[column]]
    settles = float(case.draw.steady_temperature[column])
    hottest = None if servo is None else servo.highest_winding
    if hottest is None or not settles <= hottest:
        return ""
    return (
        f" The stated rating decides: the winding itself would settle at "
        f"{settles - KELVIN:.0f} °C, {hottest - KELVIN:.0f} °C are allowed."
    )


def _celsius(bench: Bench) -> str:
    return f"{bench.asked.ambient - KELVIN:.0f} °C"


def _speed(bench: Bench, group: Group, cases: tuple[Case, ...]) -> Finding:
    name = f"joint speed, {group.label}"
    drives, columns = drives_of(bench.robot), list(group.columns)
    top = np.broadcast_to(no_load_speed(drives, bench.asked.voltage), (len(drives.voltage),))
    best: tuple[float, Case, int, int] | None = None
    for case in cases:
        use = np.abs(case.motion.qd[:, columns]) / top[columns]
        use = np.where(np.isnan(use), -1.0, use)
        at, which = divmod(int(use.argmax()), use.shape[1])
        if best is None or use[at, which] > best[0]:
            best = float(use[at, which]), case, at, columns[which]
    if best is None or best[0] < 0:
        return _no_servo("speed", name, group, bench)
    _, case, at, column = best
    value, limit = float(abs(case.motion.qd[at, column])), float(top[column])
    cure = ""
    if value > limit:
        slower = speed_for(
            bench, case, lambda c: bool((np.abs(c.motion.qd[:, column]) <= limit).all())
        )
        cure = f"A servo that turns {at_least(value, 'rad/s')} without load"
        cure += f"; or {at_most(slower, '%')} of the speed." if slower is not None else "."
    return judge(
        "speed",
        name,
        value,
        limit,
        "rad/s",
        sense=Sense.AT_MOST,
        cure=cure,
        why=f"{_place(bench, case, column, at)}; no-load speed {bench.asked.voltage_why}.",
        source="servo data: no-load speed, proportional to the voltage left after friction",
        parts=(bench.robot.joint_names[column],),
    )


def _winding(bench: Bench, group: Group, cases: tuple[Case, ...]) -> Finding:
    name = f"winding temperature, {group.label}"
    best = _hottest(group, cases)
    if best is None:
        return _no_servo("heat", name, group, bench, "thermal data")
    case, column = best
    servo = bench.robot.servos[bench.robot.joint_names[column]]
    limit = servo.highest_winding if servo else None
    value = float(case.draw.steady_temperature[column])
    cure = ""
    if limit is not None and not value <= limit:
        lighter = payload_for(
            bench, case, lambda c: bool(c.draw.steady_temperature[column] <= limit)
        )
        rms = float(case.draw.rms_torque[column])
        cure = f"A servo whose continuous torque at {_celsius(bench)} is {at_least(rms, 'N·m')}"
        cure += f"; or payload down to {at_most(lighter, 'kg')}" if lighter is not None else ""
        until = float(case.draw.time_to_limit[column])
        cure += f"; or walks of at most {until / 60:.0f} min." if np.isfinite(until) else "."
    return judge(
        "heat",
        name,
        value - KELVIN,
        None if limit is None else limit - KELVIN,
        "°C",
        sense=Sense.AT_MOST,
        cure=cure,
        why=f"Walking without end, {_place(bench, case, column)}, in {_celsius(bench)}."
        + (
            " The winding's resistance rises faster than it cools: it runs away."
            if np.isinf(value)
            else ""
        ),
        source="first-order winding model with copper's rise (IEC 60028); highest_winding",
        near=5.0,
        parts=(bench.robot.joint_names[column],),
        missing="Give the servo highest_winding, thermal_resistance and thermal_time.",
    )


def _hottest(group: Group, cases: tuple[Case, ...]) -> tuple[Case, int] | None:
    best: tuple[float, Case, int] | None = None
    for case in cases:
        for column in group.columns:
            steady = float(case.draw.steady_temperature[column])
            if steady == steady and (best is None or steady > best[0]):
                best = steady, case, column
    return None if best is None else best[1:]


def _time(bench: Bench, group: Group, cases: tuple[Case, ...]) -> Finding:
    name = f"time to overheat, {group.label}"
    need = bench.robot.sheet.requirements.run_time
    best: tuple[float, Case, int] | None = None
    for case in cases:
        for column in group.columns:
            known = case.draw.steady_temperature[column] == case.draw.steady_temperature[column]
            until = float(case.draw.time_to_limit[column])
            if known and until == until and (best is None or until < best[0]):
                best = until, case, column
    if best is None:
        return _no_servo("heat", name, group, bench, "thermal data")
    until, case, column = best
    return judge(
        "heat",
        name,
        until / 60,
        None if need is None else need / 60,
        "min",
        sense=Sense.AT_LEAST,
        why=f"Walking from cold, {_place(bench, case, column)}."
        + (" Never reached." if np.isinf(until) else ""),
        source="first-order winding model; requirements.run_time",
        cure=f"Rest after {until / 60:.0f} min, or see the winding temperature.",
        parts=(bench.robot.joint_names[column],),
        missing='State requirements.run_time, like "40 min".',
    )


def _no_servo(area: str, name: str, group: Group, bench: Bench, what: str = "a servo") -> Finding:
    joints = tuple(bench.robot.joint_names[column] for column in group.columns)
    return judge(
        area,
        name,
        None,
        None,
        "",
        sense=Sense.AT_MOST,
        parts=joints,
        why=f"Nothing is known of {what} for these joints.",
        source="servo",
        missing=f"Give {joints[0]} and its like {what} in [servo.NAME] and [fit].",
    )
