"""Which of the walked cases rule: the one nearest to tipping, the one that loads servos most."""

from __future__ import annotations

import numpy as np

from legwright.study.evidence import Case, Study


def worst_case(study: Study) -> Case | None:
    """The case with the least static margin; None when nothing was walked."""
    cases = [case for case in study.cases.values() if np.isfinite(case.loads.margin).any()]
    return min(cases, key=lambda case: float(np.nanmin(case.loads.margin)), default=None)


def heaviest_case(study: Study) -> Case | None:
    """The case whose joints come nearest to what the servos give; None without any."""
    return max(study.cases.values(), key=_load, default=None)


def _load(case: Case) -> float:
    available = np.asarray(case.draw.available, dtype=np.float64)
    ratio = np.abs(case.loads.torque) / np.where(available > 0.0, available, np.nan)
    known = ratio[np.isfinite(ratio)]
    return float(known.max()) if len(known) else float(np.abs(case.loads.torque).max())
