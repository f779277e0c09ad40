"""Single objects of many drives at once: SDO, expedited, one round for all nodes.

A drive answers a request in milliseconds; asked one after the other, eighteen drives with fifty
objects each take seconds. Here every round sends one request to each node and gathers the
answers. Objects of up to four bytes are all that a set-up needs.

Source: CiA 301 4.2.0, 7.2.4 (SDO); abort codes from its table 22.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RigError
from legwright.rig.can.frames import Frames, Kind, of_kind, table
from legwright.rig.can.objects import Object
from legwright.rig.can.wire import Wire

PATIENCE = 0.5
"""A drive answers an SDO within this time [s]; common practice, no published source."""
TRIES = 3
GROUP = 8
"""Requests on one bus before the answers are awaited: adapters queue few frames."""
PAUSE = 0.001
"""Between two looks for answers [s]."""

Place = tuple[int, int]
"""Number of the wire, node."""

ABORTS: Mapping[int, str] = {
    0x05040000: "protocol timed out",
    0x05040001: "command not known",
    0x06010000: "access is not supported",
    0x06010001: "object can only be written",
    0x06010002: "object can only be read",
    0x06020000: "object does not exist",
    0x06040041: "object cannot be mapped to a PDO",
    0x06040042: "mapped objects exceed the PDO's length",
    0x06070010: "length does not match",
    0x06090011: "sub-index does not exist",
    0x06090030: "value is out of range",
    0x06090031: "value is too high",
    0x06090032: "value is too low",
    0x08000000: "general error",
    0x08000020: "data cannot be stored",
    0x08000021: "local control forbids it",
    0x08000022: "the present state of the device forbids it",
}
"""Abort code -> what it means."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A drive's no."""

    place: Place
    item: Object
    code: int

    def __str__(self) -> str:
        text = ABORTS.get(self.code, "no reason known here")
        return (
            f"node {self.place[1]} refuses {self.item.index:04X}h:{self.item.sub} "
            f"({self.item.name}): {text} ({self.code:#010x})"
        )


class Talk:
    """SDO with many nodes on several wires."""

    def __init__(
        self,
        wires: Sequence[Wire],
        *,
        clock: Callable[[], float],
        sleep: Callable[[float], None],
    ) -> None:
        """Use these wires; clock and sleep are those of the rig."""
        self._wires, self._clock, self._sleep = wires, clock, sleep

    def read(
        self, places: Sequence[Place], item: Object, *, patience: float = PATIENCE, tries: int = 1
    ) -> dict[Place, int]:
        """Ask nodes for an object.

        Args:
            places: Whom.
            item: What.
            patience: How long to wait for each group's answers [s].
            tries: How often silent nodes are asked.

        Returns:
            Values of the nodes that answered; a refusal counts as no value.
        """
        payload = {place: _upload(item) for place in places}
        found = self._rounds(payload, item, patience, tries)
        return {
            place: _value(item, data) for place, data in found.items() if data[0] & 0xE0 == 0x40
        }

    def read_all(self, places: Sequence[Place], item: Object) -> dict[Place, int]:
        """The same; every node must answer.

        Raises:
            RigError: naming the nodes that did not.
        """
        found = self.read(places, item, tries=TRIES)
        silent = [str(place[1]) for place in places if place not in found]
        if silent:
            raise RigError(
                f"Node {', '.join(silent)} does not tell {item.index:04X}h:{item.sub} "
                f"({item.name}). It must be a CiA 402 drive."
            )
        return found

    def write(self, values: Mapping[Place, int], item: Object) -> tuple[Refusal, ...]:
        """Set an object in nodes.

        Args:
            values: Place -> value.
            item: What.

        Returns:
            Refusals.

        Raises:
            RigError: if a node does not answer.
        """
        payload = {place: _download(item, value) for place, value in values.items()}
        found = self._rounds(payload, item, PATIENCE, TRIES)
        silent = [str(place[1]) for place in values if place not in found]
        if silent:
            raise RigError(
                f"Node {', '.join(silent)} fell silent while it was set up. "
                "Look at its cable and supply."
            )
        return tuple(
            Refusal(place=place, item=item, code=int.from_bytes(data[4:8].tobytes(), "little"))
            for place, data in found.items()
            if data[0] == 0x80
        )

    def _rounds(
        self, payload: Mapping[Place, bytes], item: Object, patience: float, tries: int
    ) -> dict[Place, NDArray[np.uint8]]:
        found: dict[Place, NDArray[np.uint8]] = {}
        for _ in range(tries):
            waiting = [place for place in payload if place not in found]
            for group in _groups(waiting):
                for number, wire in enumerate(self._wires):
                    nodes = [node for where, node in group if where == number]
                    if nodes:
                        wire.send(_requests(nodes, [payload[number, node] for node in nodes]))
                self._gather(set(group), item, patience, found)
        return found

    def _gather(
        self, waiting: set[Place], item: Object, patience: float,
        found: dict[Place, NDArray[np.uint8]],
    ) -> None:  # fmt: skip
        end = self._clock() + patience
        while waiting and self._clock() < end:
            self._sleep(PAUSE)
            for number, wire in enumerate(self._wires):
                nodes, frames = of_kind(wire.take(256), Kind.SDO_ANSWER, 8)
                for node, data in zip(nodes.tolist(), frames["data"], strict=True):
                    place = (number, node)
                    if place in waiting and _is_of(item, data):
                        found[place] = data
                        waiting.discard(place)


def _groups(places: list[Place]) -> list[list[Place]]:
    """Places such that no wire gets more than `GROUP` requests at once."""
    groups: list[list[Place]] = []
    counts: dict[int, int] = {}
    for place in places:
        index = counts.get(place[0], 0) // GROUP
        counts[place[0]] = counts.get(place[0], 0) + 1
        while len(groups) <= index:
            groups.append([])
        groups[index].append(place)
    return groups


def _requests(nodes: list[int], payload: list[bytes]) -> Frames:
    data = np.frombuffer(b"".join(payload), dtype=np.uint8).reshape(-1, 8)
    return table(Kind.SDO_REQUEST + np.array(nodes), 8, data)


def _head(command: int, item: Object) -> bytes:
    return bytes((command,)) + item.index.to_bytes(2, "little") + bytes((item.sub,))


def _upload(item: Object) -> bytes:
    return _head(0x40, item) + bytes(4)


def _download(item: Object, value: int) -> bytes:
    data = value.to_bytes(item.size, "little", signed=item.signed)
    return _head(0x23 | (4 - item.size) << 2, item) + data.ljust(4, b"\0")


def _is_of(item: Object, data: NDArray[np.uint8]) -> bool:
    return bool(data[1:4].tobytes() == _head(0, item)[1:])


def _value(item: Object, data: NDArray[np.uint8]) -> int:
    return int.from_bytes(data[4 : 4 + item.size].tobytes(), "little", signed=item.signed)
