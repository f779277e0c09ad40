"""What of an earlier study still holds for a changed robot: stages keyed by all that they read.

A key is a digest of content, never of names or times: the shape (every link, mass and joint),
the servos, and the tables of the sheet that a stage can read. A stage whose table is not listed
as unread is done again, so that a forgotten line costs time and never truth. Mesh files are taken
as unchanged while their paths are.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Mapping
from typing import NamedTuple, TypeVar

from legwright.robot.robot import Robot
from legwright.robot.sheet import Sheet

Made = TypeVar("Made")

WIRING = frozenset({"protection", "hub", "harness", "bus", "lights"})
"""Tables of the circuit and the bus. What of them has mass is in the shape."""
WORDS = frozenset({"about", "owner", "identification", "revision"})
"""Keys that nothing is reckoned from."""
BUILT = frozenset({"making", "shell", "process", "pad", "rounding", "cost"})
"""Tables of how parts are made, which no walk depends on."""

UNREAD: Mapping[str, frozenset[str]] = {
    "walks": WIRING | BUILT,
    "fed": BUILT,
    "check_supply": BUILT,
    "check_wiring": BUILT,
    "check_reach": WIRING | BUILT,
    "check_ground": WIRING | BUILT,
    "check_balance": WIRING | BUILT,
    "check_grip": WIRING | BUILT,
    "check_clash": WIRING | BUILT,
    "check_ranges": WIRING | BUILT | {"requirements", "gait"},
    "check_tolerance": WIRING | {"requirements", "gait", "shell", "process", "pad", "cost"},
    "check_strides": WIRING | BUILT - {"making"},
    "check_plates": frozenset({"requirements", "gait", "protection", "harness", "bus"}),
    "envelope": WIRING | BUILT,
    "maps": WIRING | BUILT | {"requirements", "gait", "battery"},
}
"""Stage -> the tables of the sheet that it does not read."""


class Stage(NamedTuple):
    """What a stage found, and all that it was found from."""

    key: bytes
    value: object


class Content:
    """Digests of what a robot is, for the keys of stages."""

    def __init__(self, robot: Robot) -> None:
        chains = [(name, leg.chain) for name, leg in robot.legs.items()]
        self._shape = _digest((robot.tree, robot.body, chains, dict(robot.held)))
        self._servos = _digest(dict(robot.servos))
        self._tables = {name: _digest(getattr(robot.sheet, name)) for name in Sheet.model_fields}

    def key(self, stage: str, *others: object) -> bytes:
        """The key of a stage.

        Args:
            stage: Its name; one that `UNREAD` does not know reads everything.
            others: What it takes from other stages, beyond the robot.
        """
        left_out = UNREAD.get(stage, frozenset()) | WORDS | {"name"} - _named(stage)
        read = [digest for name, digest in self._tables.items() if name not in left_out]
        return b"".join((self._shape, self._servos, *read, _digest(others)))


def _named(stage: str) -> frozenset[str]:
    """Checks may speak of the robot by its name; what is reckoned does not."""
    return frozenset({"name"}) if stage.startswith("check") else frozenset()


def _digest(value: object) -> bytes:
    return hashlib.blake2b(pickle.dumps(value, protocol=5), digest_size=16).digest()


class Keeper:
    """Does a stage, or takes it from an earlier study where its key is the same."""

    def __init__(self, robot: Robot, before: Mapping[str, Stage]) -> None:
        self._content = Content(robot)
        self._before = before
        self.stages: dict[str, Stage] = {}
        """All stages of this study."""
        self.kept: list[str] = []
        """Names of those that were taken over."""

    def of(
        self,
        stage: str,
        make: Callable[[], Made],
        *others: object,
        holds: Callable[[Made], bool] = lambda found: True,
    ) -> Made:
        """What a stage finds.

        Args:
            stage: Its name.
            make: Does it.
            others: What it takes from other stages, beyond the robot.
            holds: Whether what was found before may be taken over, its key being the same.
        """
        key = self._content.key(stage, *others)
        old = self._before.get(stage)
        if old is not None and self.has(stage, *others, holds=holds):
            self.stages[stage] = old
            self.kept.append(stage)
            return old.value  # type: ignore[return-value]
        value = make()
        self.stages[stage] = Stage(key, value)
        return value

    def old(self, stage: str) -> object:
        """What an earlier study found in a stage, of whatever robot; None where there is none."""
        found = self._before.get(stage)
        return None if found is None else found.value

    def has(
        self, stage: str, *others: object, holds: Callable[[Made], bool] = lambda found: True
    ) -> bool:
        """Whether a stage can be taken over; arguments as for `of`."""
        old = self._before.get(stage)
        if old is None or old.key != self._content.key(stage, *others):
            return False
        return holds(old.value)  # type: ignore[arg-type]
