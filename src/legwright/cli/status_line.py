"""One quiet line for the terminal of a robot that runs."""

from __future__ import annotations

from rich.text import Text

from legwright.remote.glance import Glance

BLOCK = "\u2588"
"""One light."""
DULL, BAD = "dim", "bold red"


def status_line(glance: Glance) -> Text:
    """The robot in one line: lights, state, faults, voltage, who drives.

    Args:
        glance: What the service tells.
    """
    line = Text(no_wrap=True, overflow="ellipsis")
    for shade in glance.lights:
        line.append(BLOCK, style=shade)
    if glance.lights:
        line.append("  ")
    if not glance.mode:
        line.append("control process silent", style=BAD)
        return line
    line.append(glance.mode, style="bold")
    for fault in glance.faults:
        line.append("  ")
        line.append(fault, style=BAD)
    if glance.voltage is not None:
        line.append(f"  {glance.voltage:.1f} V")
    driver = f"{glance.driver} drives" if glance.driver else "nobody drives"
    line.append(f"  {driver}", style="" if glance.driver else DULL)
    if not glance.recorded:
        line.append("  not recorded", style=BAD)
    return line
