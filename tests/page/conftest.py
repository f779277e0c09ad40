"""One browser and one desk a run: a desk takes seconds to start and to judge its robot."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import FLAGS, ROOT, ServedDesk, Sheet, chromium, sheet_on, wanted
from playwright.sync_api import Browser, sync_playwright

from legwright.views.desk.serving import PAGE


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Debian's Chromium, drawing with software; gone after these tests, and its event loop too."""
    path = chromium()
    if path is None:
        text = "no Chromium here: apt-get install chromium"
        if wanted():
            pytest.fail(text)
        pytest.skip(text)
    if not (PAGE / "index.html").is_file():
        text = "the page is not built: make page"
        if wanted():
            pytest.fail(text)
        pytest.skip(text)
    flags = [*FLAGS, *(["--no-sandbox"] if os.getuid() == 0 else [])]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=flags)
        yield browser
        browser.close()


@pytest.fixture(scope="package")
def robots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of its own: rook with one gait, level ground, quick to judge; and a variant."""
    folder = tmp_path_factory.mktemp("robots")
    shutil.copytree(ROOT / "robots" / "rook", folder / "rook")
    sheet = folder / "rook" / "robot.toml"
    text = sheet.read_text(encoding="utf-8")
    head, _, rest = text.partition("[requirements.by_gait.wave]")
    text = head + rest[rest.index("[stance]") :]
    for old, new in (
        ('gaits = ["tripod", "ripple", "wave"]', 'gaits = ["tripod"]'),
        ('slope = "12 deg"', 'slope = "0 deg"'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    sheet.write_text(text, encoding="utf-8")
    slim = shutil.copytree(folder / "rook", folder / "slim") / "robot.toml"
    assert text.count('femur = "85 mm"') == 1
    slim.write_text(text.replace('femur = "85 mm"', 'femur = "80 mm"'), encoding="utf-8")
    return folder


@pytest.fixture(scope="package")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the desk keeps what it records."""
    return tmp_path_factory.mktemp("recordings")


@pytest.fixture(scope="package")
def desk(robots: Path, recordings: Path, browser: Browser) -> Iterator[ServedDesk]:
    """`legwright desk` on that rook."""
    served = ServedDesk(robots / "rook", more=(f"--recordings={recordings}",))
    yield served
    served.close()


@pytest.fixture(scope="module")
def opened(desk: ServedDesk, browser: Browser) -> Iterator[Sheet]:
    """The desk's page, one for all tests of a module."""
    with sheet_on(browser, desk.address) as sheet:
        yield sheet.open()


@pytest.fixture
def sheet(opened: Sheet) -> Iterator[Sheet]:
    """The page at the first question, with nothing changed and nothing open."""
    opened.page.set_viewport_size({"width": 1280, "height": 800})
    opened.page.emulate_media(color_scheme="light")
    opened.get("(legwright.shell.open(0), legwright.store.open(''), legwright.cursor.run(false))")
    yield opened
    if opened.get("(legwright.store.edits?.list.length ?? 0) > 0"):
        opened.get("legwright.link.send({type: 'put_back'})")
        opened.until("legwright.store.edits.list.length === 0")
    if not opened.get("legwright.store.welcome.case === legwright.store.welcome.cases[0]"):
        opened.get("legwright.link.send({type: 'show', case: legwright.store.welcome.cases[0]})")
        opened.until("legwright.store.cycle.now.header.case === legwright.store.welcome.cases[0]")
    assert opened.troubles == []
