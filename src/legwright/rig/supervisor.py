"""The supervisor: what the robot may do, and what happens when something is wrong.

::

                power                stand, walk, leg            walk
      LIMP ───────────────> HOLDING ───────────────> STANDING <────────> WALKING
       ^  <───────────────   ^                        │  ^   <────────>  SINGLE_LEG
       │       release       │ seated                 │  │  lift, place, probe
       │                     └──── SITTING_DOWN <─────┴──┘
       │ acknowledged                  │           sit, release, category 1
       └──────────── FAULT <───────────┘ seated after a fault or a stop
                       ^
                       └── category 0, from every state

It is pure: `supervise` takes what is known in this cycle and gives the next state and a verdict.
A stop always wins: requests are read in the order stop, all others; and faults come after both.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from math import inf, isinf

from legwright.locomotion.command import SINGLE, Command, Kind
from legwright.locomotion.controller import Stage
from legwright.rig.faults import RULES, Fault, Recovery, Stop
from legwright.rig.request import Answer, Request, Word


class Mode(Enum):
    """What the robot is doing, as its operators see it."""

    LIMP = "limp"
    HOLDING = "holding"
    STANDING = "standing"
    WALKING = "walking"
    SINGLE_LEG = "single-leg"
    SITTING_DOWN = "sitting down"
    FAULT = "fault"


ON_FEET = (Mode.STANDING, Mode.WALKING, Mode.SINGLE_LEG)
"""Modes from which a fall is possible."""
STAND, SIT = Command(kind=Kind.STAND), Command(kind=Kind.SIT)
RENEWED = (Kind.WALK, Kind.FOLLOW, *SINGLE)
"""Commands that last only while they are renewed."""
RESTING = (Stage.ASLEEP, Stage.DOWN)
"""Stages in which the body lies on the ground, or nothing has moved yet."""
BRIEF = (Fault.COMMAND_STALE, Fault.OVERRUN, Fault.CLOCK_JUMP)
"""Faults of one moment: they end as soon as they have been met."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """What is known in one cycle."""

    now: float
    """Steady time [s]."""
    present: Mapping[Fault, str] = field(default_factory=dict)
    """Causes that are there now, each with its measured figure in words."""
    requests: Sequence[Request] = ()
    stage: Stage = Stage.ASLEEP
    """What the controller is about."""
    settled: bool = True
    """Whether all feet stand and nothing is under way."""
    unfit: str = ""
    """Why power must not come on: the start-up checks' sentence, or empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """The supervisor's state."""

    mode: Mode = Mode.LIMP
    since: Mapping[Fault, float] = field(default_factory=dict)
    """When each present cause was first seen [s]."""
    active: Mapping[Fault, Stop] = field(default_factory=dict)
    """Declared faults and the stop that each asks for."""
    command: Command = STAND
    expires: float = inf
    release: bool = False
    """Power goes when the robot sits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Something that operators and recordings are told."""

    word: str
    """A fault's word, or ``mode``, ``refused``, ``cleared``."""
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What is to be done in this cycle."""

    power: bool
    command: Command | None
    """For the controller; None where joints hold or are limp."""
    answers: tuple[Answer, ...] = ()
    notices: tuple[Notice, ...] = ()


def supervise(watch: Watch, signs: Signs) -> tuple[Watch, Verdict]:
    """One cycle of judgement.

    Args:
        watch: State after the last cycle.
        signs: What is known now.

    Returns:
        The next state, and what to do.
    """
    notices: list[Notice] = []
    before = watch.mode
    watch = _declare(watch, signs, notices)
    watch, answers = _hear(watch, signs, notices)
    watch = _expire(watch, signs, notices)
    watch = _settle(watch, signs)
    if watch.mode is not before:
        notices.append(Notice(word="mode", text=f"The robot is {watch.mode.value}."))
    watch = _forget(watch)
    power = watch.mode not in (Mode.LIMP, Mode.FAULT)
    command = watch.command if power and watch.mode is not Mode.HOLDING else None
    return watch, Verdict(
        power=power, command=command, answers=tuple(answers), notices=tuple(notices)
    )


def _declare(watch: Watch, signs: Signs, notices: list[Notice]) -> Watch:
    """Declare what has lasted long enough; clear what ends by itself."""
    since = {fault: watch.since.get(fault, signs.now) for fault in signs.present}
    active = dict(watch.active)
    for fault, began in since.items():
        rule = RULES[fault]
        if fault not in active and signs.now - began >= rule.after - 1e-9:
            active[fault] = rule.stop
            text = f"{signs.present[fault]}. {rule.cure}"
            notices.append(Notice(word=fault.value, text=text))
    for fault in list(active):
        if fault in since or fault in BRIEF or RULES[fault].recovery is not Recovery.ITSELF:
            continue
        if fault is Fault.CLIENT_SILENT and watch.mode is Mode.SITTING_DOWN:
            continue  # once begun, sitting down is finished
        del active[fault]
        notices.append(Notice(word="cleared", text=f"{fault.value} has ended."))
    return replace(watch, since=since, active=active)


def _hear(watch: Watch, signs: Signs, notices: list[Notice]) -> tuple[Watch, list[Answer]]:
    """Take the requests, stops first."""
    answers: list[Answer] = []
    ordered = sorted(signs.requests, key=lambda request: request.word is not Word.STOP)
    for request in ordered:
        watch, why = _take(watch, signs, request, notices)
        answers.append(Answer(number=request.number, ok=not why, text=why))
        if why:
            text = f"{request.sender or 'Somebody'} asked for {request.word.value}: {why}"
            notices.append(Notice(word="refused", text=text))
    return watch, answers


def _take(watch: Watch, signs: Signs, request: Request, notices: list[Notice]) -> tuple[Watch, str]:
    """One request: the state after it, and why not, or an empty text."""
    if request.word is Word.STOP:
        return _stop(watch, request, notices), ""
    if request.word is Word.ALIVE:
        return _renew(watch, request), ""
    if request.word is Word.ACKNOWLEDGE:
        return _acknowledge(watch, signs, notices)
    if request.word is Word.POWER:
        return _power(watch, signs)
    if request.word is Word.RELEASE:
        if watch.mode in ON_FEET:
            return replace(watch, command=SIT, expires=inf, release=True), ""
        if watch.mode is Mode.SITTING_DOWN:
            return replace(watch, release=True), ""
        if watch.mode is Mode.HOLDING:
            return replace(watch, mode=Mode.LIMP), ""
        return watch, ""
    return _move(watch, signs, request)


def _renew(watch: Watch, request: Request) -> Watch:
    """Let a motion that has not ended yet go on; what has ended is not woken."""
    if isinf(request.expires) or isinf(watch.expires):
        return watch
    return replace(watch, expires=max(watch.expires, request.expires))


def _stop(watch: Watch, request: Request, notices: list[Notice]) -> Watch:
    stop = request.stop
    if watch.mode in (Mode.LIMP, Mode.HOLDING) and stop is not Stop.STAND:
        stop = Stop.AT_ONCE  # it lies already
    old = watch.active.get(Fault.STOPPED, Stop.TELL)
    if stop.value < old.value:
        text = f"{request.sender or 'Somebody'} asked for a stop of category {request.stop.value}."
        notices.append(Notice(word=Fault.STOPPED.value, text=text))
        return replace(watch, active={**watch.active, Fault.STOPPED: stop})
    return watch


def _acknowledge(watch: Watch, signs: Signs, notices: list[Notice]) -> tuple[Watch, str]:
    kept: dict[Fault, Stop] = {}
    for fault, stop in watch.active.items():
        if RULES[fault].recovery is Recovery.ACKNOWLEDGE and fault not in signs.present:
            notices.append(Notice(word="cleared", text=f"{fault.value} was acknowledged."))
        else:
            kept[fault] = stop
    watch = replace(watch, active=kept)
    blocking = [fault for fault in kept if kept[fault].value <= Stop.SIT.value]
    if blocking:
        fault = blocking[0]
        if RULES[fault].recovery is Recovery.SERVICE:
            return watch, f"{fault.value} needs the robot put right. {RULES[fault].cure}"
        return watch, f"{fault.value} is still there. {RULES[fault].cure}"
    if watch.mode is Mode.FAULT:
        watch = replace(watch, mode=Mode.LIMP, release=False)
    return watch, ""


def _power(watch: Watch, signs: Signs) -> tuple[Watch, str]:
    if watch.mode is Mode.FAULT:
        return watch, f"the robot is in fault ({_names(watch.active)}). Acknowledge first."
    if watch.mode is not Mode.LIMP:
        return watch, ""
    if signs.unfit:
        return watch, signs.unfit
    blocking = {f: s for f, s in watch.active.items() if s.value <= Stop.SIT.value}
    if blocking:
        return watch, f"{_names(blocking)}. {RULES[next(iter(blocking))].cure}"
    return replace(watch, mode=Mode.HOLDING, command=STAND, expires=inf, release=False), ""


def _move(watch: Watch, signs: Signs, request: Request) -> tuple[Watch, str]:
    command = request.command
    if command is None:
        return watch, "a move needs a command."
    if watch.mode is Mode.LIMP:
        return watch, "the drives have no power. Ask for power first."
    if watch.mode is Mode.FAULT:
        return watch, f"the robot is in fault ({_names(watch.active)}). Acknowledge first."
    if request.expires < signs.now:
        return watch, "the command came after its expiry. Look at the connection's delay."
    stops = {f: s for f, s in watch.active.items() if s.value <= Stop.STAND.value}
    if command.kind is not Kind.SIT and stops:
        return watch, f"{_names(stops)}. {RULES[next(iter(stops))].cure}"
    if watch.release:
        return watch, "the robot is sitting down to switch off. Wait until it is limp."
    if watch.mode is Mode.HOLDING and command.kind is Kind.SIT:
        return watch, ""
    stands = watch.mode is Mode.STANDING and signs.stage is Stage.UP
    if command.kind is Kind.FOLLOW and not stands:
        return watch, "legs are led only while the robot stands still. Ask it to stand first."
    if command == watch.command:
        command = watch.command  # renewed, not given anew: the controller goes by identity
    mode = _mode_of(command) if watch.mode is Mode.HOLDING else watch.mode
    return replace(watch, mode=mode, command=command, expires=request.expires), ""


def _expire(watch: Watch, signs: Signs, notices: list[Notice]) -> Watch:
    """A motion command that was not renewed in time ends."""
    if signs.now <= watch.expires or watch.command.kind not in RENEWED:
        return watch
    if watch.mode not in ON_FEET:
        return watch
    rule = RULES[Fault.COMMAND_STALE]
    text = f"The {watch.command.kind.value} command was not renewed in time. {rule.cure}"
    notices.append(Notice(word=Fault.COMMAND_STALE.value, text=text))
    return replace(watch, active={**watch.active, Fault.COMMAND_STALE: rule.stop})


def _settle(watch: Watch, signs: Signs) -> Watch:
    """Let the strongest stop have its way, then say what the robot is doing."""
    worst = min((stop.value for stop in watch.active.values()), default=Stop.TELL.value)
    if worst == Stop.AT_ONCE.value:
        return replace(watch, mode=Mode.FAULT, command=STAND, expires=inf)
    if watch.mode in (Mode.LIMP, Mode.FAULT):
        return watch
    if watch.mode is Mode.HOLDING:
        return replace(watch, mode=Mode.FAULT) if worst == Stop.SIT.value else watch
    if worst == Stop.SIT.value:
        watch = replace(watch, command=SIT, expires=inf, release=True)
    elif worst == Stop.STAND.value and watch.command.kind is not Kind.SIT:
        watch = replace(watch, command=STAND, expires=inf)
    if watch.command.kind is Kind.SIT:
        if signs.stage not in RESTING:
            return replace(watch, mode=Mode.SITTING_DOWN)
        if worst == Stop.SIT.value:
            return replace(watch, mode=Mode.FAULT, release=False, command=STAND)
        after = Mode.LIMP if watch.release else Mode.HOLDING
        return replace(watch, mode=after, release=False, command=STAND)
    if watch.command.kind is Kind.STAND and not signs.settled and watch.mode in ON_FEET:
        return watch  # still coming to a stand
    return replace(watch, mode=_mode_of(watch.command))


def _forget(watch: Watch) -> Watch:
    """Faults of one moment have been met."""
    active = {fault: stop for fault, stop in watch.active.items() if fault not in BRIEF}
    return watch if len(active) == len(watch.active) else replace(watch, active=active)


def _mode_of(command: Command) -> Mode:
    if command.kind is Kind.WALK:
        return Mode.WALKING
    if command.kind in (*SINGLE, Kind.FOLLOW):
        return Mode.SINGLE_LEG
    return Mode.SITTING_DOWN if command.kind is Kind.SIT else Mode.STANDING


def _names(faults: Mapping[Fault, Stop]) -> str:
    return ", ".join(fault.value for fault in faults) or "none"
