"""Mishaps: servos that stall, and whether fuses open before conductors suffer."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from legwright.electrics.ampacity import grouping_factor
from legwright.electrics.battery import internal_resistance, open_voltage
from legwright.electrics.circuit import Circuit
from legwright.electrics.faults import Inrush, inrush
from legwright.electrics.flow import Flow, flow
from legwright.electrics.fuse_curves import fuse_curve, latest_blow
from legwright.electrics.network import Network
from legwright.electrics.overload import heating_time
from legwright.electrics.parts import Item, Kind
from legwright.electrics.supply import Supply
from legwright.electrics.warmth import settled_temperatures, surroundings
from legwright.mechanics.drive import drive_of
from legwright.mechanics.heat import REFERENCE
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Mishap:
    """Some servos stall while the others go on."""

    name: str
    """``left_front_femur``, ``left-front`` or ``all servos``."""
    stalled: tuple[str, ...]
    current: Floats
    """(E,): in each item of the circuit, battery full and copper cold [A]."""
    voltage: Mapping[str, float]
    """Joint that goes on -> voltage at it, battery nearly empty [V]; nan where the battery
    cannot feed all of them."""
    opens: str
    """Designation of the fuse that opens first; empty where none surely does."""
    after: float
    """Latest time at which it opens [s]; inf where none does."""
    hottest: str
    """Designation of the wire or contact that suffers first; empty where none does."""
    bears: float
    """Time that it bears what flows [s]; inf where nothing suffers."""

    @property
    def ok(self) -> bool:
        """Whether a fuse opens before anything suffers."""
        return self.after < self.bears or self.bears == inf


def mishaps(robot: Robot, circuit: Circuit, walking: Supply) -> tuple[Mishap, ...]:
    """Each servo alone, each leg, and all servos stalled during a walk.

    A stalled servo is its cold winding across whatever voltage arrives; the others draw their
    average power, the loads their peak.

    Args:
        robot: The robot.
        circuit: Its circuit.
        walking: What it is supplied with while nothing is wrong.

    Returns:
        One mishap per servo, one per leg, and ``all servos`` last.
    """
    joints = walking.demand.joints
    cases: list[tuple[str, tuple[str, ...]]] = [(joint, (joint,)) for joint in joints]
    cases += [(name, leg.joint_names) for name, leg in robot.legs.items()]
    cases.append(("all servos", joints))
    ambient = robot.sheet.requirements.ambient
    strong = circuit.network(charge=1.0, temperature=min(ambient, REFERENCE))
    weak = circuit.network(charge=walking.charge, temperature=ambient)
    stalled = [members for _, members in cases]
    most = _solved(robot, circuit, strong, walking, stalled).current[:, circuit.columns]
    servos, _ = walking.demand.placed(circuit, weak)
    volts = _solved(robot, circuit, weak, walking, stalled).voltage_at(servos).tolist()
    current = np.abs(most)
    opens = _opening(circuit.items, current)
    suffers = _suffering(robot, circuit, walking, current)
    found = []
    for row, (name, members) in enumerate(cases):
        arriving = zip(joints, volts[row], strict=True)
        voltage = {joint: each for joint, each in arriving if joint not in members}
        (fuse, after), (hottest, bears) = opens[row], suffers[row]
        found.append(
            Mishap(
                name=name,
                stalled=members,
                current=current[row],
                voltage=voltage,
                opens=fuse,
                after=after,
                hottest=hottest,
                bears=bears,
            )
        )
    return tuple(found)


def _solved(
    robot: Robot,
    circuit: Circuit,
    network: Network,
    walking: Supply,
    cases: Sequence[Sequence[str]],
) -> Flow:
    """What flows in K cases."""
    wants = walking.demand
    servo, others = wants.placed(circuit, network)
    shape = (len(cases), len(network.nodes))
    power, current, siemens = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    power[:, servo] = wants.servo_power().mean(axis=0)
    current[:, servo] = wants.idle
    for column, watts in zip(others, wants.power, strict=True):
        power[:, column] += watts
    ohms = np.array([float(drive_of(robot.servos[name]).resistance) for name in wants.joints])
    for row, members in enumerate(cases):
        stuck = [at for at, name in enumerate(wants.joints) if name in members]
        power[row, servo[stuck]] = 0.0
        siemens[row, servo[stuck]] = 1.0 / ohms[stuck]
    return flow(network, power=power, current=current, conductance=siemens)


def _opening(items: Sequence[Item], current: Floats) -> list[tuple[str, float]]:
    """In each of K cases, currents (K, E), the fuse that opens first, and by when."""
    first: list[tuple[str, float]] = [("", inf)] * len(current)
    for at, item in enumerate(items):
        if item.kind is not Kind.FUSE or not item.rating:
            continue
        times = latest_blow(fuse_curve(item.fuse_kind), item.rating, current[:, at])
        for row in np.flatnonzero(times < [time for _, time in first]):
            first[row] = item.designation, float(times[row])
    return first


def _suffering(
    robot: Robot, circuit: Circuit, walking: Supply, current: Floats
) -> list[tuple[str, float]]:
    """In each of K cases, currents (K, E), the item that suffers first, and after what time.

    The fuse is not looked at. What settles within what it bears for ever does not suffer.
    """
    ambient = robot.sheet.requirements.ambient
    bundle = robot.sheet.harness.bundle if robot.sheet.harness else 1
    grouping = grouping_factor(bundle)
    settles = settled_temperatures(circuit.items, current, ambient, grouping=grouping)
    bears = np.array([_lasting(item) for item in circuit.items])
    first: list[tuple[str, float]] = [("", inf)] * len(current)
    for row, at in zip(*np.nonzero(settles > bears), strict=True):
        item, warm = circuit.items[at], float(walking.temperature[at])
        time = _bearing(item, float(current[row, at]), warm, ambient, grouping)
        if time < first[row][1]:
            first[row] = item.designation, time
    return first


def _lasting(item: Item) -> float:
    """Temperature that an item bears for ever [K]; inf where that is not known."""
    if item.contact is not None:
        return item.contact.highest
    return inf if item.wire is None or item.cover is None else item.cover.continuous


def _bearing(item: Item, amps: float, warm: float, ambient: float, grouping: float) -> float:
    """Time that an item bears a current that it does not bear for ever [s]."""
    if item.wire is None or item.cover is None:
        return CONTACT_TIME
    end = item.cover.short_time
    start, around = min(max(warm, ambient), end - 1.0), surroundings(item, ambient)
    return float(heating_time(item.wire, amps, start, end, around, grouping=grouping))


RIDE_THROUGH = 2.0
"""Time for which a branch fuse must hold one stalled servo, and the main fuse one stalled leg:
a foot caught on a kerb must not cost a fuse [s]; common practice, no published source."""

CONTACT_TIME = 10.0
"""Time for which a contact bears a current that would overheat it in the end [s]; common
practice, no published source: connectors have time constants of minutes."""


def worst(found: Sequence[Mishap]) -> Mishap:
    """The mishap whose fuse is latest against what its conductors bear."""
    return max(found, key=lambda one: 0.0 if one.bears == inf else one.after / one.bears)


def others_weakest(found: Mishap) -> tuple[str, float]:
    """The joint that goes on with the least voltage, and that voltage [V]."""
    joint = min(found.voltage, key=lambda name: found.voltage[name])
    return joint, found.voltage[joint]


def ridden_through(
    circuit: Circuit, found: Sequence[Mishap], item: Item, legs: Collection[str]
) -> tuple[float, str]:
    """The largest stall current that a fuse at an item must hold, and what stalls.

    Args:
        circuit: The circuit.
        found: All mishaps.
        item: The fuse, or what carries the same current.
        legs: Names of the legs.

    Returns:
        With one servo of its branch stalled, or one leg ahead of the branches [A]; its name.
    """
    at = circuit.items.index(item)
    mine = [one for one in found if one.name in legs]
    if item.branch:
        mine = [
            one
            for one in found
            if len(one.stalled) == 1 and circuit.servos[one.stalled[0]].branch == item.branch
        ]
    ranked = [(float(np.nan_to_num(one.current[at])), one.name) for one in mine]
    return max(ranked, default=(0.0, ""))


def over_fuses(circuit: Circuit) -> Iterator[tuple[Item, Item | None]]:
    """Each cable ahead of regulators with the fuse nearest on the battery's side; None: bare."""
    for item in circuit.of(Kind.CABLE):
        path = circuit.feeding(item.end)
        if any(ahead.kind is Kind.REGULATOR for ahead in path):
            continue
        fuses = [ahead for ahead in path if ahead.kind is Kind.FUSE]
        yield item, fuses[-1] if fuses else None


def switch_on(circuit: Circuit, robot: Robot) -> Inrush | None:
    """Inrush of a full battery into the empty capacitors of the hub; None: not stated."""
    hub, protection = robot.sheet.hub, robot.sheet.protection
    if hub is None or not hub.capacitance:
        return None
    loop = circuit.loop_resistance("hub") + float(internal_resistance(circuit.pack, 1.0))
    precharge = protection.precharge if protection else None
    return inrush(
        float(open_voltage(circuit.pack, 1.0)), loop, hub.capacitance, precharge=precharge
    )
