"""A drawing of the world that needs no graphics stack: hulls filled from back to front."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.rig.world import World
from legwright.robot.tree import Floats

PAPER, GROUND, LINE = (246, 245, 241), (206, 199, 184), (70, 76, 80)
LINK, FOOT = (158, 168, 173), (33, 36, 38)
AZIMUTH, ELEVATION = np.radians(-50.0), np.radians(22.0)


def sketch(world: World, frame: Floats, size: tuple[int, int]) -> NDArray[np.uint8]:
    """One frame, in a parallel projection.

    Args:
        world: Whose bodies are drawn.
        frame: The engine's positions.
        size: Width, height [px].

    Returns:
        Picture, (height, width, 3).
    """
    import mujoco
    from PIL import Image, ImageDraw
    from scipy.spatial import ConvexHull, QhullError

    model, data = world.model, mujoco.MjData(world.model)
    data.qpos[:] = frame
    mujoco.mj_forward(model, data)
    middle = data.subtree_com[0].copy()
    axes = _axes()
    scale = size[0] / (1.6 * world.span)

    def flat(points: Floats) -> Floats:
        seen = (points - middle) @ axes.T
        return np.stack(
            [0.5 * size[0] + scale * seen[:, 0], 0.55 * size[1] - scale * seen[:, 1]], 1
        )

    image = Image.new("RGB", size, PAPER)
    pen = ImageDraw.Draw(image)
    for line in _grid(world, middle):
        pen.line([tuple(p) for p in flat(line)], fill=GROUND, width=1)
    shapes = []
    feet = set(world.foot_geoms.tolist())
    hidden = set(np.flatnonzero(model.geom_contype == 0).tolist())
    for geom in range(model.ngeom):
        if geom not in feet and geom in hidden:
            continue
        points = _corners(model, data, geom)
        if points is None:
            continue
        depth = float(((points - middle) @ axes[2]).mean())
        shapes.append((depth, geom in feet, flat(points)))
    for _, foot, points in sorted(shapes, key=lambda shape: shape[0]):
        try:
            hull = points[ConvexHull(points).vertices]
        except QhullError:
            continue
        pen.polygon([tuple(p) for p in hull], fill=FOOT if foot else LINK, outline=LINE)
    return np.asarray(image, dtype=np.uint8)


def _axes() -> Floats:
    """Right, up and towards the viewer, as rows."""
    ca, sa, ce, se = np.cos(AZIMUTH), np.sin(AZIMUTH), np.cos(ELEVATION), np.sin(ELEVATION)
    viewer = np.array([ca * ce, sa * ce, se])
    right = np.array([-sa, ca, 0.0])
    return np.stack([right, np.cross(viewer, right), viewer])


def _grid(world: World, middle: Floats) -> list[Floats]:
    """Lines on the ground around the robot."""
    reach = 0.9 * world.span
    along = np.linspace(-reach, reach, 61)
    lines = []
    step = 0.1 * world.span
    for offset in np.arange(-9, 10) * step:
        x0, y0 = np.round(middle[0] / step) * step, np.round(middle[1] / step) * step
        for x, y in (
            (x0 + along, np.full(61, y0 + offset)),
            (np.full(61, x0 + offset), y0 + along),
        ):
            lines.append(np.stack([x, y, world.ground.height(x, y)], axis=1))
    return lines


def _corners(m: Any, d: Any, geom: int) -> Floats | None:
    """Points of a geom's outline in the world; None for what is no body."""
    import mujoco

    kind, size = mujoco.mjtGeom(int(m.geom_type[geom])), m.geom_size[geom]
    if kind == mujoco.mjtGeom.mjGEOM_BOX:
        local = size * np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    elif kind in (mujoco.mjtGeom.mjGEOM_CYLINDER, mujoco.mjtGeom.mjGEOM_CAPSULE):
        turn = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
        ring = size[0] * np.stack([np.cos(turn), np.sin(turn), 0.0 * turn], axis=1)
        end = np.array([0.0, 0.0, size[1]])
        local = np.concatenate([ring + end, ring - end])
    elif kind == mujoco.mjtGeom.mjGEOM_SPHERE:
        turn = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
        spot = d.geom_xpos[geom]
        axes = _axes()
        circle = np.outer(np.cos(turn), axes[0]) + np.outer(np.sin(turn), axes[1])
        return np.asarray(spot + size[0] * circle)
    elif kind == mujoco.mjtGeom.mjGEOM_MESH:
        mesh = m.geom_dataid[geom]
        start, count = m.mesh_vertadr[mesh], m.mesh_vertnum[mesh]
        local = m.mesh_vert[start : start + count]
    else:
        return None
    turned = d.geom_xmat[geom].reshape(3, 3)
    return np.asarray(d.geom_xpos[geom] + local @ turned.T)
