"""Do shells of one robot stay clear of each other?"""

from __future__ import annotations

from collections.abc import Iterator

from legwright.fabrication.shell_pairs import PairGap, Worn, moving_pairs, pair_gap, pair_range
from legwright.study.bench import Bench
from legwright.study.checks.shell_clearance import AREA, gait_poses, needed, pose_words, where
from legwright.study.cures import at_least
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.shells import StudiedShell, shells_of

SOURCE = "distance of the two surfaces, triangle by triangle"


def worn(bench: Bench) -> dict[str, tuple[Worn, StudiedShell]]:
    """All shells that can be read, by name."""
    return {
        one.shell.name: (
            Worn(one.shell.name, one.shell.link, one.shell.mesh, one.part.tree), one,
        )
        for one in shells_of(bench.robot).studied
    }  # fmt: skip


def has_pairs(bench: Bench) -> bool:
    """Whether two shells move against each other, told without opening a file."""
    robot = bench.robot
    links = {entry.link or robot.body for entry in robot.sheet.shell.values()}
    return len(links) > 1


def pair_gait_finding(bench: Bench, gait: str) -> Iterator[Finding]:
    """The pair of shells that comes nearest to what it must keep, through the walks of a gait."""
    shells = worn(bench)
    pairs = list(moving_pairs(bench.robot, [one for one, _ in shells.values()]))
    if not pairs:
        return
    poses = gait_poses(bench, gait)
    worst: tuple[float, float, str, PairGap] | None = None
    for one, other in pairs:
        found = pair_gap(bench.robot, one, other, poses)
        if found is None:
            continue
        need, source = max(needed(bench, shells[name][1]) for name in found.shells)
        if worst is None or found.distance - need < worst[0]:
            worst = found.distance - need, need, source, found
    name = f"shells clear of each other, {gait}"
    if worst is None:
        yield Finding(
            area=AREA, name=name, verdict=Verdict.PASS, unit="mm", sense=Sense.AT_LEAST,
            why=f"None of {len(pairs)} pairs comes within 60 mm.", source=SOURCE,
        )  # fmt: skip
        return
    spare, need, source, near = worst
    fails = near.met or spare < 0.0
    first, second = near.shells
    moved = at_least(max(-spare, 0.0) * 1e3, "mm")
    yield Finding(
        area=AREA,
        name=name,
        verdict=Verdict.FAIL if fails else Verdict.WARN if spare < 0.5e-3 else Verdict.PASS,
        value=near.distance * 1e3,
        limit=need * 1e3,
        unit="mm",
        sense=Sense.AT_LEAST,
        parts=near.shells,
        why=f"{'They meet' if near.met else 'Nearest'}: {first} and {second}, "
        f"{where(bench, gait, near.sample)}, at {pose_words(near)}; of {len(pairs)} pairs.",
        source=f"{SOURCE}; limit: {source}",
        cure=(
            f"Cut {first} or {second} back where they face each other"
            + (f" by {moved}, or step narrower." if spare < 0.0 else ", or step narrower.")
        )
        if fails
        else "",
    )


def pair_still_finding(bench: Bench) -> Iterator[Finding]:
    """Information, not a demand: whether shells can be driven into each other."""
    shells = worn(bench)
    pairs = list(moving_pairs(bench.robot, [one for one, _ in shells.values()]))
    if not pairs:
        return
    found = [pair_range(bench.robot, one, other) for one, other in pairs]
    often = max(found, key=lambda each: each.met)
    known = [each.nearest for each in found if each.nearest is not None]
    near = often.nearest if often.met > 0.0 else min(known, key=_distance, default=None)
    if near is None:
        why = "None comes within 60 mm in a thousand random poses of each pair."
    elif near.met:
        why = (
            f"{near.shells[0]} and {near.shells[1]} can be driven into each other by hand, at "
            f"{100 * often.met:.1f} % of random poses, like {pose_words(near)}."
        )
    else:
        why = f"Nearest found: {near.shells[0]} and {near.shells[1]} at {pose_words(near)}."
    yield Finding(
        area=AREA,
        name="shells clear of each other, whole joint ranges",
        verdict=Verdict.PASS,
        value=None if near is None else near.distance * 1e3,
        unit="mm",
        sense=Sense.AT_LEAST,
        parts=() if near is None else near.shells,
        why=why,
        source=f"{SOURCE}; a thousand random poses a pair, no proof; for information",
    )


def _distance(gap: PairGap) -> float:
    return gap.distance
