"""A film strip of a walk, drawn from its recording, also while it is still walked."""

from __future__ import annotations

from pathlib import Path

from legwright.views.run import read_recording, run_of
from legwright.views.walk_film import strip


def film(recording: Path, picture: Path) -> None:
    """Draw a film strip.

    Args:
        recording: An MCAP file of ours; all that is on disk by now is drawn.
        picture: PNG file to write.

    Raises:
        RequestError: if the recording holds no pictures.
    """
    strip(run_of(read_recording(recording)), picture)
