"""Does it carry, does it keep its voltage: plots and drawings hold what Python worked out."""

from __future__ import annotations

import re

import numpy as np
import pytest
from browsing import OVER, ServedDesk, Sheet, studied

import legwright as lw
from legwright.electrics.circuit import circuit_of


def numbers(text: str | None) -> list[float]:
    plain = (text or "").replace("\u2212", "-").replace("\u202f", "")
    return [float(each) for each in re.findall(r"-?\d+(?:\.\d+)?", plain)]


def test_the_cursor_reads_what_python_worked_out(sheet: Sheet, desk: ServedDesk) -> None:
    """The value beside a leg's plot is the study's torque at that phase."""
    sheet.get("legwright.shell.open(1)")
    sheet.until("document.querySelectorAll('.multiples .cell').length >= 6")
    case = studied(desk.folder).cases["tripod forward"]
    samples = len(case.motion.t)
    index = samples // 4
    sheet.get(f"legwright.cursor.set({index / samples})")
    robot = lw.load(desk.folder)
    legs = list(robot.legs)
    cells = sheet.page.locator(".multiples button.cell")
    assert cells.count() == len(legs)
    torque = np.abs(np.asarray(case.loads.torque))[index]
    for number in range(cells.count()):
        label = cells.nth(number).get_attribute("title") or ""
        side, row = label[0], int(label[1])
        leg = legs[row - 1 + (0 if side == "L" else 3)]
        column = robot.joint_names.index(robot.legs[leg].joint_names[1])
        text = cells.nth(number).locator(".value").text_content() or ""
        assert len(text.partition(".")[2]) >= 2  # one resolution in all plots
        half = 0.5 * 10.0 ** -len(text.partition(".")[2])
        assert numbers(text)[0] == pytest.approx(torque[column], abs=1.01 * half)


def test_a_dragged_bar_is_a_gait_of_ones_own(sheet: Sheet) -> None:
    """Shifting one leg by keys asks Python for that gait; the walk that comes back is it."""
    sheet.get("legwright.shell.open(1)")
    sheet.until("document.querySelector('.timing .bar')")
    legs = sheet.get("legwright.store.cycle.now.header.legs")
    before = sheet.get("legwright.store.cycle.now.header.phases")
    bar = sheet.page.locator(".timing .bar").first
    bar.focus()
    bar.press("ArrowRight")
    sheet.until("legwright.store.cycle.now.header.case === ''")
    after = sheet.get("legwright.store.cycle.now.header.phases")
    assert after[0] == pytest.approx((before[0] + 0.01) % 1.0, abs=1e-6)
    assert after[1:] == pytest.approx(before[1:], abs=1e-6)
    assert len(after) == len(legs)
    contact = np.array(sheet.get("Array.from(legwright.store.cycle.now.arrays.contact)"))
    duty = sheet.get("legwright.store.cycle.now.header.duty")
    stands = contact.reshape(-1, len(legs)).mean(axis=0)
    np.testing.assert_allclose(stands, duty, atol=0.02)
    sheet.page.locator(".choice select").select_option("tripod forward")
    sheet.until("legwright.store.cycle.now.header.case === 'tripod forward'")


def test_the_envelope_is_the_studys(sheet: Sheet, desk: ServedDesk) -> None:
    """Every edge with its number."""
    sheet.get("legwright.shell.open(1)")
    sheet.checked()
    edges = sheet.page.locator("table.edges").last.locator("tbody tr")
    found = studied(desk.folder).envelope
    assert edges.count() == len(found)
    for number, extent in enumerate(found):
        if extent.value is not None:
            shown = numbers(edges.nth(number).locator("b").text_content())[0]
            assert shown == pytest.approx(extent.value, rel=6e-3, abs=6e-3)


def test_every_drawing_is_one_choice_away(sheet: Sheet) -> None:
    sheet.get("legwright.shell.open(2)")
    sheet.until("(legwright.store.drawings?.list.length ?? 0) > 3")
    choice = sheet.page.get_by_label("Drawing", exact=True)
    drawings = sheet.get("legwright.store.drawings.list")
    assert choice.locator("option").all_inner_texts() == [each["title"] for each in drawings]
    paper = "document.querySelector('.paper .scroll')"
    for each in (drawings[1], drawings[-1], drawings[0]):
        choice.select_option(each["name"])
        title = each["title"].replace("'", "\\'")
        sheet.until(f"{paper}.ariaLabel === '{title}' && {paper}.querySelector('svg') !== null")


LETTERS = """(() => {
  const paper = document.querySelector('.paper svg'), box = paper.getBoundingClientRect();
  const scale = Math.min(box.width / paper.viewBox.baseVal.width,
                         box.height / paper.viewBox.baseVal.height);
  return Math.min(...[...paper.querySelectorAll('text')]
    .map(text => scale * parseFloat(getComputedStyle(text).fontSize)));
})()"""
"""Size of the smallest letters of a drawing [px]."""


@pytest.mark.parametrize(
    ("width", "height", "least"),
    [(1920, 1080, 14.0), (1440, 900, 11.5), (1280, 800, 9.5), (1024, 768, 7.5), (960, 540, 6.5)],
)
def test_a_drawing_has_the_figure_s_place(
    sheet: Sheet, width: int, height: int, least: float
) -> None:
    """Whole, nothing to be scrolled; its smallest letters as large as that allows.

    960 x 540 is a large screen at 200 %, where a pixel counts twice.
    """
    sheet.page.set_viewport_size({"width": width, "height": height})
    sheet.get("legwright.shell.open(2)")
    sheet.until("document.querySelector('.paper .scroll svg') !== null")
    picture, figure = sheet.page.locator(".paper .scroll svg"), sheet.page.locator(".figure")
    assert not figure.is_visible()
    assert sheet.get(OVER) == []
    assert sheet.get(LETTERS) >= least
    box, place = picture.bounding_box(), sheet.page.locator(".paper .scroll").bounding_box()
    assert box is not None and place is not None
    assert box["width"] <= place["width"] and box["height"] <= place["height"]
    sheet.get("window.scrollTo(0, 0)")
    place = sheet.page.locator(".paper .scroll").bounding_box()
    assert place is not None and place["y"] + place["height"] <= height
    sheet.page.get_by_role("button", name="robot", exact=True).press("Enter")
    assert figure.is_visible() and not picture.is_visible()
    sheet.page.keyboard.press("1")
    sheet.page.keyboard.press("3")
    assert figure.is_visible()  # as it was left
    sheet.page.get_by_role("button", name="drawing", exact=True).press("Enter")
    assert picture.is_visible()
    sheet.page.keyboard.press("1")  # another question has its figure beside it
    assert figure.is_visible()


def test_a_drawing_is_enlarged_and_shifted(sheet: Sheet) -> None:
    sheet.get("legwright.shell.open(2)")
    sheet.until("document.querySelectorAll('.paper [data-part]').length > 20")
    place = sheet.page.locator(".paper .scroll")
    whole, box = sheet.get(LETTERS), place.bounding_box()
    place.press("+")
    assert sheet.get(LETTERS) == pytest.approx(1.5 * whole, rel=0.02)
    assert box is not None
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    at = "(({scrollLeft, scrollTop}) => [scrollLeft, scrollTop])(document.querySelector('.scroll'))"
    left, top = sheet.get(at)
    assert left == pytest.approx(0.25 * box["width"], abs=3)  # about the middle
    sheet.page.mouse.move(*middle)
    sheet.page.mouse.down()
    sheet.page.mouse.move(middle[0] + 30, middle[1] + 20, steps=4)
    sheet.page.mouse.up()
    assert sheet.get(at) == [pytest.approx(left - 30, abs=1), pytest.approx(top - 20, abs=1)]
    place.press("-")
    assert sheet.get(LETTERS) == pytest.approx(whole, rel=0.01)


def test_a_wire_tells_what_flows_and_takes_another_gauge(sheet: Sheet, desk: ServedDesk) -> None:
    """Point at a wire in the drawing, read its current; a thicker one loses less."""
    sheet.get("legwright.shell.open(2)")
    sheet.until("document.querySelectorAll('.paper [data-part]').length > 20")
    circuit = circuit_of(lw.load(desk.folder))
    parts = set(
        sheet.get("[...document.querySelectorAll('.paper [data-part]')].map(e => e.dataset.part)")
    )
    wires = [item.designation for item in circuit.items if item.wire is not None]
    assert set(wires) & parts
    part = next(
        wire["part"]
        for wire in sheet.get("legwright.store.circuit.now.header.wires")
        if wire["part"] in parts and wire["key"]
    )
    sheet.page.locator(f'.paper [data-part="{part}"]').first.dispatch_event("click")
    line = sheet.page.locator(".part-line")
    assert part in line.inner_text()
    index = sheet.get(
        f"legwright.store.circuit.now.header.wires.findIndex(w => w.part === '{part}')"
    )
    count = sheet.get("legwright.store.circuit.now.header.wires.length")
    current = sheet.get(f"legwright.store.circuit.now.arrays.current[{index}]")
    sheet.get("legwright.cursor.set(0)")
    shown = numbers(line.locator(".fact").first.locator("b").text_content())[0]
    assert shown == pytest.approx(current, rel=6e-3, abs=6e-4)
    drop = (
        "Math.max(...Array.from(legwright.store.circuit.now.arrays.drop)"
        f".filter((_, i) => i % {count} === {index}).map(Math.abs))"
    )
    before, rev = sheet.get(drop), sheet.get("legwright.store.rev")
    field = sheet.page.locator(".panel .fields select, .panel .fields input").first
    choices = field.locator("option").all_inner_texts()
    if choices:
        thick = min((c for c in choices if "AWG" in c), key=lambda c: int(c.split()[0]))
        field.select_option(thick)
    else:
        field.fill("14 AWG")
        field.press("Enter")
    sheet.until(f"legwright.store.rev > {rev} && legwright.store.circuit.now.header.rev > {rev}")
    assert sheet.get(drop) < before
