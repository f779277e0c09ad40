"""Pictures of a recorded run: a film strip and an animation, drawn without a graphics stack."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.rig.scenery import Scenery
from legwright.robot.tree import Floats
from legwright.study.touchdowns import ONSET
from legwright.views.run import Run
from legwright.views.tokens import LIGHT
from legwright.views.walk_sketch import (
    FINER,
    Camera,
    Moment,
    axes,
    draw_ground,
    draw_robot,
    font,
    placed,
    tips,
)

if TYPE_CHECKING:
    from PIL import Image

SIZE = (800, 500)
"""Width, height of a frame [px]."""
STRIP_FRAMES = 6
MOST = 160
"""Frames of an animated GIF; a longer run is shown faster, and says how fast."""
GREYS = 12
"""Shades in an animated GIF."""
MOST_VIDEO = 400
"""Frames of a film with an encoder, likewise."""
SLOWEST = 0.04
"""Least time between two frames that viewers keep to [s]."""
MARGIN = 24
"""Around a strip's pictures [px]."""


def strip(run: Run, path: Path) -> Path:
    """Write a film strip: six moments, then the whole way from the side, as PNG.

    Args:
        run: A run with scenery and poses.
        path: File to write.

    Returns:
        The file.

    Raises:
        RequestError: if the run holds no pictures.
        OSError: if the file cannot be written.
    """
    from PIL import Image

    at = spread(run, STRIP_FRAMES)
    frames = list(_frames(run, at, bars=False))
    width, height = SIZE
    side = _side_view(run, 2 * width + MARGIN)
    rows = -(-len(frames) // 2)
    whole = Image.new(
        "RGB",
        (2 * width + 3 * MARGIN, rows * (height + MARGIN) + 2 * MARGIN + side.height),
        LIGHT.sheet,
    )
    for k, frame in enumerate(frames):
        whole.paste(
            frame,
            (MARGIN + (k % 2) * (width + MARGIN), MARGIN + (k // 2) * (height + MARGIN)),
        )
    whole.paste(side, (MARGIN, MARGIN + rows * (height + MARGIN)))
    whole.quantize(64, dither=Image.Dither.NONE).save(path, format="PNG", optimize=True)
    return path


def animation(run: Run, folder: Path) -> Path:
    """Write the run as MP4 where an encoder is installed, else as GIF.

    Args:
        run: A run with scenery and poses.
        folder: Where to.

    Returns:
        The file: ``walk.mp4`` or ``walk.gif``.

    Raises:
        RequestError: if the run holds no pictures.
        OSError: if the file cannot be written.
    """
    try:
        av: Any = import_module("av")
    except ImportError:
        return gif(run, folder / "walk.gif")
    try:
        return video(run, folder / "walk.mp4", av)
    except (ValueError, av.error.FFmpegError):  # this build has no encoder for it
        (folder / "walk.mp4").unlink(missing_ok=True)
        return gif(run, folder / "walk.gif")


def gif(run: Run, path: Path) -> Path:
    """Write an animated GIF; arguments and errors as `animation`."""
    at, pause, faster = pacing(run, MOST)
    colours = [_greys(frame) for frame in _frames(run, at, faster=faster)]
    colours[0].save(
        path,
        format="GIF",
        save_all=True,
        append_images=colours[1:],
        duration=round(1000.0 * pause),
        loop=0,
        optimize=False,
    )
    return path


def _greys(frame: Image.Image) -> Image.Image:
    """A frame in few greys: everything drawn is ink on paper."""
    from PIL import Image

    levels = frame.convert("L").point([round(n * (GREYS - 1) / 255) for n in range(256)])
    few = Image.frombytes("P", levels.size, levels.tobytes())
    few.putpalette([round(n * 250 / (GREYS - 1)) for n in range(GREYS) for _ in range(3)])
    return few


def video(run: Run, path: Path, av: Any) -> Path:
    """Write an MP4 with the given encoder library; arguments and errors as `animation`."""
    at, pause, faster = pacing(run, MOST_VIDEO)
    with av.open(str(path), "w") as out:
        stream = out.add_stream("h264", rate=Fraction(1.0 / pause).limit_denominator(1000))
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.options = {"crf": "26", "preset": "fast", "tune": "animation"}
        for frame in _frames(run, at, faster=faster):
            out.mux(stream.encode(av.VideoFrame.from_image(frame)))
        out.mux(stream.encode())
    return path


def spread(run: Run, count: int) -> NDArray[np.int64]:
    """Evenly spread poses from the beginning of the walk to its end."""
    first = _first(run)
    return np.unique(np.linspace(first, len(run.poses) - 1, count).round().astype(np.int64))


def pacing(run: Run, most: int) -> tuple[NDArray[np.int64], float, float]:
    """Poses to show, the pause after each [s], and how many times faster than real time."""
    first = _first(run)
    span = float(run.pose_time[-1] - run.pose_time[first])
    count = len(run.poses) - first
    every = max(-(-count // most), 1)
    at = np.arange(first, len(run.poses), every)
    real = span / max(len(at) - 1, 1) if span > 0.0 else SLOWEST
    faster = 1.0
    while real / faster > 2.0 * SLOWEST + 1e-3:
        faster *= 2.0
    return at, max(real / faster, SLOWEST), faster


def _first(run: Run) -> int:
    """Index of the first pose of the walk; of the run where it never began."""
    if run.scenery is None or not len(run.poses):
        raise RequestError("pictures", "none", "in a recording with /scene and /pose")
    first = int(np.searchsorted(run.pose_time, run.begin))
    return first if first < len(run.poses) else 0


def moment_of(run: Run, pose: int) -> Moment:
    """What is so at a pose: true forces where they are known, else felt ones."""
    time = float(run.pose_time[pose])
    row = min(run.row(time), len(run.time) - 1)
    if run.force is not None:
        loads = run.force[row]
        stands = [bool(f > ONSET) for f in loads]
    else:
        loads, stands = run.felt[row], [bool(c) for c in run.contact[row]]
    return Moment(time=time, poses=run.poses[pose], loads=loads, stands=stands)


def _frames(
    run: Run, at: NDArray[np.int64], *, faster: float = 1.0, bars: bool = True
) -> Iterator[Image.Image]:
    """Pictures of some poses; the camera glides along with the body."""
    scenery = run.scenery
    if scenery is None:
        raise RequestError("pictures", "none", "in a recording with /scene and /pose")
    middles = run.poses[at].mean(axis=1)[:, :3]
    height = float(np.median(middles[:, 2]))
    size = _size(run, scenery)
    for pose, middle in zip(at.tolist(), middles, strict=True):
        moment = moment_of(run, pose)
        yield _frame(
            run, scenery, moment, np.array([middle[0], middle[1], height]), size, faster, bars
        )


def _size(run: Run, scenery: Scenery) -> float:
    """Widest distance of any two corners, from the first pose [m]."""
    corners = np.concatenate(placed(scenery, run.poses[_first(run)]))
    return float(np.linalg.norm(np.ptp(corners, axis=0)))


def _frame(
    run: Run, scenery: Scenery, moment: Moment, look_at: Floats, size: float, faster: float,
    bars: bool,
) -> Image.Image:  # fmt: skip
    from PIL import Image, ImageDraw

    width, height = (FINER * n for n in SIZE)
    image = Image.new("RGB", (width, height), LIGHT.sheet)
    pen = ImageDraw.Draw(image)
    right, down, near = axes(np.radians(-58.0), np.radians(24.0))
    camera = Camera(
        right=right, down=down, near=near, look_at=look_at, scale=0.8 * width / size,
        middle=(0.5 * width, 0.52 * height),
    )  # fmt: skip
    draw_ground(pen, camera, scenery, 1.2 * size)
    draw_robot(pen, camera, scenery, moment, names=run.legs, weight=run.weight)
    _caption(pen, run, moment, faster)
    if bars:
        _foot_bars(pen, run, moment.time)
    pen.rectangle([0, 0, width - 1, height - 1], outline=LIGHT.ink, width=FINER)
    return image.reduce(FINER)


def _caption(pen: Any, run: Run, moment: Moment, faster: float) -> None:
    about, k = run.recording.about, FINER
    words = ", ".join(str(about.get(key)) for key in ("gait", "mode") if about.get(key))
    ground = str(about.get("ground") or "").partition(":")[0]
    head = f"{run.robot}" + (f", {words}" if words else "") + (f", {ground}" if ground else "")
    pen.text((14 * k, 12 * k), head, fill=LIGHT.ink, font=font(17 * k, strong=True))
    track = run.body if run.body is not None else run.place
    begin = run.begin if np.isfinite(run.begin) else 0.0
    told = f"{moment.time - begin:.1f} s"
    if track is not None:
        row, first = min(run.row(moment.time), len(track) - 1), run.row(begin)
        told += f"   {track[row, 0] - track[min(first, len(track) - 1), 0]:.2f} m"
    if faster > 1.0:
        told += f"   {faster:.0f} times as fast as real"
    pen.text((14 * k, 34 * k), told, fill=LIGHT.ink2, font=font(14 * k))


def _foot_bars(pen: Any, run: Run, time: float, span: float = 4.0) -> None:
    """The last seconds of each foot: bar = on the ground, line over it = felt so."""
    k, letters = FINER, font(11 * FINER)
    left, top, wide, row = SIZE[0] - 230, 16, 200, 15
    last = run.row(time)
    first = run.row(time - span)
    for leg, name in enumerate(run.legs):
        y = (top + row * leg) * k
        pen.text(((left - 8) * k, y + 5 * k), name, fill=LIGHT.ink, font=letters, anchor="rm")
        pen.line([left * k, y + 5 * k, (left + wide) * k, y + 5 * k], fill=LIGHT.hair, width=k)
        true = run.contact if run.force is None else run.force > ONSET
        for on, high, tall in ((true, 3, 6), (run.contact, 0, 2)):
            for start, stop in _spans(on[first:last, leg]):
                x0, x1 = (
                    left + wide * (1.0 - (time - run.time[first + n]) / span) for n in (start, stop)
                )
                pen.rectangle([x0 * k, y + high * k, x1 * k, y + (high + tall) * k], fill=LIGHT.ink)
    y = (top + row * len(run.legs)) * k
    pen.text((left * k, y), "bar: on the ground; line: felt so", fill=LIGHT.ink2, font=letters)


def _spans(on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    ends = np.minimum(edges[1::2], len(on) - 1)
    return list(zip(edges[::2].tolist(), ends.tolist(), strict=True))


def _side_view(run: Run, width: int) -> Image.Image:
    """The whole way from the right: ground, path of the body, paths of the feet."""
    from PIL import Image, ImageDraw

    scenery = run.scenery
    if scenery is None:
        raise RequestError("pictures", "none", "in a recording with /scene and /pose")
    shown = run.poses[_first(run) :]
    size = _size(run, scenery)
    low, high = shown[..., 0].min() - 0.55 * size, shown[..., 0].max() + 0.55 * size
    top, bottom = float(shown[..., 2].max()) + 0.25 * size, float(scenery.heights.min()) - 0.1
    k = FINER
    scale = k * min(width / (high - low), 420.0 / (top - bottom))
    tall = round(scale * (top - bottom) / k)
    image = Image.new("RGB", (k * width, k * tall), LIGHT.sheet)
    pen = ImageDraw.Draw(image)
    right, down, near = axes(np.radians(-90.0), 0.0)
    centre = np.array([0.5 * (low + high), 0.0, 0.5 * (top + bottom)])
    camera = Camera(
        right=right, down=down, near=near, look_at=centre, scale=scale,
        middle=(0.5 * k * width, 0.5 * k * tall),
    )  # fmt: skip
    _profile(pen, camera, run, scenery, low, high)
    for pose in _apart(run, 1.15 * size):
        last = pose == len(run.poses) - 1
        ink = LIGHT.ink if last else LIGHT.ink2
        draw_robot(pen, camera, scenery, moment_of(run, pose), ink=ink)
    _paths(pen, camera, run, scenery)
    pen.rectangle([0, 0, k * width - 1, k * tall - 1], outline=LIGHT.ink, width=k)
    head = "The way from the side"
    pen.text((14 * k, 10 * k), head, fill=LIGHT.ink, font=font(17 * k, strong=True))
    words = "ground under the robot's middle; fine lines: feet; chain line: body"
    pen.text((14 * k, 32 * k), words, fill=LIGHT.ink2, font=font(14 * k))
    return image.reduce(FINER)


def _apart(run: Run, least: float) -> list[int]:
    """Poses that lie so far from each other that their drawings stay apart, the last among them."""
    x = run.poses[:, :, 0].mean(axis=1)
    chosen = [len(run.poses) - 1]
    for pose in range(len(run.poses) - 1, _first(run) - 1, -1):
        if x[chosen[-1]] - x[pose] > least:
            chosen.append(pose)
    return chosen[::-1]


def _profile(pen: Any, camera: Camera, run: Run, scenery: Scenery, low: float, high: float) -> None:
    x = np.arange(low, high, 0.5 * scenery.spacing)
    middle = float(np.median(run.poses[:, :, 1]))
    z = scenery.ground().height(x, np.full_like(x, middle))
    line = camera.flat(np.stack([x, np.full_like(x, middle), z], axis=1))
    under = line + np.array([0.0, 9.0 * FINER])
    for a, b in zip(line[::3], under[::3], strict=True):
        pen.line([float(a[0]), float(a[1]), float(b[0]) - 9 * FINER, float(b[1])], fill=LIGHT.line)
    pen.line(line.ravel().tolist(), fill=LIGHT.ink, width=2 * FINER)


def _paths(pen: Any, camera: Camera, run: Run, scenery: Scenery) -> None:
    first, legs = _first(run), len(run.legs)
    steps = range(first, len(run.poses), max((len(run.poses) - first) // 600, 1))
    feet = np.array([tips(scenery, placed(scenery, run.poses[n]), legs) for n in steps])
    for leg in range(legs):
        line = camera.flat(feet[:, leg])
        pen.line(line[np.isfinite(line).all(axis=1)].ravel().tolist(), fill=LIGHT.line, width=1)
    if run.body is not None:
        track = camera.flat(run.body[run.row(run.begin) :: 4, :3])
        for n in range(0, len(track) - 20, 28):
            pen.line(track[n : n + 20].ravel().tolist(), fill=LIGHT.ink, width=FINER)
