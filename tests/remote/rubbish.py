"""Messages that make no sense, seeded: bytes, JSON, and messages with something wrong."""

from __future__ import annotations

import json
from typing import Any, get_args

import msgspec
import numpy as np

from legwright.remote import asked

KINDS = [kind.__struct_config__.tag for kind in get_args(asked.AnyAsked)]
FIELDS = sorted({f.name for kind in get_args(asked.AnyAsked) for f in msgspec.structs.fields(kind)})
VALUES: list[Any] = [
    None, True, False, 0, 1, -1, 2**31, 2**63, 2**64, -(2**70), 1e308, -1e308, 5e-324, 0.1, 1.5,
    "", "x", "left-front", "tripod", "state", "\x00", "💥" * 50, "a" * 5000, [], [1], [1, 2],
    [1e300] * 6, [[[]]], {}, {"type": "stop"}, "NaN", "Infinity", ["mode"], ["q", "q", "feet"],
]  # fmt: skip


def rubbish(rng: np.random.Generator) -> str | bytes:
    """One frame: mostly nearly right, sometimes nothing at all."""
    choice = rng.integers(10)
    if choice == 0:
        return rng.bytes(int(rng.integers(0, 200)))
    if choice == 1:
        return rng.bytes(int(rng.integers(0, 100))).decode("latin-1")
    if choice == 2:
        return "[" * int(rng.integers(1, 3000)) + '{"type":' * int(rng.integers(0, 5))
    message = _message(rng)
    if choice == 3:
        text = json.dumps(message)
        cut = int(rng.integers(len(text)))
        return text[:cut] + chr(int(rng.integers(1, 0x2FFF))) + text[cut + 1 :]
    if choice == 4:
        return json.dumps(message)[: int(rng.integers(0, 60))]
    if choice == 5:
        return json.dumps(message).replace(
            "0", str(rng.choice(["1e999", "NaN", "-Infinity", "0x1"]))
        )
    return json.dumps(message)


def _message(rng: np.random.Generator) -> dict[str, Any]:
    message: dict[str, Any] = {"type": KINDS[int(rng.integers(len(KINDS)))]}
    for name in rng.permutation(FIELDS)[: int(rng.integers(0, len(FIELDS)))]:
        message[str(name)] = VALUES[int(rng.integers(len(VALUES)))]
    if rng.random() < 0.5:
        message["n"] = int(rng.integers(-3, 10_000))
    if rng.random() < 0.5:
        message["heard"] = float(rng.uniform(-1.0, 2000.0))
    if rng.random() < 0.5:
        message["ttl"] = float(rng.uniform(-0.1, 0.4))
    return message
