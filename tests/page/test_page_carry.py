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
        shown = numbers(cells.nth(number).locator(".value").text_content())[0]
        assert shown == pytest.approx(torque[column], rel=6e-3, abs=6e-4)


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
    sheet.page.locator(".walk-row select").select_option("tripod forward")
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


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1024, 768), (960, 540)])
def test_a_drawing_may_have_the_figure_s_place_too(sheet: Sheet, width: int, height: int) -> None:
    """So that its smallest letters can be read: 1.8 mm of an A3 sheet, 420 mm wide."""
    sheet.page.set_viewport_size({"width": width, "height": height})
    sheet.get("legwright.shell.open(2)")
    sheet.until("document.querySelector('.paper .scroll svg') !== null")
    picture, figure = sheet.page.locator(".paper .scroll svg"), sheet.page.locator(".figure")
    beside = picture.bounding_box()
    large = sheet.page.get_by_role("button", name="Large", exact=True)
    large.press("Enter")
    assert not figure.is_visible()
    assert sheet.get(OVER) == []
    alone = picture.bounding_box()
    assert beside is not None and alone is not None
    assert alone["width"] > 1.9 * beside["width"]
    assert 0.9 * width < alone["width"] < width
    place = sheet.page.locator(".paper .scroll").bounding_box()
    assert place is not None and place["y"] + place["height"] <= height
    sheet.page.keyboard.press("1")  # another question has its figure beside it
    assert figure.is_visible()
    sheet.page.keyboard.press("3")
    assert figure.is_visible()


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
