"""What several test files share."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

DATA = Path(__file__).parent / "data"

Cases = dict[str, dict[str, Any]]


@pytest.fixture(scope="session")
def reference() -> Callable[[str], Cases]:
    """Published check values: ``reference(topic)`` gives case id -> case.

    Each case holds inputs, expected, a tolerance and its source; the values belong to
    ``tests/data/reference_values.json``.
    """
    text = (DATA / "reference_values.json").read_text(encoding="utf-8")
    topics = json.loads(text)["topics"]

    def cases(topic: str) -> Cases:
        return {case["id"]: case for case in topics[topic]}

    return cases
