"""Does it walk? Live and recorded, in a real browser; referee: what Python recorded."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from browsing import ServedDesk, Sheet, sheet_on, told
from playwright.sync_api import Browser

from legwright.rig.replay import read_recording

WALK = 4


def start(sheet: Sheet, **fields: str) -> None:
    for name, value in fields.items():
        place = sheet.page.locator(f".walk-form [name={name}]")
        if name in ("ground", "gait", "mode", "pace"):
            place.select_option(value)
        else:
            place.fill(value)
    sheet.page.locator(".walk-head").get_by_role("button", name="Start").click()


STATE = "legwright.store.walk.state"


@pytest.fixture(autouse=True)
def ended(desk: ServedDesk) -> Iterator[None]:
    """Nothing walks after a test, however it went."""
    yield
    told(desk.address, "walk_end", "walk", "none", "ended")


def test_a_walk_is_seen_as_python_records_it(
    desk: ServedDesk, recordings: Path, browser: Browser, tmp_path: Path
) -> None:
    with sheet_on(browser, desk.address) as sheet:
        sheet.open(WALK)
        drawn = sheet.get("legwright.figure.drawn")
        start(sheet, ground="steps", speed="0.05", distance="0.15", seed="3", pace="1")
        sheet.until(f"{STATE} === 'walking' && legwright.store.walk.time > 1")
        # it moves in the figure, and its numbers come in
        sheet.until(f"legwright.figure.drawn > {drawn} + 5")
        assert "walking" in (sheet.page.locator(".walk-line").inner_text().lower())
        assert sheet.page.locator(".phase").inner_text() == "the figure shows the walk"
        sheet.page.keyboard.press("1")
        sheet.until("legwright.cursor.instead === ''")
        assert sheet.page.get_by_role("button", name="Run", exact=True).is_enabled()
        sheet.page.keyboard.press("4")
        # who reloads in the middle sees everything from the start
        sheet.page.reload()
        sheet.until("window.legwright && legwright.shell.view.story?.bins > 40")
        sheet.page.locator(".walk-head").get_by_role("button", name="Hold").click()
        sheet.until(f"{STATE} === 'paused'")
        time = "legwright.shell.view.story.time"
        held = sheet.get(time)  # all that was walked came before the word that it is held
        assert held == pytest.approx(sheet.get("legwright.store.walk.time"), abs=1e-9)
        sheet.page.wait_for_timeout(500)  # a slow machine walks nothing in it either
        assert sheet.get(time) == held
        # a second page comes to the walk that is held
        with sheet_on(browser, desk.address) as other:
            other.open(WALK)
            other.until("legwright.shell.view.story?.bins > 40")
            for what in ("bins", "touch", "contact", "time"):
                one = f"legwright.shell.view.story.{what}"
                assert other.get(f"JSON.stringify({one})") == sheet.get(f"JSON.stringify({one})")
        sheet.page.locator(".walk-form [name=pace]").select_option("0")
        sheet.page.locator(".walk-head").get_by_role("button", name="Go on").click()
        sheet.until(f"{STATE} === 'ended'")
        assert "came 0.15\u202fm" in sheet.page.locator(".walk-line").inner_text()
        (path,) = recordings.glob("rook-tripod-steps-*.mcap")
        run = read_recording(path)
        truth, felt = run.tracks["/truth"].fields, run.tracks["/felt"]
        story = "legwright.shell.view.story"
        sheet.until(f"{story}.time >= {felt.time[-1]:.6f} - 1e-3")
        width = sheet.get(f"{story}.width")
        bins = (felt.time / width + 1e-6).astype(int)
        for name, values in (
            ("force/L1", truth["force"][:, 0, 2]),
            ("force/R3", truth["force"][:, 5, 2]),
            ("voltage/servo", truth["voltage"].min(axis=1)),
            ("margin", 1e3 * np.asarray(felt.fields["margin"], dtype=float)),
        ):
            column = sheet.get(f"{story}.column('{name}')")
            least, most = sheet.get(
                f"[...Array({story}.bins).keys()].reduce((all, n) => (all[0].push("
                f"{story}.least(n, {column})), all[1].push({story}.greatest(n, {column})), all),"
                " [[], []])"
            )
            for n in range(len(least)):
                part = values[bins == n]
                assert least[n] == pytest.approx(part.min(), abs=5e-3), (name, n)
                assert most[n] == pytest.approx(part.max(), abs=5e-3), (name, n)
        touched = sheet.get(f"{story}.touch[0].map(([from]) => from)")
        on = truth["force"][:, 0, 2] > 0.1
        downs = felt.time[np.flatnonzero(np.diff(np.concatenate([[0], on])) > 0)]
        assert np.allclose(touched, downs, atol=1e-3)
        # looking back: the figure shows the joints of that moment
        plot = sheet.page.locator(".walk-plots canvas").nth(1)
        wide = plot.evaluate("element => element.clientWidth")
        plot.click(position={"x": wide // 2, "y": 40})
        sheet.until("legwright.shell.view.time.held !== null")
        sheet.until(
            f"Math.abs({story}.shown.time - legwright.shell.view.time.held) < 0.1"
            f" && !{story}.shown.live"
        )
        at = sheet.get(f"{story}.shown.time")
        row = int(np.argmin(np.abs(felt.time - at)))
        assert np.allclose(sheet.get("Array.from(legwright.figure.instant().q)"), truth["q"][row],
                           atol=1e-4)  # fmt: skip
        # the film strip is a picture that can be kept
        sheet.page.get_by_role("button", name="Film strip").click()
        sheet.page.wait_for_selector(".film img")
        with sheet.page.expect_download() as waiting:
            sheet.page.locator(".film a").click()
        target = tmp_path / "strip.png"
        waiting.value.save_as(target)
        assert target.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n" and target.stat().st_size > 10_000


def test_a_recording_is_opened_and_scrubbed(
    desk: ServedDesk, recordings: Path, browser: Browser
) -> None:
    (path,) = recordings.glob("rook-tripod-steps-*.mcap")
    with sheet_on(browser, desk.address) as sheet:
        sheet.open(WALK)
        sheet.page.get_by_role("button", name=path.name).click()
        sheet.until(f"{STATE} === 'recording'")
        run = read_recording(path)
        story = "legwright.shell.view.story"
        sheet.until(f"Math.abs({story}.time - {run.tracks['/felt'].time[-1]:.6f}) < 1e-3")
        slider = sheet.page.get_by_label("Time that is looked at")
        slider.focus()
        slider.press("Home")
        for _ in range(10):
            slider.press("PageUp")
        sheet.until("legwright.shell.view.time.held > 0.2")
        sheet.until(f"Math.abs({story}.shown.time - legwright.shell.view.time.held) < 0.1")
        at = sheet.get(f"{story}.shown.time")
        row = int(np.argmin(np.abs(run.tracks["/felt"].time - at)))
        body = sheet.get(f"Array.from({story}.shown.arrays.body)")
        assert np.allclose(body, run.tracks["/truth"].fields["body"][row], atol=1e-4)


def test_what_makes_no_walk_is_said_in_words(desk: ServedDesk, browser: Browser) -> None:
    with sheet_on(browser, desk.address) as sheet:
        sheet.open(WALK)
        assert "Start has the robot" in sheet.page.locator(".walk-line").inner_text()
        start(sheet, speed="fast")  # what is no number is not taken for nothing
        assert "“fast”" in sheet.page.locator(".walk-head .wrong").inner_text()
        speed = sheet.page.locator(".walk-form [name=speed]")
        assert speed.get_attribute("aria-invalid") == "true"
        assert speed.input_value() == "fast"
        start(sheet, seed="1.5", speed="")
        assert "whole number" in sheet.page.locator(".walk-head .wrong").inner_text()
        assert speed.get_attribute("aria-invalid") is None
        assert sheet.get(STATE) not in ("starting", "walking")
        sheet.page.locator(".walk-form [name=seed]").fill("1")
        start(sheet, speed="-1")
        sheet.until("legwright.store.refused !== null")
        sheet.page.wait_for_selector(".walk-head .wrong:visible")
        assert "speed" in sheet.page.locator(".walk-head .wrong").inner_text()
