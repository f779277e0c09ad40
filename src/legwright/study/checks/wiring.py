"""Do wires, contacts, hub copper and fuses bear what flows, and do the fuses save them?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from typing import NamedTuple

import numpy as np

from legwright.electrics.ampacity import continuous_current, grouping_factor
from legwright.electrics.board import (
    BOARD_HIGHEST,
    Board,
    board_conductance,
    track_rise,
    track_warmth,
)
from legwright.electrics.contacts import check_fit, derated_current
from legwright.electrics.fuse_curves import fuse_curve
from legwright.electrics.parts import Item, Kind
from legwright.electrics.sizes import WIDTH_STEP, rounded_width, thinnest_for
from legwright.electrics.supply import Supply
from legwright.electrics.warmth import surroundings
from legwright.errors import RequestError
from legwright.robot.tree import Floats
from legwright.study.bench import Bench
from legwright.study.checks.drives import KELVIN
from legwright.study.checks.fusing import check_fusing
from legwright.study.checks.supply import unknown
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

AREA = "wiring"

NAMES = (
    "conductor temperature",
    "conductor rise above the surroundings",
    "conductor current",
    "connector current",
    "hub port current",
    "hub copper rise",
    "switch current",
)


def check_wiring(bench: Bench) -> Iterator[Finding]:
    """The circuit as stated, its heat, its contacts, its fuses."""
    power = bench.power
    if power.fault is not None:
        yield Finding(
            area=AREA,
            name="circuit",
            verdict=Verdict.FAIL,
            why=f"{power.fault.place}: {power.fault.problem}.",
            source="hub, harness",
            cure=power.fault.cure,
        )
    if power.circuit is not None:
        yield _fit(bench)
        yield _described(bench)
    if not power.supplies:
        yield from unknown(AREA, NAMES, power)
        return
    yield _temperature(bench)
    yield _rise(bench)
    yield _current(bench)
    yield _contacts(bench)
    yield _ports(bench)
    yield _hub(bench)
    yield _overloaded(bench)
    yield _switch(bench)
    yield from check_fusing(bench)


def _fit(bench: Bench) -> Finding:
    """Every wire must go into its terminals."""
    circuit = bench.power.circuit
    misfits, sized = [], 0
    for plug in circuit.of(Kind.CONNECTOR) if circuit else ():
        wire = circuit.by_designation[plug.cable].wire if circuit else None
        if plug.contact is None or wire is None:
            continue
        sized += int(plug.contact.largest < float("inf") or plug.contact.smallest > 0.0)
        try:
            check_fit(plug.contact, wire)
        except RequestError as error:
            misfits.append(f"{plug.designation}: {error}")
    return judge(
        AREA,
        "wires that do not fit their terminals",
        float(len(misfits)) if sized or misfits else None,
        0.0,
        "terminals",
        sense=Sense.AT_MOST,
        near=0.0,
        why=misfits[0] if misfits else f"{sized} terminals with stated wire sizes.",
        source="harness.connector.smallest_wire, largest_wire",
        cure="Another wire or another connector.",
        missing='State smallest_wire and largest_wire, like "0.5 mm^2", of the connectors.',
    )


def _described(bench: Bench) -> Finding:
    """Cables of which wire or length is not known are left out of every sum."""
    circuit = bench.power.circuit
    cables = circuit.of(Kind.CABLE) if circuit else ()
    bare = [item for item in cables if item.wire is None or item.length is None]
    return judge(
        AREA,
        "cables with wire and length",
        None if bare else float(len(cables)),
        float(len(cables)),
        "cables",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=" ".join(circuit.notes) if circuit and circuit.notes else "All cables are described.",
        source="hub.branch, harness.run",
        parts=tuple(item.name for item in bare),
        missing=f"State conductor and length of {bare[0].name} in {bare[0].place}." if bare else "",
    )


def _place(bench: Bench, name: str, item: Item) -> str:
    return f"{item.name} ({item.designation}), {name}"


def _grouping(bench: Bench) -> float:
    harness = bench.robot.sheet.harness
    return grouping_factor(harness.bundle if harness else 1)


class _Most(NamedTuple):
    """The item, and the walk, in which something is largest."""

    value: float
    name: str
    at: int
    item: Item
    given: Supply

    @property
    def rms(self) -> float:
        """Current [A]."""
        return float(self.given.rms[self.at])


def _most(
    bench: Bench, of: Callable[[Supply], Floats], *, less: Floats | float = 0.0,
    over: Floats | float = 1.0,
) -> _Most | None:  # fmt: skip
    """Where (of - less) / over is largest, over all walks and items; items of nan left out."""
    best: _Most | None = None
    for name, given in bench.power.supplies.items():
        values = (of(given) - less) / over
        known = np.where(np.isnan(values), -np.inf, values)
        at = int(known.argmax()) if known.size else 0
        if known.size and not np.isnan(values[at]) and (best is None or known[at] > best.value):
            best = _Most(float(known[at]), name, at, given.circuit.items[at], given)
    return best


def _by_item(bench: Bench, what: Callable[[Item], float | None]) -> Floats:
    """A number for each item of the circuit, (E,); nan where it has none."""
    items = bench.power.circuit.items if bench.power.circuit else ()
    found = [what(item) for item in items]
    return np.array([np.nan if value is None else value for value in found])


def _temperature(bench: Bench) -> Finding:
    highest = _by_item(
        bench, lambda item: item.cover.continuous if item.cover and item.wire else None
    )
    found = _most(bench, lambda given: given.temperature, less=highest)
    if found is None:
        return _bare(NAMES[0])
    _, name, at, item, given = found
    limit = item.cover.continuous if item.cover else float("nan")
    return judge(
        AREA,
        NAMES[0],
        float(given.temperature[at]) - KELVIN,
        limit - KELVIN,
        "°C",
        sense=Sense.AT_MOST,
        why=f"{_place(bench, name, item)}: {given.rms[at]:.2g} A RMS in "
        f"{item.wire.name if item.wire else 'wire'}, {_ambient(bench)}.",
        source="heat balance of a wire in still air; insulation's continuous temperature",
        cure=lambda: _wire_for(bench, item, found.rms, limit),
        parts=(item.designation,),
    )


def _ambient(bench: Bench) -> str:
    return f"surroundings at {bench.asked.ambient - KELVIN:.0f} °C"


def _wire_for(bench: Bench, item: Item, rms: float, limit: float) -> str:
    around = surroundings(item, bench.asked.ambient)
    wire = thinnest_for(rms, limit, around, grouping=_grouping(bench))
    if wire is None:
        return "Split the load over several cables."
    return f"{wire.name} or thicker for '{item.conductor}'."


def _rise(bench: Bench) -> Finding:
    wired = _by_item(bench, lambda item: bench.asked.ambient if item.wire else None)
    best = _most(bench, lambda given: given.temperature, less=wired)
    if best is None:
        return _bare(NAMES[1])
    rise, name, item, rms = best.value, best.name, best.item, best.rms
    limit = bench.robot.sheet.requirements.wire_rise
    return judge(
        AREA,
        NAMES[1],
        rise,
        limit,
        "K",
        sense=Sense.AT_MOST,
        why=f"{_place(bench, name, item)}: {rms:.2g} A RMS.",
        source="requirements.wire_rise; heat balance of a wire in still air",
        cure=lambda: _wire_for(bench, item, rms, bench.asked.ambient + limit),
        parts=(item.designation,),
    )


def _current(bench: Bench) -> Finding:
    """RMS current against what the wire carries for ever."""

    def carried(item: Item) -> float | None:
        if item.wire is None or item.cover is None:
            return None
        around = surroundings(item, bench.asked.ambient)
        limit = item.cover.continuous
        return float(continuous_current(item.wire, limit, around, grouping=_grouping(bench)))

    able = _by_item(bench, carried)
    best = _most(bench, lambda given: given.rms, over=np.maximum(able, 1e-9))
    if best is None:
        return _bare(NAMES[2])
    name, item, rms, most = best.name, best.item, best.rms, float(able[best.at])
    limit = item.cover.continuous if item.cover else float("nan")
    return judge(
        AREA,
        NAMES[2],
        rms,
        most,
        "A",
        sense=Sense.AT_MOST,
        why=f"RMS in {_place(bench, name, item)}.",
        source="ampacity by heat balance times the grouping factor of IEC 60364-5-52",
        cure=lambda: _wire_for(bench, item, rms, limit),
        parts=(item.designation,),
    )


def _contacts(bench: Bench) -> Finding:
    ambient = bench.asked.ambient
    derated = cache(lambda contact: float(derated_current(contact, ambient)))
    able = _by_item(bench, lambda item: derated(item.contact) if item.contact else None)
    best = _most(bench, lambda given: given.rms, over=np.maximum(able, 1e-9))
    if best is None:
        return _bare(NAMES[3], 'State harness.connector.NAME.current, like "5 A".')
    name, item, rms, most = best.name, best.item, best.rms, float(able[best.at])
    return judge(
        AREA,
        NAMES[3],
        rms,
        most,
        "A",
        sense=Sense.AT_MOST,
        why=f"RMS in one contact of {_place(bench, name, item)}, {_ambient(bench)}.",
        source=f"harness.connector.{item.connector}.current, derated by temperature "
        "(basis of IEC 60512-5-2)",
        cure=f"A connector whose contacts are rated {np.ceil(rms * 10) / 10:.1f} A or more, or "
        "two contacts side by side.",
        parts=(item.designation,),
    )


def _ports(bench: Bench) -> Finding:
    """The most that any port of the hub gives."""
    hub = bench.robot.sheet.hub
    ports = _by_item(bench, lambda item: 0.0 if item.start == "hub" and item.branch else None)
    best = _most(bench, lambda given: given.rms, less=ports)
    if best is None:
        return _bare(NAMES[4], "Describe the branches of the hub.")
    rms, name, item = best.rms, best.name, best.item
    return judge(
        AREA,
        NAMES[4],
        rms,
        hub.port_current if hub else None,
        "A",
        sense=Sense.AT_MOST,
        why=f"RMS into branch {item.branch}, {name}.",
        source="hub.port_current",
        cure="Spread the chain over two ports.",
        parts=(item.branch,),
        missing='State hub.port_current, like "8 A".',
    )


def _hub(bench: Bench) -> Finding:
    """The hub's main track by two reckonings; the warmer one counts."""
    given = bench.power.hardest
    items = [item for item in given.circuit.of(Kind.HUB) if item.track is not None]
    if not items or items[0].track is None:
        return _bare(NAMES[5], "State hub.copper_width, copper_thickness and copper_length.")
    item, track = items[0], items[0].track
    limit = bench.robot.sheet.requirements.wire_rise
    rms = float(given.rms[given.circuit.items.index(item)])
    ambient, wide = bench.asked.ambient, track
    balance = float(track_rise(track, rms, Board(), ambient))
    warmth = track_warmth(track, rms, ambient)
    while track_warmth(wide, rms, ambient) > limit and wide.width < 1.0:
        wide = replace(wide, width=rounded_width(wide.width + WIDTH_STEP))
    return judge(
        AREA,
        NAMES[5],
        warmth,
        limit,
        "K",
        sense=Sense.AT_MOST,
        why=f"{rms:.3g} A RMS in {track.layers} x {track.width * 1e3:g} mm; "
        f"{balance:.2g} K by heat balance ({board_conductance(track, Board()):.2g} W/K per metre).",
        source="requirements.wire_rise; IPC-2221 6.2; heat balance of track and board",
        cure=f"{wide.width * 1e3:g} mm of copper on {wide.layers} layers.",
        parts=(item.designation,),
    )


def _overloaded(bench: Bench) -> Finding:
    """The hub's main track at the current that the main fuse lets pass for long."""
    circuit = bench.power.hardest.circuit
    items = [item for item in circuit.of(Kind.HUB) if item.track is not None]
    mains = [item for item in circuit.feeding("hub") if item.kind is Kind.FUSE and item.rating]
    name = "hub copper under a lasting overload"
    if not items or items[0].track is None or not mains:
        return _bare(name, "State hub.copper_width, copper_thickness and protection.fuse.")
    track, fuse = items[0].track, mains[0]
    over = fuse_curve(fuse.fuse_kind).blows * (fuse.rating or 0.0)
    ambient = bench.asked.ambient
    wide = track
    while ambient + track_warmth(wide, over, ambient) > BOARD_HIGHEST and wide.width < 1.0:
        wide = replace(wide, width=rounded_width(wide.width + WIDTH_STEP))
    return judge(
        AREA,
        name,
        ambient + track_warmth(track, over, ambient) - KELVIN,
        BOARD_HIGHEST - KELVIN,
        "°C",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"{over:.3g} A, from which {fuse.name} ({fuse.designation}) surely opens, through "
        f"{track.layers} x {track.width * 1e3:g} mm.",
        source="IPC-2221 6.2 and heat balance; 130 °C for glass and resin, common practice",
        cure=f"{wide.width * 1e3:g} mm of copper on {wide.layers} layers, or a smaller main fuse.",
        parts=(items[0].designation, fuse.designation),
    )


def _switch(bench: Bench) -> Finding:
    given = bench.power.hardest
    items = given.circuit.of(Kind.SWITCH)
    rating = items[0].rating if items else None
    rms = float(given.rms[given.circuit.items.index(items[0])]) if items else None
    return judge(
        AREA,
        NAMES[6],
        rms,
        rating,
        "A",
        sense=Sense.AT_MOST,
        why="RMS through the main switch in the case that draws most.",
        source="protection.switch_current",
        cure="A switch or contactor of a higher rating.",
        missing='State protection.switch_current, like "40 A".',
    )


def _bare(name: str, missing: str = "State conductors in harness.conductor.") -> Finding:
    return judge(
        AREA,
        name,
        None,
        None,
        "",
        sense=Sense.AT_MOST,
        why="The sheet states nothing to judge here.",
        source="harness",
        missing=missing,
    )
