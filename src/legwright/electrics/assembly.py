"""A circuit in the making: what has been joined so far, outward from the battery."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from legwright.electrics.parts import Consumer, Item, Kind, Port
from legwright.errors import RobotError
from legwright.robot.robot import Robot


@dataclass(slots=True)
class Assembly:
    """Items and consumers so far, and the points of the sheet that power has reached."""

    robot: Robot
    lengths: Mapping[str, float]
    """Joint or load that a cable leads to -> its length, one way [m]."""
    items: list[Item] = field(default_factory=list)
    consumers: list[Consumer] = field(default_factory=list)
    ports: list[Port] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    at: dict[str, str] = field(default_factory=lambda: {"battery": "battery"})
    """Point that is fed -> node from which it feeds further."""
    given: dict[Kind, int] = field(default_factory=dict)

    def designation(self, kind: Kind) -> str:
        """The next designation of a kind."""
        self.given[kind] = self.given.get(kind, 0) + 1
        return f"-{kind.value}{self.given[kind]}"

    def fault(self, place: str, problem: str, cure: str) -> RobotError:
        """An error about the sheet."""
        return RobotError(self.robot.source, place, problem, cure)

    def rail(self, node: str) -> float | None:
        """Voltage that a regulator holds ahead of a node; None where there is none [V]."""
        into = {item.end: item for item in self.items}
        while node in into:
            if into[node].voltage is not None:
                return into[node].voltage
            node = into[node].start
        return None
