"""The object dictionary of simulated drives, and their SDO server.

Values are held for all drives at once, (R,) per object. Set-up is refused where a real drive
refuses it: a PDO's mapping while it is on, any PDO setting while operational, mappings of what
is not there, values out of range.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from legwright.rig.can import objects as o
from legwright.rig.can.frames import Nmt

Key = tuple[int, int]

NOT_THERE, READ_ONLY, TOO_LONG = 0x06020000, 0x06010002, 0x06040042
WRONG_LENGTH, OUT_OF_RANGE, NOT_NOW, NOT_MAPPABLE = 0x06070010, 0x06090030, 0x08000022, 0x06040041
_PDOS = (o.RPDO1, o.RPDO2, o.TPDO1, o.TPDO2)
_MAPPABLE = (
    o.CONTROLWORD, o.TARGET, o.STATUSWORD, o.POSITION, o.CURRENT, o.SUPPLY, o.ERROR_CODE, o.WINDING,
)  # fmt: skip
_READ_ONLY = (
    o.DEVICE_TYPE, o.ERROR_REGISTER, o.VENDOR, o.PRODUCT, o.REVISION, o.SERIAL, o.ERROR_CODE,
    o.STATUSWORD, o.MODE_SHOWN, o.POSITION, o.CURRENT, o.SUPPLY, o.WINDING, o.RATED_CURRENT,
)  # fmt: skip
_WRITABLE = (
    o.CONSUMER_HEARTBEAT, o.PRODUCER_HEARTBEAT, o.ERROR_BEHAVIOUR, o.ABORT_OPTION, o.CONTROLWORD,
    o.QUICK_STOP_OPTION, o.FAULT_OPTION, o.MODE, o.FOLLOWING_WINDOW, o.FOLLOWING_TIME, o.TARGET,
    o.LOWEST, o.HIGHEST, o.FEED, o.FEED_TURNS, o.PERIOD, o.PERIOD_POWER,
)  # fmt: skip


class Dictionary:
    """Objects of R drives."""

    def __init__(self, count: int, start: Mapping[o.Object, NDArray[np.int64]]) -> None:
        """With default values, and `start` over them."""
        self._entries: dict[Key, o.Object] = {}
        self._values: dict[Key, NDArray[np.int64]] = {}
        self._fixed = {(item.index, item.sub) for item in _READ_ONLY}
        every = [*_READ_ONLY, *_WRITABLE]
        for pdo in _PDOS:
            every += [pdo.identifier, pdo.transmission, pdo.timer, pdo.count]
            every += [pdo.entry(number) for number in range(1, 5)]
        for item in every:
            self._entries[item.index, item.sub] = item
            self._values[item.index, item.sub] = np.zeros(count, dtype=np.int64)
        for pdo in _PDOS:
            self[pdo.identifier][:] = o.OFF
        for item, values in start.items():
            self[item][:] = values

    def __getitem__(self, item: o.Object) -> NDArray[np.int64]:
        """Values of all drives, (R,), to be read or set in place."""
        return self._values[item.index, item.sub]

    def carries(self, pdo: o.Pdo, *items: o.Object) -> NDArray[np.bool_]:
        """Drives whose PDO is on and carries just these objects in this order, (R,)."""
        found = (self[pdo.count] == len(items)) & (self[pdo.identifier] & o.OFF == 0)
        for number, item in enumerate(items, start=1):
            found &= self[pdo.entry(number)] == item.mapping
        return np.asarray(found)

    def serve(self, row: int, request: bytes, state: int) -> bytes:
        """Answer one SDO request to one drive.

        Args:
            row: Which drive.
            request: Eight bytes.
            state: Its NMT state.

        Returns:
            Eight bytes.
        """
        command, index, sub = request[0], int.from_bytes(request[1:3], "little"), request[3]
        item = self._entries.get((index, sub))
        head = request[1:4]
        if item is None:
            return _abort(head, NOT_THERE)
        if command == 0x40:
            value = int(self[item][row])
            data = value.to_bytes(item.size, "little", signed=item.signed and value < 0)
            return bytes((0x43 | (4 - item.size) << 2,)) + head + data.ljust(4, b"\0")
        if command & 0xE3 != 0x23:
            return _abort(head, WRONG_LENGTH)
        size = 4 - (command >> 2 & 3)
        value = int.from_bytes(request[4 : 4 + size], "little", signed=item.signed)
        code = self._refusal(item, row, size, value, state)
        if code:
            return _abort(head, code)
        self[item][row] = value
        return bytes((0x60,)) + head + bytes(4)

    def _refusal(self, item: o.Object, row: int, size: int, value: int, state: int) -> int:
        if (item.index, item.sub) in self._fixed:
            return READ_ONLY
        if size != item.size:
            return WRONG_LENGTH
        if item.index in (o.MODE.index, o.QUICK_STOP_OPTION.index) and not -128 <= value <= 127:
            return OUT_OF_RANGE
        for pdo in _PDOS:
            if item.index not in (pdo.settings, pdo.mapping):
                continue
            if state == Nmt.OPERATIONAL_STATE:
                return NOT_NOW
            if item.index == pdo.mapping:
                return self._mapping_refusal(pdo, item, row, value)
        return 0

    def _mapping_refusal(self, pdo: o.Pdo, item: o.Object, row: int, value: int) -> int:
        if not int(self[pdo.identifier][row]) & o.OFF:
            return NOT_NOW
        if item.sub == 0:
            bits = sum(int(self[pdo.entry(number)][row]) & 0xFF for number in range(1, value + 1))
            return TOO_LONG if value > 4 or bits > 64 else 0
        if int(self[pdo.count][row]):
            return NOT_NOW
        return 0 if value in {one.mapping for one in _MAPPABLE} else NOT_MAPPABLE


def _abort(head: bytes, code: int) -> bytes:
    return bytes((0x80,)) + head + code.to_bytes(4, "little")
