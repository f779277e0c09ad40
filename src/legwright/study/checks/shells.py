"""Are the shells sound, printable, and as heavy as the sheet says?"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from legwright.robot.robot import Robot
from legwright.study.bench import Bench
from legwright.study.checks.shell_clearance import gait_finding, gait_poses, still_findings
from legwright.study.checks.shell_pairs import (
    has_pairs,
    pair_gait_finding,
    pair_still_finding,
)
from legwright.study.cures import at_least
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.finding_store import digest, kept
from legwright.study.judge import judge
from legwright.study.shells import StudiedShell, file_bytes, geometry_of, shells_of

AREA = "shell"
THIN_SHARE = 0.01
"""Share of the surface that may lie over thinner walls: edges and corners."""
MASS_OFF = 15.0
"""Percent by which a stated mass may differ from the worked-out one; our own choice."""
LIGHT = 0.01
"""A shell under this share of the robot's mass may stay uncounted; our own choice."""


def check_shells(bench: Bench) -> Iterator[Finding]:
    """Every shell of the sheet: surface, size, walls, printing, windows, mass and clearance.

    Findings are kept between runs by what they follow from: the walks count only for the
    clearance through them, the rest of the sheet not at all.
    """
    if not bench.robot.sheet.shell:
        return
    base = _base(bench.robot)
    yield from _alone(bench, base)
    for gait in bench.asked.gaits:
        walked = (*base, gait.name, gait_poses(bench, gait.name).tobytes())
        yield from kept(walked, partial(_walked, bench, gait.name), folder=None)
    yield from _in_ranges(bench, base)
    if has_pairs(bench):
        yield from _pairs(bench, base)


def ahead(bench: Bench) -> None:
    """Work out, to be kept, what `check_shells` says of shells that no walk touches.

    Args:
        bench: The robot.
    """
    if bench.robot.sheet.shell:
        base = _base(bench.robot)
        tuple(_alone(bench, base))
        tuple(_in_ranges(bench, base))


def _base(robot: Robot) -> tuple[object, ...]:
    """What all findings on shells follow from."""
    sheet = robot.sheet
    tables = (*sheet.shell.values(), *sheet.process.values(), sheet.lights)
    key = digest(
        geometry_of(robot), sheet.requirements.link_clearance, *sheet.shell, *sheet.process,
        *("" if table is None else table.model_dump_json() for table in tables),
        *(file_bytes(robot, entry.mesh) for entry in sheet.shell.values()),
    )  # fmt: skip
    return (key,)


def _alone(bench: Bench, base: tuple[object, ...]) -> Iterator[Finding]:
    robot = bench.robot
    yield from kept((*base, "alone", robot.mass), lambda: tuple(shell_findings(robot)), folder=None)


def _in_ranges(bench: Bench, base: tuple[object, ...]) -> Iterator[Finding]:
    yield from kept((*base, "ranges"), partial(_still, bench), folder=None)


def _pairs(bench: Bench, base: tuple[object, ...]) -> Iterator[Finding]:
    """Shells against each other, kept likewise."""
    for gait in bench.asked.gaits:
        key = (*base, "pairs", gait.name, gait_poses(bench, gait.name).tobytes())
        yield from kept(key, partial(_paired, bench, gait.name), folder=None)
    yield from kept((*base, "pairs"), lambda: tuple(pair_still_finding(bench)), folder=None)


def _paired(bench: Bench, gait: str) -> tuple[Finding, ...]:
    return tuple(pair_gait_finding(bench, gait))


def _walked(bench: Bench, gait: str) -> tuple[Finding, ...]:
    return tuple(gait_finding(bench, one, gait) for one in shells_of(bench.robot).studied)


def _still(bench: Bench) -> tuple[Finding, ...]:
    studied = shells_of(bench.robot).studied
    return tuple(finding for one in studied for finding in still_findings(bench, one))


def shell_findings(robot: Robot) -> Iterator[Finding]:
    """Findings on the shells alone, without motion.

    Args:
        robot: The robot.
    """
    shells = shells_of(robot)
    for name, error in shells.unusable.items():
        where = f"{error.file.name}, " if error.file is not None and not error.place else ""
        yield Finding(
            area=AREA,
            name=f"{name} can be read",
            verdict=Verdict.FAIL,
            why=f"{where}{error.place} {error.problem}.".strip(),
            source=f"shell.{name}",
            cure=error.cure,
            parts=(name,),
        )
    for one in shells.studied:
        yield from _surface(one)
        yield from _size(one)
        yield _wall(one)
        yield from _printing(one)
        yield from _windows(robot, one)
        yield _mass(robot, one)


def _surface(one: StudiedShell) -> Iterator[Finding]:
    sound, name = one.part.soundness, one.shell.name
    bad = sound.open_edges + sound.crowded_edges
    why = f"{sound.triangles} triangles, {sound.pieces} pieces, {sound.cavities} cavities."
    if bad:
        why = f"{sound.open_edges} edges with one triangle, {sound.crowded_edges} with too many."
    cure = "Close the surface in the drawing program and export it again."
    if sound.cracks and sound.cracks == sound.open_edges:
        cure = "Corners lie a hair apart: export with a finer tolerance, or merge them."
    yield judge(
        AREA,
        f"{name} closed",
        float(bad),
        0.0,
        "edges",
        sense=Sense.AT_MOST,
        near=0.0,
        why=why,
        source="an edge of a closed surface has two triangles",
        cure=cure,
        parts=(name,),
    )
    turned = sound.inverted + sound.torn_edges
    verdict = Verdict.FAIL if turned else Verdict.WARN if one.shell.was_inverted else Verdict.PASS
    said = "All pieces face outward."
    if turned:
        said = (
            f"{sound.inverted} pieces face inward; at {sound.torn_edges} edges neighbours "
            "face opposite ways."
        )
    elif one.shell.was_inverted:
        said = "The whole surface faces inward; it was turned for this check."
    yield Finding(
        area=AREA,
        name=f"{name} facing outward",
        verdict=verdict,
        value=float(turned + one.shell.was_inverted),
        limit=0.0,
        unit="faults",
        why=said,
        source="sign of the enclosed volume, piece by piece; direction of shared edges",
        cure="" if verdict is Verdict.PASS else "Flip the normals and export again.",
        parts=(name,),
    )


def _size(one: StudiedShell) -> Iterator[Finding]:
    odd, name = one.shell.odd_size, one.shell.name
    if one.shell.path is None:
        return
    longest = float(one.shell.mesh.extent.max()) * 1e3
    cure = ""
    if odd is not None:
        cure = (
            f'State shell.{name}.unit = "{odd.guess}".' if odd.guess else "Look at the file's size."
        )
    yield Finding(
        area=AREA,
        name=f"{name} size",
        verdict=Verdict.PASS if odd is None else Verdict.WARN,
        value=longest,
        unit="mm",
        why=f"Read in {one.shell.unit}." if odd is None else odd.sentence,
        source=f"shell.{name}.unit; 0.1 to 4 times what it covers",
        cure=cure,
        parts=(name,),
    )


def _wall(one: StudiedShell) -> Finding:
    walls, process, name = one.part.walls, one.shell.process, one.shell.name
    thin = round(walls.quantile(THIN_SHARE) * 1e3, 4)
    least = None if process is None else process.least_wall * 1e3
    share = "" if process is None else f", {100 * walls.share_below(process.least_wall):.1f} % of"
    why = f"Half of it is under {walls.quantile(0.5) * 1e3:.2g} mm thick"
    why += "." if process is None else f"{share} it under {least:.3g} mm."
    return judge(
        AREA,
        f"{name} wall",
        thin,
        least,
        "mm",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=why,
        source=f"rays from {len(walls.thickness)} places; the thinnest 1 % left out; "
        f"process.{one.shell.entry.process or 'NAME'}.least_wall",
        cure="" if least is None else f"Thicken it by {at_least(least - thin, 'mm')}.",
        missing=f"State shell.{name}.process and its [process.NAME].",
        parts=(name,),
    )


def _printing(one: StudiedShell) -> Iterator[Finding]:
    part, process, name = one.part, one.shell.process, one.shell.name
    key = f"process.{one.shell.entry.process or 'NAME'}"
    room = None if part.fit is None else part.fit.room * 1e3
    lying = part.lying
    size = "" if part.fit is None else " × ".join(f"{edge * 1e3:.0f}" for edge in part.fit.size)
    cut = "; ".join(
        f"{_axis(c.normal)} = {c.offset * 1e3:.0f} mm, section {c.area * 1e4:.1f} cm²"
        for c in part.cuts
    )
    yield judge(
        AREA,
        f"{name} fits the printer",
        room,
        0.0 if room is not None else None,
        "mm",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=f"As laid it is {size} mm." if size else "",
        source=f"{key}.volume, 2 mm kept at the sides",
        cure=f"Split it at {cut}." if cut else "",
        missing=f'State {key}.volume, like ["220 mm", "220 mm", "250 mm"].',
        parts=(name,),
    )
    if process is None:
        return
    yield Finding(
        area=AREA,
        name=f"{name} overhang",
        verdict=Verdict.PASS,
        value=lying.overhang * 1e4,
        unit="cm²",
        why=f"Best with {_axis(lying.up)} up, {lying.height * 1e3:.0f} mm high: supports under it "
        f"{part.support * 1e6:.1f} cm³, {1e3 * (part.support_mass or 0.0):.0f} g.",
        source=f"{key}.overhang; all ways up tried; for information",
        parts=(name,),
    )


def _axis(way: object) -> str:
    x, y, z = (float(v) for v in way)  # type: ignore[attr-defined]
    for value, letter in ((x, "x"), (y, "y"), (z, "z")):
        if abs(value) > 0.9999:
            return letter if value > 0 else f"−{letter}"
    return f"({x:.2f}, {y:.2f}, {z:.2f})".replace("-", "−")


def _windows(robot: Robot, one: StudiedShell) -> Iterator[Finding]:
    entry, name = one.shell.entry, one.shell.name
    lights = robot.sheet.lights
    wanted = entry.windows
    if wanted is None and entry.generate is not None and lights is not None:
        wanted = lights.count
    if wanted is None:
        return
    holes = one.part.soundness.through_holes
    yield judge(
        AREA,
        f"{name} light windows",
        None if holes is None else float(holes),
        float(wanted),
        "holes",
        sense=Sense.AT_LEAST,
        near=0.0,
        why="Openings that go right through, whatever they are for."
        if holes is not None
        else "Holes cannot be counted in an open surface.",
        source=f"genus of the surface; shell.{name}.windows, else lights.count",
        cure="Cut more windows, or mount fewer lights under it.",
        missing="Close the surface first.",
        parts=(name,),
    )


def _mass(robot: Robot, one: StudiedShell) -> Finding:
    entry, name, made = one.shell.entry, one.shell.name, one.worked_out
    worked = None if made is None else made.mass
    said = "" if worked is None else f"Worked out to {worked * 1e3:.0f} g. "
    if entry.counted:
        state = "It is part of the robot's mass."
    else:
        state = f"It is not part of the robot's {robot.mass:.2f} kg"
        state += "." if entry.counted is None else ", as the sheet says."
    if entry.mass is not None and worked is not None:
        off = 100.0 * abs(entry.mass - worked) / worked
        found = judge(
            AREA,
            f"{name} mass as stated",
            off,
            MASS_OFF,
            "%",
            sense=Sense.AT_MOST,
            near=0.0,
            why=f"Stated {entry.mass * 1e3:.0f} g. {said}{state}",
            source=f"shell.{name}.mass; skin and infill of its process",
            cure=f'State mass = "{worked * 1e3:.0f} g", or weigh it and correct the process.',
            parts=(name,),
        )
        if found.verdict is not Verdict.PASS or entry.counted:
            return found
    known = entry.mass if entry.mass is not None else worked
    heavy = known is not None and known > LIGHT * robot.mass and entry.counted is None
    verdict = Verdict.UNKNOWN if known is None else Verdict.WARN if heavy else Verdict.PASS
    return Finding(
        area=AREA,
        name=f"{name} mass",
        verdict=verdict,
        value=None if known is None else known * 1e3,
        unit="g",
        why=f"{said}{state}",
        source=f"shell.{name}.mass, counted; skin and infill of its process",
        cure=f"State its mass, centre and inertia and counted = true under [shell.{name}]; "
        "legwright shells prints the lines."
        if heavy
        else f"State shell.{name}.process, so that its mass can be worked out."
        if known is None
        else "",
        parts=(name,),
    )
