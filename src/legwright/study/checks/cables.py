"""Do the cables fit: long enough for every pose, short enough to stay clear, pins enough?"""

from __future__ import annotations

from collections.abc import Iterator

from legwright.electrics.pin_table import missing_pins
from legwright.electrics.slack import cuts_of
from legwright.study.bench import Bench
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge

AREA = "wiring"


def check_cables(bench: Bench) -> Iterator[Finding]:
    """A makeable length for every routed cable; stated lengths against it; pins for the bus."""
    robot, circuit = bench.robot, bench.power.circuit
    harness, bus = robot.sheet.harness, robot.sheet.bus
    if circuit is None or harness is None:
        return
    cuts = cuts_of(robot)
    wrong = [cut.name for _, cut in cuts if cut.length is None]
    troubles = [f"{cut.name}: {cut.trouble}" for _, cut in cuts if cut.length is None]
    yield judge(
        AREA,
        "cables that no length fits",
        float(len(wrong)),
        0.0,
        f"of {len(cuts)} cables",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=wrong,
        why=troubles[0]
        if troubles
        else "From the shortest that never pulls to the longest that "
        "never snags, each has a length that can be made.",
        source="path length over the whole joint range, minimum bend radius; harness",
        cure="Tie the cable nearer to the joint's axis, or narrow the joint's range.",
    )
    stated = [(cable, cut) for cable, cut in cuts if cable.stated is not None]
    pulls = [cut.name for cable, cut in stated if (cable.stated or 0.0) < cut.shortest]
    snags = [cut.name for cable, cut in stated if (cable.stated or 0.0) > cut.longest]
    first = next((cut for _, cut in stated if cut.name in {*pulls, *snags}), None)
    if stated:
        yield judge(
            AREA,
            "stated lengths that pull or snag",
            float(len(pulls) + len(snags)),
            0.0,
            f"of {len(stated)} cables",
            sense=Sense.AT_MOST,
            near=0.0,
            parts=(*pulls, *snags),
            why=f"Pulls: {', '.join(pulls) or 'none'}. Snags: {', '.join(snags) or 'none'}.",
            source="path length over the whole joint range; harness lengths",
            cure=""
            if first is None
            else f"Cut {first.name} to {1e3 * (first.length or first.shortest):.0f} mm.",
        )
    if bus is not None:
        short = missing_pins(circuit, bus=bus.kind)
        yield judge(
            AREA,
            "connectors without pins for the bus",
            float(len(short)),
            0.0,
            "kinds",
            sense=Sense.AT_MOST,
            near=0.0,
            parts=short,
            why=f"Too few contacts: {', '.join(short)}."
            if short
            else "Supply, return and data each have a pin.",
            source="serial: one data wire; CAN: two; bus, harness.connector",
            cure="A connector with one contact for each wire of the branch.",
        )
