"""The page about the sheet tells every key as the models have it."""

import runpy
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"


def test_tables_are_current():
    made = runpy.run_path(str(DOCS / "make_sheet_tables.py"))
    page = (DOCS / "sheet.md").read_text(encoding="utf-8")
    assert made["page"](page) == page, "run: python docs/make_sheet_tables.py"
