"""A run as an MCAP file: every channel documented, readable by standard MCAP tools.

Every half second, and with every event that no step brings, what is written is handed to the
operating system in a chunk of its own, without a buffer of ours: a crash costs half a second at
most, never such an event.
"""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path
from types import TracebackType
from typing import Any

import msgspec
import numpy as np

from legwright.errors import RequestError
from legwright.locomotion.command import Command
from legwright.locomotion.controller import Controller
from legwright.locomotion.signals import Event, Sensed, Targets
from legwright.rig.channels import CHANNELS, schema_of
from legwright.rig.truth import Truth
from legwright.robot.robot import Robot

CHUNK = 1 << 20
"""Most bytes of one chunk before packing."""
HANDED_OVER = 0.5
"""A chunk is closed after so long [s]."""
ROUTINE = ("lifted", "touched")
"""Events of every step."""

DIGITS = 6
"""Decimals kept: micrometres, micronewtons."""
_encode = msgspec.json.Encoder().encode
"""Half the time of `json`; nan and infinities become null."""


class Recorder:
    """Writes one run; use it in a ``with`` block."""

    def __init__(
        self,
        path: Path | str,
        robot: Robot,
        *,
        rate: float,
        seed: int | None = None,
        ground: str = "",
        notes: tuple[str, ...] = (),
        weight: float | None = None,
        mode: str = "",
        gait: str = "",
        speed: float | None = None,
        distance: float | None = None,
        handed_over: float = HANDED_OVER,
    ) -> None:
        """Open the file and say what is recorded.

        Args:
            path: File to write; it is overwritten.
            robot: The robot.
            rate: Bus cycles per second [Hz].
            seed: Of the world; None on hardware.
            ground: In one sentence.
            notes: What was assumed.
            weight: Of robot and payload; of the robot when None [N].
            mode: ``felt`` or ``blind`` where a walk is to be scored.
            gait: Name of the asked gait.
            speed: Asked, forward [m/s].
            distance: Asked [m].
            handed_over: A chunk is closed after so long [s].

        Raises:
            RequestError: if the file cannot be written.
        """
        from mcap.writer import CompressionType, Writer

        self.path = Path(path)
        try:
            self._file = _Unbuffered(self.path)
        except OSError as error:
            raise RequestError("recording", str(path), "a path that can be written") from error
        self._writer: Any = Writer(
            self._file,  # type: ignore[arg-type]
            chunk_size=CHUNK,
            compression=CompressionType.ZSTD,
        )
        self._writer.start(profile="", library="legwright")
        self._channels: dict[str, int] = {}
        self._count, self._handed, self._patience = 0, 0.0, handed_over
        about = {
            "robot": robot.name,
            "joints": list(robot.joint_names),
            "legs": list(robot.legs),
            "rate": rate,
            "seed": seed,
            "ground": ground,
            "notes": list(notes),
            "weight": robot.mass * 9.80665 if weight is None else weight,
            "mode": mode,
            "gait": gait,
            "speed": speed,
            "distance": distance,
            **_limits(robot),
        }
        self.put("/about", 0.0, about)
        self.hand_over(0.0)

    def put(self, topic: str, time: float, values: dict[str, Any]) -> None:
        """One message.

        Args:
            topic: One of `CHANNELS`.
            time: Since the start [s].
            values: Field -> value; arrays become lists, nan becomes null.

        Raises:
            RequestError: if topic or field is not a documented one.
        """
        if topic not in CHANNELS:
            raise RequestError("channel", topic, f"one of {', '.join(CHANNELS)}")
        unknown = [name for name in values if name not in CHANNELS[topic]]
        if unknown:
            raise RequestError(f"field of {topic}", unknown[0], ", ".join(CHANNELS[topic]))
        data = _encode({name: _plain(value) for name, value in values.items()})
        stamp = round(1e9 * time)
        if topic not in self._channels:
            schema = json.dumps(schema_of(topic)).encode()
            number = self._writer.register_schema(topic.strip("/"), "jsonschema", schema)
            self._channels[topic] = self._writer.register_channel(topic, "json", number)
        self._count += 1
        self._writer.add_message(self._channels[topic], stamp, data, stamp, self._count)
        if time - self._handed >= self._patience:
            self.hand_over(time)

    def hand_over(self, time: float) -> None:
        """Close the chunk, so that all before survives whatever comes.

        Args:
            time: Now, since the start [s].
        """
        self._writer.flush()
        self._handed = time

    def sensed(self, time: float, sensed: Sensed) -> None:
        """What the bus read."""
        self.put(
            "/sensed",
            time,
            {
                "q": sensed.q,
                "qd": sensed.qd,
                "current": sensed.current,
                "voltage": sensed.voltage,
                "up": [] if sensed.up is None else sensed.up,
                "spin": [] if sensed.spin is None else sensed.spin,
            },
        )

    def targets(self, time: float, targets: Targets) -> None:
        """What was sent to the servos."""
        self.put("/targets", time, {"q": targets.q, "qd": targets.qd})

    def truth(self, truth: Truth) -> None:
        """What was really so."""
        values = {f.name: getattr(truth, f.name) for f in fields(truth) if f.name != "time"}
        self.put("/truth", truth.time, values)

    def command(self, time: float, command: Command) -> None:
        """What the operator asks; record it when it changes."""
        gait = "" if command.gait is None else command.gait.name
        self.put(
            "/command",
            time,
            {
                "kind": command.kind.value,
                "velocity": command.velocity,
                "turn": command.turn,
                "gait": gait,
            },
        )

    def felt(self, time: float, controller: Controller) -> None:
        """What the controller feels and believes after a step."""
        self.put(
            "/felt",
            time,
            {
                "contact": controller.contact,
                "force": controller.felt.force,
                "margin": controller.margin,
                "place": controller.place[:3],
            },
        )

    def event(self, time: float, event: Event) -> None:
        """Something worth telling; unless routine, it survives whatever comes after."""
        values = {name: getattr(event, name) for name in CHANNELS["/event"]}
        values |= {name: values[name] or [] for name in ("position", "place")}
        self.put("/event", time, values)
        if event.what not in ROUTINE:
            self.hand_over(time)

    @property
    def size(self) -> int:
        """Bytes written."""
        return self._file.tell()

    def close(self) -> None:
        """Write the index and close the file; a second call does nothing."""
        if not self._file.closed:
            self._writer.finish()
            self._file.close()

    def __enter__(self) -> Recorder:
        """The recorder itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file, whatever happened."""
        self.close()


def _limits(robot: Robot) -> dict[str, Any]:
    """What plots of a run hold it against."""
    servos = [robot.servos.get(name) for name in robot.joint_names]
    wanted = robot.sheet.requirements.stability_margin
    return {
        "hips": np.asarray(robot.hips)[:, :2],
        "wanted_margin": wanted,
        "lowest_voltage": [None if s is None else s.lowest_voltage for s in servos],
        "highest_winding": [None if s is None else s.highest_winding for s in servos],
    }


class _Unbuffered:
    """A file whose every write is with the operating system when it returns.

    It is no raw stream by its type, because the writer would put a buffer around one.
    """

    def __init__(self, path: Path) -> None:
        self._raw = path.open("wb", buffering=0)
        self._written = 0

    def write(self, data: bytes) -> int:
        """Write all of it."""
        rest = memoryview(data)
        while rest:
            done = self._raw.write(rest)
            rest = rest[done:]
        self._written += len(data)
        return len(data)

    def tell(self) -> int:
        """Bytes written."""
        return self._written

    def flush(self) -> None:
        """Nothing waits."""

    @property
    def closed(self) -> bool:
        """Whether the file is closed."""
        return self._raw.closed

    def close(self) -> None:
        """Close the file."""
        self._raw.close()


def _plain(value: Any) -> Any:
    """A value as JSON knows it; what is no number becomes null when it is encoded."""
    if isinstance(value, str | bool | int) or value is None:
        return value
    if isinstance(value, float):
        return round(float(value), DIGITS)
    if isinstance(value, list) and value and isinstance(value[0], str):
        return value
    if isinstance(value, list) and any(v is None or isinstance(v, dict) for v in value):
        return value
    array = np.asarray(value)
    if array.dtype.kind == "b":
        return array.tolist()
    return array.astype(np.float64).round(DIGITS).tolist()
