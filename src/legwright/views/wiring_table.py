"""The wiring in the terminal: lowest voltages, hottest conductor, fuses, wire to buy."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import TYPE_CHECKING

from legwright.electrics.copper import FREEZING
from legwright.electrics.parts import Kind
from legwright.electrics.wire_list import COLOUR_NAMES
from legwright.study.finding import Verdict
from legwright.study.wiring import Wiring, hottest_cable
from legwright.views.numbers import limit_text, plain, value_text

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def wiring_table(wiring: Wiring) -> RenderableType:
    """The wiring as tables.

    Args:
        wiring: The wiring.
    """
    from rich.console import Group
    from rich.text import Text

    parts: list[RenderableType] = [Text(f"{wiring.robot.name}: wiring", style="bold")]
    parts += [_supply(wiring), *(Text(line) for line in _lines(wiring))]
    if wiring.choice is not None:
        parts.append(_chosen(wiring))
    parts += [Text(line, style="red") for line in _faults(wiring)]
    return Group(*parts)


def _table(*columns: str) -> Table:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in columns:
        numbers = name not in {"port", "branch", "part", "size", "was", "because", "lead"}
        table.add_column(name, justify="right" if numbers else "left", overflow="fold")
    return table


def _supply(wiring: Wiring) -> Table:
    readings, circuit = wiring.readings, wiring.circuit
    table = _table("port", "branch", "lead", "lowest V", "allowed V", "peak A", "fuse A")
    for port in circuit.ports:
        users = [one for one in circuit.consumers if one.name in port.consumers]
        if not users:
            table.add_row(str(port.number), "spare", "", "", "", "", "")
            continue
        lows = [readings.lowest.get(u.name, readings.voltage.get(u.node, 0.0)) for u in users]
        floors = [readings.least[u.name] for u in users if readings.least.get(u.name)]
        items = {item.name: item for item in circuit.of(Kind.CABLE)}
        lead = items.get(port.first)
        name = lead.designation if lead else ""
        peak = readings.peak.get(name, readings.current.get(name, float("nan")))
        fuse = next((i for i in circuit.of(Kind.FUSE) if i.branch == port.branch), None)
        table.add_row(
            str(port.number),
            port.branch,
            f"{name} {lead.wire.name if lead and lead.wire else ''}",
            plain(min(lows), 2),
            plain(max(floors), 2) if floors else "",
            plain(peak, 2) if isfinite(peak) else "",
            f"{fuse.rating:g}" if fuse and fuse.rating else "",
        )
    return table


def _lines(wiring: Wiring) -> Iterator[str]:
    readings, circuit = wiring.readings, wiring.circuit
    yield f"Worst moment: {readings.moment}" + (f", {readings.place}" if readings.place else "")
    hot = hottest_cable(wiring)
    if hot is not None:
        size = hot[0].wire.name if hot[0].wire else ""
        yield (
            f"Hottest conductor: {hot[0].designation} ({hot[0].name}, {size}) "
            f"{plain(hot[1] - FREEZING, 0)} °C"
        )
    fuses = [item for item in circuit.of(Kind.FUSE) if not item.branch]
    for fuse in fuses:
        yield f"Main fuse: {fuse.designation} {fuse.rating:g} A, {fuse.fuse_kind}"
    for total in wiring.totals:
        more = f", {total.unknown} of unknown length left out" if total.unknown else ""
        yield (
            f"Wire: {total.size or 'no stated size'} {COLOUR_NAMES[total.colour]}, "
            f"{total.count} pieces, {plain(total.length, 2)} m{more}"
        )
    yield from (f"Note: {note}" for note in wiring.notes)
    yield "Lithium cells; first power-up on a stand, current-limited. By qualified people."


def _chosen(wiring: Wiring) -> Table:
    table = _table("part", "size", "was", "because")
    if wiring.choice is not None:
        for part in wiring.choice.chosen:
            table.add_row(part.place, part.size, part.before, part.driver)
        grams = [1000.0 * each for each in (wiring.choice.mass, wiring.choice.mass_before)]
        table.caption = (
            f"{plain(grams[0], 0)} g of copper and wire; as stated {plain(grams[1], 0)} g"
        )
    return table


def _faults(wiring: Wiring) -> Iterator[str]:
    for finding in wiring.study.findings:
        if finding.verdict is Verdict.FAIL:
            yield f"FAIL {finding.name}: {value_text(finding)} {limit_text(finding)}. {finding.why}"
