"""What is it doing now? The simulated robot driven as a person would, in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import ServedDesk, Sheet, sheet_on
from playwright.sync_api import Browser

DRIVE = 5
ROBOT = "legwright.driver.robot"
STATE = f"{ROBOT}.state"

PAD = """
window.pad = {axes: [0, 0, 0, 0], held: []};
navigator.getGamepads = () => [{
  id: 'test', index: 0, connected: true, mapping: 'standard', timestamp: 0,
  axes: window.pad.axes,
  buttons: Array.from({length: 17}, (_, i) => ({
    pressed: window.pad.held.includes(i), touched: false,
    value: Number(window.pad.held.includes(i)),
  })),
}];
"""
SHOULDER, EAST, SOUTH, START = 5, 1, 0, 9
"""Places in the W3C standard layout."""


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("recordings")


@pytest.fixture(scope="module")
def desk(robots: Path, recordings: Path, browser: Browser) -> Iterator[ServedDesk]:
    served = ServedDesk(robots / "rook", more=(f"--recordings={recordings}",))
    yield served
    served.close()


def connected(sheet: Sheet) -> None:
    """The simulated robot, heard."""
    if sheet.get("legwright.store.robot.state") != "simulated":
        sheet.page.get_by_role("button", name="Start simulated robot").click()
    sheet.until(f"{ROBOT}.link === 'open' && {STATE} !== null")


def standing(sheet: Sheet) -> None:
    if sheet.get(f"{STATE}.mode") in ("limp", "fault"):
        sheet.page.get_by_role("button", name="Power on").click()
        sheet.until(f"{STATE}.mode === 'holding'")
    if sheet.get(f"{STATE}.mode") != "standing":
        sheet.page.get_by_role("button", name="Stand up").click()
    sheet.until(f"{STATE}.mode === 'standing'")


def test_the_controller_walks_it_and_stop_stops_it(desk: ServedDesk, browser: Browser) -> None:
    with sheet_on(browser, desk.address) as sheet:
        sheet.page.add_init_script(PAD)
        sheet.open(DRIVE)
        assert sheet.page.locator(".stop").count() == 0  # no stop where there is no robot
        connected(sheet)
        power = sheet.page.get_by_role("button", name="Power on")
        assert power.is_disabled()
        sheet.page.get_by_role("button", name="Take it", exact=True).click()
        sheet.until(f"{ROBOT}.drives")
        assert power.is_disabled()  # the cautions come first
        assert "lithium" in sheet.page.locator(".cautions").inner_text().lower()
        sheet.page.locator("[name=caution-all]").click()
        standing(sheet)
        # the stick alone moves nothing: the deadman is not held
        start = sheet.get(f"{STATE}.place[0]")
        sheet.get("(window.pad.axes[1] = -1)")
        time = sheet.get(f"{STATE}.time")
        sheet.until(f"{STATE}.time > {time} + 0.5")
        assert sheet.get(f"{STATE}.mode") == "standing"
        # held, it walks forward: Python's odometry says so
        sheet.get(f"window.pad.held.push({SHOULDER})")
        sheet.until(f"{STATE}.place[0] > {start} + 0.03")
        assert sheet.get(f"{STATE}.mode") == "walking"
        assert sheet.page.locator(".mode").inner_text().lower().startswith("walking")
        assert sheet.get("document.querySelectorAll('.lights i').length") > 3
        # let go, it stands
        sheet.get("(window.pad.held = [])")
        sheet.until(f"{STATE}.mode === 'standing'")
        # the space bar stops it, from another question too
        sheet.get("(window.pad.axes[1] = 0)")
        sheet.page.keyboard.press("1")
        assert sheet.page.locator(".stop").is_visible()
        sheet.page.keyboard.press("Space")
        sheet.until(f"{STATE}.faults.includes('stopped')")
        sheet.until("document.querySelector('.stop').dataset.state === 'stopped'")
        assert "stopped, " in sheet.page.locator(".stop").inner_text()
        sheet.until(f"{STATE}.mode === 'fault'")
        sheet.page.keyboard.press("5")
        sheet.page.get_by_role("button", name="Acknowledge").click()
        sheet.until(f"{STATE}.faults.length === 0")
        sheet.until("document.querySelector('.stop').dataset.state === 'ready'")
        sheet.page.get_by_role("button", name="Give it up").click()
        sheet.until(f"!{ROBOT}.drives")
