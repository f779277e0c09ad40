"""Do the fuses hold the load, bear the inrush, and open before a conductor suffers?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from legwright.electrics.ampacity import grouping_factor
from legwright.electrics.battery import internal_resistance, open_voltage
from legwright.electrics.circuit import Circuit
from legwright.electrics.fuse_curves import earliest_blow, fuse_curve, melting_joule
from legwright.electrics.fuses import (
    LOADING,
    PULSES,
    Protection,
    carries,
    choose_fuse,
    needed_rating,
    protects,
)
from legwright.electrics.mishaps import (
    RIDE_THROUGH,
    Mishap,
    over_fuses,
    ridden_through,
    switch_on,
    worst,
)
from legwright.electrics.parts import Item, Kind
from legwright.electrics.warmth import surroundings
from legwright.errors import RequestError
from legwright.study.bench import Bench
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

AREA = "wiring"


def check_fusing(bench: Bench) -> Iterator[Finding]:
    """Load, inrush, protection of every conductor, stalls."""
    circuit = bench.power.circuit
    if circuit is None:
        return
    yield _carried(bench, circuit)
    yield _ridden(bench, circuit)
    yield _inrush(bench, circuit)
    yield from _protection(bench, circuit)
    for what in ("servo", "leg", "all"):
        found = bench.power.stalls_of(what)
        if found:
            yield _stalled(bench, circuit, what, worst(found))


def _carried(bench: Bench, circuit: Circuit) -> Finding:
    """The fuse that is loaded highest while walking."""
    name = "fuse loaded while walking"
    rated = np.array(
        [(item.rating or np.nan) if item.kind is Kind.FUSE else np.nan for item in circuit.items]
    )
    best: tuple[float, Item, float, str] | None = None
    for case, given in bench.power.supplies.items():
        use = given.rms / rated
        for at in np.flatnonzero(~np.isnan(use)):
            if best is None or use[at] > best[0]:
                best = float(use[at]), circuit.items[at], float(given.rms[at]), case
    if best is None:
        return _no_fuse(name)
    _, item, rms, case = best
    given, motion = bench.power.supplies[case], bench.case(case).motion
    through = given.flow.current[:, given.flow.network.node(item.end)]
    curve = fuse_curve(item.fuse_kind)
    step = motion.cycle / motion.t.size
    rating = item.rating or 0.0
    holds = carries(curve, rating, through, step)
    need = needed_rating(rms)
    if not holds:
        need = max(need, rating * 1.0001)

    def cure() -> str:
        try:
            return f"A fuse of {choose_fuse(item.fuse_kind, through, step).rating:g} A."
        except RequestError:
            return f"Another kind of fuse: none '{item.fuse_kind}' is large enough."

    return judge(
        AREA,
        name,
        need,
        rating,
        "A",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"{item.name} ({item.designation}), {case}: {rms:.2g} A RMS over {LOADING:g}"
        + ("" if holds else "; its peaks may open it")
        + ".",
        source=f"load at most {LOADING:.0%} of the rating, common practice; {curve.source}",
        cure=cure,
        parts=(item.designation,),
    )


def _ridden(bench: Bench, circuit: Circuit) -> Finding:
    """A short stall must not cost a fuse."""
    name = "fuse through a short stall"
    best: tuple[float, Item, float, str] | None = None
    for item in circuit.of(Kind.FUSE):
        if not item.rating:
            continue
        held, stalled = ridden_through(circuit, bench.power.mishaps, item, bench.power.legs)
        time = float(earliest_blow(fuse_curve(item.fuse_kind), item.rating, held))
        if best is None or time < best[0]:
            best = time, item, held, stalled
    if best is None or not bench.power.mishaps:
        return _no_fuse(name)
    time, item, held, stalled = best
    return judge(
        AREA,
        name,
        time,
        RIDE_THROUGH,
        "s",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=f"{item.name} ({item.designation}) with {held:.3g} A, {stalled or 'nothing'} stalled: "
        "least time that it holds.",
        source="one servo of a branch, one leg for the mains; common practice, no published source",
        cure="A larger fuse, with the wire that it needs, or a slower one.",
        parts=(item.designation,),
    )


def _inrush(bench: Bench, circuit: Circuit) -> Finding:
    name = "inrush through the main fuse"
    surge = switch_on(circuit, bench.robot)
    fuses = [item for item in circuit.feeding("hub") if item.kind is Kind.FUSE and item.rating]
    if surge is None or not fuses:
        return judge(
            AREA, name, None, None, "A²·s", sense=Sense.AT_MOST,
            why="Capacitance behind the switch, or the fuse, is not stated.",
            source="hub.capacitance, protection.fuse",
            missing='State hub.capacitance, like "1000 uF", and protection.fuse.',
        )  # fmt: skip
    fuse = fuses[0]
    limit = PULSES * melting_joule(fuse_curve(fuse.fuse_kind), fuse.rating or 0.0)
    bridged = f", {surge.bridged_peak:.2g} A when bridged" if surge.bridged_peak else ""
    return judge(
        AREA,
        name,
        surge.joule,
        limit,
        "A²·s",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"Peak {surge.peak:.3g} A{bridged}, time constant {surge.time_constant * 1e3:.2g} ms.",
        source=f"U²C/2R; {PULSES:.0%} of the melting I²t for many pulses, common practice",
        cure="A pre-charge resistor across the switch (protection.precharge), or a slower fuse.",
        parts=(fuse.designation,),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Guarded:
    cable: Item
    fuse: Item
    verdict: Protection
    at: Callable[[float], Protection]
    """What a fuse of another rating would do."""


def _protection(bench: Bench, circuit: Circuit) -> Iterator[Finding]:
    """Every wire ahead of the regulators against the fuse next on the battery's side."""
    bare = [cable for cable, fuse in over_fuses(circuit) if fuse is None]
    guarded = _guarded(bench, circuit)
    if bare or not guarded:
        stated = bench.robot.sheet.protection is not None or bool(guarded)
        yield Finding(
            area=AREA,
            name="conductors behind a fuse",
            verdict=Verdict.FAIL if stated and bare else Verdict.UNKNOWN,
            value=float(len(bare)),
            limit=0.0,
            unit="cables",
            why=f"No fuse ahead of {bare[0].name}." if bare else "No wire or fuse is stated.",
            source="IEC 60364-4-43 431.1: every live conductor is protected",
            cure="State protection.fuse, and let it sit at the battery.",
            parts=tuple(cable.designation for cable in bare),
        )
        return
    low = min(guarded, key=lambda one: one.verdict.ampacity / (one.fuse.rating or 1.0))
    allowed = 0.0 if low.verdict.rating_fits else _largest_fuse(low)
    yield judge(
        AREA,
        "fuse against the wire it protects",
        low.fuse.rating,
        low.verdict.ampacity,
        "A",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"{low.fuse.name} ({low.fuse.designation}) ahead of {low.cable.name} "
        f"({low.cable.designation}), {low.cable.wire.name if low.cable.wire else ''}. "
        "Wires behind a regulator are left to its current limit.",
        source="IEC 60364-4-43 433.1: I_n <= I_z",
        cure=_smaller(low, allowed),
        parts=(low.fuse.designation, low.cable.designation),
    )
    slow = min(guarded, key=lambda one: one.verdict.margin if one.verdict.ok else 0.0)
    allowed = 0.0 if slow.verdict.ok else _largest_fuse(slow)
    yield Finding(
        area=AREA,
        name="fuse opens before the insulation suffers",
        verdict=Verdict.PASS if slow.verdict.ok else Verdict.FAIL,
        value=float(slow.verdict.margin),
        limit=1.0,
        unit="",
        sense=Sense.AT_LEAST,
        why=f"Time that {slow.cable.name} ({slow.cable.designation}) bears over the time that "
        f"{slow.fuse.name} ({slow.fuse.designation}) may take, least from overload to dead short"
        + (f": {slow.verdict.why}." if slow.verdict.why else "."),
        source=f"IEC 60364-4-43 433.1, 434.5.2; {fuse_curve(slow.fuse.fuse_kind).source}",
        cure="" if slow.verdict.ok else _smaller(slow, allowed),
        parts=(slow.fuse.designation, slow.cable.designation),
    )


def _smaller(one: _Guarded, rating: float) -> str:
    """What to fit instead."""
    fuse = f"A fuse of at most {rating:g} A ({_key(one)}), or thicker wire."
    return fuse if rating else "A thicker wire, or another kind of fuse."


def _key(one: _Guarded) -> str:
    branch = one.cable.branch
    return f"hub.branch.{branch}.fuse" if branch else "protection.fuse"


def _largest_fuse(one: _Guarded) -> float:
    """The largest rating that protects the wire [A]; 0 where none does."""
    ratings = reversed(fuse_curve(one.fuse.fuse_kind).ratings)
    able = (rating for rating in ratings if rating <= one.verdict.ampacity)
    return next((rating for rating in able if one.at(rating).ok), 0.0)


def _guarded(bench: Bench, circuit: Circuit) -> list[_Guarded]:
    """Each pair of wire and fuse, by the shortest loop that a short behind it closes."""
    found: dict[tuple[float, str, str], _Guarded] = {}
    for cable, fuse in over_fuses(circuit):
        if fuse is None or not fuse.rating or cable.wire is None or cable.cover is None:
            continue
        pair = (fuse.rating, fuse.fuse_kind, cable.conductor)
        if pair not in found:
            at = partial(_protected, bench, circuit, cable, fuse.fuse_kind)
            found[pair] = _Guarded(cable=cable, fuse=fuse, verdict=at(fuse.rating), at=at)
    return list(found.values())


def _protected(bench: Bench, circuit: Circuit, cable: Item, kind: str, rating: float) -> Protection:
    """Whether a fuse of some rating protects a cable whose wire and insulation are known."""
    harness = bench.robot.sheet.harness
    cells = float(internal_resistance(circuit.pack, 1.0))
    fault = float(open_voltage(circuit.pack, 1.0)) / (cells + circuit.loop_resistance(cable.start))
    if cable.wire is None or cable.cover is None:
        raise RequestError("cable", cable.name, "one with wire and insulation")
    return protects(
        fuse_curve(kind),
        rating,
        cable.wire,
        cable.cover,
        surroundings(cable, bench.asked.ambient),
        fault=fault,
        grouping=grouping_factor(harness.bundle if harness else 1),
    )


def _stalled(bench: Bench, circuit: Circuit, what: str, found: Mishap) -> Finding:
    """A stall must not burn a wire or contact before a fuse opens."""
    words = {"servo": "one servo stalls", "leg": "a leg stalls", "all": "all servos stall"}[what]
    total = float(found.current[0])
    battery = f"{total:.3g} A from the battery"
    fuse = (
        f"{circuit.by_designation[found.opens].name} opens within {found.after:.2g} s; "
        if (found.opens)
        else "no fuse is sure to open; "
    )
    harm = (
        f"{circuit.by_designation[found.hottest].name} bears it {found.bears:.2g} s."
        if found.hottest
        else "wires and contacts bear it for ever."
    )
    return Finding(
        area=AREA,
        name=f"wires and contacts while {words}",
        verdict=Verdict.PASS if found.ok else Verdict.FAIL,
        why=f"{found.name}: {battery}; {fuse}{harm}",
        source="stall current of a cold winding, battery full; fuse curves; heat balance",
        cure="" if found.ok else "A smaller fuse for the branch, or a thicker wire or contact.",
        parts=tuple(part for part in (found.opens, found.hottest) if part),
    )


def _no_fuse(name: str) -> Finding:
    return judge(
        AREA,
        name,
        None,
        None,
        "A",
        sense=Sense.AT_MOST,
        why="No fuse is stated.",
        source="protection.fuse",
        missing='State protection.fuse, like "25 A", or hub.branch.NAME.fuse.',
    )
