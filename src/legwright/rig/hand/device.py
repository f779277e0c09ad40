"""A game controller as a Linux event device.

Source: the kernel's input documentation (event codes, gamepad layout, ``EVIOCGABS``).
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from legwright.errors import RigError
from legwright.rig.hand.mapping import Reading

EVENT = struct.Struct("llHHi")
"""Seconds, microseconds, type, code, value."""
KEY, ABSOLUTE, SYNC = 1, 3, 0
DROPPED = 3
"""Code of the sync event that says that events were lost."""

BUTTONS = {
    0x130: "south", 0x131: "east", 0x133: "north", 0x134: "west", 0x136: "left shoulder",
    0x137: "right shoulder", 0x138: "left trigger", 0x139: "right trigger", 0x13A: "back",
    0x13B: "start", 0x13D: "left stick", 0x13E: "right stick", 0x220: "up", 0x221: "down",
    0x222: "left", 0x223: "right",
}  # fmt: skip
AXES = {0x00: "left x", 0x01: "left y", 0x03: "right x", 0x04: "right y"}
HATS = {0x10: ("left", "right"), 0x11: ("up", "down")}


class Device:
    """One controller. `read` never waits."""

    def __init__(self, path: Path | str) -> None:
        """Open the device.

        Args:
            path: Such as ``/dev/input/event3``.

        Raises:
            RigError: if it cannot be opened.
        """
        try:
            self._file = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
        except OSError as error:
            raise RigError(
                f"The controller {path} cannot be opened ({error.strerror}). "
                "Check that it is plugged in and that this user belongs to the group input."
            ) from None
        self._range = {code: _range(self._file, code) for code in AXES}
        self._axes = dict.fromkeys(AXES.values(), 0.0)
        self._held: set[str] = set()
        self._rest = b""
        self.gone = False
        """Whether the controller has been unplugged."""

    def read(self) -> Reading:
        """Where sticks and buttons are now; released altogether once the device is gone."""
        for kind, code, value in self._events():
            self._take(kind, code, value)
        if self.gone:
            return Reading()
        return Reading(axes=dict(self._axes), buttons=frozenset(self._held))

    def close(self) -> None:
        """Leave the device."""
        os.close(self._file)

    def _events(self) -> Iterator[tuple[int, int, int]]:
        while not self.gone:
            try:
                data = os.read(self._file, 64 * EVENT.size)
            except BlockingIOError:
                return
            except OSError:
                self.gone = True
                return
            if not data:
                self.gone = True
                return
            data = self._rest + data
            whole = len(data) - len(data) % EVENT.size
            self._rest = data[whole:]
            for _, _, kind, code, value in EVENT.iter_unpack(data[:whole]):
                yield kind, code, value

    def _take(self, kind: int, code: int, value: int) -> None:
        if kind == KEY and code in BUTTONS:
            (self._held.add if value else self._held.discard)(BUTTONS[code])
        elif kind == ABSOLUTE and code in AXES:
            low, high = self._range[code]
            share = 2.0 * (value - low) / (high - low) - 1.0
            self._axes[AXES[code]] = min(max(share, -1.0), 1.0)
        elif kind == ABSOLUTE and code in HATS:
            for name, way in zip(HATS[code], (-1, 1), strict=True):
                (self._held.add if value == way else self._held.discard)(name)
        elif kind == SYNC and code == DROPPED:  # what is held is not known any more
            self._held.clear()
            self._axes = dict.fromkeys(self._axes, 0.0)


def _range(file: int, code: int) -> tuple[int, int]:
    """Least and greatest value of an axis; 16 bits with sign where the device does not tell."""
    import fcntl

    low, high = -32768, 32767
    with suppress(OSError):
        answer = fcntl.ioctl(file, 0x80184540 + code, bytes(24))
        _, low, high, *_ = struct.unpack("6i", answer)
    return (low, high) if high > low else (-32768, 32767)


def controllers() -> list[Path]:
    """Event devices that have a gamepad's buttons, by what the kernel tells of them."""
    found = []
    for caps in sorted(Path("/sys/class/input").glob("event*/device/capabilities/key")):
        with suppress(OSError, ValueError):
            words = [int(word, 16) for word in caps.read_text().split()]
            width = struct.calcsize("l") * 8
            bits = sum(word << (width * k) for k, word in enumerate(reversed(words)))
            if bits >> 0x130 & 1:
                found.append(Path("/dev/input") / caps.parents[2].name)
    return found
