"""What the mechanics tests share."""

from __future__ import annotations

import pytest


@pytest.fixture(scope="session")
def motor_case(reference):
    """A published motor or heat case by its id, from topic 3 of the reference values."""
    return reference("3_motor").__getitem__
