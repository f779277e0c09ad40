"""Tables of crossings: medians, worst, confidence, and felt against blind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from legwright.study.proportion import lower_bound

Answer = dict[str, Any]

TARGETS = (("worst_tilt", 0.60), ("peak_force", 0.70), ("unsupported", 0.20))
"""Key, and what felt may be over blind at most: medians over the same seeds."""

FAILS, HOLDS = 0.5, 0.9
"""Blind fails where it crosses less than the first share of walks; felt holds from the second."""


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A markdown table, the first column to the left."""
    lines = [f"| {' | '.join(head)} |", f"| --- |{' ---: |' * (len(head) - 1)}"]
    return "\n".join([*lines, *(f"| {' | '.join(row)} |" for row in rows)])


def crossing_table(answers: Sequence[Answer]) -> str:
    """Every row and mode: how often it crossed, and medians (worst) over its walks.

    Args:
        answers: Lines of a campaign.
    """
    head = (
        "walk", "mode", "crossed", "rate ≥", "tilt [°]", "peak force [% BW]",
        "< 3 loaded feet [%]", "slips [1/m]", "speed [mm/s]", "energy [J/m]",
    )  # fmt: skip
    rows = []
    for name, mode, walks in _sets(answers):
        crossed = sum(walk["finished"] for walk in walks)
        rows.append(
            (
                name,
                mode,
                f"{crossed}/{len(walks)}",
                f"{100.0 * lower_bound(crossed, len(walks)):.0f} %",
                _both(walks, "worst_tilt", 180.0 / np.pi, "{:.1f} ({:.1f})"),
                _both(walks, "peak_force", 100.0, "{:.0f} ({:.0f})"),
                _both(walks, "unsupported", 100.0, "{:.1f} ({:.1f})"),
                _middle(walks, "slips_per_metre", 1.0, "{:.2f}"),
                _middle(walks, "speed", 1e3, "{:.0f}"),
                _middle(walks, "energy_per_metre", 1.0, "{:.0f}"),
            )
        )
    return table(head, rows)


def ratio_table(answers: Sequence[Answer]) -> str:
    """Felt over blind, medians over the seeds that both walked, against the targets.

    Where blind got stuck early it had little ground to tilt on: read its ratios with care.

    Args:
        answers: Lines of a campaign.
    """
    head = (
        "walk", "seeds", "blind crossed",
        *(f"{_WORDS[key]} (≤ {100.0 * most:.0f} %)" for key, most in TARGETS),
    )  # fmt: skip
    rows = []
    for name in dict.fromkeys(name for name, _, _ in _sets(answers)):
        felt, blind = _paired(answers, name)
        if not felt:
            continue
        cells = []
        for key, most in TARGETS:
            ratio = ratio_of(felt, blind, key)
            verdict = "met" if ratio <= most else "missed"
            cells.append("–" if np.isnan(ratio) else f"{100.0 * ratio:.0f} %, {verdict}")
        crossed = sum(walk["finished"] for walk in blind)
        rows.append((name, str(len(felt)), f"{crossed}/{len(blind)}", *cells))
    return table(head, rows)


_WORDS = {"worst_tilt": "tilt", "peak_force": "peak force", "unsupported": "< 3 loaded feet"}


def ratio_of(felt: Sequence[Answer], blind: Sequence[Answer], key: str) -> float:
    """Median of felt over median of blind; nan where blind has none of it.

    Args:
        felt: Trials' rows.
        blind: Of the same seeds.
        key: Of the row.
    """
    under = float(np.median([walk[key] for walk in blind]))
    return float(np.median([walk[key] for walk in felt])) / under if under > 0.0 else float("nan")


def telling_height(answers: Sequence[Answer]) -> str:
    """The first row in which blind fails and felt holds, in words.

    Args:
        answers: Lines of a campaign whose rows are sorted by height.
    """
    rates = {
        (name, mode): float(np.mean([walk["finished"] for walk in walks]))
        for name, mode, walks in _sets(answers)
    }
    for name in dict.fromkeys(name for name, _ in rates):
        felt, blind = rates.get((name, "felt"), 0.0), rates.get((name, "blind"), 1.0)
        if blind < FAILS and felt >= HOLDS:
            return f"First height at which blind fails and felt does not: {name}."
    return (
        "At no height tried did blind cross less than half of the walks while felt crossed nine "
        "tenths."
    )


def contact_table(answers: Sequence[Answer]) -> str:
    """Felt against true contact; percentiles over all touch-downs of all seeds of a row.

    Args:
        answers: Lines of a campaign.
    """
    head = (
        "walk", "touch-downs", "felt [%]", "false per 100", "delay [ms], median", "95 %",
        "force [% BW], median", "95 %",
    )  # fmt: skip
    rows = []
    for name, mode, walks in _sets(answers):
        if mode != "felt":
            continue
        marks = [walk["touchdowns"] for walk in walks]
        hits, misses, false = (
            sum(one[key] for one in marks) for key in ("hits", "misses", "false")
        )
        delays = np.concatenate([one["delays"] for one in marks])
        forces = np.concatenate([one["forces"] for one in marks])
        if not hits:
            rows.append((name, "0", *["–"] * 6))
            continue
        rows.append(
            (
                name,
                str(hits + misses),
                f"{100.0 * hits / (hits + misses):.2f}",
                f"{100.0 * false / (hits + false):.2f}",
                *(f"{1e3 * value:.0f}" for value in np.percentile(delays, (50, 95))),
                *(f"{100.0 * value:.1f}" for value in np.percentile(forces, (50, 95))),
            )
        )
    return table(head, rows)


def _sets(answers: Sequence[Answer]) -> list[tuple[str, str, list[Answer]]]:
    """Row, mode and the walks of both, in the order of the file's rows."""
    found: dict[tuple[str, str], list[Answer]] = {}
    for one in answers:
        if "answer" in one:
            found.setdefault((one["name"], one["mode"]), []).append(one["answer"])
    return [(name, mode, walks) for (name, mode), walks in found.items()]


def _paired(answers: Sequence[Answer], name: str) -> tuple[list[Answer], list[Answer]]:
    """Felt and blind walks of the seeds that have both."""
    walks = {
        (one["mode"], one["seed"]): one["answer"]
        for one in answers
        if one["name"] == name and "answer" in one
    }
    seeds = [seed for mode, seed in walks if mode == "felt" and ("blind", seed) in walks]
    return [walks["felt", seed] for seed in seeds], [walks["blind", seed] for seed in seeds]


def _values(walks: Sequence[Answer], key: str, factor: float) -> list[float]:
    return [factor * walk[key] for walk in walks if walk[key] is not None]


def _both(walks: Sequence[Answer], key: str, factor: float, form: str) -> str:
    values = _values(walks, key, factor)
    return form.format(float(np.median(values)), max(values))


def _middle(walks: Sequence[Answer], key: str, factor: float, form: str) -> str:
    return form.format(float(np.median(_values(walks, key, factor))))
