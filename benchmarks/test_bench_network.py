"""The network of 18 servos: one batch of samples, constant currents and constant powers."""

from __future__ import annotations

import os

import numpy as np
import pytest

from legwright.electrics.flow import flow
from legwright.electrics.network import Element, Network, Regulator, Source, network
from legwright.electrics.settling import settle

SAMPLES = 1024
GOAL = 100e-6
"""Time per sample of 18 servos [s]."""


def walker() -> tuple[Network, list[str]]:
    """Six daisy chains of three servos on a hub, and a computer behind a regulator."""
    parts = [
        Element(name="lead", start="pack", end="fuse", resistance=0.004),
        Element(name="fuse", start="fuse", end="switch", resistance=0.003),
        Element(name="switch", start="switch", end="hub", resistance=0.002),
        Element(name="computer lead", start="hub", end="reg in", resistance=0.02),
    ]
    servos = []
    for leg in range(6):
        before = "hub"
        for joint in range(3):
            servo = f"{leg}.{joint}"
            parts.append(Element(name=f"w{servo}", start=before, end=servo, resistance=0.03))
            servos.append(servo)
            before = servo
    regulator = Regulator(name="reg", start="reg in", end="pc", voltage=5.0, efficiency=0.88)
    source = Source(name="battery", node="pack", voltage=11.1, resistance=0.02)
    return network([source], parts, [regulator]), servos


def loads(net: Network, servos: list[str], scale: float) -> np.ndarray:
    rng = np.random.default_rng(6)
    table = np.zeros((SAMPLES, len(net.nodes)))
    for servo in servos:
        table[:, net.node(servo)] = scale * rng.uniform(0.1, 1.0, SAMPLES)
    return table


@pytest.mark.parametrize("kind", ["current", "power"])
def test_flow_of_eighteen_servos(benchmark, kind: str) -> None:  # type: ignore[no-untyped-def]
    net, servos = walker()
    table = loads(net, servos, 0.6 if kind == "current" else 5.0)
    computer = np.zeros((1, len(net.nodes)))
    computer[0, net.node("pc")] = 8.0
    given = {"power": computer + table} if kind == "power" else {"current": table}
    result = benchmark(lambda: flow(net, **given))
    assert result.solved.all()
    each = benchmark.stats.stats.median / SAMPLES
    benchmark.extra_info["per_sample_us"] = each * 1e6
    if not os.environ.get("NO_TIME_LIMITS"):
        assert each <= GOAL


def test_settling_of_eighteen_servos(benchmark) -> None:  # type: ignore[no-untyped-def]
    """Servos that draw constant power plus an idle current: the loop with its callback."""
    net, servos = walker()
    watts = loads(net, servos, 5.0)
    idle = np.where(watts > 0.0, 0.03, 0.0)
    result = benchmark(lambda: settle(net, lambda volts: watts / volts + idle))
    assert result.converged.all()
    benchmark.extra_info["per_sample_us"] = benchmark.stats.stats.median / SAMPLES * 1e6
    benchmark.extra_info["iterations"] = result.iterations
