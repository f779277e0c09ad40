"""The pages that are open, and what waits to be sent to each: the newest of a kind, no queue."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count

Frame = str | bytes

WAITING = 256
"""Answers that may wait for a page that does not read; older ones are dropped."""


class Page:
    """One open page."""

    def __init__(self, wake: Callable[[], None]) -> None:
        """Nothing waits yet.

        Args:
            wake: Called when something does.
        """
        self._wake = wake
        self._waiting: dict[str, Frame] = {}
        self._number = count(1)
        self.greeted = False
        """Whether its `hello` has come."""

    def put(self, key: str, frame: Frame) -> None:
        """Send a frame; one of the same key that still waits is worth nothing any more."""
        self._waiting.pop(key, None)
        self._waiting[key] = frame
        self._wake()

    def answer(self, frame: Frame) -> None:
        """Send a frame that no other replaces."""
        answers = [key for key in self._waiting if key.startswith("#")]
        for key in answers[: max(len(answers) + 1 - WAITING, 0)]:
            del self._waiting[key]
        self.put(f"#{next(self._number)}", frame)

    def drain(self) -> list[Frame]:
        """All that waits, oldest first; nothing waits after that."""
        frames = list(self._waiting.values())
        self._waiting.clear()
        return frames


class Board:
    """What every page sees: kept for pages that come later, and told to those that are there."""

    def __init__(self) -> None:
        """An empty board, no page."""
        self._kept: dict[str, Frame] = {}
        self._pages: dict[Page, None] = {}

    @property
    def pages(self) -> Iterator[Page]:
        """The pages that have been greeted."""
        return iter(tuple(self._pages))

    @property
    def watched(self) -> bool:
        """Whether any page is there."""
        return bool(self._pages)

    def join(self, page: Page) -> None:
        """Tell a page all that is kept; from now on it hears the rest."""
        self._pages[page] = None
        for key, frame in self._kept.items():
            page.put(key, frame)

    def leave(self, page: Page) -> None:
        """A page has gone."""
        self._pages.pop(page, None)

    def post(self, key: str, frame: Frame, *, keep: bool = True) -> None:
        """Tell all pages.

        Args:
            key: Kind of the frame; a newer one replaces it.
            frame: Text or block.
            keep: Whether pages that come later are to see it too.
        """
        if keep:
            self._kept[key] = frame
        for page in self._pages:
            page.put(key, frame)

    def forget(self, key: str) -> None:
        """Pages that come later are not told this."""
        self._kept.pop(key, None)

    def kept(self, key: str) -> Frame | None:
        """The newest frame of a kind, if it is kept."""
        return self._kept.get(key)
