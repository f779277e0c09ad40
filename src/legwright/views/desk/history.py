"""What was edited, step by step: undo and redo over frozen states."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

LONGEST = 500
"""Steps that are kept."""
TOGETHER = 0.7
"""Edits of one key that follow each other within this are one step: a drag, not a hundred [s]."""

NOTHING = "not stated"

Edits = Mapping[str, str]
"""Dotted key -> value as typed; only what differs from what is on disk."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One state, and what led to it."""

    edits: Edits
    label: str = ""
    """What it was done to; empty for the first state."""
    before: str = ""
    after: str = ""
    key: str = ""
    """The one key that was edited; empty where it was more than one."""
    at: float = 0.0
    """When it was done last [s]."""

    @property
    def words(self) -> str:
        """What was done; empty for the first state."""
        if not self.key:
            return self.label
        return f"{self.label} {self.before or NOTHING} → {self.after or NOTHING}"


@dataclass(frozen=True, slots=True)
class History:
    """States one after another, and the one that holds."""

    steps: tuple[Step, ...] = field(default=(Step(edits={}),))
    place: int = 0

    @property
    def edits(self) -> Edits:
        """What differs from what is on disk."""
        return self.steps[self.place].edits

    @property
    def undo(self) -> str:
        """What undo would take back, in words; empty when there is nothing."""
        return self.steps[self.place].words

    @property
    def redo(self) -> str:
        """What redo would bring back, in words; empty when there is nothing."""
        after = self.steps[self.place + 1 :]
        return after[0].words if after else ""

    def done(
        self, edits: Edits, *, label: str, now: float, key: str = "", before: str = "",
        after: str = "",
    ) -> History:  # fmt: skip
        """With one more step; what was undone is forgotten.

        Args:
            edits: All that differs from what is on disk now.
            label: What was edited, or what was done.
            now: Time [s].
            key: The one key that was edited; empty where it was more than one.
            before: Its value before.
            after: And now.
        """
        kept = self.steps[: self.place + 1]
        last = kept[-1]
        if key and last.key == key and now - last.at < TOGETHER:
            kept, before = kept[:-1], last.before
        step = Step(edits=dict(edits), label=label, before=before, after=after, key=key, at=now)
        kept = (*kept, step)[-LONGEST:]
        return History(kept, len(kept) - 1)

    def back(self) -> History:
        """One step back; the same where there is none."""
        return History(self.steps, max(self.place - 1, 0))

    def forth(self) -> History:
        """One step forth; the same where there is none."""
        return History(self.steps, min(self.place + 1, len(self.steps) - 1))
