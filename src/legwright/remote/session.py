"""One connection, as the service sees it: who, what it may, what waits for it."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

from legwright.remote.said import Said
from legwright.remote.sign_in import Role
from legwright.remote.wire import frame

WAITING = 512
"""Answers and events that may wait for a slow reader; more, and the session ends."""
ALLOWANCE = 200.0
"""Messages per second that a client may send on average, and at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Peer:
    """Where a connection comes from."""

    address: str = "this process"
    certificate: str = ""
    """Common name of its verified client certificate."""


@dataclass(slots=True)
class Bucket:
    """Lets so many through per second, and as many at once."""

    rate: float
    level: float
    at: float

    def takes(self, now: float) -> bool:
        """Whether one more may pass."""
        self.level = min(self.rate, self.level + max(now - self.at, 0.0) * self.rate)
        self.at = now
        if self.level < 1.0:
            return False
        self.level -= 1.0
        return True


@dataclass(slots=True, kw_only=True)
class Stream:
    """One subscription to state."""

    name: str
    fields: tuple[str, ...]
    period: float
    """[s]"""
    due: float
    """Robot time of the next message [s]."""
    waiting: deque[str]
    dropped: int = 0

    def wants(self, time: float) -> bool:
        """Whether a message is due at a robot time; moves on if so."""
        if time < self.due - 1e-6:
            return False
        self.due += self.period
        if self.due <= time:
            self.due = time + self.period
        return True

    def put(self, text: str) -> None:
        """Add a message; the oldest gives way."""
        self.dropped += len(self.waiting) == self.waiting.maxlen
        self.waiting.append(text)


@dataclass(slots=True, kw_only=True)
class Session:
    """One connection."""

    id: str
    peer: Peer
    wake: Callable[[], None]
    bucket: Bucket
    role: Role = Role.NONE
    name: str = ""
    client: str = ""
    greeted: bool = False
    number: int = 0
    """Highest of its messages so far."""
    opened: float = 0.0
    """When it came [s]."""
    heard: float = 0.0
    """When it was last heard [s]."""
    bad: int = 0
    """Messages that made no sense."""
    ended: bool = False
    streams: dict[str, Stream] = field(default_factory=dict)
    letters: deque[str] = field(default_factory=deque)

    @property
    def who(self) -> str:
        """For records: name and session."""
        return f"{self.name or 'somebody'} ({self.id})"

    def say(self, message: Said) -> None:
        """Put a message that must arrive into the outbox."""
        self.put(frame(message))

    def put(self, text: str) -> None:
        """Put a frame that must arrive into the outbox."""
        if self.ended:
            return
        if len(self.letters) >= WAITING:
            self.ended = True
        else:
            self.letters.append(text)
        self.wake()

    def drain(self) -> list[str]:
        """Take all that waits, answers first."""
        found = list(self.letters)
        self.letters.clear()
        for stream in self.streams.values():
            found.extend(stream.waiting)
            stream.waiting.clear()
        return found
