"""Datagrams between the control process and the service process.

A local datagram socket hands over a report or a request as a whole or not at all, and never
makes the sender wait. Reports are packed floats with their words behind them; everything is
MessagePack, so that nothing that comes in is ever executed.
"""

from __future__ import annotations

import socket
from collections import deque
from collections.abc import Iterator
from dataclasses import asdict, astuple
from math import inf, isinf
from pathlib import Path as FilePath
from typing import Any

import msgspec
import numpy as np

from legwright.locomotion.command import Command, Kind
from legwright.locomotion.gait import Gait
from legwright.locomotion.path import Path
from legwright.locomotion.signals import Event, Sensed, Targets
from legwright.locomotion.walk import Pose
from legwright.rig.faults import Fault, Stop
from legwright.rig.port import Drives
from legwright.rig.request import Answer, Request, Word
from legwright.rig.runtime import Report
from legwright.rig.supervisor import Mode, Notice
from legwright.robot.tree import Floats

LARGEST = 1 << 17
"""Bytes of one datagram."""
POSTED = 400
"""Datagrams that wait for an end that is busy: two seconds at 200 Hz. The system holds ten."""


Point = tuple[float, float, float]
Told = tuple[str, str, str, str, float, Point | None, Point | None, float | None]
"""The fields of an event, in their order."""


class _Said(msgspec.Struct, array_like=True):
    """A report: numbers as bytes, words beside them."""

    numbers: bytes
    joints: int
    legs: int
    buses: list[bool]
    mode: str
    faults: list[str]
    answers: list[tuple[int, bool, str]]
    notices: list[tuple[str, str]]
    events: list[Told]
    settled: bool


class Pulse(msgspec.Struct, array_like=True, tag="pulse", frozen=True, kw_only=True):
    """The service's heartbeat, with what only the service knows."""

    disk_full: bool = False
    """Whether the recorder has no room left."""
    driver_silent: bool = False
    """Whether the driver has not been heard for long."""


class _Asked(msgspec.Struct, array_like=True, tag="asked"):
    """A request."""

    word: str
    sender: str
    number: int
    expires: float | None
    stop: int
    command: dict[str, Any] | None


_said, _asked = msgspec.msgpack.Decoder(_Said), msgspec.msgpack.Decoder(Pulse | _Asked)
_encode = msgspec.msgpack.Encoder().encode


def pack_report(report: Report) -> bytes:
    """A report as bytes."""
    sensed, drives = report.sensed, report.drives
    none = np.full(3, np.nan)
    up = sensed.up if sensed.up is not None else none
    spin = sensed.spin if sensed.spin is not None else none
    volts = drives.voltage if drives.voltage is not None else np.full(len(sensed.q), np.nan)
    numbers = np.concatenate(
        [
            (report.time, report.margin, sensed.voltage), report.place, up, spin, sensed.q,
            sensed.qd, sensed.current, report.targets.q, report.targets.qd, drives.powered,
            drives.fault, drives.winding, volts, report.contact, report.force,
        ]
    )  # fmt: skip
    return _encode(
        _Said(
            numbers.tobytes(),
            len(sensed.q),
            len(report.contact),
            list(drives.buses),
            report.mode.value,
            [fault.value for fault in report.faults],
            [(a.number, a.ok, a.text) for a in report.answers],
            [(n.word, n.text) for n in report.notices],
            [astuple(event) for event in report.events],
            report.settled,
        )
    )


def unpack_report(data: bytes) -> Report:
    """The report that `pack_report` packed.

    Raises:
        msgspec.DecodeError: if the bytes are no report.
    """
    said = _said.decode(data)
    J, L = said.joints, said.legs
    numbers: Floats = np.frombuffer(said.numbers)
    if len(numbers) != 12 + 9 * J + 2 * L:
        raise msgspec.DecodeError("a report of the wrong length")
    cuts = [1, 2, 3, 6, 9, 12, *(12 + J * k for k in range(1, 10)), 12 + 9 * J + L]
    (
        time, margin, voltage, place, up, spin, q, qd, current, target, speed, powered, fault,
        winding, volts, contact, force,
    ) = np.split(numbers, cuts)  # fmt: skip
    return Report(
        time=float(time[0]),
        mode=Mode(said.mode),
        sensed=Sensed(
            q=q, qd=qd, current=current, voltage=float(voltage[0]),
            up=None if np.isnan(up).any() else up,
            spin=None if np.isnan(spin).any() else spin,
        ),
        drives=Drives(
            powered=powered > 0.0, fault=fault.astype(np.int64), winding=winding,
            buses=tuple(said.buses), voltage=None if np.isnan(volts).all() else volts,
        ),
        targets=Targets(q=target, qd=speed),
        faults=tuple(Fault(word) for word in said.faults),
        contact=contact > 0.0,
        force=force,
        margin=float(margin[0]),
        place=place,
        settled=said.settled,
        answers=tuple(Answer(number=n, ok=ok, text=text) for n, ok, text in said.answers),
        notices=tuple(Notice(word=word, text=text) for word, text in said.notices),
        events=tuple(_event(told) for told in said.events),
    )  # fmt: skip


def _event(told: Told) -> Event:
    what, text, leg, limit, share, position, place, force = told
    return Event(
        what=what, text=text, leg=leg, limit=limit, share=share, position=position, place=place,
        force=force,
    )  # fmt: skip


def pack_request(request: Request) -> bytes:
    """A request as bytes."""
    expires = None if isinf(request.expires) else request.expires
    command = None if request.command is None else _plain(request.command)
    return _encode(
        _Asked(
            request.word.value,
            request.sender,
            request.number,
            expires,
            request.stop.value,
            command,
        )
    )


def pack_pulse(pulse: Pulse) -> bytes:
    """A heartbeat as bytes."""
    return _encode(pulse)


def unpack_request(data: bytes) -> Request | Pulse:
    """The request or heartbeat that was packed.

    Raises:
        msgspec.DecodeError: if the bytes are no request.
        ValueError: if a value makes no sense.
    """
    asked = _asked.decode(data)
    if isinstance(asked, Pulse):
        return asked
    return Request(
        word=Word(asked.word),
        sender=asked.sender,
        number=asked.number,
        expires=inf if asked.expires is None else asked.expires,
        stop=Stop(asked.stop),
        command=None if asked.command is None else _command(asked.command),
    )


def _plain(command: Command) -> dict[str, Any]:
    gait, pose = command.gait, command.pose
    return {
        "kind": command.kind.value,
        "velocity": command.velocity,
        "turn": command.turn,
        "gait": gait and [gait.duty, list(gait.phases.items()), gait.name],
        "height": command.height,
        "pose": asdict(pose),
        "leg": command.leg,
        "target": command.target,
        "force": command.force,
        "path": command.path and [list(command.path.columns), command.path.q.tobytes()],
    }


def _command(plain: dict[str, Any]) -> Command:
    try:
        gait = plain.pop("gait")
        if gait is not None:
            duty, phases, name = gait
            gait = Gait(duty=duty, phases=dict(phases), name=name)
        kind, pose = Kind(plain.pop("kind")), Pose(**plain.pop("pose"))
        velocity, target = tuple(plain.pop("velocity")), plain.pop("target")
        target = target and tuple(target)
        path = _path(plain.pop("path"))
        return Command(
            kind=kind, pose=pose, gait=gait, velocity=velocity, target=target, path=path, **plain
        )
    except (KeyError, TypeError) as error:
        raise ValueError(f"no command: {error}") from None


def _path(packed: list[Any] | None) -> Path | None:
    if packed is None:
        return None
    columns, numbers = packed
    return Path(columns=tuple(columns), q=np.frombuffer(numbers).reshape(-1, len(columns)))


class Mailbox:
    """One end of the hand-over: a datagram socket with a name in a private folder."""

    def __init__(self, own: FilePath, other: FilePath) -> None:
        """Bind the own end; the other may come later, go, and come back.

        Args:
            own: Where the own end is found.
            other: Where the other end is.
        """
        own.unlink(missing_ok=True)
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 8 * LARGEST)
        self._socket.bind(str(own))
        self._socket.setblocking(False)
        self._own, self._other = own, str(other)
        self._posted: deque[bytes] = deque(maxlen=POSTED)
        self.lost = 0
        """Datagrams that the other end had no room for."""

    def send(self, data: bytes) -> bool:
        """Send without waiting; False where nobody takes it."""
        return self._send(data, self._other)

    def post(self, data: bytes) -> None:
        """Send in order without waiting; what the other end has no room for now goes later.

        The oldest goes first when more than `POSTED` wait, and all when nobody is there.
        """
        self._posted.append(data)
        try:
            while self._posted:
                self._socket.sendto(self._posted[0], self._other)
                self._posted.popleft()
        except BlockingIOError:
            pass
        except (ConnectionRefusedError, FileNotFoundError):
            self.lost += len(self._posted)
            self._posted.clear()

    def send_to(self, name: str, data: bytes) -> bool:
        """Send to a third end in the same folder; False where nobody takes it."""
        return self._send(data, str(self._own.with_name(name)))

    def _send(self, data: bytes, other: str) -> bool:
        try:
            self._socket.sendto(data, other)
        except (BlockingIOError, ConnectionRefusedError, FileNotFoundError):
            self.lost += 1
            return False
        return True

    def take(self, most: int = 256) -> Iterator[bytes]:
        """What has come in, at most so many."""
        for _ in range(most):
            try:
                yield self._socket.recv(LARGEST)
            except BlockingIOError:
                return

    def fileno(self) -> int:
        """For selectors and event loops."""
        return self._socket.fileno()

    def close(self) -> None:
        """Leave."""
        self._socket.close()
        self._own.unlink(missing_ok=True)
