"""The page as a whole: keys, sizes, zoom, accessibility, reload, a desk that goes and comes."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import OVER, ROOT, ServedDesk, Sheet, sheet_on, wanted
from playwright.sync_api import Browser

from legwright.study.check import AREAS
from legwright.views.desk.serving import PAGE

AXE = ROOT / "page" / "node_modules" / "axe-core" / "axe.min.js"
LARGEST_PAGE = 300_000
"""All that a browser fetches, compressed [byte]."""
SIZES = ((1024, 768), (1280, 800), (1920, 1080), (640, 400), (960, 540))
"""Tablet, laptop, large screen, and laptop and large screen at 200 %: half the pixels then."""
OUTSIDE = """(() => {
  const wide = document.documentElement.clientWidth;
  return [...document.querySelectorAll('button, input, select, h2, dd')].filter(e => {
    const box = e.getBoundingClientRect();
    const scrolls = e.closest('.areas, .strip, .slide, .track');
    return e.checkVisibility() && !scrolls && (box.left < -1 || box.right > wide + 1);
  }).map(e => e.outerHTML.slice(0, 80));
})()"""
SMALL = """(() => [...document.querySelectorAll('button, input, select')].filter(e => {
  if (!e.checkVisibility() || e.matches('.mark-button')) return false;
  const box = e.getBoundingClientRect();
  return box.height < 44 || box.width < 44;
}).map(e => e.outerHTML.slice(0, 90) + ' ' + e.getBoundingClientRect().height))()"""


def axe(sheet: Sheet) -> list[str]:
    if not AXE.is_file():
        text = "axe-core is not installed: make page-tools"
        if wanted():
            pytest.fail(text)
        pytest.skip(text)
    if not sheet.get("'axe' in window"):
        sheet.page.evaluate(AXE.read_text(encoding="utf-8"))
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    run = "options => axe.run(document, options).then(r => r.violations)"
    faults: list[dict[str, Any]] = sheet.page.evaluate(run, {"runOnly": tags})
    return [
        f"{fault['id']}: {fault['help']}: {node['html'][:160]} {node['failureSummary'][:200]}"
        for fault in faults
        for node in fault["nodes"]
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_question_has_an_accessibility_fault(sheet: Sheet, scheme: Any) -> None:
    sheet.checked()
    sheet.page.emulate_media(color_scheme=scheme)
    for question in range(5):
        sheet.get(f"legwright.shell.open({question})")
        sheet.get("legwright.store.open(legwright.store.verdict.findings[0].id)")
        assert axe(sheet) == []
    # and not with the robot beside the wiring, on a small screen; a refused field; edits to keep
    sheet.get("legwright.store.open('')")
    sheet.page.set_viewport_size({"width": 1024, "height": 768})
    sheet.get("legwright.shell.open(2)")
    assert axe(sheet) == []
    sheet.page.get_by_role("button", name="robot", exact=True).click()
    assert axe(sheet) == []
    sheet.page.get_by_role("button", name="drawing", exact=True).click()
    sheet.get("legwright.shell.open(3)")
    sheet.page.locator(".walk-form [name=speed]").fill("fast")
    sheet.page.locator(".walk-head").get_by_role("button", name="Start").click()
    assert sheet.page.locator(".walk-head .wrong").is_visible()
    assert axe(sheet) == []
    sheet.get("legwright.shell.open(0)")
    sheet.type("dimensions.femur", "90 mm")
    sheet.field("dimensions.tibia").fill("many")
    sheet.field("dimensions.tibia").press("Enter")
    sheet.page.locator(".field.invalid .wrong").wait_for(state="visible")
    sheet.page.get_by_role("button", name="Keep…").click()
    assert axe(sheet) == []
    sheet.page.get_by_role("textbox", name="Name of the variant").press("Escape")
    sheet.field("dimensions.tibia").press("Escape")


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_everything_is_there_and_large_enough_at(sheet: Sheet, width: int, height: int) -> None:
    sheet.checked()
    sheet.page.set_viewport_size({"width": width, "height": height})
    for question in range(5):
        sheet.get(f"legwright.shell.open({question})")
        assert sheet.get(OUTSIDE) == []
        assert sheet.get("document.documentElement.scrollWidth - innerWidth") <= 0
        if question == 0:  # the others watch their own targets
            assert sheet.get(SMALL) == []
        stamp = sheet.page.locator(".stamp").bounding_box()
        assert stamp is not None
        assert stamp["y"] + stamp["height"] <= height
        assert sheet.get(OVER) == []
        sheet.get("legwright.store.open(legwright.store.verdict.findings[0].id)")
        assert sheet.get(OVER) == []
        gauge = sheet.page.locator(".finding.open .gauge").bounding_box()
        assert gauge is not None and gauge["height"] > 30
        sheet.get("legwright.store.open('')")


@pytest.mark.parametrize(("width", "height"), [(640, 400), (960, 540)])
def test_what_is_opened_comes_into_sight(sheet: Sheet, width: int, height: int) -> None:
    """Where the page scrolls as a whole, a finding does not open below its border, unseen."""
    sheet.checked()
    sheet.page.set_viewport_size({"width": width, "height": height})
    sheet.settled()

    def in_sight(name: str) -> float:
        """Height of what is between the band and the lower border."""
        top, bottom, band = sheet.get(
            f"(({{top, bottom}}) => [top, bottom])(document.querySelector('{name}')"
            ".getBoundingClientRect()).concat("
            "document.querySelector('.band').getBoundingClientRect().bottom)"
        )
        return float(min(bottom, height) - max(top, band))

    mark = sheet.page.locator(".areas .mark-button").first
    for _ in range(2):  # from the top, and from where the figure was shown
        mark.click()
        assert in_sight(".finding.open h3") > 10
        sheet.page.locator(".finding.open .first").click()
        assert in_sight(".figure .picture") > 100
        sheet.get("legwright.store.open('')")
    sheet.get("window.scrollTo(0, 0)")


def test_each_question_has_its_part_of_the_verdict(sheet: Sheet) -> None:
    """Referee: the areas that a study judges."""
    areas = sheet.get("legwright.shell.areas")
    assert sorted(area for own in areas for area in own) == sorted(AREAS)
    verdict = sheet.checked()
    order = ("fail", "warn", "unknown", "pass")
    line = sheet.page.locator(".finding .line")
    for question, own in enumerate(areas):
        found = [each for each in verdict["findings"] if each["area"] in own]
        tab = sheet.page.locator(".strip button").nth(question)
        words = sorted((each["verdict"] for each in found), key=order.index)
        worst = words[0] if words and words[0] != "pass" else ""
        assert (tab.get_attribute("data-verdict") or "") == worst
        if not found:
            continue
        sheet.get(f"legwright.shell.open({question})")
        line.click()
        opened = sheet.get("legwright.store.opened")
        assert opened["area"] in own
        assert opened["verdict"] == words[0]
        sheet.get("legwright.store.open('')")


def test_every_leg_s_reach_can_be_seen(sheet: Sheet) -> None:
    choice = sheet.page.get_by_label("Leg whose reach is drawn")
    for leg in sheet.get("Object.keys(legwright.store.welcome.legs)"):
        choice.select_option(leg)
        plot = sheet.page.locator(".pair .plot.reach")
        short = sheet.get(f"legwright.store.welcome.short['{leg}']")
        assert plot.locator(".title").text_content() == f"reach of {short}, mm"


def test_a_bare_description_is_shown_with_all_that_is_not_known(browser: Browser) -> None:
    served = ServedDesk(ROOT / "tests" / "data" / "wild" / "r103.urdf")
    try:
        with sheet_on(browser, served.address) as sheet:
            sheet.open()
            verdict = sheet.checked()
            assert verdict["stamp"] == "NOT PROVEN"
            assert sheet.page.locator(".f-made dd").inner_text() == "wild/r103.urdf"
            for width, height in SIZES:
                sheet.page.set_viewport_size({"width": width, "height": height})
                assert sheet.get(OVER) == [], (width, height)
                notice = sheet.page.locator(".notice").bounding_box()
                picture = sheet.page.locator(".picture").bounding_box()
                assert notice is not None and picture is not None
                assert notice["y"] + notice["height"] <= picture["y"] + 0.5  # no robot under it
            names = sheet.page.locator(".area .name").all_inner_texts()
            assert names == [area["title"] for area in verdict["areas"]]
            # what is not known is one mark an area, with its number; red is for a fail alone
            unknown = verdict["counts"]["unknown"]
            shown = sheet.page.locator(".mark-button.unknown .count").all_inner_texts()
            assert sum(map(int, shown)) == unknown > 20
            assert "voltage arrives is not known" in sheet.page.locator(".notice").inner_text()
    finally:
        served.close()


def test_it_can_all_be_done_with_keys(sheet: Sheet) -> None:
    sheet.checked()
    keys, at = sheet.page.keyboard, "document.activeElement"
    sheet.get("document.activeElement.blur()")
    keys.press("3")
    assert sheet.page.locator("#question-title").inner_text() == "Does it keep its voltage?"
    keys.press("1")
    for _ in range(60):  # from the top of the page to the first field
        keys.press("Tab")
        if sheet.get(f"{at}.dataset.key !== undefined && {at}.matches('input')"):
            break
    key = sheet.get(f"{at}.dataset.key")
    number = f"legwright.store.fields.find(f => f.key === '{key}').number"
    before, rev = sheet.get(number), sheet.get("legwright.store.rev")
    keys.press("ArrowUp")
    sheet.until(f"legwright.store.rev > {rev}")
    sheet.until(f"{number} > {before}")  # fields follow the picture
    keys.press("Escape")
    sheet.get("document.activeElement.blur()")
    keys.press("Control+z")
    sheet.until("legwright.store.edits.list.length === 0")
    sheet.until(f"{number} === {before}")
    sheet.page.locator(".areas button").first.focus()
    first = sheet.get(f"{at}.dataset.id")
    keys.press("ArrowRight")
    assert sheet.get(f"{at}.dataset.id") != first
    keys.press("Enter")
    assert sheet.get("legwright.store.finding") == sheet.get(f"{at}.dataset.id")
    keys.press("Escape")
    assert sheet.get("legwright.store.finding") == ""
    sheet.page.locator(".slide").focus()
    sheet.get("legwright.cursor.set(0)")
    keys.press("ArrowRight")
    assert sheet.get("legwright.cursor.phase") == pytest.approx(1 / 32)
    sheet.page.locator(".picture").focus()
    keys.press("ArrowLeft")
    assert sheet.get("legwright.figure.sight.aspect") is None
    sheet.page.get_by_role("button", name="isometric").press("Enter")
    assert sheet.get("legwright.figure.sight.aspect") == "isometric"


def test_the_cursor_shows_the_instant_that_python_computed(sheet: Sheet) -> None:
    sheet.get("legwright.cursor.set(0.25)")
    cycle = "legwright.store.cycle.now"
    count, joints = sheet.get(f"[{cycle}.arrays.t.length, {cycle}.header.joints.length]")
    at = round(0.25 * count)
    wanted = sheet.get(f"Array.from({cycle}.arrays.q.subarray({at * joints}, {(at + 1) * joints}))")
    assert sheet.get("Array.from(legwright.figure.instant().q)") == wanted
    down = sheet.page.locator(".phase span").inner_text().removesuffix(" down").split()
    legs = sheet.get("Object.values(legwright.store.welcome.short)")
    contact = sheet.get(
        f"Array.from({cycle}.arrays.contact.subarray({at * len(legs)}, {(at + 1) * len(legs)}))"
    )
    assert down == [leg for leg, touches in zip(legs, contact, strict=True) if touches]


def test_it_runs_at_thirty_pictures_a_second_at_most_and_rests_when_held(sheet: Sheet) -> None:
    drawn = "legwright.figure.drawn"
    still = sheet.settled()
    sheet.page.wait_for_timeout(500)  # a slow machine draws nothing in it either
    assert sheet.get(drawn) == still  # nothing changes, nothing is drawn
    sheet.get("(window.began = performance.now(), legwright.cursor.run(true))")
    sheet.until(f"performance.now() > window.began + 1000 && {drawn} >= {still} + 3")
    pictures, seconds = sheet.get(
        f"[{drawn} - {still}, (performance.now() - window.began) / 1000]"
    )  # of the same instant, however long the page took to say so
    sheet.get("legwright.cursor.run(false)")
    assert pictures <= 30 * seconds + 2


def test_a_foot_is_pulled_and_the_rest_follows(sheet: Sheet) -> None:
    """Referee: the leg's own kinematics, in Python, from the angles that came back."""
    import legwright as lw

    sheet.get("legwright.figure.look('plan')")
    sheet.get("legwright.cursor.set(0)")
    sheet.settled()
    foot = "legwright.figure.feet()[0]"
    x, y = sheet.get(f"(p => [p.x, p.y])(legwright.figure.sight.project({foot}.at))")
    box = sheet.page.locator(".picture").bounding_box()
    assert box is not None
    from_ = sheet.get(f"{foot}.at.list()")
    mouse = sheet.page.mouse
    mouse.move(box["x"] + x, box["y"] + y)
    mouse.down()
    mouse.move(box["x"] + x + 4, box["y"] + y - 10)
    mouse.move(box["x"] + x + 8, box["y"] + y - 20)
    sheet.until("legwright.store.pulled !== null && legwright.store.pulled.header.ok")
    mouse.up()
    sheet.until("legwright.store.pulled.header.n === legwright.link.asked")  # the last one
    scale = sheet.get("legwright.figure.sight.scale")
    to = sheet.get(f"{foot}.at.list()")
    assert to[0] - from_[0] == pytest.approx(20 / scale, abs=0.002)  # nose up: x is upward
    assert to[1] - from_[1] == pytest.approx(-8 / scale, abs=0.002)
    robot = lw.load(ROOT / "robots" / "rook")
    leg = next(iter(robot.legs.values()))
    q = sheet.get("Array.from(legwright.store.pulled.arrays.q)")
    own = [q[robot.joint_names.index(name)] for name in leg.joint_names]
    feet = sheet.get("Array.from(legwright.store.pulled.arrays.feet)")
    assert leg.foot(own) == pytest.approx(feet[:3], abs=1e-4)
    sheet.page.get_by_role("button", name="Let go").click()
    sheet.get("legwright.figure.look('isometric')")


def test_the_page_is_small_and_asks_no_other_host(sheet: Sheet) -> None:
    files = [path for path in PAGE.rglob("*") if path.is_file() and path.name != "digest.txt"]
    packed = {
        path.name: len(
            path.read_bytes() if path.suffix == ".woff2" else gzip.compress(path.read_bytes(), 6)
        )
        for path in files
    }
    assert sum(packed.values()) <= LARGEST_PAGE, packed
    assert sheet.foreign() == []


def test_the_lock_file_names_no_host() -> None:
    text = (ROOT / "page" / "package-lock.json").read_text(encoding="utf-8")
    assert "://" not in text
    assert all("resolved" not in each for each in json.loads(text)["packages"].values())


@pytest.fixture
def passing(robots: Path, browser: Browser) -> Iterator[tuple[ServedDesk, Sheet]]:
    """A desk of its own, that may be ended."""
    served = ServedDesk(robots / "rook")
    with sheet_on(browser, served.address) as sheet:
        yield served, sheet.open()


def test_a_reload_and_a_desk_that_goes_and_comes_back(
    passing: tuple[ServedDesk, Sheet], robots: Path
) -> None:
    served, sheet = passing
    sheet.type("dimensions.femur", "92 mm")
    sheet.page.reload()
    sheet.until("window.legwright && legwright.figure.drawn > 0")
    sheet.until(
        "legwright.store.fields.length > 0 && legwright.store.fieldsRev === legwright.store.rev"
    )
    assert sheet.field("dimensions.femur").input_value() == "92 mm"
    assert sheet.get("legwright.store.edits.list.length") == 1
    sheet.losing = True
    port = served.port
    served.close()
    sheet.until("legwright.store.link === 'lost'")
    assert "not heard" in sheet.page.locator(".notice").inner_text()
    sheet.field("dimensions.femur").fill("97 mm")  # typed while nobody hears
    sheet.field("dimensions.femur").press("Enter")
    row = sheet.page.locator('.field:has([data-key="dimensions.femur"]) .wrong')
    assert "kept here" in row.inner_text()
    again = ServedDesk(robots / "rook", port=port)
    try:
        sheet.until("legwright.store.link === 'open' && legwright.store.rev === 1")  # its own count
        sheet.until("legwright.store.cycle.now !== null")
        assert "not heard" not in (sheet.page.locator(".notice").text_content() or "")
        assert sheet.field("dimensions.femur").input_value() == "97 mm"
        sheet.field("dimensions.femur").press("Enter")
        sheet.until("legwright.store.edits.list.length === 1")
        assert sheet.get("legwright.store.edits.list[0].after") == "97 mm"
    finally:
        again.close()
        sheet.until("legwright.store.link === 'lost'")
