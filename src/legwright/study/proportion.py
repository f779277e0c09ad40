"""How sure a count of successes makes us of the rate behind it."""

from __future__ import annotations

from legwright.errors import RequestError

CONFIDENCE = 0.95


def lower_bound(successes: int, trials: int, *, confidence: float = CONFIDENCE) -> float:
    """One-sided lower confidence bound of a success rate, after Clopper and Pearson.

    It is exact: were the rate any lower, so many successes would turn up in fewer than
    ``1 - confidence`` of all such series.

    Args:
        successes: Counted.
        trials: Made, 1 or more.
        confidence: Between 0 and 1.

    Returns:
        The rate, 0 to 1.

    Raises:
        RequestError: where the counts are no counts.

    Source: Clopper & Pearson, Biometrika 26:404-413, 1934; as a quantile of the beta
        distribution it is textbook.
    """
    if trials < 1:
        raise RequestError("trials", trials, "1 or more")
    if not 0 <= successes <= trials:
        raise RequestError("successes", successes, f"between 0 and {trials}")
    if not 0.0 < confidence < 1.0:
        raise RequestError("confidence", confidence, "between 0 and 1")
    if successes == 0:
        return 0.0
    from scipy.stats import beta

    return float(beta.ppf(1.0 - confidence, successes, trials - successes + 1))
