"""Do shells stay clear of everything that moves against them?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.fabrication.shell_pairs import PairGap
from legwright.fabrication.shell_sweep import LinkGap, nearest_gap, own_gap, range_gap
from legwright.study.bench import Bench
from legwright.study.cures import at_least, lacking
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge
from legwright.study.shells import StudiedShell

AREA = "shell"
THINNED = 2
"""Every so many samples of a cycle are measured."""
NEAR = 0.5e-3
"""Less room than this beyond what is asked is a warning [m]."""
SOURCE = "distance of the surface from convex shapes, neighbours included"


def still_findings(bench: Bench, one: StudiedShell) -> Iterator[Finding]:
    """Findings on one shell that no walk changes: over the joint ranges, and on its own link.

    Args:
        bench: The robot.
        one: The shell.
    """
    yield _ranges(bench, one)
    yield from _own(bench, one)


def gait_poses(bench: Bench, gait: str) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Poses of all level walks of a gait, thinned, (T, J) [rad]."""
    return np.concatenate([case.motion.q[::THINNED] for case in bench.of(gait)])


def needed(bench: Bench, one: StudiedShell) -> tuple[float, str]:
    """Distance that must remain [m], and where it is asked."""
    if one.shell.entry.gap is not None:
        return one.shell.entry.gap, f"shell.{one.shell.name}.gap"
    asked = bench.robot.sheet.requirements.link_clearance
    if asked is not None:
        return asked, "requirements.link_clearance"
    return 0.0, "0: the sheet asks for no gap"


def gait_finding(bench: Bench, one: StudiedShell, gait: str) -> Finding:
    """Least distance of one shell from what moves, through all level walks of a gait."""
    need, source = needed(bench, one)
    name = one.shell.name
    found = nearest_gap(
        bench.robot, one.shell.link, one.shell.mesh, one.part.tree, gait_poses(bench, gait)
    )
    if found is None:
        return Finding(
            area=AREA,
            name=f"{name} clearance, {gait}",
            verdict=Verdict.PASS,
            unit="mm",
            sense=Sense.AT_LEAST,
            why="Nothing that moves comes within 60 mm.",
            source=SOURCE,
            parts=(name,),
        )
    return judge(
        AREA,
        f"{name} clearance, {gait}",
        found.distance * 1e3,
        need * 1e3,
        "mm",
        sense=Sense.AT_LEAST,
        near=NEAR * 1e3,
        parts=(name, found.link),
        why=f"Nearest: {found.link} at {place(found)}; {where(bench, gait, found.sample)}.",
        source=f"{SOURCE}; limit: {source}",
        cure=f"Cut {name} back by {lacking(found.distance, need, NEAR)} around "
        f"{found.link}, or step narrower.",
    )


def where(bench: Bench, gait: str, sample: int) -> str:
    """Walk and phase of a pose of `gait_poses`, in words."""
    cases = bench.of(gait)
    each = len(cases[0].motion.q[::THINNED])
    return f"{cases[sample // each].name}, phase {sample % each / each:.2f}"


def place(found: LinkGap) -> str:
    """Point of the shell that is nearest, in words."""
    x, y, z = (f"{value * 1e3:.0f}".replace("-", "−") for value in found.points[0])
    return f"({x}, {y}, {z}) mm"


def _ranges(bench: Bench, one: StudiedShell) -> Finding:
    """Information, not a demand: legs may be driven where no gait goes."""
    name = one.shell.name
    found = range_gap(bench.robot, one.shell.link, one.shell.mesh, one.part.tree)
    near = found.nearest
    if near is None:
        why = "Nothing that moves can come within 60 mm."
    elif found.blocked:
        worst = max(found.blocked, key=lambda link: found.blocked[link])
        why = (
            f"{', '.join(found.blocked)} can be driven into it by hand, {worst} at "
            f"{100 * found.blocked[worst]:.1f} % of random poses; deepest found: "
            f"{pose_words(near)}."
        )
    else:
        why = (
            f"No pose brings a link nearer than {max(found.proven, 0.0) * 1e3:.1f} mm, proven; "
            f"nearest found: {near.link} at {pose_words(near)}."
        )
    return Finding(
        area=AREA,
        name=f"{name} clearance, whole joint ranges",
        verdict=Verdict.PASS,
        value=None if near is None else near.distance * 1e3,
        unit="mm",
        sense=Sense.AT_LEAST,
        why=why,
        source=f"{SOURCE}; joint boxes halved until nothing nearer is left; for information",
        parts=(name,) if near is None else (name, near.link),
    )


def pose_words(found: LinkGap | PairGap) -> str:
    """Joint positions of a pose, in words."""
    return ", ".join(
        f"{joint} {np.degrees(angle):.0f}°".replace("-", "−")
        for joint, angle in found.positions.items()
    )


def _own(bench: Bench, one: StudiedShell) -> Iterator[Finding]:
    """Whether a shell cuts into the shapes that it is fixed to."""
    found = own_gap(bench.robot, one.shell.link, one.shell.mesh, one.part.tree)
    if found is None:
        return
    name, deep = one.shell.name, found.distance < -1e-4
    yield Finding(
        area=AREA,
        name=f"{name} on its link",
        verdict=Verdict.WARN if deep else Verdict.PASS,
        value=found.distance * 1e3,
        unit="mm",
        sense=Sense.AT_LEAST,
        why=f"It cuts into the shape of {found.link} at {place(found)}."
        if deep
        else f"It stays outside the shape of {found.link}.",
        source="distance of the surface from the link's own shapes",
        cure=f"Move or widen it by {at_least(-found.distance * 1e3, 'mm')}, or draw the link finer."
        if deep
        else "",
        parts=(name, found.link),
    )
