"""The campaign: it goes on where it stopped, and its tables say what the walks were."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import binom

from legwright.errors import RequestError, RobotError
from legwright.study.__main__ import jobs_of, main, renew
from legwright.study.campaign import Job, answers, code_mark, run
from legwright.study.crossing_table import (
    contact_table,
    crossing_table,
    ratio_of,
    ratio_table,
    telling_height,
)
from legwright.study.crossings import crossings, walk_crossing
from legwright.study.proportion import lower_bound

ROBOTS = Path(__file__).parents[2] / "robots"


@pytest.mark.parametrize(("successes", "trials"), [(50, 50), (49, 50), (7, 10), (1, 25)])
def test_the_bound_is_the_rate_at_which_luck_explains_one_in_twenty(
    successes: int, trials: int
) -> None:
    """Law: P(X >= successes | bound) = 5 %, from the binomial distribution itself."""
    bound = lower_bound(successes, trials)
    assert binom.sf(successes - 1, trials, bound) == pytest.approx(0.05, rel=1e-9)


def test_the_bound_at_the_ends() -> None:
    """Closed form: all of n give 0.05^(1/n); none give 0."""
    assert lower_bound(50, 50) == pytest.approx(0.05 ** (1 / 50))
    assert lower_bound(0, 50) == 0.0
    with pytest.raises(RequestError, match="successes"):
        lower_bound(3, 2)


def _count(folder: Path, value: float) -> dict[str, Any]:
    marks = folder / "marks"
    marks.write_text(marks.read_text() + "x" if marks.exists() else "x")
    if value < 0.0:
        raise RequestError("value", value, "0 or more")
    return {"value": value}


def _jobs(folder: Path, values: list[float]) -> list[Job]:
    return [
        Job(part="p", name=f"row {v}", seed=0, mode="felt", do=_count, given=(folder, v))
        for v in values
    ]


def test_a_campaign_goes_on_where_it_stopped(tmp_path: Path) -> None:
    file, marks = tmp_path / "out" / "p.jsonl", tmp_path / "marks"
    first = run(_jobs(tmp_path, [1.0, 2.0]), file, code="a", cores=1)
    assert [one["answer"]["value"] for one in first] == [1.0, 2.0]
    file.write_text(file.read_text() + '{"key": "cut o')  # interrupted in mid-line
    more = run(_jobs(tmp_path, [1.0, 2.0, 3.0]), file, code="a", cores=1)
    assert [one["answer"]["value"] for one in more] == [1.0, 2.0, 3.0]
    assert marks.read_text() == "xxx"
    assert len(answers(file)) == 3
    run(_jobs(tmp_path, [1.0]), file, code="b", cores=1)  # changed code: reckoned again
    assert marks.read_text() == "xxxx"
    assert len(answers(file, code="b")) == 1


@pytest.mark.parametrize("cores", [1, 2])
def test_no_job_is_begun_after_the_end(tmp_path: Path, cores: int) -> None:
    """The next call goes on."""
    file, jobs = tmp_path / "p.jsonl", _jobs(tmp_path, [1.0, 2.0, 3.0, 4.0, 5.0])
    assert run(jobs, file, code="a", cores=cores, seconds=0.0) == []
    assert [one["answer"]["value"] for one in run(jobs, file, code="a", cores=1)] == [1, 2, 3, 4, 5]


def test_two_cores_give_the_same_answers(tmp_path: Path) -> None:
    file = tmp_path / "p.jsonl"
    found = run(_jobs(tmp_path, [4.0, 5.0, 6.0]), file, code="a", cores=2)
    assert [one["answer"]["value"] for one in found] == [4.0, 5.0, 6.0]


def test_a_job_that_fails_says_so_and_the_rest_goes_on(tmp_path: Path) -> None:
    found = run(_jobs(tmp_path, [-1.0, 2.0]), tmp_path / "p.jsonl", code="a", cores=1)
    assert "0 or more" in found[0]["error"]
    assert found[1]["answer"]["value"] == 2.0


def test_a_spoilt_file_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "p.jsonl"
    file.write_text('{"key": 1}\nnonsense\n{"key": 2}\n')
    with pytest.raises(RobotError, match="line 2"):
        answers(file)


def test_the_mark_follows_the_robots(tmp_path: Path) -> None:
    (tmp_path / "robot.toml").write_text("a")
    before = code_mark(tmp_path)
    assert code_mark(tmp_path) == before
    (tmp_path / "robot.toml").write_text("b")
    assert code_mark(tmp_path) != before


def _walk(
    name: str, seed: int, mode: str, *, tilt: float, done: bool, **more: Any
) -> dict[str, Any]:
    row = {
        "finished": done, "worst_tilt": tilt, "peak_force": 1.0, "unsupported": 0.1,
        "slips_per_metre": 0.0, "speed": 0.03, "energy_per_metre": 500.0, **more,
    }  # fmt: skip
    return {"name": name, "seed": seed, "mode": mode, "answer": row}


def test_ratios_are_of_medians_over_the_same_seeds() -> None:
    """Felt 0.1, 0.2, 0.3 against blind 0.4, 0.4, 0.5; a fourth felt seed has no partner."""
    felt = [_walk("a", k, "felt", tilt=t, done=True) for k, t in enumerate((0.1, 0.2, 0.3, 9.0))]
    blind = [_walk("a", k, "blind", tilt=t, done=k > 0) for k, t in enumerate((0.4, 0.4, 0.5))]
    said = ratio_table([*felt, *blind])
    assert "| a | 3 | 2/3 | 50 %, met | 100 %, missed | 100 %, missed |" in said
    assert np.isnan(ratio_of([{"k": 1.0}], [{"k": 0.0}], "k"))
    crossed = crossing_table([*felt, *blind])
    assert "| a | felt | 4/4 | 47 % |" in crossed
    assert "| a | blind | 2/3 |" in crossed


def test_the_telling_height_is_the_first_that_tells() -> None:
    low = [
        _walk("25 %", k, mode, tilt=0.1, done=True) for k in (0, 1) for mode in ("felt", "blind")
    ]
    high = [
        _walk("70 %", k, mode, tilt=0.1, done=mode == "felt")
        for k in (0, 1)
        for mode in ("felt", "blind")
    ]
    assert "70 %" in telling_height([*low, *high])
    assert "At no height" in telling_height(low)


def test_contact_percentiles_are_pooled() -> None:
    """Nineteen delays of 10 ms and one of 90 ms: the pooled 95th is not the mean of 10 and 90."""
    many = {"hits": 19, "misses": 1, "false": 0, "delays": [0.01] * 19, "forces": [0.1] * 19}
    one = {"hits": 1, "misses": 0, "false": 1, "delays": [0.09], "forces": [0.3]}
    rows = [
        _walk("c", k, "felt", tilt=0.1, done=True, touchdowns=marks)
        for k, marks in enumerate((many, one))
    ]
    assert "| c | 21 | 95.24 | 4.76 | 10 | 14 | 10.0 | 11.0 |" in contact_table(rows)


def test_every_row_can_be_asked_for() -> None:
    assert {row.part for part in ("grounds", "heights") for row in crossings(part, 2)} == {
        "grounds", "heights",
    }  # fmt: skip
    assert len(jobs_of("grounds", ROBOTS, 3, 3.0)) == 10 * 2 * 3
    keys = [
        job.key
        for part in ("grounds", "heights", "contact")
        for job in jobs_of(part, ROBOTS, 2, 3.0)
    ]
    assert len(set(keys)) == len(keys)
    more = {job.key for job in jobs_of("grounds", ROBOTS, 3, 3.0)}
    assert more >= {job.key for job in jobs_of("grounds", ROBOTS, 2, 3.0)}, "walked once for all"
    with pytest.raises(RequestError, match="grounds"):
        crossings("ground", 1)


def test_one_walk_of_a_row() -> None:
    """A decimetre on steps; what is pooled is what the row says."""
    row = crossings("grounds", 1, distance=0.1)[0]
    got = walk_crossing(ROBOTS, row, 3, "felt")
    assert got["finished"] and not got["fell"]
    marks = got["touchdowns"]
    assert marks["hits"] == len(marks["delays"]) > 0
    assert got["delay_median"] == pytest.approx(np.median(marks["delays"]), abs=1e-4)
    json.dumps(got, allow_nan=False)


def test_the_command_refuses_a_folder_without_robots(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([str(tmp_path), "--part", "steady", "--out", str(tmp_path / "out")]) == 2
    assert "legwright:" in capsys.readouterr().err


def test_single_rows_are_asked_for_by_their_names(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [str(ROBOTS), "--part", "grounds", "--out", str(tmp_path), "--minutes", "0", "--row"]
    assert main([*words, "ripple, steps 26 %"]) == 2
    assert "ripple, steps 25 %" in capsys.readouterr().err
    assert main([*words, "ripple, steps 25 %"]) == 0
    assert "| walk |" in capsys.readouterr().out, "no time to walk: tables without rows"


def test_a_page_is_renewed_between_its_marks(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text("# A\n<!-- heights -->\nold\n<!-- /heights -->\nend\n")
    renew(page, "heights", "new\n")
    assert page.read_text() == "# A\n<!-- heights -->\nnew\n<!-- /heights -->\nend\n"
    with pytest.raises(RobotError, match="grounds"):
        renew(page, "grounds", "new")


@pytest.mark.long
def test_rook_crosses_steps_felt(tmp_path: Path) -> None:
    """Three seeds of steps of a quarter leg: felt crosses all of them, and stands on three
    loaded feet at least for far more of the time than blind."""
    jobs = [
        job for job in jobs_of("grounds", ROBOTS, 3, 3.0) if job.name == "ripple, steps 25 %"
    ]  # fmt: skip
    found = run(jobs, tmp_path / "grounds.jsonl", code=code_mark(ROBOTS))
    felt = [one["answer"] for one in found if one["mode"] == "felt"]
    blind = [one["answer"] for one in found if one["mode"] == "blind"]
    assert len(felt) == len(blind) == 3
    assert all(one["finished"] and not one["fell"] for one in felt)
    assert ratio_of(felt, blind, "unsupported") < 0.5
