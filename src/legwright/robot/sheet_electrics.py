"""The electrical tables of the build sheet: battery to last servo, and the bus.

All optional. A conductor, connector or load is described once, under a name, and used by
that name where the topology is stated.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from legwright.robot.quantities import (
    Area,
    Capacitance,
    Charge,
    Count,
    Current,
    Length,
    Mass,
    Number,
    Part,
    Power,
    Rate,
    Resistance,
    Share,
    Signed,
    Span,
    Temperature,
    Time,
    Truth,
    Voltage,
)

Code = Annotated[int, Field(strict=True, ge=0, le=0xFFFF_FFFF)]
"""A number of 32 bits, as drives hold it."""


class Battery(Part):
    """The battery pack."""

    chemistry: Literal["lithium-polymer", "lithium-ion", "lithium-iron-phosphate"] = (
        "lithium-polymer"
    )
    series: Count
    """Cells in series."""
    parallel: Count = 1
    """Strings in parallel."""
    capacity: Charge
    """Of the pack [C] (A·s)."""
    cell_resistance: Resistance = 0.004
    """Of one cell [Ω]."""
    cell_nominal: Voltage = 3.7
    cell_full: Voltage = 4.2
    cell_cutoff: Voltage = 3.3
    """Never discharged below [V]."""
    continuous_current: Current | None = None
    """The pack's rating [A]."""
    mass: Mass | None = None
    size: tuple[Span, Span, Span] | None = None
    """Edges along x, y, z as built in [m]."""

    @property
    def nominal_voltage(self) -> float:
        """At the nominal cell voltage [V]."""
        return self.series * self.cell_nominal

    @property
    def full_voltage(self) -> float:
        """Fully charged [V]."""
        return self.series * self.cell_full

    @property
    def cutoff_voltage(self) -> float:
        """Never below this [V]."""
        return self.series * self.cell_cutoff

    @property
    def resistance(self) -> float:
        """Of the pack [Ω]."""
        return self.series * self.cell_resistance / self.parallel


class Protection(Part):
    """Between battery and hub."""

    fuse: Current | None = None
    """Rated current of the main fuse [A]."""
    fuse_kind: Literal["fast", "normal", "slow"] = "normal"
    fuse_resistance: Resistance = 0.0
    switch_current: Current | None = None
    """Rating of the switch or contactor [A]."""
    switch_resistance: Resistance = 0.0
    precharge: Resistance | None = None
    """Of the pre-charge path, if there is one [Ω]."""


class Conductor(Part):
    """One kind of wire; state the gauge or the cross-section."""

    gauge: str | None = Field(default=None, pattern=r"^([1-9]|[1-3][0-9]|40) AWG$")
    """American wire gauge, written ``20 AWG``."""
    cross_section: Area | None = None
    """Of the copper [m²]."""
    insulation: str = ""
    highest_temperature: Temperature | None = None
    """The insulation's class [K]."""
    outside: Span | None = None
    """Outer diameter [m]."""


class Connector(Part):
    """One kind of connector or terminal."""

    contacts: Count = 2
    current: Current | None = None
    """Rating per contact [A]."""
    resistance: Resistance = 0.0
    """Per contact [Ω]."""
    smallest_wire: Area | None = None
    """[m²]"""
    largest_wire: Area | None = None
    """[m²]"""


class Run(Part):
    """One wired stretch, there and back, between two named points."""

    start: str
    end: str
    conductor: str
    """Name in `harness.conductor`."""
    connector: str | None = None
    """Name in `harness.connector`, at both ends."""
    length: Span | None = None
    """One way; found from the route when None [m]."""


class Tie(Part):
    """A place where a cable is held."""

    link: str
    at: tuple[Signed, Signed, Signed]
    """In the link's frame [m]."""


class Route(Part):
    """Where one cable runs, if not as assumed; the table's key is the joint or load it leads to."""

    by: tuple[Tie, ...] | None = None
    """Ties from its start to its end; on both sides of each moving joint when None."""
    socket: tuple[Signed, Signed, Signed] | None = None
    """Where it plugs into the servo, in the frame of the link that carries the servo [m]."""


class Harness(Part):
    """Kinds of wire and connector by name, and the runs that belong to no branch."""

    conductor: dict[str, Conductor] = Field(default_factory=dict)
    connector: dict[str, Connector] = Field(default_factory=dict)
    run: dict[str, Run] = Field(default_factory=dict)
    bundle: Count = 1
    """Loaded wires that lie together, for derating."""
    slack: Share = 0.1
    """Length added to each routed cable, as a share, as far as it never snags."""
    flexing_bend: Number = Field(default=10.0, ge=0.0, le=100.0)
    """Least bend radius across a moving joint, in outer diameters."""
    fixed_bend: Number = Field(default=4.0, ge=0.0, le=100.0)
    """Least bend radius where a cable lies still, in outer diameters."""
    bulge: Span | None = None
    """How far a service loop may stand off the straight way; not judged when None [m]."""
    tie: Span | None = None
    """Distance of the ties from the joint axes; by the bend radius when None [m]."""
    termination: Length = 0.005
    """Length that each end takes up [m]."""
    step: Span = 0.005
    """Cables are cut to multiples of this [m]."""
    route: dict[str, Route] = Field(default_factory=dict)
    """Joint or load that a cable leads to -> where it runs."""


class Branch(Part):
    """One port of the hub and what hangs on it."""

    port: Count
    chain: tuple[str, ...] = ()
    """Joints in the order of the daisy chain, from the hub outward."""
    load: str | None = None
    """Name in `load`, where the port feeds no servos."""
    conductor: str | None = None
    """Name in `harness.conductor`."""
    connector: str | None = None
    """Name in `harness.connector`."""
    lead: Span | None = None
    """Cable from the hub to the first of the chain, one way [m]."""
    links: tuple[Span, ...] = ()
    """Cables from each to the next, one way [m]."""
    fuse: Current | None = None
    """[A]"""


class Hub(Part):
    """The power hub."""

    ports: Count
    at: tuple[Signed, Signed, Signed] | None = None
    """In the body frame [m]."""
    copper_width: Span | None = None
    """Of the main track [m]."""
    copper_length: Span | None = None
    """Of the main track [m]."""
    copper_thickness: Span | None = None
    """Of one copper layer [m]."""
    copper_layers: Count = 1
    port_current: Current | None = None
    """Rating of one port [A]."""
    capacitance: Capacitance | None = None
    """All capacitors that the switch charges [F]."""
    branch: dict[str, Branch] = Field(default_factory=dict)


class Load(Part):
    """Something that draws power and is no servo: computer, camera, radio."""

    power: Power
    """At its own input, average [W]."""
    peak_power: Power | None = None
    """[W]"""
    supply: Voltage | None = None
    """Its voltage; the hub's when None [V]."""
    regulator_efficiency: Share | None = None
    """Of the converter that makes `supply`."""
    mass: Mass | None = None
    link: str | None = None
    """Link that carries it; the body when None."""
    at: tuple[Signed, Signed, Signed] | None = None
    """Where its cable plugs in, in the frame of that link [m]."""


class Lights(Part):
    """Addressable status lights."""

    count: Count
    current: Current
    """Of one light, fully on [A]."""
    supply: Voltage | None = None
    regulator_efficiency: Share | None = None
    brightness: Share = 1.0
    """Highest brightness used."""
    device: str = ""
    """SPI device of the serial-clocked strip on the robot's computer (``/dev/spidev0.0``)."""


class BusDrive(Part):
    """What every drive on a CAN bus says of itself; checked before power comes on."""

    vendor: Code | None = None
    """Vendor id, object 1018h:1."""
    product: Code | None = None
    """Product code, object 1018h:2."""
    counts: Code | None = None
    """Position counts per turn of the output shaft, object 6092h."""
    rated_current: Current | None = None
    """Of the winding, object 6075h [A]."""
    winding: str = Field(default="", pattern=r"^([0-9A-Fa-f]{4}:[0-9]{1,3})?$")
    """Object of the winding temperature in tenths of a degree Celsius, like ``2000:1``."""


class Bus(Part):
    """How the servos are talked to."""

    kind: Literal["serial", "can"]
    bit_rate: Rate
    """[bit/s]"""
    update_rate: Rate
    """Control cycles [Hz]."""
    turn_round: Time = 0.0
    """From the end of a request to the start of its answer [s]."""
    command_bytes: Count | None = None
    """Payload per servo and cycle, to the servo."""
    answer_bytes: Count | None = None
    """Payload per servo and cycle, from the servo."""
    buses: Count = 1
    """Separate buses that share the servos."""
    terminated: Truth = True
    nodes: dict[str, int] = Field(default_factory=dict)
    """Joint -> node id."""
    drive: BusDrive = Field(default_factory=BusDrive)
    """What every drive on a CAN bus must be."""
