"""From one cycle's report to messages."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isfinite
from typing import Any

import numpy as np

from legwright.locomotion.signals import Event as Happening
from legwright.mechanics.drive import drives_of
from legwright.remote.said import FIELDS, Card, Event, Limits, Row, State
from legwright.rig.runtime import Report
from legwright.rig.symptoms import Limits as Bounds
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


def card_of(robot: Robot, *, rate: float, real: bool, gaits: tuple[str, ...]) -> Card:
    """What a client needs to know about a robot."""
    return Card(
        name=robot.name,
        legs={name: leg.joint_names for name, leg in robot.legs.items()},
        joints=robot.joint_names,
        gaits=gaits,
        rate=rate,
        real=real,
        fields=FIELDS,
        limits=_limits(robot),
    )


class Readings:
    """Makes `state` and `event` messages for one robot."""

    def __init__(self, robot: Robot) -> None:
        """Look up which joints belong to which leg."""
        self.lights: tuple[str, ...] = ()
        """What the lights show, ``#rrggbb``; kept current by the host."""
        self.recorded = False
        """Whether the robot's recorder writes; likewise."""
        self.legs = robot.legs
        self.columns = _columns(robot)
        """Leg -> its columns in rows of joints."""
        self._order = tuple(robot.legs)
        self._take: Mapping[str, Callable[[Report], Any]] = {
            "mode": lambda r: r.mode.value,
            "faults": lambda r: tuple(fault.value for fault in r.faults),
            "voltage": lambda r: r.sensed.voltage,
            "margin": lambda r: r.margin,
            "place": lambda r: _row(r.place),
            "up": lambda r: None if r.sensed.up is None else _row(r.sensed.up),
            "q": lambda r: _row(r.sensed.q),
            "qd": lambda r: _row(r.sensed.qd),
            "current": lambda r: _row(r.sensed.current),
            "winding": lambda r: _row(r.drives.winding),
            "powered": lambda r: tuple(r.drives.powered.tolist()),
            "volts": self._volts,
            "errors": lambda r: tuple(r.drives.fault.tolist()),
            "targets": lambda r: _row(r.targets.q),
            "contact": lambda r: tuple(r.contact.tolist()),
            "force": lambda r: _row(r.force),
            "feet": lambda r: tuple(self.foot(r, leg) for leg in self._order),
            "lights": lambda r: self.lights,
            "recorded": lambda r: self.recorded,
        }

    def _volts(self, report: Report) -> Row:
        volts = report.drives.voltage
        return (None,) * len(report.sensed.q) if volts is None else _row(volts)

    def state(self, report: Report, stream: str, fields: tuple[str, ...]) -> State:
        """The asked fields of one cycle."""
        return State(stream=stream, time=report.time, **{f: self._take[f](report) for f in fields})

    def foot(self, report: Report, leg: str) -> Row:
        """A foot in the body frame, x, y, z [m]."""
        return _row(self.legs[leg].foot(report.sensed.q[self.columns[leg]]))

    def force(self, report: Report, leg: str) -> float | None:
        """Felt force of the ground on a foot [N]."""
        force = float(report.force[self._order.index(leg)])
        return force if force == force else None

    def event(self, report: Report, happening: Happening) -> Event:
        """What the controller tells, with place and force of the foot it is about."""
        leg = happening.leg
        return Event(
            time=report.time,
            what=happening.what,
            text=happening.text,
            leg=leg,
            foot=self.foot(report, leg) if leg else None,
            force=self._pushed(report, happening),
        )

    def _pushed(self, report: Report, happening: Happening) -> float | None:
        """The push that an event tells, else what its foot feels [N]."""
        if happening.force is not None or not happening.leg:
            return happening.force
        return self.force(report, happening.leg)


def _limits(robot: Robot) -> Limits:
    own, drive = Bounds.of(robot), drives_of(robot)
    return Limits(
        current=_known(own.current),
        winding=_known(own.winding),
        volts=_known(np.asarray(drive.lowest_voltage, dtype=np.float64)),
        voltage=own.voltage if isfinite(own.voltage) else None,
        lower=_known(robot.lower),
        upper=_known(robot.upper),
    )


def _known(values: Floats) -> Row:
    return tuple(value if isfinite(value) else None for value in values.tolist())


def _columns(robot: Robot) -> Mapping[str, slice]:
    """Joints of a leg stand side by side, base to foot."""
    found, start = {}, 0
    for name, leg in robot.legs.items():
        found[name] = slice(start, start + leg.n)
        start += leg.n
    return found


def _row(values: Floats) -> Row:
    return tuple(values.tolist())
