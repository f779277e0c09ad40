"""What a printed part weighs: skins and filling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.fabrication.mesh import Mesh, Moments, volume_moments
from legwright.fabrication.wall import Walls
from legwright.robot.tree import Floats, Solid


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """How a part is filled with material."""

    density: float
    """Of the solid material [kg/m³]."""
    skin: float = np.inf
    """Depth under the surface that is solid: outlines beside each other, closed layers [m]."""
    infill: float = 1.0
    """Share of the rest that is filled, 0 to 1."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PrintMass:
    """Mass of a printed part."""

    solid: Solid
    """Mass, centre of mass and inertia in the mesh's frame."""
    volume: float
    """Enclosed [m³]."""
    skin_share: float
    """Share of the volume that lies in the solid skin, 0 to 1."""

    @property
    def material(self) -> float:
        """Mass of material laid down, supports left out [kg]."""
        return self.solid.mass


def print_mass(mesh: Mesh, walls: Walls, making: Making) -> PrintMass:
    """Mass, centre of mass and inertia of a part with solid skins and a sparse filling.

    Seen from a piece of surface over a wall of thickness t, min(skin, t/2) is skin: walls
    thinner than two skins come out solid, exactly. At outer edges two skins share material that
    is counted twice: a cube of edge a with skins s is taken to hold up to 12 a s² too much skin.

    Args:
        mesh: A closed surface that faces outward.
        walls: Its thickness.
        making: Density, skin and infill.

    Returns:
        The mass.

    Source: our own model; common practice of slicing programs, no published source.
    """
    whole = volume_moments(mesh)
    half = 0.5 * np.where(np.isfinite(walls.thickness), walls.thickness, 0.0)
    depth = np.minimum(half, making.skin)
    share = min(1.0, walls.area * float(depth.mean()) / whole.zeroth)
    if share >= 1.0 - 1e-9 or making.infill >= 1.0:
        moments = whole.times(making.density)
        return PrintMass(solid=moments.solid(), volume=whole.zeroth, skin_share=share)
    skin = _layer(walls.places, depth)
    skin = skin.times(share * whole.zeroth / skin.zeroth)
    moments = whole.times(making.density * making.infill) + skin.times(
        making.density * (1.0 - making.infill)
    )
    return PrintMass(solid=moments.solid(), volume=whole.zeroth, skin_share=share)


def _layer(places: Floats, weight: Floats) -> Moments:
    """Integrals over places of the surface, each with a weight."""
    return Moments(
        zeroth=float(weight.sum()),
        first=weight @ places,
        second=np.einsum("s,si,sj->ij", weight, places, places, optimize=True),
    )
