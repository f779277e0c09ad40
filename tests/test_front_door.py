"""The front door shows exactly what it promises, and opens quickly."""

from __future__ import annotations

import ast
import subprocess
import sys
from importlib import metadata
from pathlib import Path

import pytest

import legwright


def test_all_is_what_is_visible() -> None:
    assert dir(legwright) == sorted(legwright.__all__)
    assert len(set(legwright.__all__)) == len(legwright.__all__)


@pytest.mark.parametrize("name", legwright.__all__)
def test_every_promised_name_is_there(name: str) -> None:
    assert getattr(legwright, name) is not None


def test_version_is_that_of_the_package() -> None:
    assert legwright.__version__ == metadata.version("legwright")


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'walkies'"):
        _ = legwright.walkies


def test_type_checkers_and_interpreters_are_told_the_same_places() -> None:
    """The names imported under TYPE_CHECKING are those that open lazily."""
    tree = ast.parse(Path(legwright.__file__).read_text(encoding="utf-8"))
    block = next(n for n in tree.body if isinstance(n, ast.If))
    told = {
        alias.asname or alias.name: (node.module, alias.name)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert told == legwright._PLACES


def test_import_loads_nothing_heavy() -> None:
    """A promise on time (50 ms), kept by what is not imported."""
    code = (
        "import sys, legwright; heavy = {'numpy', 'pydantic', 'numba', 'scipy', 'mujoco', 'pint'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
