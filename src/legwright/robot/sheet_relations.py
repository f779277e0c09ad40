"""What must fit together inside a sheet."""

from __future__ import annotations

from collections.abc import Iterator

from legwright.errors import RobotError, did_you_mean
from legwright.robot.sheet import NAMED_GAITS, Sheet
from legwright.robot.sheet_faults import key_name
from legwright.robot.sheet_text import KeyPath, SheetText

Fault = tuple[KeyPath, str, str]


def check_relations(sheet: Sheet, text: SheetText) -> None:
    """Check the relations between the tables of a sheet.

    Args:
        sheet: The sheet.
        text: Where it came from, for the error.

    Raises:
        RobotError: for the first fault.
    """
    for faults in RELATIONS:
        for key, problem, cure in faults(sheet):
            raise RobotError(text.file_of(key), key_name(key), problem, cure)


def _shape(sheet: Sheet) -> Iterator[Fault]:
    if sheet.urdf is not None and sheet.dimensions is not None:
        yield (
            ("dimensions",),
            f'stands beside urdf = "{sheet.urdf}": two shapes for one robot',
            "Keep either 'urdf' or [dimensions].",
        )


def _gaits(sheet: Sheet) -> Iterator[Fault]:
    known = (*NAMED_GAITS, *sheet.gait)
    for number, name in enumerate(sheet.requirements.gaits):
        if name not in known:
            yield (
                ("requirements", "gaits", number),
                f'names the unknown gait "{name}"',
                did_you_mean(name, known),
            )
    for name in sheet.requirements.by_gait:
        if name not in sheet.requirements.gaits:
            yield (
                ("requirements", "by_gait", name),
                "is no gait of requirements.gaits",
                did_you_mean(name, sheet.requirements.gaits),
            )
    for name in sheet.gait:
        if name in NAMED_GAITS:
            yield ("gait", name), "has the name of a built-in gait", "Choose another name."


def _fit(sheet: Sheet) -> Iterator[Fault]:
    for joint, servo in sheet.fit.items():
        if servo not in sheet.servo:
            known = did_you_mean(servo, sheet.servo) if sheet.servo else "No servo is described."
            yield ("fit", joint), f'names the unknown servo "{servo}"', known


def _servos(sheet: Sheet) -> Iterator[Fault]:
    for name, servo in sheet.servo.items():
        at = ("servo", name)
        low, rated, high = servo.lowest_voltage, servo.rated_voltage, servo.highest_voltage
        if low is not None and high is not None and low >= high:
            yield (*at, "lowest_voltage"), f"{low:g} V is not below highest_voltage", "Swap them."
        if rated is not None and high is not None and rated > high:
            yield (*at, "rated_voltage"), f"{rated:g} V is above highest_voltage", "Correct one."
        if rated is not None and low is not None and rated < low:
            yield (*at, "rated_voltage"), f"{rated:g} V is below lowest_voltage", "Correct one."
        if servo.peak_torque is not None and servo.peak_torque > servo.stall_torque * 1.0001:
            yield (
                (*at, "peak_torque"),
                f"{servo.peak_torque:g} N·m is more than the stall torque",
                "State the torque at which electronics or gears limit it, or leave it out.",
            )
        if (servo.continuous_torque or 0.0) > servo.stall_torque:
            yield (
                (*at, "continuous_torque"),
                f"{servo.continuous_torque:g} N·m is more than the stall torque",
                "State the torque that may be held for ever.",
            )
        stall, idle = servo.stall_current, servo.no_load_current
        if stall is not None and idle is not None and idle >= stall:
            yield (*at, "no_load_current"), f"{idle:g} A is not below stall_current", "Swap them."


def _battery(sheet: Sheet) -> Iterator[Fault]:
    battery = sheet.battery
    if battery is None:
        return
    if not battery.cell_cutoff < battery.cell_nominal < battery.cell_full:
        yield (
            ("battery", "cell_cutoff"),
            f"cut-off {battery.cell_cutoff:g} V, nominal {battery.cell_nominal:g} V and full "
            f"{battery.cell_full:g} V do not rise in this order",
            "Correct the cell voltages.",
        )


def _dimensions(sheet: Sheet) -> Iterator[Fault]:
    shape = sheet.dimensions
    if shape is None:
        return
    if bool(shape.hips) == (shape.ring is not None):
        yield ("dimensions",), "must state either 'hips' or 'ring'", "Keep one of them."
    if shape.hips and 2 * len(shape.hips) != shape.legs:
        yield (
            ("dimensions", "hips"),
            f"has {len(shape.hips)} left hips for {shape.legs} legs",
            "State one hip for each left leg; the right side is mirrored.",
        )
    for number, (_, y, _) in enumerate(shape.hips):
        if y <= 0.0:
            yield (
                ("dimensions", "hips", number),
                f"lies at y = {y * 1000:g} mm, not on the left side",
                "Give left hips a positive y; the right side is mirrored.",
            )
    for joint in ("coxa", "femur", "tibia"):
        span = getattr(shape.travel, joint)
        if span.lower >= span.upper:
            yield (
                ("dimensions", "travel", joint),
                "has its lower limit not below the upper one",
                "Swap 'lower' and 'upper'.",
            )
    if 2.0 * shape.segments.wall >= shape.segments.tube:
        yield ("dimensions", "segments", "wall"), "is thicker than half the tube", "Correct it."


def _hub(sheet: Sheet) -> Iterator[Fault]:
    hub = sheet.hub
    if hub is None:
        return
    taken: dict[int, str] = {}
    fed: dict[str, str] = {}
    for name, branch in hub.branch.items():
        at = ("hub", "branch", name)
        if branch.port > hub.ports:
            yield (*at, "port"), f"is {branch.port}, but the hub has {hub.ports} ports", "Renumber."
        if branch.port in taken:
            yield (*at, "port"), f"is {branch.port}, taken by {taken[branch.port]}", "Renumber."
        taken[branch.port] = name
        if branch.load is not None and branch.load not in sheet.load:
            yield (
                (*at, "load"),
                f'names the unknown load "{branch.load}"',
                _offer(branch.load, sheet.load),
            )
        if len(branch.links) > max(len(branch.chain) - 1, 0):
            yield (*at, "links"), "has more cables than the chain has gaps", "Remove some."
        for joint in branch.chain:
            if joint in fed:
                yield (*at, "chain"), f"holds {joint}, already on {fed[joint]}", "Keep one."
            fed[joint] = name
        yield from _wiring(sheet, at, branch.conductor, branch.connector)


def _wiring(
    sheet: Sheet, at: KeyPath, conductor: str | None, connector: str | None
) -> Iterator[Fault]:
    wires = sheet.harness.conductor if sheet.harness else {}
    plugs = sheet.harness.connector if sheet.harness else {}
    if conductor is not None and conductor not in wires:
        yield (
            (*at, "conductor"),
            f'names the unknown conductor "{conductor}"',
            _offer(conductor, wires),
        )
    if connector is not None and connector not in plugs:
        yield (
            (*at, "connector"),
            f'names the unknown connector "{connector}"',
            _offer(connector, plugs),
        )


def _harness(sheet: Sheet) -> Iterator[Fault]:
    if sheet.harness is None:
        return
    for name, conductor in sheet.harness.conductor.items():
        if (conductor.gauge is None) == (conductor.cross_section is None):
            yield (
                ("harness", "conductor", name),
                "must state either 'gauge' or 'cross_section'",
                'Write gauge = "20 AWG" or cross_section = "0.5 mm^2".',
            )
    for name, run in sheet.harness.run.items():
        yield from _wiring(sheet, ("harness", "run", name), run.conductor, run.connector)


def _bus(sheet: Sheet) -> Iterator[Fault]:
    if sheet.bus is None:
        return
    taken: dict[int, str] = {}
    most = 127 if sheet.bus.kind == "can" else 253
    for joint, node in sheet.bus.nodes.items():
        if not 0 < node <= most:
            yield ("bus", "nodes", joint), f"is {node}, not from 1 to {most}", "Renumber."
        if node in taken and sheet.bus.buses == 1:
            yield ("bus", "nodes", joint), f"is {node}, taken by {taken[node]}", "Renumber."
        taken[node] = joint


def _foot(sheet: Sheet) -> Iterator[Fault]:
    name = sheet.foot.process
    if name is not None and name not in sheet.process:
        yield (
            ("foot", "process"),
            f'names the unknown process "{name}"',
            _offer(name, sheet.process),
        )


def _angles(sheet: Sheet) -> Iterator[Fault]:
    for name, bracket in sheet.making.angle.items():
        at = ("making", "angle", name)
        if bracket.holds and bracket.holds not in sheet.servo:
            yield (
                (*at, "holds"),
                f'names the unknown servo "{bracket.holds}"',
                _offer(bracket.holds, sheet.servo),
            )
        elif bracket.holds and bracket.holds_at is None:
            yield (*at, "holds_at"), "is missing beside 'holds'", 'Write one, like "25 mm".'


def _offer(word: str, known: dict[str, object] | object) -> str:
    names = list(known) if isinstance(known, dict) else []
    return did_you_mean(word, names) if names else "None is described in the sheet."


RELATIONS = (
    _shape, _gaits, _fit, _servos, _battery, _dimensions, _hub, _harness, _bus, _foot, _angles,
)  # fmt: skip
