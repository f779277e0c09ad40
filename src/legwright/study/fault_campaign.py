"""Every fault of the table in every state where it can occur, on the physics world.

`python -m legwright.study.fault_campaign ROBOT --runs N --out docs/faults.md` writes the table.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.gait import gait
from legwright.rig.ailing import Ailing
from legwright.rig.faults import RULES, Fault, Recovery, Stop
from legwright.rig.request import Request, Word
from legwright.rig.runtime import Report, Runtime
from legwright.rig.simulated import Simulated
from legwright.rig.supervisor import Mode
from legwright.robot.robot import Robot

SETTINGS = (Mode.LIMP, Mode.HOLDING, Mode.STANDING, Mode.WALKING, Mode.SINGLE_LEG,
            Mode.SITTING_DOWN)  # fmt: skip
ON_FEET = (Mode.STANDING, Mode.WALKING, Mode.SINGLE_LEG, Mode.SITTING_DOWN)
FALLEN = np.radians(30.0)
"""A body tilted farther has fallen [rad]."""
HARD = 0.35
"""A body that meets the ground faster than this has fallen [m/s]."""
SEATED = 30.0
"""A category 1 stop must have ended by then [s]."""
STOOD = 8.0
"""A category 2 stop must have come to a stand by then, levelling included [s]."""
SAME = {Fault.FOLLOWING: (Fault.OVER_CURRENT,)}
"""A jammed joint may show as over-current before it is far enough from its target."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One fault in one state."""

    fault: Fault
    state: Mode
    seed: int
    stop: Stop
    reaction: float
    """From the cause to the declared fault and its changed orders [s]; nan where none came."""
    tilt: float
    """Largest of the body, from the cause to the end [rad]."""
    impact: float
    """Fastest fall of the body [m/s]."""
    ended: Mode
    told: bool
    """Whether the fault's word was among the notices."""
    recovered: bool | None
    """Whether it stood again as the rule says; None where it is not meant to."""
    wrong: tuple[str, ...] = ()
    """What is against the table; empty where nothing is."""


def cases() -> list[tuple[Fault, Mode]]:
    """Every fault with every state in which it can occur."""
    found = []
    for fault in Fault:
        for state in SETTINGS:
            if fault is Fault.FOLLOWING and state is not Mode.WALKING:
                continue  # a jam shows where joints are to move
            if fault is Fault.COMMAND_STALE and state not in (Mode.WALKING, Mode.SINGLE_LEG):
                continue  # only moves expire
            if fault is Fault.LOST_FOOT and state is not Mode.WALKING:
                continue  # feet look for ground only where they land
            if fault is Fault.CLIENT_SILENT and state is Mode.LIMP:
                continue  # a limp robot needs no driver
            found.append((fault, state))
    return found


class Scene:
    """One robot whose faults are watched; made once, used for many runs."""

    def __init__(self, robot: Robot, *, rate: float = 100.0) -> None:
        """Build controller and joints' buses.

        Args:
            robot: The robot.
            rate: Cycles per second [Hz].
        """
        self.robot, self.rate = robot, rate
        self.controller = Controller(robot, rate=rate, feel=True)
        legs = list(robot.legs.values())
        side = {name: int(k >= len(legs) // 2) for k, leg in enumerate(legs)
                for name in leg.joint_names}  # fmt: skip
        self.buses = tuple(side[name] for name in robot.joint_names)

    def run(self, fault: Fault, state: Mode, seed: int) -> Run:
        """Bring the robot into a state, make it ill, see what comes of it.

        Args:
            fault: What goes wrong.
            state: When.
            seed: Of noise, moment, joint and gait.
        """
        rng = np.random.default_rng(seed)
        simulated = Simulated(self.robot, seed=seed, rate=self.rate)
        self.controller.restart()
        ailing = Ailing(simulated, buses=self.buses)
        play = _Play(Runtime(ailing, controller=self.controller), ailing)
        command = _order(self.robot, state, rng)
        play.into(state, command, rng)
        joint = str(rng.choice(self.robot.joint_names))
        stop = RULES[fault].stop
        requests: tuple[Request, ...] = ()
        if fault is Fault.STOPPED:
            stop = Stop(int(rng.integers(0, 3)))
            requests = (Request(word=Word.STOP, sender="campaign", stop=stop),)
        elif fault is Fault.COMMAND_STALE:
            play.expire_now(command)
        elif fault is Fault.LOST_FOOT:
            play.no_ground()
        else:
            ailing.inflict(fault, joint)
        return play.watch(fault, state, seed, stop, requests)


def _order(robot: Robot, state: Mode, rng: np.random.Generator) -> Command:
    legs = list(robot.legs)
    if state is Mode.SINGLE_LEG:
        return Command(kind=Kind.LIFT, leg=str(rng.choice(legs)))
    name = str(rng.choice(["tripod", "ripple", "wave"]))
    wanted = robot.sheet.requirements
    forward = (wanted.speed_forward or 0.05) * float(rng.uniform(0.3, 0.9))
    turn = (wanted.turn_rate or 0.1) * float(rng.uniform(-0.6, 0.6))
    return Command(kind=Kind.WALK, velocity=(forward, 0.0), turn=turn, gait=gait(name, len(legs)))


class _Play:
    """Cycles of one run, and what was seen."""

    def __init__(self, runtime: Runtime, ailing: Ailing) -> None:
        self.runtime, self.ailing = runtime, ailing
        self.rate, self.cycles = ailing.rate, 0
        self.tilt = self.impact = 0.0
        self.words: list[str] = []

    @property
    def now(self) -> float:
        return self.cycles / self.rate

    def cycle(self, *requests: Request) -> Report:
        outside = self.ailing.illness.outside
        report = self.runtime.cycle(self.now, requests, outside)
        self.ailing.advance()
        self.cycles += 1
        truth = self.ailing.rig.world.truth()
        x, y = truth.body[4], truth.body[5]
        self.tilt = max(self.tilt, float(2.0 * np.arcsin(min(1.0, np.hypot(x, y)))))
        self.impact = max(self.impact, float(-truth.twist[2]))
        self.words += [notice.word for notice in report.notices]
        return report

    def run(self, seconds: float) -> Report:
        report = self.cycle()
        for _ in range(round(seconds * self.rate)):
            report = self.cycle()
        return report

    def ask(self, word: Word, **more: Any) -> Report:
        return self.cycle(Request(word=word, sender="campaign", **more))

    def into(self, state: Mode, command: Command, rng: np.random.Generator) -> None:
        """Bring the robot into a state."""
        self.run(0.1)
        if state is Mode.LIMP:
            return
        self.ask(Word.POWER)
        self.run(0.2)
        if state is Mode.HOLDING:
            return
        self.ask(Word.MOVE, command=Command(kind=Kind.STAND))
        self.run(2.0)
        if state in (Mode.WALKING, Mode.SINGLE_LEG):
            self.ask(Word.MOVE, command=command)
            self.run(float(rng.uniform(1.0, 4.0)))
        elif state is Mode.SITTING_DOWN:
            self.ask(Word.MOVE, command=Command(kind=Kind.SIT))
            self.run(float(rng.uniform(0.3, 1.5)))
        self.tilt = self.impact = 0.0
        self.words.clear()

    def expire_now(self, command: Command) -> None:
        """The last command's time is over."""
        self.ask(Word.MOVE, command=command, expires=self.now + 0.5 / self.rate)

    def no_ground(self) -> None:
        """The controller tells of a foot that finds no ground."""
        from legwright.locomotion.signals import Event

        leg = next(iter(self.ailing.robot.legs))
        self.runtime.expect_event(Event(what="no ground", text=f"{leg} finds no ground.", leg=leg))

    def watch(
        self, fault: Fault, state: Mode, seed: int, stop: Stop, requests: tuple[Request, ...]
    ) -> Run:
        rule, began, reaction = RULES[fault], self.now, float("nan")
        signs = [fault.value, *(other.value for other in SAME.get(fault, ()))]
        onset = began
        report = self.cycle(*requests)
        limit = rule.after + (SEATED if stop.value <= Stop.SIT.value else STOOD + 1.0)
        while self.now - began < limit:
            for seen in (fault, *SAME.get(fault, ())):  # causes may come and go
                onset = self.runtime.watch.since.get(seen, onset)
            if np.isnan(reaction) and any(word in self.words for word in signs):
                reaction = self.now - onset
            done = not np.isnan(reaction) and self.now - began > reaction + 1.0
            if done and stop.value <= Stop.SIT.value and report.mode in (Mode.FAULT, Mode.LIMP):
                break
            if done and stop.value > Stop.SIT.value and self.now - began > reaction + STOOD:
                break
            report = self.cycle()
        ended, tilt, impact = report.mode, self.tilt, self.impact
        told = any(word in self.words for word in signs)
        recovered = self._recover(fault)
        wrong = _wrong(fault, state, stop, reaction, tilt, impact, ended, told, recovered)
        return Run(
            fault=fault, state=state, seed=seed, stop=stop, reaction=reaction, tilt=tilt,
            impact=impact, ended=ended, told=told, recovered=recovered, wrong=wrong,
        )  # fmt: skip

    def _recover(self, fault: Fault) -> bool | None:
        """Take the cause away, acknowledge, power up, stand."""
        rule = RULES[fault]
        self.ailing.heal()
        if fault is Fault.FALLEN:  # as its cure says: somebody sets it on its feet
            self.ailing.rig.world.reset()
            self.ailing.power(False)
        self.run(0.2)
        answers = self.ask(Word.ACKNOWLEDGE).answers
        if rule.recovery is Recovery.SERVICE:
            return None if not all(answer.ok for answer in answers) else False
        self.run(0.1)
        self.ask(Word.POWER)
        self.run(0.2)
        self.ask(Word.MOVE, command=Command(kind=Kind.STAND))
        report = self.run(8.0)
        # feet that were caught in mid-walk are set right one at a time
        return report.mode is Mode.STANDING and int((~report.contact).sum()) <= 1


def _wrong(
    fault: Fault, state: Mode, stop: Stop, reaction: float, tilt: float, impact: float,
    ended: Mode, told: bool, recovered: bool | None,
) -> tuple[str, ...]:  # fmt: skip
    rule, found = RULES[fault], list[str]()
    if not told:
        found.append("was not told")
    elif not reaction <= max(RULES[f].within for f in (fault, *SAME.get(fault, ()))) + 1e-9:
        found.append(f"reaction took {reaction:.3f} s of {rule.within:.3f} s")
    tipped = fault in (Fault.TILT, Fault.FALLEN)  # the ground leans, not the robot on it
    if (
        state in ON_FEET
        and stop is not Stop.AT_ONCE
        and not tipped
        and (tilt > FALLEN or impact > HARD)
    ):
        found.append(f"fell: leant {np.degrees(tilt):.0f}°, came down at {impact:.2f} m/s")
    off = (Mode.FAULT, Mode.LIMP) if state is Mode.LIMP else (Mode.FAULT,)
    if stop.value <= Stop.SIT.value and ended not in off:
        found.append(f"ended {ended.value}, not in fault")
    moving = (Mode.WALKING, Mode.SINGLE_LEG)
    if stop is Stop.STAND and state in moving and ended in moving:
        found.append(f"ended {ended.value}, not standing")
    if recovered is False:
        found.append("did not recover as stated")
    return tuple(found)


def campaign(
    robot: Robot, *, runs: int, seed: int = 0, only: Iterable[tuple[Fault, Mode]] | None = None
) -> list[Run]:
    """Run every case so many times.

    Args:
        robot: The robot.
        runs: Of each case.
        seed: The first one.
        only: Cases; all when None.
    """
    scene, found = Scene(robot), []
    for fault, state in only if only is not None else cases():
        found += [scene.run(fault, state, seed + k) for k in range(runs)]
    return found


def table(runs: Sequence[Run], robot: str) -> str:
    """The fault table with what was measured, as Markdown."""
    by_fault: dict[Fault, list[Run]] = defaultdict(list)
    for run in runs:
        by_fault[run.fault].append(run)
    bad = [run for run in runs if run.wrong]
    lines = [
        "# Faults and reactions",
        "",
        "<!-- made by: python -m legwright.study.fault_campaign -->",
        "",
        f"{len(runs)} runs on {robot} in the physics world, {len(bad)} against the table. "
        "Categories after IEC 60204-1: 0 power off at once, 1 sit down and then power off, 2 stand "
        "still with power on; – is told only. Reaction: from the cause to the changed orders, "
        "longest of all runs; a jammed joint may be met as over-current first, and has that "
        "fault's time then. A fallen robot is set on its feet before it is asked to stand again.",
        "",
        "| fault | declared when | category | within | measured | states | runs | fell | "
        "recovers | what to do |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for fault, rule in RULES.items():
        some = by_fault.get(fault, [])
        times = [run.reaction for run in some if np.isfinite(run.reaction)]
        states = Counter(run.state.value for run in some)
        fell = sum(any(text.startswith("fell") for text in run.wrong) for run in some)
        category = {Stop.TELL: "–"}.get(rule.stop, str(rule.stop.value))
        if fault is Fault.STOPPED:
            category = "0, 1, 2 as asked"
        lines.append(
            f"| {fault.value} | {rule.cause} | {category} | {rule.within:.2f} s | "
            f"{max(times, default=float('nan')):.2f} s | {', '.join(states)} | {len(some)} | "
            f"{fell} | {_ends(rule.recovery)} | {rule.cure} |"
        )
    if bad:
        lines += ["", "Against the table:", ""]
        lines += [
            f"- {run.fault.value} while {run.state.value}, seed {run.seed}: {'; '.join(run.wrong)}"
            for run in bad
        ]
    return "\n".join(lines) + "\n"


def _ends(recovery: Recovery) -> str:
    return {
        Recovery.ITSELF: "by itself",
        Recovery.ACKNOWLEDGE: "when acknowledged",
        Recovery.SERVICE: "after a new start",
    }[recovery]


def main(words: Sequence[str]) -> int:
    """Run the campaign and write its table."""
    import argparse
    from pathlib import Path

    from legwright.mechanics.opening import load

    parser = argparse.ArgumentParser(prog="python -m legwright.study.fault_campaign")
    parser.add_argument("robot")
    parser.add_argument("--runs", type=int, default=6)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args(words)
    robot = load(asked.robot)
    runs = campaign(robot, runs=asked.runs, seed=asked.seed)
    text = table(runs, robot.name)
    if asked.out:
        asked.out.write_text(text, encoding="utf-8")
    else:
        sys.stdout.write(text)
    return int(any(run.wrong for run in runs))


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
