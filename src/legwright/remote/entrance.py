"""How many may come in, and who is kept waiting outside."""

from __future__ import annotations

from collections.abc import Iterable

from legwright.errors import LinkError
from legwright.remote.session import Peer, Session
from legwright.remote.sign_in import Role

TRIES, PENALTY = 5, 60.0
"""So many failed sign-ins from one address close it for so long [s]."""
STRANGERS = 8
"""Connections from one address that have not signed in yet."""
REMEMBERED = 4096
"""Addresses whose failures are kept; more, and all begin anew."""


class Entrance:
    """Counts connections and failed sign-ins by address."""

    def __init__(self, most: int) -> None:
        """Nobody is there.

        Args:
            most: How many connections there may be.
        """
        self._most = most
        self._failed: dict[str, tuple[int, float]] = {}

    def check(self, peer: Peer, sessions: Iterable[Session], now: float) -> None:
        """Refuse a connection that is one too many.

        Raises:
            LinkError: Word ``busy`` where there are too many already, ``sign-in`` where that
                address tried too often.
        """
        count, until = self._failed.get(peer.address, (0, 0.0))
        if count >= TRIES and now < until:
            text = f"Too many failed sign-ins; wait {until - now:.0f} s and look at the token."
            raise LinkError("sign-in", text)
        there = [session for session in sessions if not session.ended]
        if len(there) >= self._most:
            raise LinkError("busy", f"The robot has {self._most} connections already. Close some.")
        strangers = [s for s in there if s.role is Role.NONE and s.peer.address == peer.address]
        if len(strangers) >= STRANGERS:
            raise LinkError("busy", "Too many connections from there have not signed in yet.")

    def failed(self, address: str, now: float) -> None:
        """Somebody there showed a token that opens nothing."""
        count, until = self._failed.get(address, (0, 0.0))
        if len(self._failed) > REMEMBERED:
            self._failed.clear()
        self._failed[address] = (count + 1 if now < until else 1, now + PENALTY)

    def forgive(self, address: str) -> None:
        """Somebody there signed in."""
        self._failed.pop(address, None)
