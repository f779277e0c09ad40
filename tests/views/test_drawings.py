"""No label collides with another or leaves its drawing; every drawing is well-formed XML."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import combinations

import pytest
import scene

from legwright.views.sheets import pages_of


def drawings(study):
    return [
        (page.subtitle, block.drawing)
        for page in pages_of(study)
        for block in page.blocks
        if block.drawing is not None
    ]


@pytest.fixture(scope="module", params=["whole", "bare"])
def laid_out(request):
    return drawings(scene.study() if request.param == "whole" else scene.bare_study())


def test_every_drawing_is_well_formed(laid_out):
    for _, drawing in laid_out:
        root = ET.fromstring(drawing.svg)
        assert root.tag == "svg" and len(root)


def test_no_two_labels_collide(laid_out):
    for where, drawing in laid_out:
        words = [label for label in drawing.labels if label.text]
        hits = [(a.text, b.text) for a, b in combinations(words, 2) if a.meets(b)]
        assert not hits, f"{where}: {hits}"


def test_no_label_leaves_its_drawing(laid_out):
    for where, drawing in laid_out:
        out = [
            label.text
            for label in drawing.labels
            if label.text
            and (
                label.left < -0.05
                or label.right > drawing.width + 0.05
                or label.top < -0.05
                or label.bottom > drawing.height + 0.3
            )
        ]
        assert not out, f"{where}: {out}"


def test_drawings_keep_to_the_content_of_the_sheet():
    for page in pages_of(scene.study()):
        for block in page.blocks:
            assert block.left >= 20.0 and block.left + block.width <= 200.01, page.subtitle
            assert block.top >= 10.0 and block.top + block.height <= 258.01, page.subtitle


def test_a_fail_is_drawn_red_and_a_pass_is_not():
    from legwright.study.finding import Verdict
    from legwright.views.symbols import mark

    assert "red" in mark(Verdict.FAIL, 4.0).svg
    assert all("red" not in mark(v, 4.0).svg for v in Verdict if v is not Verdict.FAIL)
    assert len({mark(v, 4.0).svg for v in Verdict}) == len(Verdict)
