"""Every fault, with its reaction in the stop categories of IEC 60204-1.

Category 0 removes drive power at once. Category 1 ends the motion under control, here by
sitting down, and removes power then. Category 2 ends the motion under control and keeps power,
here by standing still. `docs/faults.md` is made from this table.

Source: IEC 60204-1, 9.2.2 (the categories). Which fault gets which category, and the times, are
this project's choice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType


class Stop(Enum):
    """Stop categories, and the lack of one."""

    AT_ONCE = 0
    """Category 0: power off now."""
    SIT = 1
    """Category 1: sit down, then power off."""
    STAND = 2
    """Category 2: stand still, power stays."""
    TELL = 3
    """No stop: it is told and recorded."""


class Recovery(Enum):
    """What ends a fault."""

    ITSELF = "itself"
    """It ends when its cause does."""
    ACKNOWLEDGE = "acknowledge"
    """Somebody who may drive acknowledges it once its cause is gone."""
    SERVICE = "service"
    """The robot must be put right first; only a new start ends it."""


class Fault(Enum):
    """What can go wrong; the value is the word in messages and recordings."""

    STOPPED = "stopped"
    COMMAND_STALE = "command stale"
    CLIENT_SILENT = "client silent"
    SERVICE_SILENT = "service silent"
    JOINT_SILENT = "joint silent"
    BUS_OFF = "bus off"
    DRIVE_FAULT = "drive fault"
    FOLLOWING = "following error"
    OVER_CURRENT = "over-current"
    WARM = "winding warm"
    HOT = "winding hot"
    LOW_VOLTAGE = "voltage low"
    CRITICAL_VOLTAGE = "voltage critical"
    TILT = "tilt"
    FALLEN = "fallen"
    LOST_FOOT = "foot without ground"
    OVERRUN = "loop overrun"
    CLOCK_JUMP = "clock jump"
    DISK_FULL = "disk full"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """How one fault is met."""

    stop: Stop
    after: float
    """The cause must last this long before the fault is declared [s]."""
    within: float
    """Longest time from the cause to the first changed target, `after` included [s]."""
    recovery: Recovery
    cause: str
    """When it is declared, as a clause with its limit."""
    cure: str
    """What to do, one sentence."""


RULES: Mapping[Fault, Rule] = MappingProxyType(
    {
        Fault.STOPPED: Rule(
            stop=Stop.SIT, after=0.0, within=0.05, recovery=Recovery.ACKNOWLEDGE,
            cause="somebody asked for a stop (its category is chosen there)",
            cure="Acknowledge when the robot may move again.",
        ),
        Fault.COMMAND_STALE: Rule(
            stop=Stop.STAND, after=0.0, within=0.05, recovery=Recovery.ITSELF,
            cause="a motion command outlived its expiry",
            cure="Send motion commands again and again; the robot walks only while they come.",
        ),
        Fault.CLIENT_SILENT: Rule(
            stop=Stop.SIT, after=30.0, within=30.1, recovery=Recovery.ITSELF,
            cause="the driver has not been heard for 30 s while the robot stands",
            cure="Sign in again and stand up.",
        ),
        Fault.SERVICE_SILENT: Rule(
            stop=Stop.STAND, after=0.25, within=0.35, recovery=Recovery.ITSELF,
            cause="the service process has not been heard for 0.25 s",
            cure="It is started again by itself; look into its log if this comes back.",
        ),
        Fault.JOINT_SILENT: Rule(
            stop=Stop.SIT, after=0.06, within=0.12, recovery=Recovery.SERVICE,
            cause="a joint has not answered for 60 ms",
            cure="Power down, look at that joint's cable and node.",
        ),
        Fault.BUS_OFF: Rule(
            stop=Stop.SIT, after=0.02, within=0.08, recovery=Recovery.SERVICE,
            cause="no joint of a bus answers for 20 ms",
            cure="Power down, look at that bus's cable, termination and adapter.",
        ),
        Fault.DRIVE_FAULT: Rule(
            stop=Stop.SIT, after=0.0, within=0.05, recovery=Recovery.ACKNOWLEDGE,
            cause="a drive reports an error",
            cure="Read the drive's error code, remove its cause, acknowledge.",
        ),
        Fault.FOLLOWING: Rule(
            stop=Stop.SIT, after=0.25, within=0.30, recovery=Recovery.ACKNOWLEDGE,
            cause="a joint is 8° from its target for 0.25 s",
            cure="Free the leg, look for what blocks it.",
        ),
        Fault.OVER_CURRENT: Rule(
            stop=Stop.SIT, after=0.5, within=0.55, recovery=Recovery.ACKNOWLEDGE,
            cause="a winding carries more than 90 % of its stall current for 0.5 s",
            cure="Free the leg, look for what blocks it.",
        ),
        Fault.WARM: Rule(
            stop=Stop.TELL, after=0.5, within=0.6, recovery=Recovery.ITSELF,
            cause="a winding is within 15 K of its limit",
            cure="Let the robot rest, or carry less.",
        ),
        Fault.HOT: Rule(
            stop=Stop.SIT, after=0.5, within=0.6, recovery=Recovery.ACKNOWLEDGE,
            cause="a winding is within 5 K of its limit",
            cure="Let it cool, then acknowledge.",
        ),
        Fault.LOW_VOLTAGE: Rule(
            stop=Stop.STAND, after=1.0, within=1.1, recovery=Recovery.ACKNOWLEDGE,
            cause="the supply is within 3 % of its lowest voltage for 1 s",
            cure="Walk home is over: sit down and change the battery.",
        ),
        Fault.CRITICAL_VOLTAGE: Rule(
            stop=Stop.SIT, after=0.1, within=0.15, recovery=Recovery.SERVICE,
            cause="the supply is at its lowest voltage for 0.1 s",
            cure="Change the battery.",
        ),
        Fault.TILT: Rule(
            stop=Stop.STAND, after=0.1, within=0.15, recovery=Recovery.ITSELF,
            cause="the body leans more than 25° for 0.1 s",
            cure="Lead the robot to flatter ground.",
        ),
        Fault.FALLEN: Rule(
            stop=Stop.AT_ONCE, after=0.1, within=0.15, recovery=Recovery.ACKNOWLEDGE,
            cause="the body leans more than 45° for 0.1 s",
            cure="Set the robot on its feet with power off, look it over, acknowledge.",
        ),
        Fault.LOST_FOOT: Rule(
            stop=Stop.STAND, after=0.0, within=0.05, recovery=Recovery.ITSELF,
            cause="a foot finds no ground within reach, three times",
            cure="Lead the robot back, or around.",
        ),
        Fault.OVERRUN: Rule(
            stop=Stop.STAND, after=0.0, within=0.10, recovery=Recovery.ITSELF,
            cause="three cycles in a row, or one by 50 ms, came late",
            cure="Look at what else runs on the robot's computer.",
        ),
        Fault.CLOCK_JUMP: Rule(
            stop=Stop.TELL, after=0.0, within=0.05, recovery=Recovery.ITSELF,
            cause="the wall clock jumped by more than 0.5 s against the steady one",
            cure="Nothing: motion runs by the steady clock; recordings note the jump.",
        ),
        Fault.DISK_FULL: Rule(
            stop=Stop.STAND, after=0.0, within=2.0, recovery=Recovery.ITSELF,
            cause="the recorder has no room left",
            cure="Free space: `legwright logs` lists what may go.",
        ),
    }
)  # fmt: skip
"""Fault -> its rule. What has no rule is no fault."""
