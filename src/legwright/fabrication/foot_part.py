"""The replaceable foot as parts: a rounded pad, and the boss in it that takes the screw.

Both are solids of revolution about the shin's axis; the origin is the middle of the ball, z up
the leg. Where the thread is cut in metal, the boss is a part of its own that the pad is pushed
or cast around; else pad and boss are one printed part.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi

from legwright.fabrication.mesh import Mesh
from legwright.fabrication.screws import THREADS
from legwright.fabrication.turned import Corner, arc, frustum, revolved
from legwright.robot.robot import Robot

BOSS = 1.0
"""Radius of the boss over the thread's diameter; common practice, no published source."""
WALL = 1.6e-3
"""Least wall of the pad around the boss [m]; our own choice."""
FLOOR = 0.5
"""Of the boss under its hole, over the thread's diameter; our own choice."""
RUN_OUT = 2.0
"""Pitches that the hole is deeper than the thread; common practice, no published source."""
INSERT = 1.3
"""Hole for a threaded insert over the thread; makers differ: look at the insert's data sheet."""
ARC = 48
"""Sides of the rounding."""
METAL = {"aluminium": 2700.0, "steel": 7850.0}
"""Density of a boss [kg/m³]; usual values of wrought alloys and of plain steel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FootPart:
    """Measures of the foot [m]."""

    radius: float
    """Of the ball."""
    sole: float
    """Under the boss."""
    boss: float
    """Radius of the boss."""
    rim: float
    """Radius of the pad at its top."""
    top: float
    """Height of the top over the ball's middle."""
    hole: float
    """Diameter of the hole for the thread."""
    depth: float
    """Of that hole."""
    screw: str
    """``M4``"""
    engaged: float
    """Length of thread."""
    material: str
    split: bool
    """Whether the boss is a part of its own."""
    boss_density: float | None
    """[kg/m³]; None where it is one with the pad."""
    count: int

    @property
    def floor(self) -> float:
        """Height of the boss's lower end."""
        return self.sole - self.radius

    @property
    def pad_profile(self) -> tuple[Corner, ...]:
        """From the axis around to the axis."""
        outer = arc((0.0, 0.0), self.radius, -pi / 2.0, 0.0, ARC)
        inside = (
            [(self.boss, self.top), (self.boss, self.floor), (0.0, self.floor)]
            if self.split
            else [
                (self.hole / 2.0, self.top),
                (self.hole / 2.0, self.top - self.depth),
                (0.0, self.top - self.depth),
            ]
        )
        return (*outer, (self.rim, self.top), *inside)

    @property
    def boss_profile(self) -> tuple[Corner, ...]:
        """From the axis around to the axis."""
        bore, low = self.hole / 2.0, self.top - self.depth
        return (
            (0.0, self.floor), (self.boss, self.floor), (self.boss, self.top),
            (bore, self.top), (bore, low), (0.0, low),
        )  # fmt: skip

    @property
    def pad_volume(self) -> float:
        """Of a truly round pad: half a ball and a cone, less what is inside [m³]."""
        whole = 2.0 * pi / 3.0 * self.radius**3 + frustum(self.radius, self.rim, self.top)
        inside = pi * self.boss**2 * (self.top - self.floor) if self.split else self._bore
        return whole - inside

    @property
    def boss_volume(self) -> float:
        """Of a truly round boss with its hole [m³]; 0 where it is one with the pad."""
        return pi * self.boss**2 * (self.top - self.floor) - self._bore if self.split else 0.0

    @property
    def boss_mass(self) -> float:
        """Of one boss; 0 where it is one with the pad [kg]."""
        return self.boss_volume * (self.boss_density or 0.0)

    @property
    def pad_name(self) -> str:
        """Name of what touches the ground."""
        return "foot-pad" if self.split else "foot"

    @property
    def _bore(self) -> float:
        return pi * (self.hole / 2.0) ** 2 * self.depth

    @property
    def meshes(self) -> dict[str, Mesh]:
        """Name -> closed surface."""
        found = {self.pad_name: revolved(self.pad_profile)}
        if self.split:
            found["foot-boss"] = revolved(self.boss_profile)
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """The foot, or why there is none."""

    part: FootPart | None
    missing: tuple[str, ...] = ()
    """Keys of the sheet to fill in."""
    trouble: str = ""
    """Why there can be none, though all is stated."""


def foot_of(robot: Robot) -> Foot:
    """The replaceable foot of a robot, measured from its sheet.

    Args:
        robot: The robot.

    Returns:
        The foot; none where the sheet does not say that feet are replaceable, or not enough.
    """
    stated = robot.sheet.foot
    if not stated.replaceable:
        return Foot(part=None)
    radius, sole, engaged = stated.radius, stated.sole, stated.screw_depth
    keys = {
        "foot.radius": radius, "foot.sole": sole, "foot.screw": stated.screw or None,
        "foot.screw_depth": engaged, "foot.screw_in": stated.screw_in or None,
    }  # fmt: skip
    missing = tuple(key for key, value in keys.items() if value is None)
    if radius is None or sole is None or engaged is None or missing:
        return Foot(part=None, missing=missing)
    if stated.screw not in THREADS:
        return Foot(part=None, trouble=f"foot.screw {stated.screw} is none of {', '.join(THREADS)}")
    thread = THREADS[stated.screw]
    d = thread.diameter
    depth = engaged + RUN_OUT * thread.pitch
    boss = BOSS * d
    part = FootPart(
        radius=radius,
        sole=sole,
        boss=boss,
        rim=min(radius, boss + WALL),
        top=sole - radius + FLOOR * d + depth,
        hole=INSERT * d if stated.screw_in == "insert" else d - thread.pitch,
        depth=depth,
        screw=stated.screw,
        engaged=engaged,
        material=stated.material,
        split=stated.screw_in in METAL,
        boss_density=METAL.get(stated.screw_in),
        count=len(robot.legs),
    )
    return Foot(part=None, trouble=trouble) if (trouble := _trouble(part)) else Foot(part=part)


def _trouble(part: FootPart) -> str:
    room = part.radius - WALL
    if part.boss > room or (part.floor < 0.0 and hypot(part.boss, part.floor) > room):
        return (
            f"a boss for {part.screw} leaves less than {WALL * 1e3:g} mm of the pad around it: "
            "take a smaller screw, a thicker foot.sole or a larger foot.radius"
        )
    if part.top <= 0.0:
        return "the boss ends under the middle of the ball: a deeper foot.screw_depth is needed"
    return ""
