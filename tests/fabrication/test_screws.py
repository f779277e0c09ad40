"""Screws: tabled measures, stacks summed by hand, masses against a closed form."""

from __future__ import annotations

import pytest

from legwright.errors import RequestError
from legwright.fabrication.screws import (
    LENGTHS,
    THREADS,
    Into,
    nut_mass,
    screw_for,
    screw_mass,
    thread_of,
)


def test_heads_follow_the_standards_rule() -> None:
    """ISO 4762: the head is as high as the thread is wide; M3 measures against the table."""
    for thread in THREADS.values():
        assert thread.head_height == pytest.approx(thread.diameter)
    three = thread_of("M3")
    assert (three.pitch, three.nut, three.nut_width) == pytest.approx((0.5e-3, 2.4e-3, 5.5e-3))


@pytest.mark.parametrize(
    ("thread", "grip", "into", "depth", "length"),
    [
        ("M3", 6.0, "nut", None, 10.0),  # 6 + 0.55 + 2.4 + 1.0 = 9.95
        ("M3", 6.1, "nut", None, 12.0),  # 10.05
        ("M2.5", 3.0, "plastic", None, 8.0),  # 3 + 5 = 8.0 exactly
        ("M2", 3.0, "steel", 4.0, 5.0),  # 3 + 2 = 5, may reach 7
        ("M4", 5.0, "aluminium", None, 12.0),  # 5 + 6 = 11
    ],
)
def test_lengths_summed_by_hand(
    thread: str, grip: float, into: str, depth: float | None, length: float
) -> None:
    """The shortest standard screw that reaches."""
    choice = screw_for(thread, grip / 1e3, Into(into), depth=None if depth is None else depth / 1e3)
    assert choice.length == pytest.approx(length / 1e3)


@pytest.mark.parametrize(
    ("grip", "into", "depth", "word"),
    [(0.050, Into.NUT, None, "spacer"), (0.003, Into.PLASTIC, 0.002, "deep enough"),
     (0.0012, Into.STEEL, 0.0035, "washer")],
)  # fmt: skip
def test_a_stack_without_a_screw_says_what_would_help(
    grip: float, into: Into, depth: float | None, word: str
) -> None:
    """No length is made up."""
    choice = screw_for("M3", grip, into, depth=depth)
    assert choice.length is None
    assert word in choice.why


def test_every_choice_holds_and_is_the_shortest() -> None:
    """Over many stacks: engaged enough, never through the bottom, and no shorter one would do."""
    for thread in THREADS.values():
        for grip in [step * 0.25e-3 for step in range(100)]:
            choice = screw_for(thread.name, grip, Into.STEEL, depth=0.012)
            if choice.length is None:
                continue
            assert thread.diameter - 1e-9 <= choice.engaged <= 0.012 + 1e-9
            shorter = [x for x in LENGTHS if thread.shortest <= x < choice.length]
            assert all(x - grip < thread.diameter for x in shorter)


def test_masses_are_of_the_tabled_order() -> None:
    """Suppliers' tables [from memory]: M3 × 10 0.89 g, an M3 nut 0.38 g; within 15 %."""
    assert screw_mass(thread_of("M3"), 0.010) == pytest.approx(0.89e-3, rel=0.15)
    assert nut_mass(thread_of("M3")) == pytest.approx(0.38e-3, rel=0.15)


def test_unknown_thread() -> None:
    """One sentence, with the nearest."""
    with pytest.raises(RequestError, match=r"M2\.5"):
        screw_for("M25", 0.003, Into.NUT)
