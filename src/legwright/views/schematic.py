"""The schematic: battery to last servo, and the voltage that is left, on the same columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Kind
from legwright.electrics.readings import Readings
from legwright.robot.robot import Robot
from legwright.views import circuit_signs as signs
from legwright.views import tokens
from legwright.views.branch_rows import MARK, NAME, Board, Columns, draw_row, spare_of
from legwright.views.circuit_rows import Row, Stop, dealt, mains_of, rows_of, side_lines
from legwright.views.ink import Drawing, Ink
from legwright.views.ladder import Plot, Rung, ladder
from legwright.views.lettering import Face
from legwright.views.mains import Mains, draw_mains
from legwright.views.symbols import leg_key, short_names
from legwright.views.wide_sheet import ROOM, WideSheet

WIDTH, HEIGHT = ROOM
MOST_ROWS = 11
"""Rows on one sheet."""
RULE, FIRST, LAST = 10.0, 20.0, 113.0
"""Heights of the rule under the column names, and of the first and last row [mm]."""
PLOT = Plot(left=7.0, right=WIDTH - 4.0, top=126.0, bottom=158.0)
HUB_WIDTH = 13.0


def schematic_names(circuit: Circuit) -> tuple[str, ...]:
    """Names of the sheets that `schematic` makes, without making them."""
    count = len(dealt(rows_of(circuit), MOST_ROWS))
    return tuple(_name(number, count) for number in range(1, count + 1))


def _name(number: int, count: int) -> str:
    return "schematic" + (f"-{number}" if count > 1 else "")


def schematic(robot: Robot, circuit: Circuit, readings: Readings) -> tuple[WideSheet, ...]:
    """The schematic of a circuit, as many sheets as its branches need.

    Args:
        robot: The robot.
        circuit: Its circuit.
        readings: What a meter would show.

    Returns:
        Sheets.
    """
    parts = dealt(rows_of(circuit), MOST_ROWS)
    sheets = []
    for number, rows in enumerate(parts, start=1):
        more = f", {number} of {len(parts)}" if len(parts) > 1 else ""
        sheets.append(
            WideSheet(
                name=_name(number, len(parts)),
                subtitle="power, battery to last servo" + more,
                drawing=_sheet(robot, circuit, readings, rows),
                notes=_notes(robot, circuit, readings),
            )
        )
    return tuple(sheets)


def _sheet(robot: Robot, circuit: Circuit, readings: Readings, rows: Sequence[Row]) -> Drawing:
    ink = Ink(WIDTH, HEIGHT, about=f"Schematic of {robot.name}")
    board = Board(ink=ink, circuit=circuit, readings=readings)
    board.hips = [(float(h[0]), float(h[1])) for h in robot.hips]
    board.names = short_names(tuple(robot.legs), board.hips)
    board.legs = {
        circuit.servos[joint].branch: index
        for index, leg in enumerate(robot.legs.values())
        for joint in leg.joint_names
        if joint in circuit.servos
    }
    pitch = min((LAST - FIRST) / max(len(rows) - 1, 1), 15.5)
    ys = [FIRST + pitch * k for k in range(len(rows))]
    mains = draw_mains(ink, circuit, readings, mains_of(circuit), hub_left=72.0)
    board.extents |= mains.extents
    _small_plan(ink, robot, board.names)
    _side_lines(board, mains)
    right = mains.hub_left + HUB_WIDTH
    place = _columns(rows, right)
    _hub(board, mains, rows, ys)
    for row, y in zip(rows, ys, strict=True):
        draw_row(board, row, y, right, place)
    _heads(board, mains, place, rows)
    _ladder(board, mains, rows, place, ys)
    return ink.finish()


def _columns(rows: Sequence[Row], right: float) -> Columns:
    fused = any(i.kind is Kind.FUSE for r in rows for s in r.stops for i in s.way)
    most = max((sum(_signs(stop) for stop in row.stops) for row in rows), default=1)
    start = right + (16.0 if fused else 3.0)
    end = MARK - 17.0
    lead = start + 41.0
    step = min((end - lead) / max(most - 1, 1), 32.0)
    lead = max(lead, end - step * max(most - 1, 0) - 8.0) if most > 1 else lead
    return Columns(
        fuse=right + 9.0 if fused else None,
        centres=tuple(lead + step * k for k in range(max(most, 1))),
    )


def _signs(stop: Stop) -> int:
    """How many columns a stop takes: its regulators and the consumer itself."""
    return 1 + sum(item.kind is Kind.REGULATOR for item in stop.way)


# -- mains and hub -------------------------------------------------------------------------


def _small_plan(ink: Ink, robot: Robot, names: Sequence[str]) -> None:
    from legwright.views.figures import draw_robot, extent_points, fitted
    from legwright.views.lying import flat_posture
    from legwright.views.projection import PLAN

    q = flat_posture(robot)
    paper = fitted(
        extent_points(robot, q), PLAN, (8.0, RULE + 8.0, 64.0, RULE + 42.0), round_scale=False
    )
    draw_robot(ink, paper, robot, q, weight=tokens.FINE)
    ink.line(paper.x, RULE + 3.0, paper.x, RULE + 45.0, dash="centre", weight=tokens.FINE)
    ink.arrow_head(paper.x, RULE + 2.5, -1.5708)
    signs.letters(ink, paper.x + 2.0, RULE + 5.2, "walks", face=Face.LETTER, colour="ink2")
    for name, leg in zip(names, robot.legs.values(), strict=True):
        foot = paper.at(leg.foot(q[robot.columns[leg.name]]))
        side = 1.0 if foot[0] >= paper.x else -1.0
        anchor = "start" if side > 0 else "end"
        places = [(foot[0] + side * 2.5, foot[1] + dy, anchor) for dy in (0.9, 3.0, -2.0)]
        ink.text_where_free(places, name)


def _side_lines(board: Board, mains: Mains) -> None:
    """What is fed ahead of the hub, told in words under the battery."""
    y = mains.y + 27.0
    for row in side_lines(board.circuit)[:3]:
        one = row.stops[0].consumer
        start = next((i.start for i in row.stops[0].way if i.kind is Kind.CABLE), "battery")
        words = f"{one.designation} {one.name}, fed ahead of the hub, from {start}"
        signs.letters(board.ink, 6.0, y, words, room=62.0, face=Face.LETTER, colour="ink2")
        y += 3.4


def _hub(board: Board, mains: Mains, rows: Sequence[Row], ys: Sequence[float]) -> None:
    ink, circuit = board.ink, board.circuit
    hubs = circuit.of(Kind.HUB)
    name = hubs[0].designation if hubs else ""
    own = [y for row, y in zip(rows, ys, strict=True) if not row.tee]
    top, bottom = min([*own, mains.y]) - 5.0, max([*own, mains.y]) + 5.0
    left = mains.hub_left
    with ink.part(name):
        ink.rect(left, top, HUB_WIDTH, bottom - top, weight=tokens.PART_EDGE, fill="sheet")
        ink.text(
            left + HUB_WIDTH / 2, top - 1.6, name, size=tokens.SMALL, anchor="middle",
            face=Face.LETTER_STRONG,
        )  # fmt: skip
    node = hubs[0].end if hubs else "battery"
    current = board.readings.current.get(name)
    for row, at in zip(rows, ys, strict=True):
        index = board.legs.get(row.branch) if row.port is not None else None
        if index is not None:
            leg_key(ink, left + 4.2, at, 6.4, board.hips, leg=index)
        if row.port is not None:
            ink.text(left + HUB_WIDTH - 1.6, at + 0.9, str(row.port), anchor="end")
        if not row.goes_on_from and not row.tee and not row.spare:
            ink.dots([(left + HUB_WIDTH, at)], 0.55)
    told = signs.volts(board.readings.voltage[node])
    words = f"{told} V" + ("" if current is None else f" at {signs.amps(current)}")
    ink.text(left + HUB_WIDTH / 2, bottom + 3.2, words, anchor="middle")
    board.hub_bottom = bottom
    board.extents[name] = (left, left + HUB_WIDTH)


def _heads(board: Board, mains: Mains, place: Columns, rows: Sequence[Row]) -> None:
    ink = board.ink
    ink.line(4.0, RULE, WIDTH - 4.0, RULE)
    heads = list(mains.heads)
    heads.append((mains.hub_left + HUB_WIDTH / 2, "hub"))
    if place.fuse is not None:
        heads.append((place.fuse, "fuse"))
    if rows:
        heads.append(((place.centres[0] + mains.hub_left + HUB_WIDTH) / 2.0, "lead"))
    for column, x in enumerate(place.centres):
        heads.append((x, _role(rows, column)))
    for x, words in heads:
        y = RULE - 2.2
        signs.letters(ink, x, y, words, face=Face.LETTER, colour="ink2", anchor="middle")
    signs.letters(ink, NAME, RULE - 2.2, "lowest, V", face=Face.LETTER, colour="ink2", anchor="end")


def _role(rows: Sequence[Row], column: int) -> str:
    """The word that most servos of a column end with: coxa, femur, tibia."""
    ends: dict[str, int] = {}
    for row in rows:
        if column < len(row.stops) and row.stops[column].consumer.kind is Kind.SERVO:
            word = row.stops[column].consumer.name.replace("-", "_").split("_")[-1]
            ends[word] = ends.get(word, 0) + 1
    if not ends:
        return ""
    word = max(ends, key=lambda key: ends[key])
    return word if ends[word] > 1 else f"{column + 1}"


# -- ladder --------------------------------------------------------------------------------


def _ladder(
    board: Board, mains: Mains, rows: Sequence[Row], place: Columns, ys: Sequence[float]
) -> None:
    ink, circuit, readings = board.ink, board.circuit, board.readings
    shown = [stop for row in rows for stop in row.stops]
    row = next((r for r in rows if any(s.consumer.name == readings.place for s in r.stops)), None)
    if row is None:
        row = min((r for r in rows if r.stops), key=lambda r: spare_of(board, r), default=None)
    if row is None or not shown:
        return
    stop = next((s for s in row.stops if s.consumer.name == readings.place), row.stops[-1])
    node = next((i.start for i in stop.way if i.kind is Kind.REGULATOR), stop.consumer.node)
    rungs = [Rung(x=mains.battery, node="battery")]
    written = {circuit.of(Kind.HUB)[0].end} if circuit.of(Kind.HUB) else set()
    written |= {s.consumer.node for s in row.stops} | {node}
    for item in circuit.feeding(node):
        extent = board.extents.get(item.designation)
        if extent is None:
            continue
        left, right = extent
        if left > rungs[-1].x:
            rungs.append(Rung(x=left, node=item.start))
        rungs.append(Rung(x=right, node=item.end, label=item.end in written))
    for each in row.stops:
        rungs = _with_sign(board, rungs, each)
    low = readings.least.get(stop.consumer.name) or None
    _drop_lines(board, mains, place, ys)
    index = board.legs.get(row.branch)
    name = board.names[index] if index is not None else (row.branch or stop.consumer.name)
    ladder(ink, PLOT, rungs, readings, limit=low, name=name)
    ink.text_where_free(
        [(PLOT.right, PLOT.top - 2.0, "end"), (PLOT.right, PLOT.top + 3.0, "end")],
        readings.moment, face=Face.LETTER, colour="ink2", knock=True,
    )  # fmt: skip


def _with_sign(board: Board, rungs: list[Rung], stop: Stop) -> list[Rung]:
    """The rungs with the voltage written at the consumer's sign, not before it."""
    node, at = stop.consumer.node, board.extents.get(stop.consumer.designation)
    first = next((k for k, rung in enumerate(rungs) if rung.node == node), None)
    if first is None or at is None or at[1] <= rungs[first].x:
        return rungs
    plain = [replace(rung, label=False) if rung.node == node else rung for rung in rungs]
    sign = Rung(x=at[1], node=node, label=True)
    return [*plain[: first + 1], sign, *plain[first + 1 :]]


def _drop_lines(board: Board, mains: Mains, place: Columns, ys: Sequence[float]) -> None:
    ink = board.ink
    for x, top in mains.drops:
        ink.line(x, top, x, PLOT.bottom, dash="centre", weight=tokens.FINE)
    bottom = max(ys) + 6.0
    for x in place.centres:
        ink.line(x, bottom, x, PLOT.bottom, dash="centre", weight=tokens.FINE)
    hub = mains.hub_left + HUB_WIDTH / 2
    ink.line(hub, board.hub_bottom + 5.0, hub, PLOT.bottom, dash="centre", weight=tokens.FINE)


def _notes(robot: Robot, circuit: Circuit, readings: Readings) -> tuple[str, ...]:
    sizes = sorted({round(i.wire.area * 1e6, 2) for i in circuit.items if i.wire}, reverse=True)
    told = ", ".join(f"{size:g}" for size in sizes)
    over = "lowest and highest over all walks" if readings.peak else "those of one moment"
    notes = [
        f"Each power line is a pair, + and 0 V, drops are of both; its width follows: {told} mm².",
        f"Volts and amperes: {over}. Ladder: {readings.moment}.",
        "Lithium cells. First power-up on a stand, current-limited; by qualified people.",
    ]
    bus = robot.sheet.bus
    if bus is not None:
        kind = "CAN" if bus.kind == "can" else bus.kind
        notes.append(
            f"Data ({kind}, {bus.bit_rate / 1e6:g} Mbit/s) runs in the branch cables, see the "
            "pin table. Lengths in brackets are assumed."
        )
    return tuple(notes)
