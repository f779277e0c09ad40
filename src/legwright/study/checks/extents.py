"""Does the envelope hold what is asked?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from legwright.study.cures import at_most
from legwright.study.evidence import Extent
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge

AREA = "envelope"


def check_extents(extents: Sequence[Extent]) -> Iterator[Finding]:
    """Every edge of the envelope that the sheet makes a demand on."""
    for extent in extents:
        if extent.required is None or extent.value is None:
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
        )
