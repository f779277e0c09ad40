"""The pin table: what each pin of each plug, and of each port of the hub, carries."""

from __future__ import annotations

from dataclasses import dataclass

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Item, Kind
from legwright.electrics.wire_list import WireRow, pins_of, wire_list


@dataclass(frozen=True, slots=True, kw_only=True)
class PinRow:
    """One pin."""

    connector: str
    """``-X5``, or ``-A1 port 3`` for the hub's own side."""
    kind: str
    """Name in `harness.connector`; empty where the sheet states none."""
    device: str
    """What it is plugged into; for a port, the plug that goes in."""
    pin: int
    """0: the whole port, where nothing is plugged in or no connector is stated."""
    net: str
    """``spare`` where it carries nothing."""
    colour: str
    wire: str
    """``-W3.1``; empty for a spare pin."""


def pin_table(circuit: Circuit, *, bus: str = "") -> tuple[PinRow, ...]:
    """Every pin of every plug, then of the hub's ports.

    Args:
        circuit: The circuit.
        bus: ``serial``, ``can``, or empty where no bus is stated.

    Returns:
        Pins; each once.
    """
    wires = wire_list(circuit, bus=bus)
    at = {
        (end.connector, end.pin): (row, end.device) for row in wires for end in (row.start, row.end)
    }
    cables = {item.designation: item for item in circuit.of(Kind.CABLE)}
    rows: list[PinRow] = []
    for plug in circuit.of(Kind.CONNECTOR):
        cable = cables[plug.cable]
        device = at[plug.designation, 1][1]
        signals = pins_of(circuit, cable, bus)
        for pin in range(1, max(plug.contacts, len(signals)) + 1):
            wire = at.get((plug.designation, pin), (None, ""))[0]
            rows.append(_pin(plug, device, pin, wire))
    return (*rows, *_hub(circuit, wires))


def missing_pins(circuit: Circuit, *, bus: str = "") -> tuple[str, ...]:
    """Connectors with too few pins for the bus, by name in the sheet, each once."""
    need = {"serial": 3, "can": 4}.get(bus, 2)
    fed = {one.branch for one in circuit.servos.values()}
    cables = {item.designation: item for item in circuit.of(Kind.CABLE) if item.branch in fed}
    short = {
        plug.connector: None
        for plug in circuit.of(Kind.CONNECTOR)
        if plug.cable in cables and plug.branch and plug.contacts < need
    }
    return tuple(short)


def _pin(plug: Item, device: str, pin: int, wire: WireRow | None) -> PinRow:
    return PinRow(
        connector=plug.designation,
        kind=plug.connector,
        device=device,
        pin=pin,
        net="spare" if wire is None else wire.net,
        colour="" if wire is None else wire.colour,
        wire="" if wire is None else wire.name,
    )


def _hub(circuit: Circuit, wires: tuple[WireRow, ...]) -> list[PinRow]:
    hub = circuit.of(Kind.HUB)
    name = hub[0].designation if hub else "hub"
    first = {item.name: item for item in circuit.of(Kind.CABLE)}
    rows: list[PinRow] = []
    for port in circuit.ports:
        cable = first.get(port.first)
        mine = [] if cable is None else [row for row in wires if row.cable == cable.designation]
        label = f"{name} port {port.number}"
        if not mine:
            rows.append(_port_pin(label, "", 0, None, "spare"))
        for row in mine:
            rows.append(_port_pin(label, row.start.connector, row.start.pin, row, row.net))
    return rows


def _port_pin(label: str, plug: str, pin: int, row: WireRow | None, net: str) -> PinRow:
    return PinRow(
        connector=label,
        kind="" if row is None else row.start.terminal,
        device=plug,
        pin=pin,
        net=net,
        colour="" if row is None else row.colour,
        wire="" if row is None else row.name,
    )
