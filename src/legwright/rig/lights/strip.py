"""A serial-clocked strip of addressable lights on an SPI device, where there is one.

Frame: 32 bits of zero; per light one byte 111bbbbb (b: brightness) and blue, green, red; then
at least N/2 clock edges. Common practice of such strips, from memory; no published standard.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np

from legwright.errors import RigError
from legwright.robot.tree import Floats


def frame(lights: Floats, brightness: float = 1.0) -> bytes:
    """The bytes that show some colours.

    Args:
        lights: Linear light, 0 to 1, (N, 3).
        brightness: Of all of them, 0 to 1.
    """
    count = len(lights)
    body = np.empty((count, 4), dtype=np.uint8)
    body[:, 0] = 0xE0 | 31
    level = np.clip(np.asarray(lights, dtype=np.float64) * brightness, 0.0, 1.0)
    body[:, 1:] = np.rint(255.0 * level[:, ::-1]).astype(np.uint8)
    return bytes(4) + body.tobytes() + bytes(4 + (count + 15) // 16)


class Strip:
    """A strip at an SPI device of the system."""

    def __init__(self, device: Path | str, *, brightness: float = 1.0) -> None:
        """Open the device.

        Args:
            device: Such as ``/dev/spidev0.0``.
            brightness: Of all lights, 0 to 1.

        Raises:
            RigError: if it cannot be opened.
        """
        try:
            self._file = os.open(device, os.O_WRONLY)
        except OSError as error:
            raise RigError(
                f"The lights' device {device} cannot be opened ({error.strerror}). "
                "Check that SPI is on and this user may use it."
            ) from None
        self._brightness = brightness

    def show(self, lights: Floats) -> None:
        """Show colours, (N, 3); a strip that is gone stays dark and harms nothing."""
        try:
            os.write(self._file, frame(lights, self._brightness))
        except OSError:
            return

    def close(self) -> None:
        """Leave the device; the lights keep their last colours."""
        os.close(self._file)
