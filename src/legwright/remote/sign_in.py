"""Who may do what: roles, keys, certificates."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum

from legwright.errors import RequestError

SHORTEST = 20
"""Characters of a token; tokens are random, so a plain hash at rest is enough."""


class Role(IntEnum):
    """What a session may do; each may all that the ones before it may."""

    NONE = 0
    """Nobody yet."""
    WATCH = 1
    """Read state and events, and stop the robot."""
    DRIVE = 2
    """Take the driver's place and move the robot."""
    MAINTAIN = 3
    """Take the place from another driver."""

    @property
    def word(self) -> str:
        """The role in messages; empty for nobody."""
        return "" if self is Role.NONE else self.name.lower()

    @classmethod
    def of(cls, word: str) -> Role:
        """The role that a word names.

        Raises:
            RequestError: for any other word.
        """
        known = [role.word for role in cls if role is not Role.NONE]
        if word not in known:
            raise RequestError("role", word, f"one of {', '.join(known)}")
        return cls[word.upper()]


@dataclass(frozen=True, slots=True, kw_only=True)
class Guest:
    """Somebody who has shown who they are."""

    name: str
    role: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What is kept of a token: its hash, never itself."""

    name: str
    role: Role
    digest: str
    """SHA-256 of the token, in hexadecimal."""


def new_token() -> str:
    """A fresh random token of 256 bits."""
    return secrets.token_urlsafe(32)


def key_for(token: str, *, name: str, role: Role) -> Key:
    """The key that a token opens.

    Raises:
        RequestError: for a token that is too short to be a secret.
    """
    if len(token) < SHORTEST:
        raise RequestError("token", "…", f"of {SHORTEST} characters at least, and random")
    return Key(name=name, role=role, digest=_digest(token))


@dataclass(frozen=True, slots=True, kw_only=True)
class Doors:
    """All ways in."""

    keys: tuple[Key, ...] = ()
    certificates: Mapping[str, Guest] = field(default_factory=dict)
    """Common name of a client certificate that TLS has verified -> who that is."""
    open_to: Role = Role.NONE
    """Role of whoever shows nothing; only for loopback and for robots in this process."""

    @property
    def locked(self) -> bool:
        """Whether a secret is needed to get in."""
        return self.open_to is Role.NONE and bool(self.keys or self.certificates)

    def by_token(self, token: str) -> Guest | None:
        """Who a token belongs to; the time taken tells nothing about the keys."""
        digest, found = _digest(token), None
        for key in self.keys:
            if hmac.compare_digest(digest, key.digest):
                found = Guest(name=key.name, role=key.role)
        return found

    def by_certificate(self, common_name: str) -> Guest | None:
        """Who a verified client certificate belongs to."""
        return self.certificates.get(common_name)


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
