"""Kernels lie on disk until a source changes that they are made of."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

import legwright.kernel
from legwright.kernel import PACKAGE, on_disk, sources

OUTER = """
from legwright.kernel import kernel

@kernel
def doubled(x):
    return 2.0 * x
"""


def test_a_kernel_is_compiled_anew_where_another_source_of_it_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    outer, inner = tmp_path / "_outer.py", tmp_path / "_inner.py"
    outer.write_text(OUTER)
    inner.write_text("SIZE = 1.0\n")
    monkeypatch.setattr(legwright.kernel, "sources", lambda file: (outer, inner))
    hits = []
    for text in ("SIZE = 1.0\n", "SIZE = 1.0\n", "SIZE = 22.0\n", "SIZE = 22.0\n"):
        if inner.read_text() != text:
            inner.write_text(text)
        doubled = _loaded(outer).doubled
        assert doubled(2.0) == 4.0
        hits.append(sum(doubled.stats.cache_hits.values()))
        assert on_disk(doubled)
    inner.write_text("SIZE = 333.0\n")
    assert not on_disk(_loaded(outer).doubled)
    assert hits == [0, 1, 0, 1]


TUPLE = """
from typing import NamedTuple

from legwright.kernel import kernel

class {name}(NamedTuple):
    x: float

@kernel
def doubled(pair):
    return 2.0 * pair.x

made = {name}(2.0)
"""


def test_a_kernel_is_compiled_anew_where_a_class_has_gone_that_it_took(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "_paired.py"
    monkeypatch.setattr(legwright.kernel, "sources", lambda file: (file,))
    for name, hits in (("Old", 0), ("Old", 1), ("Renamed", 0)):
        file.write_text(TUPLE.format(name=name))
        module = _loaded(file, monkeypatch)
        assert module.doubled(module.made) == 4.0
        assert sum(module.doubled.stats.cache_hits.values()) == hits


def test_sources_are_what_a_kernel_is_made_of() -> None:
    found = {
        file.relative_to(PACKAGE).as_posix() for file in sources(PACKAGE / "locomotion/_step.py")
    }
    deep = {"locomotion/_limb.py", "mechanics/_recursion.py", "locomotion/_state.py"}
    constants = {"locomotion/probing.py"}
    assert deep | constants | {"kernel.py"} <= found
    assert "robot/tree.py" not in found, "it gives but the name of a type"
    assert "locomotion/controller.py" not in found


def _loaded(file: Path, patch: pytest.MonkeyPatch | None = None) -> ModuleType:
    """The module of a file, afresh; with ``patch`` under its name, so that classes are found."""
    spec = importlib.util.spec_from_file_location(file.stem, file)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    if patch is not None:
        patch.setitem(sys.modules, file.stem, module)
    spec.loader.exec_module(module)
    return module
