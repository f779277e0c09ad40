"""Does the envelope hold what is asked?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from legwright.study.cures import at_most
from legwright.study.evidence import Extent
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge

AREA = "envelope"
KEYS = {
    "top speed forward": 'speed_forward, like "0.1 m/s"',
    "top speed sideways": 'speed_sideways, like "0.06 m/s"',
    "top speed turning": 'turn_rate, like "15 deg/s"',
    "largest payload": 'payload, like "0.5 kg"',
    "steepest slope": 'slope, like "10 deg"',
}
"""Edge of the envelope -> key of the requirement on it."""


def check_extents(extents: Sequence[Extent]) -> Iterator[Finding]:
    """Every edge of the envelope that a sheet can make a demand on."""
    for extent in extents:
        key = KEYS.get(extent.name)
        if key is None or extent.value is None:
            continue
        name = f"{extent.name}, {extent.gait}" if extent.gait else extent.name
        yield judge(
            AREA,
            name,
            extent.value,
            extent.required,
            extent.unit,
            sense=Sense.AT_LEAST,
            why=f"Stopped by {extent.stopped_by}.",
            parts=extent.parts,
            source="bisection over planned and weighed cycles; requirements",
            cure=f"Ask for no more than {at_most(extent.value, extent.unit)}, or relieve "
            f"{extent.stopped_by}.",
            missing=f"State requirements.{key}.",
        )
