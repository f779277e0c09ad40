"""One part looked at: sound, thick enough, printable, how heavy, how long it takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.fabrication.bed import Cut, Fit, cuts, fit
from legwright.fabrication.mesh import Mesh
from legwright.fabrication.overhang import LIMIT, Lying, lyings, supports
from legwright.fabrication.print_mass import Making, PrintMass, print_mass
from legwright.fabrication.rays import BoxTree, box_tree
from legwright.fabrication.soundness import Soundness, soundness
from legwright.fabrication.wall import Walls, walls
from legwright.robot.same_numbers import Alike
from legwright.robot.sheet import Process
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PartStudy:
    """What is known of a part."""

    mesh: Mesh
    tree: BoxTree
    soundness: Soundness
    walls: Walls
    lying: Lying
    """The best way up; of those that fit the machine, where one fits."""
    support: float
    """Volume under its overhangs, down to the bed or the part [m³]."""
    fit: Fit | None
    """Room in the print volume; None where the process states none."""
    cuts: tuple[Cut, ...]
    """Where to split it; empty when it fits."""
    mass: PrintMass | None
    """None where no density is known or the surface is open."""
    time: float | None
    """Estimate of the printing time [s]; None where no process is known."""
    support_mass: float | None
    """Material in supports [kg]."""


def study_part(mesh: Mesh, process: Process | None) -> PartStudy:
    """Look at a part; remembered, since the same part comes again with every edit of a leg.

    Args:
        mesh: A surface that faces outward [m].
        process: How it is made; None leaves mass, time and fit unknown.

    Returns:
        What was found. With an open surface, walls and mass are those of what is there.
    """
    return _studied(Alike(mesh, process))


@lru_cache(maxsize=4)
def _studied(part: Alike) -> PartStudy:
    return _study_part(*part.args)


def _study_part(mesh: Mesh, process: Process | None) -> PartStudy:
    tree = box_tree(mesh)
    sound = soundness(mesh)
    thick = walls(mesh, tree)
    limit = LIMIT if process is None else process.overhang
    ways = lyings(mesh, limit=limit)
    chosen: Lying = ways[0]
    room: Fit | None = None
    split: tuple[Cut, ...] = ()
    if process is not None and process.volume is not None:
        chosen, room, split = _laid(mesh, ways, np.array(process.volume))
    under = supports(mesh, tree, chosen, limit=limit)
    mass, time, extra = None, None, None
    if process is not None and sound.watertight:
        making = Making(density=process.density, skin=process.skin, infill=process.infill)
        mass = print_mass(mesh, thick, making)
        extra = under * process.support * process.density
        laid = (mass.solid.mass + extra) / process.density
        time = laid / process.flow + chosen.height / process.layer * process.layer_time
    return PartStudy(
        mesh=mesh,
        tree=tree,
        soundness=sound,
        walls=thick,
        lying=chosen,
        support=under,
        fit=room,
        cuts=split,
        mass=mass,
        time=time,
        support_mass=extra,
    )


def _laid(
    mesh: Mesh, ways: tuple[Lying, ...], volume: Floats
) -> tuple[Lying, Fit, tuple[Cut, ...]]:
    """The best way up that fits, or the best of all with the cuts that it needs."""
    for way in ways:
        found = fit(mesh, way.up, volume)
        if found.room >= 0.0:
            return way, found, ()
    square = fit(mesh, ways[0].up, volume, turns=2)
    return ways[0], square, cuts(mesh, square, ways[0].up, volume)
