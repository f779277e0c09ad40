"""What the desk's page weighs and costs: bytes, time to first motion, processor time, pictures.

``python benchmarks/page_figures.py robots/rook``; needs Chromium, which draws with software.
"""

from __future__ import annotations

import gzip
import os
import sys
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "page"))

from browsing import FLAGS, ServedDesk, Sheet, chromium, sheet_on

from legwright.views.desk.serving import PAGE

SECONDS = 6.0
TICKS = os.sysconf("SC_CLK_TCK")


def spent() -> float:
    """Processor time of all processes of this program's browser [s]."""
    below = {os.getpid()}
    total = 0.0
    rows = []
    for each in Path("/proc").iterdir():
        if each.name.isdigit():
            try:
                name, _, rest = (each / "stat").read_text().rpartition(")")
            except OSError:
                continue
            parts = rest.split()
            rows.append((int(each.name), int(parts[1]), name, int(parts[11]) + int(parts[12])))
    for pid, parent, name, ticks in sorted(rows):
        if parent in below:
            below.add(pid)
            total += ticks / TICKS if "chrom" in name else 0.0
    return total


def measured(sheet: Sheet, what: str) -> str:
    """Pictures, and processor time of all of the browser's processes."""
    time.sleep(1.0)
    drawn, used, begun = sheet.get("legwright.figure.drawn"), spent(), time.monotonic()
    time.sleep(SECONDS)
    passed, cost = time.monotonic() - begun, spent() - used
    pictures = sheet.get("legwright.figure.drawn") - drawn
    each = f", {1000 * cost / pictures:.0f} ms of processor time each" if pictures else ""
    share = 100 * cost / passed
    return f"{what}: {pictures / passed:.1f} pictures/s{each}, browser {share:.0f} % of one core"


def main(robot: str) -> None:
    """Measure and print."""
    size = sum(
        len(path.read_bytes() if path.suffix == ".woff2" else gzip.compress(path.read_bytes()))
        for path in PAGE.rglob("*")
        if path.is_file() and path.name != "digest.txt"
    )
    print(f"page, compressed: {size / 1000:.0f} kB")
    served = ServedDesk(Path(robot))
    flags = [*FLAGS, *(["--no-sandbox"] if os.getuid() == 0 else [])]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=flags)
        with sheet_on(browser, served.address) as sheet:
            sheet.open().checked()
        with sheet_on(browser, served.address) as sheet:
            begun = time.monotonic()
            sheet.open()
            print(f"from the address to the first figure: {time.monotonic() - begun:.2f} s")
            sheet.checked()
            print(measured(sheet, "resting"))
            for question in range(1, 5):
                sheet.get(f"legwright.shell.open({question - 1})")
                if question == 3:  # its place was a drawing's
                    sheet.page.get_by_role("button", name="robot", exact=True).click()
                sheet.get("legwright.cursor.run(true)")
                print(measured(sheet, f"running beside question {question}"))
                sheet.get("legwright.cursor.run(false)")
        browser.close()
    served.close()
    print(f"load of the machine: {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main(sys.argv[1])
