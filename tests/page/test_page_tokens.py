"""The page's style is that of the drawings."""

from __future__ import annotations

import re
import runpy

from browsing import ROOT

from legwright.views import tokens


def test_colours_and_widths_of_the_page_are_those_of_the_drawings() -> None:
    made = runpy.run_path(str(ROOT / "docs" / "make_page_tokens.py"))
    assert made["PAGE"].read_text("utf-8") == made["page_tokens"](), (
        "run: python docs/make_page_tokens.py"
    )


def test_no_style_sheet_of_the_page_has_a_colour_of_its_own() -> None:
    """Every colour is one of the look, so that both themes and all contrasts hold."""
    for path in (ROOT / "page" / "src" / "style").glob("*.css"):
        if path.name != "tokens.css":
            rules = path.read_text("utf-8").splitlines()
            own = [rule for rule in rules if re.search(r"#[0-9A-Fa-f]{3,8}\b|rgba?\(", rule)]
            lamps = [rule for rule in own if rule.startswith(".lights ")]  # a lamp that is out
            assert own == lamps, path


def test_text_colours_are_readable_on_both_grounds() -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text."""
    for theme in (tokens.LIGHT, tokens.DARK):
        for text in (theme.ink, theme.ink2, theme.red, theme.green, theme.blue):
            assert tokens.contrast(text, theme.sheet) >= 4.5
            assert tokens.contrast(text, theme.tint) >= 4.5
