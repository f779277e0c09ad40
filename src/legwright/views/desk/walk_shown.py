"""What a page that watches has seen of a walk, and what it is sent next."""

from __future__ import annotations

from legwright.views.desk.blocks import Land, Moment, Run, packed
from legwright.views.desk.pages import Page
from legwright.views.desk.said import WalkAbout, WalkEvents
from legwright.views.desk.walk_poses import Pose
from legwright.views.desk.walk_rows import CELSIUS
from legwright.views.desk.walk_story import About, Story
from legwright.views.desk.wire import frame

EVERY = 0.1
"""Curves are sent whenever the walk went on by so much [s]."""


class Watch:
    """One page that watches."""

    def __init__(self, page: Page) -> None:
        """It has seen nothing yet."""
        self._page = page
        self._of: Story | None = None
        self._bins = self._edges = self._events = 0
        self._width = 0.0
        self._time = -1.0

    def show(
        self, story: Story | None, *, drawn: bool, live: bool, anew: bool = False,
        rest: bool = False,
    ) -> None:  # fmt: skip
        """Send what is new.

        Args:
            story: The walk.
            drawn: Whether its moments fit the robot that is drawn.
            live: Whether the newest moment is sent with it.
            anew: Whether to begin from the start in any case.
            rest: Whether to send the last bit of the curves, however little it is.
        """
        if story is None:
            return
        begin = anew or story is not self._of
        if begin:
            self._begin(story, drawn=drawn)
        folded = story.history.width != self._width
        more = story.time >= self._time + (1e-6 if rest else EVERY - 1e-6)
        if begin or folded or more:
            self._run(story, start=begin or folded)
        if story.told > self._events or begin:
            told = WalkEvents(start=begin, list=story.events_since(0 if begin else self._events))
            self._page.answer(frame(told))
            self._events = story.told
        if drawn and story.latest is not None:
            first = story.latest if live else story.poses.at(0.0) or story.latest
            if live or begin:
                self._page.put("moment", moment_block(first, live=live))

    def _begin(self, story: Story, *, drawn: bool) -> None:
        self._of = story
        self._bins = self._edges = self._events = 0
        self._page.answer(frame(about_said(story.about, drawn=drawn)))
        terrain = story.about.terrain
        if terrain is not None:
            land = Land(rev=0, spacing=terrain.spacing, origin=terrain.start)
            self._page.answer(packed(land, {"heights": terrain.heights}))

    def _run(self, story: Story, *, start: bool) -> None:
        history = story.history
        at = 0 if start else max(self._bins - 1, 0)
        low, high = history.since(at)
        edges = story.edges_since(0 if start else self._edges)
        header = Run(rev=0, start=start, at=at, width=history.width, time=story.time)
        self._page.answer(packed(header, {"low": low, "high": high, "edges": edges}))
        self._bins, self._edges = history.count, story.switches
        self._width, self._time = history.width, story.time


def about_said(about: About, *, drawn: bool) -> WalkAbout:
    """What a walk is about, as pages are told."""
    wanted, hottest = about.wanted_margin, about.highest_winding
    return WalkAbout(
        legs=about.layout.legs,
        hips=about.hips,
        columns=about.layout.names,
        weight=about.weight,
        wanted_margin=None if wanted is None else 1e3 * wanted,
        lowest_voltage=about.lowest_voltage,
        highest_winding=None if hottest is None else hottest - CELSIUS,
        truth=about.truth,
        drawn=drawn,
        notes=about.notes,
    )


def moment_block(pose: Pose, *, live: bool) -> bytes:
    """A moment as a block."""
    return packed(Moment(rev=0, time=pose.time, live=live), pose.arrays())
