"""The loop under load: punctuality, share of a core and memory of both processes.

18 simulated axes; the service records every cycle and streams all of them to a client. As a
script it prints the figures of a longer run:

    python benchmarks/test_bench_loop.py RATE SECONDS [RIG]
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import legwright as lw
from legwright.remote.attendant import ServiceSettings
from legwright.remote.keeper import Keeper
from legwright.remote.sign_in import Doors, Role
from legwright.rig.control import Settings
from legwright.rig.replay import read_recording

ROOT = Path(__file__).parents[1]
SECONDS = 60.0
FIELDS = ("mode", "q", "qd", "current", "force", "contact", "voltage", "place")
RIGS: dict[str, tuple[str, dict[str, str], bool]] = {
    "axes": ("can:virtual", {"physics": "no"}, False),
    "world": ("sim", {}, True),
}
"""Name -> rig, its options, whether feet feel. `axes`: drives and their bus, in the same process;
`world`: the physics world."""


@dataclass(frozen=True)
class Figures:
    """What one run showed."""

    median: float
    p99: float
    worst: float
    """Lateness of cycles [s]."""
    cycles: float
    """Share of the cycles that should have been."""
    control: float
    service: float
    """Shares of a core."""
    grown: tuple[float, float]
    """Growth of memory from a third of the run to its end, control and service, as shares."""
    lost: int
    """Connections that broke."""
    granted: str

    def __str__(self) -> str:
        control, service = self.grown
        return (
            f"late {1e3 * self.median:.2f} / {1e3 * self.p99:.2f} / {1e3 * self.worst:.2f} ms "
            f"(median, 99th percentile, worst), {self.cycles:.1%} of the cycles; "
            f"control {self.control:.1%}, service {self.service:.1%} of a core; "
            f"memory {control:+.2%}, {service:+.2%}; "
            f"{self.lost} connections broke. {self.granted}"
        )


def spent(pid: int) -> float:
    """CPU time of a process [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def resident(pid: int) -> int:
    """Memory of a process that is its own [pages]."""
    pages = Path(f"/proc/{pid}/statm").read_text().split()
    return int(pages[1]) - int(pages[2])


def lateness(times: Any, rate: float) -> Any:
    """How late each cycle began after the absolute grid of the loop [s].

    What all later cycles share, in whole periods, is cycles left out, or their reports, and not
    lateness.
    """
    behind = times - times[0] - np.arange(len(times)) / rate
    shared = np.minimum.accumulate(behind[::-1])[::-1]
    left_out = np.floor((shared - shared[0]) * rate + 0.1) / rate
    late = behind - left_out
    return late - late.min()


def walk(address: str, rate: float, seconds: float) -> int:
    """Walk and stream; how often a busy computer broke the connection."""
    end, lost = time.monotonic() + seconds, 0
    while (left := end - time.monotonic()) > 0.0:
        try:
            with lw.connect(address) as client:
                client.stand()
                client.walk(forward=0.05)
                client.watch(rate=rate, seconds=left, fields=FIELDS)
        except lw.LinkError:
            lost += 1
    return lost


def run(rate: float, seconds: float, which: str) -> Figures:
    """Drive rook with a client that streams, and measure."""
    rig, options, feel = RIGS[which]
    robot = ROOT / "robots" / "rook"
    with tempfile.TemporaryDirectory() as logs:
        keeper = Keeper(
            Settings(
                robot=robot, rig=rig, folder=Path(), feel=feel,
                options={"rate": f"{rate:g}", **options},
            ),
            ServiceSettings(
                robot=robot, folder=Path(), logs=Path(logs), port=0,
                doors=Doors(open_to=Role.MAINTAIN),
            ),
        )  # fmt: skip
        keeper.start()
        try:
            while not keeper.address:
                time.sleep(0.1)
            pids = [child.process.pid or 0 for child in keeper.children]
            lost = walk(keeper.address, rate, seconds / 3)
            memory, used, began = [*map(resident, pids)], [*map(spent, pids)], time.monotonic()
            lost += walk(keeper.address, rate, 2 * seconds / 3)
            span = time.monotonic() - began
            share = [(spent(pid) - b) / span for pid, b in zip(pids, used, strict=True)]
            grown = [resident(pid) / b - 1.0 for pid, b in zip(pids, memory, strict=True)]
        finally:
            keeper.end()
        recordings = [read_recording(path) for path in sorted(Path(logs).glob("*.mcap"))]
    late, count, length = [], 0, 0.0
    for recording in recordings:
        times = recording.tracks["/sensed"].time
        late.append(lateness(times, rate))
        count, length = count + len(times), length + times[-1] - times[0]
    all_late = np.concatenate(late)
    median, p99 = np.percentile(all_late, (50, 99))
    return Figures(
        median=float(median), p99=float(p99), worst=float(all_late.max()),
        cycles=count / (length * rate), control=share[0], service=share[1],
        grown=(grown[0], grown[1]), lost=lost, granted=str(recordings[0].about["notes"][-1]),
    )  # fmt: skip


@pytest.mark.parametrize("which", RIGS)
@pytest.mark.parametrize("rate", [100.0, 200.0])
def test_the_loop_under_load(benchmark: Any, rate: float, which: str) -> None:
    figures = benchmark.pedantic(lambda: run(rate, SECONDS, which), rounds=1, iterations=1)
    benchmark.extra_info.update(figures=str(figures))
    print(f"\n{which} at {rate:g} Hz: {figures}")


if __name__ == "__main__":
    print(run(float(sys.argv[1]), float(sys.argv[2]), (sys.argv[3:] or ["axes"])[0]))
