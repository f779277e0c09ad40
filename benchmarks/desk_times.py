"""How long a page waits for the desk, what an idle desk costs, and whether it grows.

    python benchmarks/desk_times.py edits robots/rook --count 8
    python benchmarks/desk_times.py idle robots/rook --seconds 20
    python benchmarks/desk_times.py growth robots/rook --count 300

Times are on the wall, from the message's way out to the answer's way in; `cpu` is what the desk's
processes used meanwhile, which tells more where other programs share the machine. Findings that
take long are kept between runs, for the same edit; here they begin with none.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import sys
import time
from contextlib import suppress
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "desk"))

from desk_visitor import Visitor, served, visiting

from legwright.views.desk.blocks import Cycle, Pulled
from legwright.views.desk.desk import Desk

MILLI = 1e3


def used(pids: list[int]) -> float:
    """Processor time of processes [s]."""
    tick = os.sysconf("SC_CLK_TCK")
    total = 0.0
    for pid in pids:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        total += sum(map(int, fields[11:15])) / tick  # with that of processes that have ended
    return total


def allocated(pid: int) -> float:
    """Memory that a process allocated: what it maps of files is left out [MB]."""
    for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
        if line.startswith("Anonymous:"):
            return float(line.split()[1]) / 1024
    return float("nan")


def family() -> list[int]:
    """This process, its children and theirs."""
    parents = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            parents[int(stat.parent.name)] = int(stat.read_text().rpartition(")")[2].split()[1])
    found = [os.getpid()]
    for parent in found:  # grows while it is walked
        found += [pid for pid, of in parents.items() if of == parent]
    return found


async def settled(page: Visitor) -> None:
    """Everything that a page is told first has come, and kernels are compiled."""
    await page.hello()
    await page.block(Cycle, lambda header: header.fed)
    await page.text("verdict", lambda told: told["whole"])


EDITED = ("dimensions.femur", "stance.body_height", "requirements.ground_clearance")
"""What is changed: the first that the robot's sheet offers with a number, in millimetres."""


def edited(page: Visitor) -> tuple[str, float]:
    """A key that can be edited, and its value [mm]."""
    fields = {field["key"]: field for told in page.said if told["type"] == "fields"
              for field in told["list"]}  # fmt: skip
    for key in EDITED:
        field = fields.get(key)
        if field is not None and field["number"] is not None and field["unit"] == "mm":
            return key, field["number"]
    raise SystemExit(f"Nothing to edit: this robot's sheet offers none of {', '.join(EDITED)}.")


async def edits(page: Visitor, _: Desk, arguments: argparse.Namespace) -> None:
    """Edit -> fields, shape, first cycle, exact cycle, first part of the verdict, whole verdict."""
    await settled(page)
    key, start = edited(page)
    print(f"edited: {key}, from {start:g} mm")
    names = ("edits", "shape", "cycle", "exact", "part", "verdict", "cpu")
    rows = []
    for number in range(arguments.count):
        await asyncio.sleep(2.5)
        pids = family()
        cpu, began = used(pids), time.perf_counter()
        row = dict.fromkeys(names, float("nan"))

        def mark(name: str, row: dict[str, float] = row, began: float = began) -> None:
            if row[name] != row[name]:
                row[name] = MILLI * (time.perf_counter() - began)

        await page.say("edit", key=key, value=f"{start + 1 + 0.25 * number:g} mm")
        while True:
            told = await page.hear()
            if isinstance(told, dict):
                if told["type"] == "refused":
                    raise SystemExit(told["text"])
                if told["type"] == "edits":
                    mark("edits")
                elif told["type"] == "shape" and told["who"] == "now":
                    mark("shape")
                elif told["type"] == "verdict":
                    mark("part")
                    if told["whole"]:
                        mark("verdict")
                        break
            elif isinstance(told[0], Cycle) and told[0].who == "now":
                mark("cycle")
                if told[0].fed:
                    mark("exact")
        row["cpu"] = MILLI * (used(pids) - cpu)
        rows.append(row)
    for name in names:
        values = sorted(row[name] for row in rows if row[name] == row[name])
        if values:
            print(f"{name:8s} median {median(values):7.0f} ms  best {values[0]:7.0f} ms")
    pulls = []
    for number in range(50):
        began = time.perf_counter()
        await page.say("pull", what="body", to=[0.0002 * number, 0, 0, 0, 0, 0])
        await page.block(Pulled)
        pulls.append(MILLI * (time.perf_counter() - began))
    print(f"pull     median {median(pulls):7.1f} ms  best {min(pulls):7.1f} ms")


async def idle(page: Visitor, _: Desk, arguments: argparse.Namespace) -> None:
    """Processor time and frames while nothing changes."""
    await settled(page)
    await asyncio.sleep(10.0)
    pids, heard = family(), len(page.said) + len(page.blocks)
    cpu, began = used(pids), time.perf_counter()
    with_timeout = asyncio.create_task(page.hear())
    await asyncio.sleep(arguments.seconds)
    share = (used(pids) - cpu) / (time.perf_counter() - began)
    frames = len(page.said) + len(page.blocks) - heard
    with_timeout.cancel()
    print(f"idle: {100 * share:.2f} % of a core in {len(pids)} processes, {frames} frames")


async def growth(page: Visitor, _: Desk, arguments: argparse.Namespace) -> None:
    """Memory over many edits, each with its verdict begun, some with it whole."""
    await settled(page)
    key, start = edited(page)
    pids = family()
    for number in range(arguments.count + 1):
        await page.say("edit", key=key, value=f"{start + 1 + 0.01 * number:g} mm")
        await page.block(Cycle, lambda header: header.who == "now" and header.fed)
        if number % 10 == 0:
            await page.text("verdict", lambda told: told["whole"])
        page.said.clear()
        page.blocks.clear()
        if number % max(arguments.count // 10, 1) == 0:
            sizes = "  ".join(f"{allocated(pid):7.1f}" for pid in pids)
            print(f"{number:5d} edits: {sizes} MB in desk and its processes", flush=True)


async def run(arguments: argparse.Namespace) -> None:
    """Put the robot on a desk and do what is asked."""
    what = {"edits": edits, "idle": idle, "growth": growth}[arguments.what]
    async with served(arguments.robot) as (desk, address), visiting(address) as page:
        await what(page, desk, arguments)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=["edits", "idle", "growth"])
    parser.add_argument("robot", type=Path)
    parser.add_argument("--count", type=int, default=8)
    parser.add_argument("--seconds", type=float, default=20.0)
    with TemporaryDirectory() as nothing_kept:
        os.environ["XDG_CACHE_HOME"] = nothing_kept
        asyncio.run(run(parser.parse_args()))
