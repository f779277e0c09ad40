"""The first task: turn a length, swap a servo, see what it does. Referee: Python's own study."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browsing import OVER, ServedDesk, Sheet, studied

import legwright as lw
from legwright.mechanics.clearance import clearance
from legwright.mechanics.opening import edited
from legwright.views.desk.shown import shown_case
from legwright.views.numbers import value_text

MARKS = """[...document.querySelectorAll('.areas .area')].map(area => [
  area.querySelector('.name').textContent,
  [...area.querySelectorAll('.mark-button')].map(
    mark => [mark.classList[1], Number(mark.querySelector('.count')?.textContent ?? 1)]),
])"""
"""Of each area its marks: verdict, and how many findings it stands for."""
WORDS = {
    "axes",
    "cables",
    "edges",
    "faults",
    "holes",
    "joints",
    "kinds",
    "legs",
    "places",
    "terminals",
}
"""Units that are words: a line may end before them."""


def found(verdict: dict[str, Any], name: str) -> dict[str, Any]:
    (one,) = [each for each in verdict["findings"] if each["name"] == name]
    return dict(one)


def test_a_longer_femur_changes_picture_numbers_and_verdict(sheet: Sheet, desk: ServedDesk) -> None:
    sheet.checked()
    drawn = sheet.get("legwright.figure.drawn")
    rev = sheet.type("dimensions.femur", "110 mm")
    verdict = sheet.checked()
    assert verdict["rev"] == rev
    assert sheet.get("legwright.figure.drawn") > drawn
    there = studied(desk.folder, ("dimensions.femur", "110 mm"))
    before = studied(desk.folder)
    name = "peak torque, femur"
    (wanted,) = [each for each in there.findings if each.name == name]
    (old,) = [each for each in before.findings if each.name == name]
    one = found(verdict, name)
    assert wanted.value is not None and old.value is not None
    assert one["value"] == pytest.approx(wanted.value, rel=1e-6)
    assert one["was"] != ""
    assert float(one["was"].split("\u202f")[0]) == pytest.approx(old.value, rel=0.05)
    # What is drawn is what was computed: margin on the plot, joint angles in the figure.
    case = there.cases["tripod forward"]
    np.testing.assert_allclose(
        sheet.get("Array.from(legwright.store.cycle.now.arrays.q)"),
        np.asarray(case.motion.q).ravel(),
        atol=1e-5,
    )
    least = sheet.page.locator(".plot.margin .value").text_content() or ""
    shown = float(re.findall(r"[\d.]+", least)[0])
    assert shown == pytest.approx(1000 * float(case.loads.margin.min()), abs=0.51)
    femur = sheet.page.locator('.field:has([data-key="dimensions.femur"])')
    assert femur.locator("s").inner_text() == "85 mm"
    assert sheet.get("legwright.figure.placed.shape.mass") == pytest.approx(
        edited(lw.load(desk.folder), {"dimensions.femur": "110 mm"}).mass, rel=1e-6
    )


def test_a_load_too_heavy_for_the_servos_turns_the_stamp_red(
    sheet: Sheet, desk: ServedDesk
) -> None:
    sheet.type("requirements.payload", "4 kg")
    verdict = sheet.checked()
    there = studied(desk.folder, ("requirements.payload", "4 kg"))
    fails = [each for each in there.findings if each.verdict.value == "fail"]
    assert fails, "the test needs a load that fails"
    assert verdict["counts"]["fail"] == len(fails)
    stamp = sheet.page.locator(".stamp")
    assert "NOT FIT TO WALK" in stamp.inner_text()
    assert f"{len(fails)}\u202ffail" in stamp.inner_text()
    stamp.click()  # the worst finding and its cure, one click away
    worst = verdict["findings"][0]
    panel = sheet.page.locator(".finding.open")
    assert worst["name"] in panel.inner_text()
    assert worst["why"] in panel.inner_text()
    assert worst["cure"] in panel.inner_text()
    assert panel.locator(".balloon text").text_content() == str(worst["number"])


def test_another_servo_changes_torque_and_can_be_undone_and_redone(
    sheet: Sheet, desk: ServedDesk
) -> None:
    first = sheet.checked()
    key = sheet.get(
        "legwright.store.fields.find(f => f.group === 'fit' && f.choices.length > 1).key"
    )
    box = sheet.field(key)
    was = box.input_value()
    other = next(text for text in box.locator("option").all_inner_texts() if text != was)
    rev = sheet.get("legwright.store.rev")
    box.select_option(other)
    sheet.until(f"legwright.store.rev > {rev}")
    swapped = sheet.checked()
    there = studied(desk.folder, (key, other))
    for each in there.findings:
        if each.area in ("torque", "speed") and each.value is not None:
            one = found(swapped, each.name)
            assert one["verdict"] == each.verdict.value
            assert one["limit"] == pytest.approx(each.limit, rel=1e-6)
    sheet.page.keyboard.press("Escape")
    sheet.page.locator("body").click(position={"x": 5, "y": 5})
    sheet.page.keyboard.press("Control+z")
    sheet.until("legwright.store.edits.list.length === 0")
    back = sheet.checked()
    assert [each["value"] for each in back["findings"]] == [
        each["value"] for each in first["findings"]
    ]
    sheet.until(f"legwright.store.fields.find(f => f.key === '{key}').value === '{was}'")
    assert box.input_value() == was
    sheet.page.keyboard.press("Control+Shift+z")
    sheet.until("legwright.store.edits.list.length === 1")
    sheet.until(f"legwright.store.fields.find(f => f.key === '{key}').value === '{other}'")
    assert box.input_value() == other


def test_a_robot_of_which_much_fails_has_room_in_the_band(sheet: Sheet) -> None:
    """Every finding is counted once; where many fail alike one mark stands for them."""
    sheet.type("dimensions.femur", "300 mm")
    verdict = sheet.checked()
    assert verdict["counts"]["fail"] > 8
    of = {each["id"]: each["verdict"] for each in verdict["findings"]}
    for name, marks in sheet.get(MARKS):
        (area,) = [each for each in verdict["areas"] if each["title"] == name]
        words = [of[each] for each in area["findings"]]
        assert len(marks) <= 2 + 2 + 2
        for word in ("fail", "warn", "unknown", "pass"):
            assert sum(count for kind, count in marks if kind == word) == words.count(word)
    for width, height in ((1920, 1080), (1280, 800), (1024, 768), (960, 540), (640, 400)):
        sheet.page.set_viewport_size({"width": width, "height": height})
        assert sheet.get(OVER) == [], (width, height)


def test_no_sentence_breaks_between_a_number_and_its_unit(sheet: Sheet, desk: ServedDesk) -> None:
    """Referee: the units that findings and fields have, and the words as Python has them."""
    sheet.type("requirements.payload", "4 kg")
    verdict = sheet.checked()
    there = studied(desk.folder, ("requirements.payload", "4 kg"))
    units = {each["unit"] for each in sheet.get("legwright.store.fields")}
    units |= {each.unit for each in there.findings if "/" in each.unit or each.unit.count(" ") == 0}
    written = "|".join(re.escape(each) for each in units - {""} if each not in WORDS)
    breaks = re.compile(rf"\d\)? (?:{written})(?![\w/·])|\d%|(?<![\w)-])-\d")
    panel, bound = sheet.page.locator(".finding.open"), 0
    python = {each.name: each for each in there.findings}
    for each in verdict["findings"]:
        sheet.get(f"legwright.store.open('{each['id']}')")
        for part in ("why", "cure"):
            if not each[part]:
                continue
            shown = panel.locator(f".{part}").inner_text()
            assert not breaks.search(shown), shown
            plain = shown.replace("\u202f", " ").replace("−", "-")
            own = getattr(python[each["name"]], part).replace("−", "-").replace("\u202f", " ")
            assert plain.replace(" %", "%") == own.replace(" %", "%")
            bound += len(re.findall(r"\d\u202f(?:kg|N·m|mm|V|A|W|m/s)\b", shown))
    assert bound > 20


@pytest.mark.parametrize(
    ("text", "part"),
    [("90 kg", "dimensions.femur"), ("many", "dimensions.femur"), ("-5 mm", "dimensions.femur")],
)
def test_what_cannot_be_is_said_in_words_and_kept(sheet: Sheet, text: str, part: str) -> None:
    rev = sheet.get("legwright.store.rev")
    sheet.field("dimensions.femur").fill(text)
    sheet.field("dimensions.femur").press("Enter")
    row = sheet.page.locator('.field:has([data-key="dimensions.femur"])')
    row.locator(".wrong").wait_for(state="visible")
    assert part in row.locator(".wrong").inner_text()
    said, panel = row.locator(".wrong").bounding_box(), sheet.page.locator(".panel").bounding_box()
    assert said is not None and panel is not None  # not below the panel's border, unseen
    assert said["y"] + said["height"] <= panel["y"] + panel["height"] + 1
    assert sheet.field("dimensions.femur").input_value() == text
    assert sheet.field("dimensions.femur").get_attribute("aria-invalid") == "true"
    assert sheet.get("legwright.store.rev") == rev
    sheet.field("dimensions.femur").press("Escape")
    assert sheet.field("dimensions.femur").input_value() == "85 mm"


LATE = """(() => {
  const {store} = legwright, input = document.querySelector('[data-key="dimensions.femur"]');
  input.value = '97 mm';
  input.dispatchEvent(new Event('input'));
  input.dispatchEvent(new Event('change'));
  store.take({type: 'fields', rev: store.rev, list: store.fields});
  return [input.value, input.dataset.typed ?? ''];
})()"""
"""Typed, sent, and in the same breath what the desk said before it heard of it."""


def test_what_was_said_before_an_edit_was_heard_does_not_undo_it_on_the_page(
    sheet: Sheet,
) -> None:
    rev = sheet.get("legwright.store.rev")
    assert sheet.get(LATE) == ["97 mm", ""]
    sheet.until(f"legwright.store.fieldsRev > {rev}")
    assert sheet.field("dimensions.femur").input_value() == "97 mm"
    # taken back before its fields came: what is so now is shown all the same
    rev = sheet.get("legwright.store.rev")
    sheet.field("dimensions.femur").fill("99 mm")
    sheet.field("dimensions.femur").press("Enter")
    sheet.get("legwright.link.send({type: 'put_back'})")
    sheet.until(f"legwright.store.fieldsRev > {rev} && legwright.store.edits.list.length === 0")
    sheet.until("document.querySelector('[data-key=\"dimensions.femur\"]').value === '85 mm'")


def test_nothing_on_disk_changes_until_a_variant_is_kept(
    sheet: Sheet, desk: ServedDesk, robots: Path
) -> None:
    before = {path: path.read_bytes() for path in robots.rglob("*") if path.is_file()}
    sheet.type("dimensions.tibia", "140 mm")
    sheet.type("requirements.payload", "0.5 kg")
    assert {path: path.read_bytes() for path in robots.rglob("*") if path.is_file()} == before
    sheet.page.get_by_role("button", name="Keep…").click()
    name = sheet.page.get_by_role("textbox", name="Name of the variant")
    name.fill("rook")  # is there already
    name.press("Enter")
    sheet.until("legwright.store.refused !== null")
    assert sheet.page.locator(".changes .said").inner_text() == sheet.get(
        "legwright.store.refused.text"
    )
    name.fill("siskin")
    sheet.page.get_by_role("button", name="Keep as variant").click()
    sheet.until("legwright.store.edits.kept !== ''")
    assert {path: path.read_bytes() for path in before} == before
    kept = lw.load(robots / "siskin")
    wanted = edited(
        lw.load(desk.folder), {"dimensions.tibia": "140 mm", "requirements.payload": "0.5 kg"}
    )
    assert kept.mass == pytest.approx(wanted.mass)
    assert kept.sheet.requirements == wanted.sheet.requirements
    offered = sheet.page.get_by_label("Lay another variant under it").locator("option")
    sheet.until("legwright.store.welcome.variants.includes('siskin')")
    assert "beside siskin" in offered.all_inner_texts()
    shutil.rmtree(robots / "siskin")  # what goes by other hands is offered no more
    sheet.until("!legwright.store.welcome.variants.includes('siskin')")
    assert "beside siskin" not in offered.all_inner_texts()


def test_plus_and_minus_step_by_the_field_s_own_step(sheet: Sheet) -> None:
    row = sheet.page.locator('.field:has([data-key="dimensions.femur"])')
    row.get_by_role("button", name="femur more").click()
    sheet.until("legwright.store.fields.find(f => f.key === 'dimensions.femur').number === 86")
    row.get_by_role("button", name="femur less").click()
    sheet.until("legwright.store.fields.find(f => f.key === 'dimensions.femur').number === 85")


def test_another_variant_lies_under_it_with_its_numbers(
    sheet: Sheet, desk: ServedDesk, robots: Path
) -> None:
    """Referee: the other variant, walked and studied without the desk."""
    slim = robots / "slim"
    sheet.checked()
    sheet.page.get_by_label("Lay another variant under it").select_option("slim")
    sheet.until("legwright.store.edits.under === 'slim' && legwright.store.cycle.before !== null")
    other = lw.load(slim)
    np.testing.assert_allclose(
        sheet.get("Array.from(legwright.store.cycle.before.arrays.q)"),
        np.asarray(shown_case(other, "tripod forward").case.motion.q).ravel(),
        atol=1e-5,
    )
    assert sheet.get("legwright.store.shape.before.mass") == pytest.approx(other.mass)
    sheet.until("legwright.store.verdict.findings.some(f => f.was !== '')")
    was = {each.name: each for each in studied(slim).findings}
    button = sheet.page.locator(".differ")
    button.click()
    rows = sheet.page.locator(".differs tbody tr")
    differing = [each for each in sheet.checked()["findings"] if each["was"] != ""]
    assert rows.count() == len(differing) > 3
    name = "peak torque, femur"
    row = rows.filter(has_text=name)
    assert row.locator("b").inner_text() == found(sheet.checked(), name)["shown"]
    assert row.locator("s").inner_text() == value_text(was[name])
    button.click()
    sheet.page.get_by_label("Lay another variant under it").select_option("")
    sheet.until("legwright.store.cycle.before === null")
    assert rows.count() == 0


def test_where_links_come_nearest_is_told(sheet: Sheet, desk: ServedDesk) -> None:
    """Referee: the clearance of the same walk, measured without the desk."""
    sheet.until("legwright.store.nearness?.header.case === 'tripod forward'")
    robot = lw.load(desk.folder)
    q = shown_case(robot, "tripod forward").case.motion.q
    near = sheet.get("legwright.store.nearness.header.pairs[0]")
    assert near["distance"] == pytest.approx(clearance(robot, q[::2]).distance, abs=1e-6)
    gaps = sheet.page.get_by_role("button", name="gaps")
    drawn = sheet.get("legwright.figure.drawn")
    gaps.click()
    sheet.until(f"legwright.figure.drawn > {drawn}")
    assert gaps.get_attribute("aria-pressed") == "false"
    gaps.click()


def test_a_sheet_that_changes_beside_the_desk_is_read_again(sheet: Sheet, desk: ServedDesk) -> None:
    """Referee: what stands in the file."""
    file = desk.folder / "robot.toml"
    text = file.read_text(encoding="utf-8")
    told = sheet.page.locator(".changes .said")
    try:
        file.write_text(text.replace('femur = "85 mm"', 'femur = "85 mn"'), encoding="utf-8")
        sheet.until("legwright.store.edits.unread")
        assert "unknown unit" in told.inner_text()
        assert sheet.field("dimensions.femur").input_value() == "85 mm"
        file.write_text(text.replace('femur = "85 mm"', 'femur = "87 mm"'), encoding="utf-8")
        sheet.until("legwright.store.fields.some(f => f.value === '87 mm')")
        assert "read again" in told.inner_text()
        assert sheet.field("dimensions.femur").input_value() == "87 mm"
    finally:
        file.write_text(text, encoding="utf-8")
    sheet.until("!legwright.store.fields.some(f => f.value === '87 mm')")
    assert sheet.field("dimensions.femur").input_value() == "85 mm"
