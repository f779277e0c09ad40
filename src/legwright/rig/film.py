"""Pictures of a run: a film strip and an animation, rendered off-screen.

The engine's renderer is used where a graphics context without a screen can be had (EGL, then
OSMesa); else a plain drawing of our own. A run never fails for want of a picture.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.rig.sketch import sketch
from legwright.rig.world import World
from legwright.robot.tree import Floats

if TYPE_CHECKING:
    from PIL import Image

Picture = NDArray[np.uint8]
"""(height, width, 3)"""

CONTEXTS = ("mujoco.egl", "mujoco.osmesa")


@dataclass(eq=False)
class Film:
    """Keeps poses of a world while it runs; renders them afterwards."""

    world: World
    rate: float = 12.5
    """Frames per second."""
    size: tuple[int, int] = (640, 400)
    """Width, height [px]."""
    frames: list[Floats] = field(default_factory=list)
    _due: float = 0.0

    def watch(self) -> None:
        """Keep the pose if a frame is due; call it once per bus cycle."""
        if self.world.time + 1e-9 >= self._due:
            self.frames.append(self.world.pose())
            self._due += 1.0 / self.rate

    def strip(self, path: Path | str, *, count: int = 6) -> str:
        """Write a film strip: evenly spread frames below each other, as PNG.

        Args:
            path: File to write.
            count: Number of frames.

        Returns:
            How it was rendered, in words.

        Raises:
            RequestError: if nothing was kept or the file cannot be written.
        """
        at = np.unique(np.linspace(0, len(self.frames) - 1, count).round().astype(int))
        pictures, how = self._rendered([self.frames[index] for index in at] if self.frames else [])
        _save(Path(path), [np.concatenate(pictures, axis=0)])
        return how

    def animation(self, path: Path | str, *, most: int = 150) -> str:
        """Write an animated GIF in real time.

        Args:
            path: File to write.
            most: Number of frames; a longer run is shown with fewer per second.

        Returns:
            As `strip`; raises likewise.
        """
        every = max(-(-len(self.frames) // most), 1)
        pictures, how = self._rendered(self.frames[::every])
        _save(Path(path), pictures, every / self.rate)
        return how

    def _rendered(self, frames: Sequence[Floats]) -> tuple[list[Picture], str]:
        if not frames:
            raise RequestError("film", "no frames", "kept with watch() before it is written")
        for name in CONTEXTS:
            try:
                return list(_engine(self.world, frames, self.size, name)), name.split(".")[1]
            except Exception:
                continue
        return [sketch(self.world, frame, self.size) for frame in frames], "drawing"


def _engine(
    world: World, frames: Sequence[Floats], size: tuple[int, int], context: str
) -> Iterator[Picture]:
    """Frames by the engine's own renderer.

    Raises:
        Exception: of many kinds, if there is no graphics context.
    """
    import mujoco

    width, height = size
    model, data = world.model, mujoco.MjData(world.model)
    opened: Any = importlib.import_module(context).GLContext(width, height)
    try:
        opened.make_current()
        scene = mujoco.MjvScene(model, maxgeom=2000)
        canvas = mujoco.MjrContext(model, mujoco.mjtFontScale.mjFONTSCALE_100)
        mujoco.mjr_setBuffer(mujoco.mjtFramebuffer.mjFB_OFFSCREEN, canvas)
        camera, option = mujoco.MjvCamera(), mujoco.MjvOption()
        window = mujoco.MjrRect(0, 0, width, height)
        for frame in frames:
            data.qpos[:] = frame
            mujoco.mj_forward(model, data)
            camera.lookat[:] = data.subtree_com[0] * [1.0, 1.0, 0.6]
            camera.distance, camera.azimuth, camera.elevation = world.span * 2.2, 130.0, -22.0
            every = mujoco.mjtCatBit.mjCAT_ALL
            mujoco.mjv_updateScene(model, data, option, None, camera, every, scene)
            mujoco.mjr_render(window, scene, canvas)
            picture = np.empty((height, width, 3), dtype=np.uint8)
            mujoco.mjr_readPixels(picture, None, window, canvas)
            yield np.ascontiguousarray(picture[::-1])
        canvas.free()
    finally:
        opened.free()


def _save(path: Path, pictures: Sequence[Picture], pause: float = 0.0) -> None:
    """Write one picture, or several as an animation."""
    from PIL import Image

    images: list[Image.Image] = [Image.fromarray(picture) for picture in pictures]
    try:
        if len(images) == 1 and not pause:
            images[0].save(path, optimize=True)
            return
        colours = [one.quantize(64, dither=Image.Dither.NONE) for one in images]
        colours[0].save(
            path,
            format="GIF",
            save_all=True,
            append_images=colours[1:],
            duration=max(round(1000.0 * pause), 20),
            loop=0,
        )
    except (OSError, ValueError) as error:
        raise RequestError(
            "picture", str(path), "a path that can be written, .png or .gif"
        ) from error
