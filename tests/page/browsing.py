"""A real browser on a real desk: what the page's tests are made of."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page
from websockets.sync.client import connect

from legwright.mechanics.opening import edited, load
from legwright.study.check import study
from legwright.study.evidence import Study
from legwright.views.desk.asked import VERSION

ROOT = Path(__file__).parents[2]
PATIENCE = float(os.environ.get("LEGWRIGHT_PATIENCE", "180"))
"""Kernels may have to be compiled first [s]."""
FLAGS = (
    "--disable-gpu",  # no machine of ours has one: software paints and composes
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)


OVER = """(() => {
  const over = [];
  const box = name => document.querySelector(name)?.getBoundingClientRect();
  const within = (inner, outer) => {
    const [a, b] = [box(inner), box(outer)];
    if (!a || !b || a.width === 0 || b.width === 0) return;
    const tall = a.top >= b.top - 1 && a.bottom <= b.bottom + 1;
    if (!tall || a.left < b.left - 1 || a.right > b.right + 1)
      over.push(`${inner} leaves ${outer}: ${JSON.stringify(a)} ${JSON.stringify(b)}`);
  };
  for (const part of ['.finding', '.changes', '.strip']) within(part, '.question');
  for (const part of ['.figure', '.question']) within(part, '.main');
  for (const part of ['.stamp', '.areas', '.checked']) within(part, '.band');
  for (const part of ['.band', '.main', '.ruler', '.title-block']) within(part, '.sheet');
  const corner = document.querySelector('.corner');
  if (corner && !corner.hidden && getComputedStyle(corner).position !== 'fixed') {
    within('.corner', '.sheet');
    within('.stop', '.corner');
  }
  const band = document.querySelector('.areas'), whole = band?.getBoundingClientRect();
  const slides = band && getComputedStyle(band).overflowX === 'auto';
  for (const area of band?.children ?? []) {
    const a = area.getBoundingClientRect();
    if (!slides && (a.top < whole.top - 1 || a.bottom > whole.bottom + 1))
      over.push(`cut: ${area.textContent}`);
  }
  for (const name of ['units', 'date', 'type', 'by', 'approved']) {
    const cell = document.querySelector(`.f-${name} dd`);
    if (cell?.checkVisibility() && cell.scrollWidth > cell.clientWidth)
      over.push(`cut: ${cell.textContent}`);
  }
  return over;
})()"""
"""Bands that leave what holds them, and texts of the sheet's own that are cut."""


SETTLED = """(({store}) => {
  const {now, before} = store.cycle, under = store.edits?.under ?? "";
  const is = block => block?.header.case === store.welcome.case;
  return store.fresh && store.fieldsRev === store.rev && store.drawings?.rev >= store.rev
    && is(now) && now.header.fed && is(store.nearness) && (under === "" || is(before));
})(legwright)"""
"""All of the newest robot has come: fields, verdict, exact picture, and what comes after it.

The list of drawings is the last that a picture is followed by; it is drawn in no figure."""
DRAWN = """new Promise(done => requestAnimationFrame(() => requestAnimationFrame(
  () => requestAnimationFrame(() => done(legwright.figure.drawn)))))"""
"""Pictures drawn so far, none of them outstanding: the first picture here may change a size, which
is told before the second, which may ask for the third."""


@cache
def studied(folder: Path, *edits: tuple[str, str]) -> Study:
    """What Python alone finds of a robot, the same robot studied once a run."""
    robot = load(folder)
    return study(edited(robot, dict(edits)) if edits else robot)


def chromium() -> str | None:
    """The browser of this machine, if there is one."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


def wanted() -> bool:
    """Whether a missing browser or page is a failure, not a skip."""
    return bool(os.environ.get("LEGWRIGHT_BROWSER"))


class ServedDesk:
    """`legwright desk` as a process of its own."""

    def __init__(self, folder: Path, *, port: int = 0, more: Sequence[str] = ()) -> None:
        self.folder = folder
        command = "from legwright.cli.main import run; run()"
        self._process = subprocess.Popen(
            [
                sys.executable,
                "-c",
                command,
                "desk",
                str(folder),
                "--no-open",
                f"--port={port}",
                *more,
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "COLUMNS": "200"},
            start_new_session=True,
        )
        self.told: list[str] = []
        self.address = ""
        self._ready = threading.Event()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        if not self._ready.wait(PATIENCE) or not self.address:
            self.close()
            raise AssertionError("the desk did not start: " + "".join(self.told))

    @property
    def pid(self) -> int:
        return self._process.pid

    @property
    def port(self) -> int:
        return int(self.address.rsplit(":", 1)[1].strip("/"))

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.told.append(line)
            found = re.search(r"http://127\.0\.0\.1:\d+/", line)
            if found and not self.address:
                self.address = found[0]
                self._ready.set()
        self._ready.set()

    def close(self) -> None:
        self._process.terminate()
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)
        with suppress(ProcessLookupError):  # what it started holds its output open
            os.killpg(self._process.pid, signal.SIGKILL)
        self._reader.join(10)
        assert self._process.stdout is not None
        self._process.stdout.close()


def told(address: str, order: str, kind: str, *states: str) -> None:
    """Give an order as no page does, and wait until what it is about is in one of some states.

    So a test that fails in mid-walk leaves the desk to the others as they expect it.
    """
    end = time.monotonic() + PATIENCE
    with connect(address.replace("http", "ws", 1) + "desk", max_size=None, proxy=None) as line:
        line.send(f'{{"type":"hello","version":{VERSION}}}')
        line.send(f'{{"type":"{order}","n":1}}')
        while time.monotonic() < end:
            heard = line.recv(PATIENCE)
            if isinstance(heard, str):
                message = json.loads(heard)
                if message["type"] == kind and message["state"] in states:
                    return
    raise AssertionError(f"{order} left no {kind} in {states}")


class Sheet:
    """A page on a desk, used as people use it; keeps what went wrong."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.troubles: list[str] = []
        self.requests: list[str] = []
        self.losing = False
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.troubles.append(f"error: {error}"))
        page.on("request", lambda request: self.requests.append(request.url))

    def _console(self, message: Any) -> None:
        lost = self.losing and "WebSocket connection" in message.text
        if message.type in ("error", "warning") and not lost:
            self.troubles.append(f"{message.type}: {message.text}")

    def open(self, question: int = 1) -> Sheet:
        self.page.goto(f"{self.address}#{question}")
        self.until("window.legwright && legwright.figure.drawn > 0")
        return self

    def get(self, expression: str) -> Any:
        """The value of something on the page."""
        return self.page.evaluate(f"() => ({expression})")

    def until(self, expression: str, patience: float = PATIENCE) -> Any:
        """Wait until something on the page is so; the page's rules forbid `eval` inside it."""
        end = time.monotonic() + patience
        while time.monotonic() < end:
            found = self.get(expression)
            if found:
                return found
            time.sleep(0.03)
        state = self.get(
            "(({link, rev, refused, shape, cycle, walk}) => ({link, rev, refused, walk, shape: "
            "shape.now !== null, cycle: cycle.now !== null, shown: document.visibilityState}))"
            "(legwright.store)"
        )
        raise AssertionError(f"never came true: {expression}; {state}")

    def checked(self) -> dict[str, Any]:
        """The whole verdict on what is shown now."""
        self.until("legwright.store.fresh && legwright.store.verdict.whole")
        verdict: dict[str, Any] = self.get("legwright.store.verdict")
        return verdict

    def settled(self) -> int:
        """Wait until nothing more comes of what was asked; returns pictures drawn so far."""
        self.until(SETTLED)
        return int(self.get(DRAWN))

    def field(self, key: str) -> Any:
        return self.page.locator(f'[data-key="{key}"]')

    def type(self, key: str, text: str) -> int:
        """Type into a field and press Enter; returns the revision after it."""
        rev = int(self.get("legwright.store.rev"))
        self.field(key).fill(text)
        self.field(key).press("Enter")
        self.until(f"legwright.store.rev > {rev}")
        return int(self.get("legwright.store.rev"))

    def foreign(self) -> list[str]:
        """Requests that left for another host."""
        own = (self.address, self.address.replace("http", "ws", 1), "data:", "blob:")
        return [url for url in self.requests if not url.startswith(own)]


@contextmanager
def sheet_on(browser: Browser, address: str, **options: Any) -> Iterator[Sheet]:
    """A fresh page; at its end nothing may have gone wrong in it."""
    context = browser.new_context(
        **{"viewport": {"width": 1280, "height": 800}, "reduced_motion": "no-preference", **options}
    )
    context.set_default_timeout(30_000)
    try:
        sheet = Sheet(context.new_page(), address)
        yield sheet
        assert sheet.troubles == []
        assert sheet.foreign() == []
    finally:
        context.close()
