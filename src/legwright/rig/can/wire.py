"""A CAN bus as the rig sees it: tables of frames in and out, never waiting.

`Adapter` goes through python-can and so reaches every adapter that it knows; `Raw` sends the
table's rows through a datagram socket as they are, which costs less: Linux CAN sockets, and
socket pairs in tests.
"""

from __future__ import annotations

import contextlib
import socket
import struct
from typing import Any, Protocol

import numpy as np

from legwright.errors import RigError, did_you_mean
from legwright.rig.can.frames import BUS_OFF_FLAG, ERROR_FLAG, FRAME, Frames

_ROW = struct.Struct("<IB3x8s")
ROW = FRAME.itemsize


class Wire(Protocol):
    """One bus."""

    @property
    def name(self) -> str:
        """As the user wrote it."""

    @property
    def alive(self) -> bool:
        """False from when the adapter refused a frame, or left the bus, until frames come in."""

    def send(self, frames: Frames) -> None:
        """Send all frames; what cannot be sent is lost, and `alive` says so."""

    def take(self, most: int) -> Frames:
        """Frames that have come in, at most so many."""

    def close(self) -> None:
        """Leave the bus; a second call does nothing."""


class Adapter:
    """A bus of python-can."""

    def __init__(self, bus: Any, name: str) -> None:
        """Take over an open ``can.BusABC``."""
        self._bus, self.name, self.alive = bus, name, True

    def send(self, frames: Frames) -> None:
        """Send all frames."""
        import can

        try:
            for number, size, data in zip(
                frames["id"].tolist(), frames["size"].tolist(), frames["data"], strict=True
            ):
                message = can.Message(
                    arbitration_id=number, is_extended_id=False, data=data[:size].tobytes()
                )
                self._bus.send(message, timeout=0)
        except (can.CanError, OSError):
            self.alive = False

    def take(self, most: int) -> Frames:
        """Frames that have come in."""
        import can

        rows: list[bytes] = []
        try:
            while len(rows) < most and (message := self._bus.recv(timeout=0)) is not None:
                if message.is_extended_id or message.is_remote_frame:
                    continue
                flag = ERROR_FLAG if message.is_error_frame else 0
                data = bytes(message.data)
                rows.append(_ROW.pack(message.arbitration_id | flag, len(data), data[:8]))
        except (can.CanError, OSError):
            self.alive = False
        frames = np.frombuffer(b"".join(rows), dtype=FRAME)
        self.alive = _alive(self.alive, frames)
        return frames

    def close(self) -> None:
        """Leave the bus."""
        self._bus.shutdown()


class Raw:
    """A datagram socket that carries one ``struct can_frame`` per datagram."""

    def __init__(self, link: socket.socket, name: str) -> None:
        """Take over a socket."""
        link.setblocking(False)
        self._link, self.name, self.alive = link, name, True

    def send(self, frames: Frames) -> None:
        """Send all frames."""
        data = memoryview(frames.tobytes())
        try:
            for start in range(0, len(data), ROW):
                self._link.send(data[start : start + ROW])
        except OSError:
            self.alive = False

    def take(self, most: int) -> Frames:
        """Frames that have come in."""
        rows: list[bytes] = []
        receive = self._link.recv
        try:
            while len(rows) < most:
                row = receive(ROW)
                if len(row) != ROW:
                    break
                rows.append(row)
        except BlockingIOError:
            pass
        except OSError:
            self.alive = False
        frames = np.frombuffer(b"".join(rows), dtype=FRAME)
        self.alive = _alive(self.alive, frames)
        return frames

    def close(self) -> None:
        """Leave the bus."""
        with contextlib.suppress(OSError):
            self._link.close()


def _alive(before: bool, frames: Frames) -> bool:
    """A bus that refused a frame is alive again once frames come in."""
    return not left_the_bus(frames) if len(frames) else before


def left_the_bus(frames: Frames) -> bool:
    """Whether an error frame says that the adapter has gone bus off."""
    errors = frames["id"] & ERROR_FLAG != 0
    return bool(errors.any() and (frames["id"][errors] & BUS_OFF_FLAG).any())


def open_wires(interface: str, channels: tuple[str, ...], bit_rate: int) -> tuple[Wire, ...]:
    """Open buses through python-can.

    Args:
        interface: An adapter family of python-can: ``socketcan``, ``virtual``, ...
        channels: One per bus.
        bit_rate: [bit/s]; a Linux CAN interface has its own, set when it was brought up.

    Raises:
        RigError: if a bus cannot be opened.
    """
    import can

    if interface not in can.VALID_INTERFACES:
        known = did_you_mean(interface, can.VALID_INTERFACES)
        raise RigError(f"CAN adapter '{interface}' is not known. {known}")
    wires: list[Wire] = []
    for channel in channels:
        try:
            bus = can.Bus(interface=interface, channel=channel, bitrate=bit_rate)
        except (can.CanError, OSError, ImportError, ValueError, TypeError) as error:
            for wire in wires:
                wire.close()
            why = str(error).strip().rstrip(".").splitlines()[0] if str(error).strip() else ""
            raise RigError(
                f"CAN bus '{channel}' of adapter '{interface}' cannot be opened ({why}). "
                "Look at the adapter and its driver; a Linux interface must be up "
                f"(ip link set {channel} up type can bitrate {bit_rate}; txqueuelen 128)."
            ) from error
        raw = getattr(bus, "socket", None) if interface == "socketcan" else None
        wires.append(_Kept(raw, channel, bus) if raw is not None else Adapter(bus, channel))
    return tuple(wires)


class _Kept(Raw):
    """A raw socket whose python-can bus must live as long as it does."""

    def __init__(self, link: socket.socket, name: str, bus: Any) -> None:
        super().__init__(link, name)
        self._bus = bus

    def close(self) -> None:
        self._bus.shutdown()
