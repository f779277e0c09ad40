"""A run over time: current, voltage, heat; balance, height and tilt of the body."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from legwright.robot.tree import Floats
from legwright.study.walk_score import tilt
from legwright.views import tokens
from legwright.views.axes import Scale, bottom_axis, nice_step
from legwright.views.ink import Drawing, Ink
from legwright.views.numbers import plain, with_unit
from legwright.views.run import Run
from legwright.views.symbols import empty_sentence, title
from legwright.views.time_plot import Curve, Limit, panel
from legwright.views.wide_sheet import ROOM

CELSIUS = 273.15
GAP = 1.4
"""Between a plot and its time axis, so that their figures stay apart [mm]."""
LOOKS = (
    (tokens.THICK, "continuous"),
    (tokens.THIN, "continuous"),
    (tokens.THIN, "hidden"),
    (tokens.FINE, "centre"),
)
"""Width and pattern of the drives of a leg, from the body outwards."""


def power_drawing(run: Run) -> Drawing:
    """The largest current, the lowest voltage and the hottest winding at every moment."""
    width, height = ROOM
    ink = Ink(width, height, about="Current, voltage and winding temperature over time")
    title(ink, "Current, voltage, heat", "of each kind of joint the worst of all legs")
    panels: list[tuple[str, str, list[Curve], Limit | None]] = []
    if run.current is not None:
        panels += [
            (f"Current of the {curve.label}s, as read", "A", [Curve(values=curve.values)], None)
            for curve in _worst(run, np.abs(run.current))
        ]
    volts = _volts(run)
    if volts:
        panels.append(("Voltage", "V", volts, _lowest(run)))
    if run.winding is not None:
        curves = _worst(run, run.winding - CELSIUS)
        panels.append(("Winding temperature", "°C", curves, _hottest(run)))
    _stack(ink, run, panels)
    return ink.finish()


def body_drawing(run: Run) -> Drawing:
    """Stability margin, height and tilt of the body, and what the believed place was off by."""
    width, height = ROOM
    ink = Ink(width, height, about="Margin, height, tilt and place of the body over time")
    title(ink, "Body", "balance, height, tilt, way")
    wanted = run.recording.about.get("wanted_margin")
    limit = None
    if wanted is not None:
        words = f"wanted {with_unit(plain(1e3 * float(wanted), 0), 'mm')}, hatched below"
        limit = Limit(value=1e3 * float(wanted), label=words, above=False)
    margin = [Curve(values=1e3 * run.margin, weight=tokens.THICK)]
    panels = [("Stability margin as the controller reckons", "mm", margin, limit)]
    if run.body is not None:
        under = _ground_under(run)
        curves = [Curve(values=1e3 * run.body[:, 2], label="body", weight=tokens.THICK)]
        if under is not None:
            curves.append(Curve(values=1e3 * under, label="ground", dash="hidden"))
        panels.append(("Height", "mm", curves, None))
        lean = [Curve(values=np.degrees(tilt(run.body)), weight=tokens.THICK)]
        panels.append(("Tilt", "°", lean, None))
    way = [
        Curve(values=track[:, 0] - track[min(run.row(run.begin), len(track) - 1), 0], label=label,
              weight=weight, dash=dash)
        for track, label, weight, dash in (
            (run.body, "true", tokens.THICK, "continuous"),
            (run.place, "believed", tokens.THIN, "hidden"),
        )
        if track is not None
    ]  # fmt: skip
    if way:
        panels.append(("Way forward", "m", way, None))
    _stack(ink, run, panels)
    return ink.finish()


def path_plot(ink: Ink, run: Run, *, left: float, top: float, right: float, bottom: float) -> None:
    """The way in plan, nose up: true thick, believed dashed, the asked line as a chain line."""
    tracks = [
        (track[min(run.row(run.begin), len(track) - 1) :, :2], weight, dash, word)
        for track, weight, dash, word in (
            (run.body, tokens.THICK, "continuous", "true"),
            (run.place, tokens.THIN, "hidden", "believed"),
        )
        if track is not None
    ]
    if not tracks:
        empty_sentence(ink, "The recording holds no place.", x=left, y=top + 6.0)
        return
    moved = [(points - points[0], weight, dash, word) for points, weight, dash, word in tracks]
    corners = np.concatenate([points for points, *_ in moved])
    asked = float(run.recording.about.get("distance") or 0.0)
    low, high = float(corners[:, 0].min()), max(float(corners[:, 0].max()), asked, 0.1)
    scale = min((bottom - top - 12.0) / (high - low), 0.42 * (right - left) / _aside(corners))
    middle, base = (left + right) / 2, bottom - 6.0 + scale * low
    ink.line(middle, base, middle, base - scale * high, dash="centre")
    if asked:
        y = base - scale * asked
        ink.line(middle - 12.0, y, middle + 12.0, y)
        ink.text(middle + 13.0, y + 0.9, f"asked {with_unit(plain(asked, 1), 'm')}")
    for points, weight, dash, word in moved:
        step = max(len(points) // 500, 1)
        shown = np.concatenate([points[::step], points[-1:]])
        line = [(middle - scale * float(y), base - scale * float(x)) for x, y in shown]
        ink.path(line, weight=weight, dash=dash, round_ends=True)
        x, y = line[-1]
        ink.circle(x, y, 0.7, stroke="none", fill="ink")
        spots = [
            (x + s * 1.4, y + d, a) for d in (-1.4, 4.0) for s, a in ((1, "start"), (-1, "end"))
        ]
        ink.text_where_free(spots, word)
    ink.circle(middle, base, 0.8, fill="sheet")
    ink.text(middle + 2.0, base + 2.6, "start")


def _aside(corners: Floats) -> float:
    return max(float(np.abs(corners[:, 1]).max()), 0.05)


def _stack(
    ink: Ink, run: Run, panels: Sequence[tuple[str, str, Sequence[Curve], Limit | None]]
) -> None:
    """Panels below each other over one time axis."""
    if not panels:
        empty_sentence(ink, "The recording holds none of this.")
        return
    end = float(run.time[-1])
    start = min(run.begin, end) if np.isfinite(run.begin) else 0.0
    across = Scale(low=start, high=max(end, start + 0.1), start=16.0, end=ink.width - 20.0)
    first = run.row(start)
    tall = (ink.height - 20.0) / len(panels)
    for place, (heading, unit, curves, limit) in enumerate(panels):
        top = 13.0 + place * tall
        shown = [
            Curve(values=c.values[first:], label=c.label, weight=c.weight, dash=c.dash)
            for c in curves
        ]
        panel(
            ink, across, run.time[first:], shown, top=top, bottom=top + tall - 7.0, unit=unit,
            heading=heading, limit=limit, inside=True,
        )  # fmt: skip
    bottom = 13.0 + len(panels) * tall - 7.0
    bottom_axis(ink, bottom + GAP, across, nice_step(end - start, 10), "s", quantity="time")


def _kinds(run: Run) -> Mapping[str, list[int]]:
    """Place in the leg -> joints: coxa, femur, tibia where a leg has three."""
    count = len(run.joints)
    if not run.legs or count % len(run.legs):
        return {"joints": list(range(count))}
    each = count // len(run.legs)
    names = (
        ("coxa", "femur", "tibia") if each == 3 else tuple(f"joint {n + 1}" for n in range(each))
    )
    return {name: list(range(n, count, each)) for n, name in enumerate(names)}


def _worst(run: Run, values: Floats) -> list[Curve]:
    kinds = _kinds(run)
    return [
        Curve(values=values[:, columns].max(axis=1), label=name, weight=weight, dash=dash)
        for (name, columns), (weight, dash) in zip(kinds.items(), LOOKS * 5, strict=False)
    ]


def _volts(run: Run) -> list[Curve]:
    curves = []
    if run.voltage is not None:
        curves.append(Curve(values=run.voltage, label="supply"))
    if run.servo_voltage is not None:
        lowest = run.servo_voltage.min(axis=1)
        curves.append(Curve(values=lowest, label="lowest servo", weight=tokens.THICK))
    return curves


def _limits(run: Run, name: str) -> Floats:
    values = run.recording.about.get(name) or []
    return np.array([float(v) for v in values if v is not None])


def _lowest(run: Run) -> Limit | None:
    known = _limits(run, "lowest_voltage")
    if not len(known):
        return None
    value = float(known.max())
    return Limit(
        value=value, label=f"servos reset under {with_unit(plain(value, 1), 'V')}", above=False
    )


def _hottest(run: Run) -> Limit | None:
    known = _limits(run, "highest_winding") - CELSIUS
    if not len(known):
        return None
    value = float(known.min())
    return Limit(value=value, label=f"allowed {with_unit(plain(value, 0), '°C')}", above=True)


def _ground_under(run: Run) -> Floats | None:
    if run.scenery is None or run.body is None:
        return None
    return np.asarray(run.scenery.ground().height(run.body[:, 0], run.body[:, 1]))
