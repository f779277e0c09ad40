"""The wire list: every single wire of the harness, where it starts and where it ends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Item, Kind, Origin

DEVICES = (Kind.FUSE, Kind.SWITCH, Kind.HUB, Kind.REGULATOR)
"""Items that cables lead to or from."""

ONE_POLE = (Kind.FUSE, Kind.SWITCH)
"""Items that only the supply goes through; the return passes by."""


class Signal(Enum):
    """What a pin carries; the value is its net, that of the supply aside."""

    SUPPLY = "+"
    RETURN = "0V"
    DATA = "DATA"
    CAN_HIGH = "CANH"
    CAN_LOW = "CANL"
    SPARE = ""


COLOURS: Mapping[Signal, str] = MappingProxyType(
    {
        Signal.SUPPLY: "RD",
        Signal.RETURN: "BK",
        Signal.DATA: "YE",
        Signal.CAN_HIGH: "YE",
        Signal.CAN_LOW: "GN",
        Signal.SPARE: "",
    }
)
"""Colour codes of IEC 60757 (from memory). Red and black for a low-voltage supply, yellow for
data: common practice, no published source."""

COLOUR_NAMES: Mapping[str, str] = MappingProxyType(
    {"RD": "red", "BK": "black", "YE": "yellow", "GN": "green", "": "none"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """One end of a wire."""

    device: str
    """Designation of what it is plugged into: ``-A1 port 3``, ``-M4``."""
    connector: str
    """Designation of the plug, ``-X5``; empty where the sheet states none."""
    pin: int
    """Pin of the plug; 0 without one."""
    terminal: str
    """Kind of connector in the sheet; empty where the sheet states none."""

    @property
    def words(self) -> str:
        """``-A1 port 3, -X5:1``."""
        return f"{self.device}, {self.connector}:{self.pin}" if self.connector else self.device


@dataclass(frozen=True, slots=True, kw_only=True)
class WireRow:
    """One wire."""

    name: str
    """``-W3.1``: cable and number of the wire."""
    cable: str
    signal: Signal
    net: str
    colour: str
    """IEC 60757."""
    size: str
    """As it is ordered: ``20 AWG``; empty where the sheet states no conductor."""
    insulation: str
    length: float | None
    """[m]; None where it is not known."""
    origin: Origin | None
    start: Ending
    end: Ending


def signals(bus: str, contacts: int, *, servos: bool) -> tuple[Signal, ...]:
    """What the pins of a connector carry, pin 1 first.

    Args:
        bus: ``serial``, ``can``, or empty where no bus is stated.
        contacts: Of the connector; 0 where the sheet states no connector.
        servos: Whether the cable leads to servos, so that the bus runs in it.

    Returns:
        One signal per pin: supply, return, data, then spare ones. At least supply and return.
    """
    data: tuple[Signal, ...] = ()
    if servos and bus == "serial":
        data = (Signal.DATA,)
    elif servos and bus == "can":
        data = (Signal.CAN_HIGH, Signal.CAN_LOW)
    pins = (Signal.SUPPLY, Signal.RETURN, *data)
    pins = pins[: max(contacts, 2)]
    return pins + (Signal.SPARE,) * (contacts - len(pins))


def wire_list(circuit: Circuit, *, bus: str = "") -> tuple[WireRow, ...]:
    """Every wire of every cable, in the circuit's order.

    Args:
        circuit: The circuit.
        bus: ``serial``, ``can``, or empty where no bus is stated.

    Returns:
        Wires; each physical wire once.
    """
    rows: list[WireRow] = []
    for cable in circuit.of(Kind.CABLE):
        plugs = plugs_of(circuit, cable)
        pins = pins_of(circuit, cable, bus)
        wired = [signal for signal in pins if signal is not Signal.SPARE]
        for number, signal in enumerate(wired, start=1):
            rows.append(
                WireRow(
                    name=f"{cable.designation}.{number}",
                    cable=cable.designation,
                    signal=signal,
                    net=net_of(circuit, cable, signal),
                    colour=COLOURS[signal],
                    size=cable.wire.name if cable.wire else "",
                    insulation=cable.cover.name if cable.cover else "",
                    length=cable.length,
                    origin=cable.origin,
                    start=_ending(circuit, cable, plugs[0], near=True, pin=number),
                    end=_ending(circuit, cable, plugs[1], near=False, pin=number),
                )
            )
    return tuple(rows)


def pins_of(circuit: Circuit, cable: Item, bus: str) -> tuple[Signal, ...]:
    """What the pins of a cable's plugs carry; supply, return and the bus without plugs."""
    stated = [plug.contacts for plug in plugs_of(circuit, cable) if plug and plug.contacts]
    servos = bool(cable.branch) and any(
        one.branch == cable.branch for one in circuit.servos.values()
    )
    if stated:
        return signals(bus, min(stated), servos=servos)
    return tuple(s for s in signals(bus, 4, servos=servos) if s is not Signal.SPARE)


def plugs_of(circuit: Circuit, cable: Item) -> tuple[Item | None, Item | None]:
    """Connectors at a cable's ends, battery's side first; None where there is none."""
    near = far = None
    for item in circuit.of(Kind.CONNECTOR):
        if item.cable == cable.designation:
            if item.end == cable.start:
                near = item
            elif item.start == cable.end:
                far = item
    return near, far


def net_of(circuit: Circuit, cable: Item, signal: Signal) -> str:
    """Name of the net: the supply bears the name of the part that it comes from, ``+F1``."""
    if signal is not Signal.SUPPLY:
        return str(signal.value)
    source = circuit.battery
    for item in circuit.feeding(cable.start):
        if item.kind in DEVICES:
            source = item.designation
    return "+" + source.lstrip("-")


def device_at(circuit: Circuit, node: str, *, near: bool) -> str:
    """Designation of what a cable is plugged into at a node.

    Args:
        circuit: The circuit.
        node: The node.
        near: Whether it is the cable's end on the battery's side.
    """
    devices = [item for item in circuit.items if item.kind in DEVICES]
    behind = [item.designation for item in devices if item.end == node]
    ahead = [item.designation for item in devices if item.start == node]
    users = [one.designation for one in circuit.consumers if one.node == node]
    found = [*behind, *users, *ahead] if near else [*ahead, *users, *behind]
    if found:
        return found[0]
    return circuit.battery if node == "battery" else node


def _ending(circuit: Circuit, cable: Item, plug: Item | None, *, near: bool, pin: int) -> Ending:
    node = cable.start if near else cable.end
    if plug is not None:
        node = plug.start if near else plug.end
    device = device_at(circuit, node, near=near)
    port = next((port.number for port in circuit.ports if port.first == cable.name), None)
    if near and port is not None:
        hub = circuit.of(Kind.HUB)
        device = f"{hub[0].designation if hub else device} port {port}"
    if pin == 2 and any(i.designation == device and i.kind in ONE_POLE for i in circuit.items):
        device += " (0V passes by)"
    return Ending(
        device=device,
        connector=plug.designation if plug else "",
        pin=pin if plug else 0,
        terminal=plug.connector if plug else "",
    )
