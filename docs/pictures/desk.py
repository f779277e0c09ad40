"""Makes the README's pictures of the desk: python docs/pictures/desk.py [ROBOT].

Needs Debian's chromium, the page (make page) and the development packages.
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

HERE = Path(__file__).parent
FLAGS = ["--no-sandbox"]
PATIENCE = 300.0


def until(page: Page, expression: str) -> None:
    """Wait until something on the page is so."""
    end = time.monotonic() + PATIENCE
    while not page.evaluate(f"() => Boolean({expression})"):
        if time.monotonic() > end:
            raise TimeoutError(expression)
        time.sleep(0.2)


def shoot(page: Page, name: str, question: int, *steps: str) -> None:
    """One picture of one question, after some steps on the page."""
    page.evaluate(f"() => {{ legwright.shell.open({question - 1}) }}")
    for step in steps:
        page.evaluate(f"() => {{ {step} }}")
        time.sleep(1.5)
    time.sleep(2.0)
    page.screenshot(path=HERE / f"desk-{name}.png")
    print(HERE / f"desk-{name}.png")


def main(robot: str) -> None:
    """The four that the README shows, of one robot."""
    command = [sys.executable, "-c", "from legwright.cli.main import run; run()"]
    desk = subprocess.Popen(
        [*command, "desk", robot, "--no-open", "--port=0"], stdout=subprocess.PIPE, text=True
    )
    try:
        address = ""
        for line in desk.stdout or ():
            if found := re.search(r"http://127\.0\.0\.1:\d+/", line):
                address = found[0]
                break
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
            for theme in ("light", "dark"):
                size = {"width": 1440, "height": 900}
                context = browser.new_context(viewport=size, color_scheme=theme)
                page = context.new_page()
                page.goto(address)
                until(page, "window.legwright && legwright.store.verdict?.whole")
                until(page, "legwright.store.circuit.now && legwright.store.drawings")
                worst = "legwright.store.open(legwright.store.verdict.findings[0].id)"
                phase, shut = "legwright.cursor.set(0.3)", "legwright.store.open('')"
                if theme == "light":
                    shoot(page, "stands", 1, phase, worst)
                    shoot(page, "carries", 2, shut, phase)
                else:
                    shoot(page, "stands-dark", 1, phase, worst)
                    wire = "document.querySelector('.paper [data-part=\"-W4\"]')"
                    click = f"{wire}.dispatchEvent(new MouseEvent('click', {{bubbles: true}}))"
                    shoot(page, "supply-dark", 3, shut, phase, click)
                context.close()
            browser.close()
    finally:
        desk.terminate()
        desk.wait(10)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "robots/heron")
