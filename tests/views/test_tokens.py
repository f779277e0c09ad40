"""Contrast of the colours, after WCAG 2.2 (values of reference_values.json, topic 11)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from legwright.views.tokens import DARK, LIGHT, ON_YELLOW, contrast

TOPIC = json.loads((Path(__file__).parents[1] / "data" / "reference_values.json").read_text())[
    "topics"
]["11_lights"]


@pytest.mark.parametrize(
    "case", [c for c in TOPIC if c["id"].startswith("contrast_")], ids=lambda c: c["id"]
)
def test_contrast_as_published(case):
    got = contrast("#" + case["inputs"]["fg"], "#" + case["inputs"]["bg"])
    assert got == pytest.approx(case["expected"]["ratio"], rel=case["tol_rel"])


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_text_reads_on_every_ground(theme):
    for ground in (theme.sheet, theme.tint):
        assert contrast(theme.ink, ground) >= 7.0
        assert contrast(theme.ink2, ground) >= 4.5
        assert contrast(theme.red, ground) >= 4.5
    assert contrast(theme.line, theme.sheet) >= 3.0
    assert contrast(ON_YELLOW, theme.yellow) >= 4.5
    assert contrast(theme.sheet, theme.red) >= 4.5
