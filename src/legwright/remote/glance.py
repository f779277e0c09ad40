"""What somebody at the robot's terminal sees at a glance: from the service to the keeper."""

from __future__ import annotations

import msgspec
import numpy as np

from legwright.robot.tree import Floats

KEEPER = "keeper"
"""Name of the keeper's end in the folder of the sockets."""


class Glance(msgspec.Struct, array_like=True, frozen=True, kw_only=True):
    """The robot in one line."""

    mode: str = ""
    """Empty while the control process tells nothing."""
    faults: tuple[str, ...] = ()
    voltage: float | None = None
    """[V]"""
    driver: str = ""
    """Who drives; empty where nobody does."""
    recorded: bool = True
    lights: tuple[str, ...] = ()
    """Colour of each light, ``#rrggbb``; empty where the robot has none."""


_decoder, _encoder = msgspec.msgpack.Decoder(Glance), msgspec.msgpack.Encoder()


def pack_glance(glance: Glance) -> bytes:
    """A glance as bytes."""
    return _encoder.encode(glance)


def unpack_glance(data: bytes) -> Glance:
    """The glance that `pack_glance` packed.

    Raises:
        msgspec.DecodeError: if the bytes are none.
    """
    return _decoder.decode(data)


def shades(colours: Floats) -> tuple[str, ...]:
    """Colours as a screen takes them, ``#rrggbb``.

    Args:
        colours: Linear light, 0 to 1, (N, 3).

    Source: IEC 61966-2-1, the transfer curve of sRGB.
    """
    linear = np.clip(colours, 0.0, 1.0)
    curved = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055)
    levels = np.round(255.0 * curved).astype(int)
    return tuple(f"#{red:02x}{green:02x}{blue:02x}" for red, green, blue in levels.tolist())
