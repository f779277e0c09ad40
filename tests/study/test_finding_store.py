"""Findings kept on disk: found again, made anew when something changed, and never too many."""

import os

import pytest

from legwright.study import finding_store
from legwright.study.finding import Finding, Verdict
from legwright.study.finding_store import kept


def _finding(name: str) -> Finding:
    return Finding(area="shell", name=name, verdict=Verdict.PASS, value=1.25, unit="mm")


def test_what_was_kept_is_not_made_again(tmp_path):
    made = []

    def make():
        made.append(1)
        return (_finding("one"), _finding("two"))

    first = kept(("a", 1.0), make, folder=tmp_path)
    assert kept(("a", 1.0), make, folder=tmp_path) == first
    assert len(made) == 1
    assert kept(("a", 1.5), make, folder=tmp_path) == first
    assert len(made) == 2


def test_a_broken_file_is_made_anew(tmp_path):
    first = kept(("a",), lambda: (_finding("one"),), folder=tmp_path)
    (file,) = tmp_path.iterdir()
    file.write_text("[{]")
    assert kept(("a",), lambda: (_finding("one"),), folder=tmp_path) == first


@pytest.mark.parametrize("most", [5, 20])
def test_the_oldest_are_removed_now_and_then(tmp_path, monkeypatch, most):
    monkeypatch.setattr(finding_store, "MOST_KEPT", most)
    for number in range(400):
        before = set(tmp_path.iterdir())
        kept((number,), lambda: (_finding("one"),), folder=tmp_path)
        (new,) = set(tmp_path.iterdir()) - before
        os.utime(new, (number, number))
    left = sorted(int(file.stat().st_mtime) for file in tmp_path.iterdir())
    assert most <= len(left) < most + 150  # one of sixteen tidies up: a run of 150 is unheard of
    assert left == list(range(400 - len(left), 400))
