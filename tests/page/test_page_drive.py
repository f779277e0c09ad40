"""What is it doing now? The simulated robot driven as a person would, in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import OVER, ServedDesk, Sheet, sheet_on, told
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
SHOULDER = 5
"""Its place in the W3C standard layout."""
BUSY = "const began = performance.now(); while (performance.now() - began < 3000);"


@pytest.fixture(scope="module", autouse=True)
def ended(desk: ServedDesk) -> Iterator[None]:
    """No robot is simulated after these tests, however they went."""
    yield
    told(desk.address, "robot_end", "robot", "none")


def connected(sheet: Sheet) -> None:
    """The simulated robot, heard."""
    if sheet.get("legwright.store.robot.state") != "simulated":
        sheet.page.get_by_role("button", name="Start simulated robot").click()
    sheet.until(f"{ROBOT}.link === 'open' && {STATE} !== null")


def driving(sheet: Sheet) -> None:
    """In the driver's place, cautions read."""
    sheet.page.get_by_role("button", name="Take it", exact=True).click()
    sheet.until(f"{ROBOT}.drives")
    box = sheet.page.locator("[name=caution-all]")
    if box.count():
        box.click()


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
        assert not sheet.get("legwright.driver.watching")  # and no hand is looked at
        connected(sheet)
        assert sheet.get("legwright.driver.watching")
        for width, height in ((1024, 768), (1920, 1080), (960, 540), (640, 400), (1280, 800)):
            sheet.page.set_viewport_size({"width": width, "height": height})
            assert sheet.get(OVER) == [], (width, height)
        # the cycle's cursor has no part in what is drawn, and does as if it had none
        assert sheet.page.locator(".phase").inner_text() == "the figure shows the robot"
        assert sheet.page.get_by_role("button", name="Run", exact=True).is_disabled()
        sheet.get("legwright.cursor.run(true)")
        assert not sheet.get("legwright.cursor.running")
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


def test_two_browsers_one_driver(desk: ServedDesk, browser: Browser) -> None:
    with sheet_on(browser, desk.address) as one, sheet_on(browser, desk.address) as two:
        for sheet in (one, two):
            sheet.open(DRIVE)
            connected(sheet)
        driving(one)
        two.until(f"{ROBOT}.driver.session === '{one.get(f'{ROBOT}.session')}'")
        two.page.get_by_role("button", name="Take it", exact=True).click()
        two.page.wait_for_selector(".wrong:visible")
        assert "Somebody else drives" in two.page.locator(".driven .wrong:visible").inner_text()
        standing(one)
        two.until(f"{STATE}.mode === 'standing'")
        # the one who only watches stops it all the same
        two.page.locator(".stop").click()
        one.until(f"{STATE}.faults.includes('stopped')")
        one.until(f"{STATE}.mode === 'fault'")
        # handed over, the other drives
        one.page.locator("[name=to]").fill(two.get(f"{ROBOT}.session"))
        one.page.get_by_role("button", name="Hand it over").click()
        two.until(f"{ROBOT}.drives")
        one.until(f"!{ROBOT}.drives")
        two.page.get_by_role("button", name="Acknowledge").click()
        two.until(f"{STATE}.faults.length === 0")
        two.page.get_by_role("button", name="Give it up").click()


def test_a_page_that_sleeps_or_goes_stops_the_robot(desk: ServedDesk, browser: Browser) -> None:
    with sheet_on(browser, desk.address) as sheet, sheet_on(browser, desk.address) as other:
        for each in (sheet, other):
            each.open(DRIVE)
            connected(each)
        driving(sheet)
        standing(sheet)

        def walk() -> None:
            sheet.page.locator(".title").first.click()
            sheet.page.keyboard.down("Shift")
            sheet.page.keyboard.down("ArrowUp")
            other.until(f"{STATE}.mode === 'walking'")

        walk()
        # hidden: nothing more is wished
        sheet.get("Object.defineProperty(document, 'hidden', {value: true, configurable: true})")
        sheet.get("document.dispatchEvent(new Event('visibilitychange'))")
        other.until(f"{STATE}.mode === 'standing'")
        sheet.page.keyboard.up("ArrowUp")
        sheet.page.keyboard.up("Shift")
        sheet.get("delete document.hidden")
        sheet.get("document.dispatchEvent(new Event('visibilitychange'))")
        # busy in the middle of a step: the page cannot say anything for three seconds
        walk()
        sheet.get(f"(setTimeout(() => {{ {BUSY} }}), 0)")
        other.until(f"{STATE}.mode === 'standing'")
        sheet.until("!legwright.driver.wish.held")  # what was held before the pause is let go
        time = other.get(f"{STATE}.time")
        other.until(f"{STATE}.time > {time} + 0.5")
        assert other.get(f"{STATE}.mode") == "standing"
        sheet.page.keyboard.up("ArrowUp")
        sheet.page.keyboard.up("Shift")
        sheet.until(f"{ROBOT}.link === 'open'")
        # reloaded in mid-walk: the robot stands, the page sees it again, nobody drives
        if not sheet.get(f"{ROBOT}.drives"):
            driving(sheet)
        standing(sheet)
        walk()
        sheet.page.reload()
        other.until(f"{STATE}.mode === 'standing'")
        sheet.until(f"window.legwright && {ROBOT}.link === 'open' && {STATE} !== null")
        assert sheet.get(f"{ROBOT}.driver.session") == ""
        assert sheet.page.locator(".stop").is_visible()


def test_one_leg_is_lifted_by_hand_and_the_run_recorded(
    desk: ServedDesk, recordings: Path, browser: Browser
) -> None:
    with sheet_on(browser, desk.address) as sheet:
        sheet.open(DRIVE)
        connected(sheet)
        driving(sheet)
        sheet.page.get_by_role("button", name="Record", exact=True).click()
        sheet.until(f"{STATE}.recorded")
        standing(sheet)
        leg = sheet.get("Object.keys(legwright.store.welcome.legs)[0]")
        button = sheet.page.get_by_role("button", name=f"Lift {leg}")
        button.scroll_into_view_if_needed()
        box = button.bounding_box()
        assert box is not None
        sheet.page.mouse.move(box["x"] + 20, box["y"] + 20)
        sheet.page.mouse.down()
        sheet.until(f"{STATE}.mode === 'single-leg' && !{STATE}.contact[0]")
        # held, it stays in the air
        time = sheet.get(f"{STATE}.time")
        sheet.until(f"{STATE}.time > {time} + 1")
        assert not sheet.get(f"{STATE}.contact[0]")
        sheet.page.mouse.up()
        sheet.until(f"{STATE}.contact[0]")
        # health of all joints is there
        assert sheet.page.locator(".health td").count() == 18 * 4
        assert sheet.page.locator(".health td.fail").count() == 0
        sheet.page.get_by_role("button", name="Recording: end it").click()
        sheet.until(f"!{STATE}.recorded")
        sheet.page.get_by_role("button", name="End it", exact=True).click()
        sheet.until("legwright.store.robot.state === 'none'")
        sheet.until("document.querySelector('.stop') === null")
        sheet.until("!legwright.driver.watching")
    assert list(recordings.glob("*.mcap"))
