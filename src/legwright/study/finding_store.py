"""Findings that take long to work out, kept between runs by what they were worked out from."""

from __future__ import annotations

import hashlib
import json
import logging
import pickle
from collections.abc import Callable, Iterable
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from legwright.study.export import finding_as_json
from legwright.study.finding import Finding, Sense, Verdict

MOST_KEPT = 200
"""Files beyond this many are removed, oldest first."""
SELDOM = "1"
"""That is done with every sixteenth file or so, whose key begins with less: to ask for the age of
two hundred takes longer than to write one."""
ROOMS = ("fabrication", "robot", "study/checks")
"""Whose source text is part of the key: changed code works its findings out anew."""

_log = logging.getLogger(__name__)


def kept(
    made_from: Iterable[object], make: Callable[[], tuple[Finding, ...]], *, folder: Path | None
) -> tuple[Finding, ...]:
    """Findings as they were kept, or made now and kept.

    Args:
        made_from: Everything that they depend on, picklable to the same bytes in every process:
            no sets, hence no models that remember which fields were set.
        make: Works them out.
        folder: Where they are kept; the user's cache folder when None.

    Returns:
        The findings. A cache that cannot be read or written is passed over.
    """
    place = (folder or _user_cache()) / f"{digest(_code(), *made_from).hex()[:40]}.json"
    held = _read(place)
    if held is None:
        held = make()
        _write(place, held)
    return held


def digest(*parts: object) -> bytes:
    """A digest of things that pickle to the same bytes in every process.

    Args:
        parts: The things.
    """
    text = hashlib.sha256()
    for part in parts:
        data = part if isinstance(part, bytes) else pickle.dumps(part, protocol=5)
        text.update(hashlib.sha256(data).digest())
    return text.digest()


def _read(place: Path) -> tuple[Finding, ...] | None:
    try:
        rows = json.loads(place.read_text(encoding="utf-8"))
        return tuple(_finding(row) for row in rows)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _write(place: Path, findings: tuple[Finding, ...]) -> None:
    text = json.dumps([finding_as_json(finding) for finding in findings])
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        fresh = place.with_suffix(".part")
        fresh.write_text(text, encoding="utf-8")
        fresh.replace(place)
        if place.name < SELDOM:
            old = sorted(place.parent.glob("*.json"), key=lambda file: file.stat().st_mtime)
            for file in old[:-MOST_KEPT]:
                file.unlink(missing_ok=True)
    except OSError as error:
        _log.debug("findings not kept: %s", error)


def _finding(row: dict[str, Any]) -> Finding:
    return Finding(
        area=row["area"],
        name=row["name"],
        verdict=Verdict(row["verdict"]),
        value=row["value"],
        limit=row["limit"],
        unit=row["unit"],
        sense=Sense(row["sense"]),
        why=row["why"],
        source=row["source"],
        cure=row["cure"],
        parts=tuple(row["parts"]),
        assumed=row["assumed"],
    )


@lru_cache(maxsize=1)
def _code() -> bytes:
    """A digest of the source of the rooms that work such findings out."""
    text = hashlib.sha256()
    for room in ROOMS:
        folder = Path(str(files("legwright"))) / room
        for file in sorted(folder.glob("*.py")):
            text.update(file.read_bytes())
    return text.digest()


def _user_cache() -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("legwright") / "findings"
