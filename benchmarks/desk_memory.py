"""Whether desk and page stay as small as they were while a physics walk goes on for minutes.

    python benchmarks/desk_memory.py robots/rook --seconds 660
    python benchmarks/desk_memory.py robots/rook --starts 12

One desk in processes of its own, one Chromium with the plots of "Does it walk?" shown, one walk at
real time, or one walk begun after another. Every so often: memory allocated by each of the desk's
processes and by the page's, and the page's heap after its garbage was collected. The last lines
say how far the last quarter lies over the second one: what a start needs is not growth, what goes
on is.
Needs Debian's chromium, the page (make page) and the development packages.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "page"))

from browsing import FLAGS, ServedDesk, Sheet, chromium, sheet_on
from playwright.sync_api import Browser, sync_playwright

WALK = 4
"""The question."""
STATE = "legwright.store.walk.state"


def allocated(pid: int) -> float:
    """Memory that a process allocated: what it maps of files is left out [MB]."""
    for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
        if line.startswith("Anonymous:"):
            return float(line.split()[1]) / 1024
    return float("nan")


def children(pid: int) -> list[int]:
    """Children of a process, in the order in which they were started."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == pid:
            found.append(int(stat.parent.name))
    return sorted(found)


def processes(desk: int, browser: Browser) -> dict[str, int]:
    """The desk's processes and the page's, by what they are for."""
    found = {"desk": desk}
    for pid in children(desk):
        command = Path(f"/proc/{pid}/cmdline").read_text()
        if "spawn_main" in command:
            found["verdict" if "verdict" not in found else "walk"] = pid
    session = browser.new_browser_cdp_session()
    for each in session.send("SystemInfo.getProcessInfo")["processInfo"]:
        if each["type"] == "renderer":
            found["page"] = each["id"]
    session.detach()
    return found


def walk(sheet: Sheet, arguments: argparse.Namespace) -> None:
    """Set out on the longest walk that can be asked for."""
    form = sheet.page.locator(".walk-form")
    if form.locator("[name=ground]").is_visible():  # else a walk is under way, and is begun anew
        form.locator("[name=ground]").select_option(arguments.ground)
        form.locator("[name=pace]").select_option(arguments.pace)
        form.locator("[name=speed]").fill(arguments.speed)
        form.locator("[name=distance]").fill("100")
    sheet.page.locator(".walk-head").get_by_role("button", name="Start").click()
    sheet.until(f"{STATE} === 'walking' && legwright.store.walk.time > 1")


def measured(
    arguments: argparse.Namespace, browser: Browser, folder: Path
) -> list[dict[str, float]]:
    """Walk, and write down what each process takes."""
    served = ServedDesk(arguments.robot, more=(f"--recordings={folder}",))
    rows: list[dict[str, float]] = []
    try:
        with sheet_on(browser, served.address) as sheet:
            sheet.open(WALK)
            sheet.until("legwright.store.verdict?.whole")
            walk(sheet, arguments)
            heap = sheet.page.context.new_cdp_session(sheet.page)
            began = time.monotonic()
            while time.monotonic() - began < arguments.seconds:
                time.sleep(max(0.0, began + (len(rows) + 1) * arguments.every - time.monotonic()))
                over = sheet.get(STATE) != "walking"
                if over:
                    print(sheet.get("legwright.store.walk.text"), "Once more.", flush=True)
                if over or arguments.starts:
                    walk(sheet, arguments)
                heap.send("HeapProfiler.collectGarbage")
                row = {
                    "s": time.monotonic() - began,
                    "walked": sheet.get("legwright.store.walk.time"),
                }
                for name, pid in processes(served.pid, browser).items():
                    row[name] = allocated(pid)
                used = heap.send("Runtime.getHeapUsage")
                row["heap"] = (used["usedSize"] + used.get("backingStorageSize", 0.0)) / 2**20
                rows.append(row)
                print("  ".join(f"{key} {value:7.2f}" for key, value in row.items()), flush=True)
    finally:
        served.close()
    return rows


def main() -> None:
    """Measure, and sum up."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("robot", type=Path)
    parser.add_argument("--seconds", type=float, default=660.0)
    parser.add_argument("--every", type=float, default=20.0)
    parser.add_argument("--starts", type=int, default=0, help="walks, five seconds each")
    parser.add_argument("--speed", default="0.03", help="slow: it is to stay on its track [m/s]")
    parser.add_argument("--ground", default="flat")
    parser.add_argument("--pace", default="1", help="world seconds per second; 0: as it goes")
    arguments = parser.parse_args()
    if arguments.starts:
        arguments.every, arguments.seconds = 5.0, 5.0 * arguments.starts
    with sync_playwright() as playwright, TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(
            executable_path=chromium(), args=[*FLAGS, "--no-sandbox"]
        )
        rows = measured(arguments, browser, Path(folder))
        browser.close()
    quarter = max(len(rows) // 4, 1)
    for name in rows[-1]:
        if name not in ("s", "walked"):
            early = median(row[name] for row in rows[quarter : 2 * quarter] if name in row)
            late = median(row[name] for row in rows[-quarter:] if name in row)
            print(f"{name:8s} {early:7.2f} -> {late:7.2f} MB  {100 * (late / early - 1):+.1f} %")


if __name__ == "__main__":
    main()
