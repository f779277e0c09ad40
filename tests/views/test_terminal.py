"""The verdict table in the terminal."""

from __future__ import annotations

import io

import pytest
import scene
from rich.cells import cell_len
from rich.console import Console

from legwright.views.terminal import shows_unicode, verdict_table


def printed(*, width=80, unicode=True, all_rows=False, colour=False):
    out = io.StringIO()
    console = Console(
        file=out, width=width, force_terminal=colour, color_system="standard" if colour else None
    )
    console.print(verdict_table(scene.study(), all_rows=all_rows, unicode=unicode))
    return out.getvalue()


@pytest.mark.parametrize("unicode", [True, False])
@pytest.mark.parametrize("all_rows", [True, False])
def test_fits_80_columns(unicode, all_rows):
    assert (
        max(cell_len(line) for line in printed(unicode=unicode, all_rows=all_rows).split("\n"))
        <= 80
    )


def test_verdict_first_worst_first_cure_under_it():
    text = printed(width=120)
    order = [
        text.index(w)
        for w in (
            "NOT FIT TO WALK",
            "static stability margin",
            "Move the battery",
            "femur peak torque",
            "closest pair",
            "time to overheat",
            "Reach: 8 pass",
        )
    ]
    assert order == sorted(order)


def test_ascii_only_where_nothing_else_is_shown():
    assert printed(unicode=False, all_rows=True).isascii()


def test_all_rows_lists_every_finding():
    text = " ".join(printed(width=200, all_rows=True).split())
    assert all(f.name in text for f in scene.study().findings)


def test_red_only_for_fails():
    for line in printed(width=120, colour=True).split("\n")[1:]:
        if "\x1b[31m" in line or "\x1b[1;31m" in line:
            assert "pass" not in line and "warn" not in line and "not known  " not in line[:20]


def test_unicode_is_asked_of_the_stream():
    assert shows_unicode(io.TextIOWrapper(io.BytesIO(), encoding="utf-8"))
    assert not shows_unicode(io.TextIOWrapper(io.BytesIO(), encoding="ascii"))


def test_findings_that_wait_for_one_input_are_told_once():
    from legwright.study.finding import Finding, Verdict
    from legwright.views.ranking import gathered

    waiting = [
        Finding(area="heat", name=f"heat {i}", verdict=Verdict.UNKNOWN, cure="Enter R.")
        for i in range(3)
    ]
    other = Finding(area="heat", name="heat x", verdict=Verdict.UNKNOWN, cure="Enter C.")
    told = gathered([waiting[0], other, *waiting[1:]])
    assert [f.name for f in told] == ["heat 0 (and 2 more)", "heat x"]
