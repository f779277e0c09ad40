"""What the documents promise: links that lead somewhere, a tour that runs."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
PAGES = [TOP / "README.md", TOP / "CONTRIBUTING.md", *sorted((TOP / "docs").rglob("*.md"))]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(TOP)))
def test_links_lead_somewhere(page: Path) -> None:
    links = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8"))
    for link in links:
        if "://" not in link:
            assert (page.parent / link).exists(), f"{page.name} points to {link}"


def test_the_tour_in_python_runs() -> None:
    blocks = re.findall(r"```python\n(.*?)```", (TOP / "README.md").read_text("utf-8"), re.S)
    assert len(blocks) >= 2, "computing, and driving"
    for block in blocks:
        run = subprocess.run(
            [sys.executable, "-c", block],
            check=False,
            cwd=TOP,
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert run.returncode == 0, run.stderr
        assert run.stdout.count("\n") > 10


def test_every_room_has_its_place_in_the_architecture() -> None:
    text = (TOP / "docs" / "architecture.md").read_text("utf-8")
    for room in (TOP / "src" / "legwright").iterdir():
        if (room / "__init__.py").exists():
            assert f"`{room.name}/`" in text, room.name
